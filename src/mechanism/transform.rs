//! The windowed spectrum of a series, with values between its bins and the exact shape of a line.
//!
//! Times count from the middle of the series, so that a steady line's transform is its complex amplitude times a real
//! kernel. Window: Hann (Harris, Proc. IEEE 66, 1978): noise bandwidth 1.5 bins, side lobes that fall 18 dB an octave,
//! which keeps strong slow wow out of small fast lines.

/// The window of all transforms here.
pub use crate::signal::lines::hann;
use realfft::{RealFftPlanner, num_complex::Complex64};
use std::f64::consts::PI;

/// Zero padding: the transform is at least this many times longer than the series.
const PADDING: usize = 2;

/// The least length from `least` on that a fast transform likes: a power of two, or three times one.
fn fast_length(least: usize) -> usize {
    let power = least.next_power_of_two();
    if 3 * power / 4 >= least {
        3 * power / 4
    } else {
        power
    }
}

/// Equivalent noise bandwidth of the window, in 1/length.
pub const NOISE_BINS: f64 = 1.5;
/// Averaging a square under the window is as good as averaging it over this part of the length:
/// (Σw²)²/(N·Σw⁴) = 18/35.
pub const EFFECTIVE_LENGTH: f64 = 18.0 / 35.0;
/// Standard deviation of a line's rate, times length and amplitude over that of the amplitude: √(∫w²t²/1.5)/(2π∫wt²)
/// with the window's moments ∫wt² = T³(1/24 − 1/(4π²)), ∫w²t² = T³(3/96 − 1/(4π²) + 1/(64π²)).
pub const RATE_DEVIATION: f64 = 0.689;
/// A line is followed this many bins (of 1/length) to both sides: beyond, the window has let it fall to 1e-6.
pub const REACH: f64 = 64.0;
/// A phasor is stepped on this often before it is made anew.
const TURNED_AT_ONCE: usize = 256;
/// Interpolation between bins: this many to each side.
const TAPS: usize = 8;

/// Transforms series and keeps what that needs.
pub struct Transformer {
    planner: RealFftPlanner<f64>,
    /// The window of the length asked for last.
    window: Vec<f64>,
}

impl Default for Transformer {
    fn default() -> Self {
        Self {
            planner: RealFftPlanner::new(),
            window: Vec::new(),
        }
    }
}

/// The windowed transform of a series, scaled so that a line of peak size a stands with height a.
#[derive(Clone, Debug)]
pub struct Transform {
    /// Bins from 0 Hz on.
    pub bins: Vec<Complex64>,
    /// Distance of the bins, Hz.
    pub step_hz: f64,
    /// Length of the series, s.
    pub seconds: f64,
}

impl Transformer {
    /// The windowed transform of a series. Mean and straight trend are taken out first.
    pub fn transform(&mut self, series: &[f64], rate_hz: f64) -> Transform {
        let count = series.len();
        if self.window.len() != count {
            self.window = (0..count).map(|i| 2.0 * hann(i, count)).collect();
        }
        let window = std::mem::take(&mut self.window);
        let transform = self.shaped(series, rate_hz, |i| window[i]);
        self.window = window;
        transform
    }

    /// The transform without a window: every moment counts alike, for sums over many bins.
    pub fn plain(&mut self, series: &[f64], rate_hz: f64) -> Transform {
        self.shaped(series, rate_hz, |_| 1.0)
    }

    fn shaped(&mut self, series: &[f64], rate_hz: f64, window: impl Fn(usize) -> f64) -> Transform {
        let count = series.len();
        let length = fast_length(PADDING * count.max(8));
        let fft = self.planner.plan_fft_forward(length);
        let mut work = fft.make_input_vec();
        let mut bins = fft.make_output_vec();
        let level = Level::of(series);
        let scale = 2.0 / count as f64; // one-sided
        for (i, (work, x)) in work.iter_mut().zip(series).enumerate() {
            *work = scale * window(i) * (x - level.at(i));
        }
        if fft.process(&mut work, &mut bins).is_err() {
            bins.fill(Complex64::ZERO);
        }
        // Times count from the middle of the series.
        let turn = PI * (count as f64 - 1.0) / length as f64;
        for (part, bins) in bins.chunks_mut(TURNED_AT_ONCE).enumerate() {
            let mut phasor = Complex64::from_polar(1.0, turn * (part * TURNED_AT_ONCE) as f64);
            let step = Complex64::from_polar(1.0, turn);
            for bin in bins {
                *bin *= phasor;
                phasor *= step;
            }
        }
        Transform {
            bins,
            step_hz: rate_hz / length as f64,
            seconds: count as f64 / rate_hz,
        }
    }
}

