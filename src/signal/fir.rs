//! Finite impulse responses, a block of outputs at a time.
//!
//! Taps stand in the order of the samples they meet, the oldest first.

use super::lanes::{Kernel, LANES, Lanes, on_widest};

/// Outputs of one call.
pub const OUTPUTS: usize = 16;

/// Taps with as many zeros before them as [`decimate`] needs: they meet samples older than the oldest.
pub fn padded(taps: impl ExactSizeIterator<Item = f64>) -> Vec<f64> {
    let zeros = taps.len().next_multiple_of(LANES) - taps.len();
    std::iter::repeat_n(0.0, zeros).chain(taps).collect()
}

/// Two filters of equal length on one signal: output `i` of each is of the window that starts at `i · stride`. The
/// length is a multiple of [`LANES`].
pub fn decimate(samples: &[f64], stride: usize, taps: [&[f64]; 2]) -> [[f64; OUTPUTS]; 2] {
    let taps = taps.map(|taps| {
        let (taps, rest) = taps.as_chunks();
        debug_assert!(rest.is_empty());
        taps
    });
    on_widest(Decimate {
        samples,
        stride,
        taps,
    })
}

/// One filter on two signals: output `i` of each is of the window that starts at `i`.
pub fn filter(signals: [&[f64]; 2], taps: &[f64]) -> [[f64; OUTPUTS]; 2] {
    on_widest(Filter { signals, taps })
}

/// One output of one filter on several signals: of windows as long as the taps, a multiple of [`LANES`].
pub fn at_one_place<const SIGNALS: usize>(
    windows: [&[f64]; SIGNALS],
    taps: &[f64],
) -> [f64; SIGNALS] {
    on_widest(AtOnePlace { windows, taps })
}

#[derive(Clone)]
struct Decimate<'a> {
    samples: &'a [f64],
    stride: usize,
    taps: [&'a [[f64; LANES]]; 2],
}

impl Kernel for Decimate<'_> {
    type Output = [[f64; OUTPUTS]; 2];

    /// The lanes are neighbouring taps, added up at the end.
    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        let mut out = [[0.0; OUTPUTS]; 2];
        if L::SUMS >= 16 {
            self.outputs::<L, 8>(&mut out);
        } else {
            self.outputs::<L, 2>(&mut out);
        }
        out
    }
}

impl Decimate<'_> {
    /// Works on some windows at once: two sums for each are apart, and taps serve all while they are in a register.
    #[inline(always)]
    fn outputs<L: Lanes, const WINDOWS: usize>(&self, out: &mut [[f64; OUTPUTS]; 2]) {
        let [a, b] = self.taps;
        let b = &b[..a.len()];
        for first in (0..OUTPUTS).step_by(WINDOWS) {
            let mut windows: [&[[f64; LANES]]; WINDOWS] = [&[]; WINDOWS];
            for (w, window) in windows.iter_mut().enumerate() {
                let start = (first + w) * self.stride;
                *window = &self.samples[start..start + a.len() * LANES].as_chunks().0[..a.len()];
            }
            let mut on_a = [L::splat(0.0); WINDOWS];
            let mut on_b = [L::splat(0.0); WINDOWS];
            for k in 0..a.len() {
                let (a, b) = (L::load(&a[k]), L::load(&b[k]));
                for w in 0..WINDOWS {
                    let x = L::load(&windows[w][k]);
                    on_a[w] = on_a[w].plus_product(x, a);
                    on_b[w] = on_b[w].plus_product(x, b);
                }
            }
            for w in 0..WINDOWS {
                out[0][first + w] = on_a[w].sum();
                out[1][first + w] = on_b[w].sum();
            }
        }
    }
}

#[derive(Clone)]
struct Filter<'a> {
    signals: [&'a [f64]; 2],
    taps: &'a [f64],
}

