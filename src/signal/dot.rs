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

#[cfg(test)]
mod tests {
    use super::*;

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
