//! Finite impulse responses, a block of outputs at a time.
//!
//! Taps stand in the order of the samples they meet, the oldest first.

#![allow(
    clippy::needless_range_loop,
    reason = "what is counted runs through several arrays of lanes at once"
)]

use super::lanes::{Kernel, LANES, Lanes, on_widest};

/// Outputs of one call.
pub const OUTPUTS: usize = 16;

/// Taps with as many zeros before them as [`decimate`] needs: they meet samples older than the oldest.
pub fn padded(taps: impl ExactSizeIterator<Item = f64>) -> Vec<f64> {
    let zeros = taps.len().next_multiple_of(LANES) - taps.len();
    std::iter::repeat_n(0.0, zeros).chain(taps).collect()
}

/// One output of one filter on several signals: of windows as long as the taps, a multiple of [`LANES`].
pub fn at_one_place<const SIGNALS: usize>(
    windows: [&[f64]; SIGNALS],
    taps: &[f64],
) -> [f64; SIGNALS] {
    on_widest(AtOnePlace { windows, taps })
}

/// Two filters of equal length on one signal: output `i` of each is of the window that starts at `i · stride`. The
/// length is a multiple of [`LANES`].
#[derive(Clone)]
pub struct Decimate<'a> {
    /// The signal, as far as the windows reach.
    pub samples: &'a [f64],
    /// From one window to the next.
    pub stride: usize,
    /// Taps of both.
    pub taps: [&'a [f64]; 2],
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
        let [a, b] = self.taps.map(|taps| taps.as_chunks::<LANES>().0);
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

/// A filter that gives an output for every sample.
#[derive(Clone, Debug)]
pub struct Filter {
    /// The taps from the last to the first, between zeros: from `OUTPUTS` of these on stands what a sample gives to
    /// each of the outputs.
    spread: Vec<f64>,
    length: usize,
}

impl Filter {
    /// Taps in the order of the samples they meet.
    pub fn new(taps: &[f64]) -> Self {
        let mut spread = vec![0.0; taps.len() + 2 * (OUTPUTS - 1)];
        for (place, tap) in spread[OUTPUTS - 1..].iter_mut().zip(taps.iter().rev()) {
            *place = *tap;
        }
        Self {
            spread,
            length: taps.len(),
        }
    }

    /// Number of taps.
    pub fn length(&self) -> usize {
        self.length
    }

    /// Samples that a block of outputs is made of.
    pub fn span(&self) -> usize {
        self.length + OUTPUTS - 1
    }

    /// Power gain of white noise.
    pub fn noise_gain(&self) -> f64 {
        self.spread.iter().map(|tap| tap * tap).sum()
    }
}

/// The filter on some signals at once, each [`Filter::span`] long: output `i` is of the window that starts at `i`.
#[derive(Clone)]
pub struct Filtered<'a, const SIGNALS: usize> {
    /// The filter.
    pub filter: &'a Filter,
    /// The signals.
    pub signals: [&'a [f64]; SIGNALS],
}

impl<const SIGNALS: usize> Kernel for Filtered<'_, SIGNALS> {
    type Output = [[f64; OUTPUTS]; SIGNALS];

    /// The lanes are neighbouring outputs, and every sample gives its share to all of them.
    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        const REGISTERS: usize = OUTPUTS / LANES;
        let span = self.filter.span();
        let mut signals = [&self.signals[0][..span]; SIGNALS];
        for i in 0..SIGNALS {
            signals[i] = &self.signals[i][..span];
        }
        let spread = self.filter.spread.as_slice();
        let mut sums = [[L::splat(0.0); REGISTERS]; SIGNALS];
        for t in 0..span {
            let from = span - 1 - t;
            let (taps, _) = spread[from..from + OUTPUTS].as_chunks();
            let taps = [L::load(&taps[0]), L::load(&taps[1])];
            for i in 0..SIGNALS {
                let x = L::splat(signals[i][t]);
                for r in 0..REGISTERS {
                    sums[i][r] = sums[i][r].plus_product(taps[r], x);
                }
            }
        }
        let mut out = [[0.0; OUTPUTS]; SIGNALS];
        for i in 0..SIGNALS {
            let (out, _) = out[i].as_chunks_mut();
            for r in 0..REGISTERS {
                sums[i][r].store(&mut out[r]);
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
                taps: [&a, &b],
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
    fn one_filter_on_some_signals_gives_the_plain_sums_of_each() {
        for length in [1, 2, 81, 82] {
            let taps = wave(length, 1.3);
            let filter = Filter::new(&taps);
            let signals = [0.7, 0.9, 1.7].map(|k| wave(filter.span(), k));
            let filtered = Filtered {
                filter: &filter,
                signals: signals.each_ref().map(Vec::as_slice),
            };
            for outputs in in_all_ways(&filtered) {
                for (out, signal) in outputs.iter().zip(&signals) {
                    for (i, out) in out.iter().enumerate() {
                        assert!((out - plain(signal, 1, &taps, i)).abs() < 1e-12);
                    }
                }
            }
            let noise_gain = taps.iter().map(|tap| tap * tap).sum::<f64>();
            assert!((filter.noise_gain() - noise_gain).abs() < 1e-12);
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
