//! The inner loops that cost, written so that the compiler can use the machine's vector registers.

/// Partial sums kept apart: floating-point addition may not be reordered by the compiler itself.
const LANES: usize = 8;

/// `(Σ shared·a, Σ shared·b)`; the three slices have the same length.
pub fn dot2(shared: &[f64], a: &[f64], b: &[f64]) -> (f64, f64) {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        // SAFETY: the processor has just been asked whether it has these instructions.
        return unsafe { dot2_avx2(shared, a, b) };
    }
    dot2_lanes::<false>(shared, a, b)
}

/// Windows that [`dot2_of_four`] works on at once: enough to use each tap often while it is in a register.
pub const WINDOWS: usize = 4;

/// `(Σ window·a, Σ window·b)` for four windows, as long as `a` and `b`, that start `stride` samples apart in
/// `samples`.
pub fn dot2_of_four(samples: &[f64], stride: usize, a: &[f64], b: &[f64]) -> [(f64, f64); WINDOWS] {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        // SAFETY: the processor has just been asked whether it has these instructions.
        return unsafe { dot2_of_four_avx2(samples, stride, a, b) };
    }
    dot2_of_four_lanes::<false>(samples, stride, a, b)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn dot2_of_four_avx2(
    samples: &[f64],
    stride: usize,
    a: &[f64],
    b: &[f64],
) -> [(f64, f64); WINDOWS] {
    dot2_of_four_lanes::<true>(samples, stride, a, b)
}