impl Kernel for Filter<'_> {
    type Output = [[f64; OUTPUTS]; 2];

    /// The lanes are neighbouring outputs: nothing is left to add up.
    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        let needed = OUTPUTS + self.taps.len() - 1;
        let [x, y] = [&self.signals[0][..needed], &self.signals[1][..needed]];
        let mut sums = [[L::splat(0.0); OUTPUTS / LANES]; 2];
        for (k, tap) in self.taps.iter().enumerate() {
            let tap = L::splat(*tap);
            let (x, _) = x[k..k + OUTPUTS].as_chunks();
            let (y, _) = y[k..k + OUTPUTS].as_chunks();
            for i in 0..OUTPUTS / LANES {
                sums[0][i] = sums[0][i].plus_product(tap, L::load(&x[i]));
                sums[1][i] = sums[1][i].plus_product(tap, L::load(&y[i]));
            }
        }
        let mut out = [[0.0; OUTPUTS]; 2];
        for (out, sums) in out.iter_mut().zip(sums) {
            let (out, _) = out.as_chunks_mut();
            for i in 0..OUTPUTS / LANES {
                sums[i].store(&mut out[i]);
            }
        }
        out
    }
}

#[derive(Clone)]
struct AtOnePlace<'a, const SIGNALS: usize> {
    windows: [&'a [f64]; SIGNALS],
    taps: &'a [f64],
}

impl<const SIGNALS: usize> Kernel for AtOnePlace<'_, SIGNALS> {
    type Output = [f64; SIGNALS];

    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        let (taps, rest) = self.taps.as_chunks::<LANES>();
        debug_assert!(rest.is_empty());
        let mut sums = [L::splat(0.0); SIGNALS];
        for (k, tap) in taps.iter().enumerate() {
            let tap = L::load(tap);
            for i in 0..SIGNALS {
                let window = &self.windows[i].as_chunks().0[k];
                sums[i] = sums[i].plus_product(tap, L::load(window));
            }
        }
        let mut out = [0.0; SIGNALS];
        for i in 0..SIGNALS {
            out[i] = sums[i].sum();
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::lanes::in_all_ways;

    fn wave(length: usize, k: f64) -> Vec<f64> {
        (0..length).map(|i| ((i as f64 + 1.0) * k).sin()).collect()
    }

    fn plain(samples: &[f64], stride: usize, taps: &[f64], output: usize) -> f64 {
        let window = &samples[output * stride..];
        window.iter().zip(taps).map(|(x, tap)| x * tap).sum()
    }

    #[test]
    fn every_way_gives_the_plain_sums_at_every_length() {
        for (length, stride) in (1..40)
            .map(|length| (length, 1))
            .chain([(227, 12), (230, 48)])
        {
            let [a, b] = [1.3, 2.9].map(|k| padded(wave(length, k).into_iter()));
            let samples = wave((OUTPUTS - 1) * stride + a.len(), 0.7);
            let decimate = Decimate {
                samples: &samples,
                stride,
                taps: [a.as_chunks().0, b.as_chunks().0],
            };
            for outputs in in_all_ways(&decimate) {
                for (out, taps) in outputs.iter().zip([&a, &b]) {
                    for (i, out) in out.iter().enumerate() {
                        let expected = plain(&samples, stride, taps, i);
                        assert!((out - expected).abs() < 1e-13 * (length as f64).max(10.0));
                    }
                }
            }
        }
    }

    #[test]
    fn one_filter_on_two_signals_is_twice_the_plain_sums() {
        for length in [1, 2, 81, 82] {
            let taps = wave(length, 1.3);
            let signals = [0.7, 0.9].map(|k| wave(OUTPUTS - 1 + length, k));
            let filter = Filter {
                signals: [&signals[0], &signals[1]],
                taps: &taps,
            };
            for outputs in in_all_ways(&filter) {
                for (out, signal) in outputs.iter().zip(&signals) {
                    for (i, out) in out.iter().enumerate() {
                        assert!((out - plain(signal, 1, &taps, i)).abs() < 1e-12);
                    }
                }
            }
        }
    }

    #[test]
    fn one_output_of_some_signals_is_the_plain_sum_of_each() {
        let taps = padded(wave(87, 1.3).into_iter());
        let signals = [0.7, 0.9, 2.1].map(|k| wave(taps.len(), k));
        let place = AtOnePlace {
            windows: signals.each_ref().map(Vec::as_slice),
            taps: &taps,
        };
        for outputs in in_all_ways(&place) {
            for (out, signal) in outputs.iter().zip(&signals) {
                assert!((out - plain(signal, 1, &taps, 0)).abs() < 1e-12);
            }
        }
    }
}