/// Mean and straight trend of a series.
#[derive(Clone, Copy, Debug)]
pub struct Level {
    mean: f64,
    slope: f64,
    centre: f64,
}

impl Level {
    /// Least squares.
    pub fn of(series: &[f64]) -> Self {
        let count = series.len().max(1) as f64;
        let slope = crate::signal::regression::slope_of_series(series.iter().copied());
        Self {
            mean: series.iter().sum::<f64>() / count,
            slope: slope.unwrap_or(0.0),
            centre: (count - 1.0) / 2.0,
        }
    }

    /// The line's value at an index.
    pub fn at(&self, i: usize) -> f64 {
        self.mean + self.slope * (i as f64 - self.centre)
    }

    /// Change a sample.
    pub fn slope(&self) -> f64 {
        self.slope
    }
}

/// Shape of a line in the transform, `x` bins (of 1/length) from its rate: sinc(x)/(1 − x²).
pub fn kernel(x: f64) -> f64 {
    let apart = 1.0 - x * x;
    if apart.abs() < 1e-6 {
        0.5
    } else if x.abs() < 1e-9 {
        1.0
    } else {
        (PI * x).sin() / (PI * x * apart)
    }
}

impl Transform {
    /// The transform at any rate, from the bins around it: a windowed-sinc interpolation. The series fills at most
    /// half of the transform's length, so that half a bin's transition is free; four-term Blackman–Harris (Harris
    /// 1978) over 16 bins needs a quarter.
    pub fn at(&self, rate_hz: f64) -> Complex64 {
        let place = rate_hz / self.step_hz;
        let below = place.floor();
        let fraction = place - below;
        if fraction < 1e-12 {
            return self.bin(below as isize);
        }
        let sin = (PI * fraction).sin() / PI;
        // The taper's angle goes on by the same step from tap to tap.
        let first = 1 - TAPS as isize;
        let step = Complex64::from_polar(1.0, -PI / TAPS as f64);
        let mut taper = Complex64::from_polar(1.0, PI * (fraction - first as f64) / TAPS as f64);
        let mut sum = Complex64::ZERO;
        for tap in first..=TAPS as isize {
            let sign = if tap % 2 == 0 { sin } else { -sin };
            let weight = sign / (fraction - tap as f64) * blackman_harris(taper.re);
            sum += self.bin(below as isize + tap) * weight;
            taper *= step;
        }
        sum
    }

    /// The bin, also below 0 Hz and above the last.
    fn bin(&self, k: isize) -> Complex64 {
        let last = self.bins.len() as isize - 1;
        if k < 0 {
            self.bins[(-k).min(last) as usize].conj()
        } else {
            self.bins[k.min(last) as usize]
        }
    }

    /// Adds `size` times the shape of a line at `rate_hz` to the bins around it (a negative size takes it out).
    /// `reach`: so many bins (of 1/length) to both sides, up to [`REACH`].
    pub fn add_line(&mut self, rate_hz: f64, size: Complex64, reach: f64) {
        self.add_shape(rate_hz, size, reach);
        // The image at the negative rate reaches up where the rate is low.
        if rate_hz * self.seconds < reach {
            self.add_shape(-rate_hz, size.conj(), reach);
        }
    }