#[inline(always)]
fn dot2_of_four_lanes<const FUSED: bool>(
    samples: &[f64],
    stride: usize,
    a: &[f64],
    b: &[f64],
) -> [(f64, f64); WINDOWS] {
    /// One vector register; four windows and two products fill the others.
    const NARROW: usize = 4;
    let add = |sum: f64, x: f64, y: f64| {
        if FUSED {
            x.mul_add(y, sum)
        } else {
            sum + x * y
        }
    };
    let windows: [&[f64]; WINDOWS] =
        std::array::from_fn(|w| &samples[w * stride..w * stride + a.len()]);
    let [w0, w1, w2, w3] = windows.map(|window| window.as_chunks::<NARROW>().0);
    let (a_lanes, a_rest) = a.as_chunks::<NARROW>();
    let (b_lanes, b_rest) = b.as_chunks::<NARROW>();
    let mut sums = [[[0.0; NARROW]; 2]; WINDOWS];
    let lanes = a_lanes.iter().zip(b_lanes).zip(w0).zip(w1).zip(w2).zip(w3);
    for (((((a, b), w0), w1), w2), w3) in lanes {
        for (sums, window) in sums.iter_mut().zip([w0, w1, w2, w3]) {
            for i in 0..NARROW {
                sums[0][i] = add(sums[0][i], window[i], a[i]);
                sums[1][i] = add(sums[1][i], window[i], b[i]);
            }
        }
    }
    let done = a.len() - a_rest.len();
    std::array::from_fn(|w| {
        let [mut sum_a, mut sum_b] = sums[w].map(|sums| sums.iter().sum());
        for ((x, a), b) in windows[w][done..].iter().zip(a_rest).zip(b_rest) {
            sum_a = add(sum_a, *x, *a);
            sum_b = add(sum_b, *x, *b);
        }
        (sum_a, sum_b)
    })
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn dot2_avx2(shared: &[f64], a: &[f64], b: &[f64]) -> (f64, f64) {
    dot2_lanes::<true>(shared, a, b)
}

/// `FUSED` only where the machine fuses multiply and add in hardware: in software it is slow.
#[inline(always)]
fn dot2_lanes<const FUSED: bool>(shared: &[f64], a: &[f64], b: &[f64]) -> (f64, f64) {
    let add = |sum: f64, x: f64, y: f64| {
        if FUSED {
            x.mul_add(y, sum)
        } else {
            sum + x * y
        }
    };
    let (mut sums_a, mut sums_b) = ([0.0; LANES], [0.0; LANES]);
    let (shared_lanes, shared_rest) = shared.as_chunks::<LANES>();
    let (a_lanes, a_rest) = a.as_chunks::<LANES>();
    let (b_lanes, b_rest) = b.as_chunks::<LANES>();
    for ((s, a), b) in shared_lanes.iter().zip(a_lanes).zip(b_lanes) {
        for i in 0..LANES {
            sums_a[i] = add(sums_a[i], s[i], a[i]);
            sums_b[i] = add(sums_b[i], s[i], b[i]);
        }
    }
    let (mut sum_a, mut sum_b) = (sums_a.iter().sum(), sums_b.iter().sum());
    for ((s, a), b) in shared_rest.iter().zip(a_rest).zip(b_rest) {
        sum_a = add(sum_a, *s, *a);
        sum_b = add(sum_b, *s, *b);
    }
    (sum_a, sum_b)
}

/// `(Σ x², Σ |x|)`.
pub fn square_and_magnitude(x: &[f64]) -> (f64, f64) {
    let (mut squares, mut magnitudes) = ([0.0; LANES], [0.0; LANES]);
    let (lanes, rest) = x.as_chunks::<LANES>();
    for x in lanes {
        for i in 0..LANES {
            squares[i] += x[i] * x[i];
            magnitudes[i] += x[i].abs();
        }
    }
    let rest_squares: f64 = rest.iter().map(|x| x * x).sum();
    let rest_magnitudes: f64 = rest.iter().map(|x| x.abs()).sum();
    (
        squares.iter().sum::<f64>() + rest_squares,
        magnitudes.iter().sum::<f64>() + rest_magnitudes,
    )
}

/// Greatest magnitude; 0 for nothing. Not-a-number does not count.
pub fn greatest_magnitude(x: &[f64]) -> f64 {
    let mut greatest = [0.0; LANES];
    let (lanes, rest) = x.as_chunks::<LANES>();
    for x in lanes {
        for i in 0..LANES {
            let magnitude = x[i].abs();
            greatest[i] = if magnitude > greatest[i] {
                magnitude
            } else {
                greatest[i]
            };
        }
    }
    let rest = rest.iter().map(|x| x.abs());
    greatest.into_iter().chain(rest).fold(0.0, f64::max)
}

/// Angle of `(re, im)`, radians: `atan2`, with a short way for the small angles between neighbouring samples. The
/// series' first missing term is below 10⁻¹³ rad.
#[inline]
pub fn angle(re: f64, im: f64) -> f64 {
    const SMALL: f64 = 0.2;
    if im.abs() >= SMALL * re {
        return im.atan2(re);
    }
    let q = im / re;
    let s = q * q;
    let series = [
        -1.0 / 15.0,
        1.0 / 13.0,
        -1.0 / 11.0,
        1.0 / 9.0,
        -1.0 / 7.0,
        0.2,
        -1.0 / 3.0,
        1.0,
    ];
    q * series.into_iter().fold(0.0, |sum, term| sum * s + term)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_are_those_of_the_library() {
        for i in -400..=400 {
            let angle_rad = f64::from(i) * 0.0078;
            let (im, re) = (2.5 * angle_rad).sin_cos();
            assert!((angle(re, im) - im.atan2(re)).abs() < 1e-13);
        }
        assert_eq!(angle(0.0, 0.0), 0.0);
        assert!(angle(f64::NAN, 1.0).is_nan());
    }

    #[test]
    fn four_windows_are_four_times_one() {
        let samples: Vec<f64> = (0..400).map(|i| (f64::from(i) * 0.37).sin()).collect();
        for (length, stride) in [(1, 1), (16, 12), (227, 12), (230, 48)] {
            let a: Vec<f64> = (0..length).map(|i| (f64::from(i) * 1.1).cos()).collect();
            let b: Vec<f64> = (0..length).map(|i| (f64::from(i) * 0.3).sin()).collect();
            for four in [
                dot2_of_four(&samples, stride, &a, &b),
                dot2_of_four_lanes::<false>(&samples, stride, &a, &b),
            ] {
                for (w, (sum_a, sum_b)) in four.into_iter().enumerate() {
                    let window = &samples[w * stride..w * stride + a.len()];
                    let (one_a, one_b) = dot2(window, &a, &b);
                    assert!((sum_a - one_a).abs() < 1e-12 && (sum_b - one_b).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn equals_the_plain_sum_at_every_length() {
        let value = |i: usize, k: f64| ((i as f64 + 1.0) * k).sin();
        for length in 0..70 {
            let s: Vec<f64> = (0..length).map(|i| value(i, 0.7)).collect();
            let a: Vec<f64> = (0..length).map(|i| value(i, 1.3)).collect();
            let b: Vec<f64> = (0..length).map(|i| value(i, 2.9)).collect();
            let plain = |x: &[f64]| s.iter().zip(x).map(|(s, x)| s * x).sum::<f64>();
            for (fast_a, fast_b) in [dot2(&s, &a, &b), dot2_lanes::<false>(&s, &a, &b)] {
                assert!((fast_a - plain(&a)).abs() < 1e-13);
                assert!((fast_b - plain(&b)).abs() < 1e-13);
            }
        }
    }
}