    fn add_shape(&mut self, rate_hz: f64, size: Complex64, reach: f64) {
        let bins_a_step = self.step_hz * self.seconds;
        let reach = (reach / bins_a_step) as isize;
        let middle = (rate_hz / self.step_hz).round() as isize;
        let first = (middle - reach).max(0);
        let last = (middle + reach).min(self.bins.len() as isize - 1);
        if last < first {
            return;
        }
        let mut x = (first as f64 * self.step_hz - rate_hz) * self.seconds;
        let mut turn = Complex64::from_polar(1.0, PI * x);
        let step = Complex64::from_polar(1.0, PI * bins_a_step);
        for bin in &mut self.bins[first as usize..=last as usize] {
            let apart = x * (1.0 - x * x);
            let shape = if apart.abs() < 1e-3 {
                kernel(x)
            } else {
                turn.im / (PI * apart)
            };
            *bin += size * shape;
            x += bins_a_step;
            turn *= step;
        }
    }

    /// Index of the bin at or next above a rate.
    pub fn index_from(&self, rate_hz: f64) -> usize {
        ((rate_hz / self.step_hz).ceil().max(0.0) as usize).min(self.bins.len() - 1)
    }

    /// Width of one bin of 1/length, Hz.
    pub fn bin_hz(&self) -> f64 {
        1.0 / self.seconds
    }
}

/// The taper at an angle of this cosine; 1 in the middle.
fn blackman_harris(c: f64) -> f64 {
    let c2 = 2.0 * c * c - 1.0;
    let c3 = c * (2.0 * c2 - 1.0);
    0.358_75 + 0.488_29 * c + 0.141_28 * c2 + 0.011_68 * c3
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn wave(f: f64, a: f64, phase: f64, count: usize, rate_hz: f64) -> Vec<f64> {
        let centre = (count as f64 - 1.0) / 2.0;
        (0..count)
            .map(|i| a * (TAU * f * (i as f64 - centre) / rate_hz + phase).cos())
            .collect()
    }

    #[test]
    fn a_line_has_its_size_phase_and_shape_at_any_rate() {
        let (count, rate_hz) = (7_000, 350.0);
        for f in [0.61, 6.063, 33.3, 99.99] {
            let series = wave(f, 0.3, 0.7, count, rate_hz);
            let mut transform = Transformer::default().transform(&series, rate_hz);
            let at = transform.at(f);
            let bar = if f < 1.0 { 2e-3 } else { 1e-4 };
            assert!(
                (at - Complex64::from_polar(0.3, 0.7)).norm() < 0.3 * bar,
                "{f}: {at}"
            );
            for x in [-1.7, -0.6, 0.9, 2.3] {
                let beside = transform.at(f + x / transform.seconds);
                let expected = Complex64::from_polar(0.3 * kernel(x), 0.7);
                assert!(
                    (beside - expected).norm() < 0.3 * bar,
                    "{f} {x}: {beside} {expected}"
                );
            }
            transform.add_line(f, Complex64::from_polar(-0.3, 0.7), REACH);
            // The straight trend that a slow wave seems to have lies in the first bins.
            let read = &transform.bins[transform.index_from(3.0 / transform.seconds)..];
            let left = read.iter().map(|z| z.norm()).fold(0.0, f64::max);
            assert!(left < 0.3 * bar, "{f}: {left}");
        }
    }

    /// The window's moments by summation.
    #[test]
    fn the_windows_constants_are_its_own() {
        let n = 4096;
        let sum = |power: i32, times: i32| -> f64 {
            (0..n)
                .map(|i| {
                    let t = (i as f64 + 0.5) / n as f64 - 0.5;
                    hann(i, n).powi(power) * t.powi(times) / n as f64
                })
                .sum()
        };
        assert!((sum(2, 0) / sum(1, 0).powi(2) - NOISE_BINS).abs() < 1e-3);
        assert!((sum(2, 0).powi(2) / sum(4, 0) - EFFECTIVE_LENGTH).abs() < 1e-3);
        let deviation = (sum(2, 2) / NOISE_BINS).sqrt() / (TAU * sum(1, 2));
        assert!((deviation - RATE_DEVIATION).abs() < 1e-3, "{deviation}");
    }
}
