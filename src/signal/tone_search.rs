//! Looks for a steady tone in the spectrum of the last fifth of a second, and for what else is there.

use super::{
    lanes::{Kernel, LANES, Lanes, on_widest},
    magnitudes::sum,
};
use realfft::{RealFftPlanner, RealToComplex, num_complex::Complex64};
use std::{f64::consts::TAU, sync::Arc};

/// Least window: long enough to tell a tone from noise, short enough to find it soon.
const LEAST_WINDOW_S: f64 = 0.15;
/// Terms of the four-term Blackman–Harris window (Harris 1978).
const WINDOW: [f64; 4] = [0.358_75, -0.488_29, 0.141_28, -0.011_68];
/// Half of the main lobe of the four-term Blackman–Harris window (Harris 1978), bins.
const MAIN_LOBE_BINS: f64 = 4.0;
/// Tones are looked for from here...
const LOWEST_TONE_HZ: f64 = 150.0;
/// ...to this share of the sample rate.
const HIGHEST_TONE: f64 = 0.485;
/// Below this nothing counts as noise: it is offset and drift of the input.
const LOWEST_NOISE_HZ: f64 = 15.0;
/// Harmonics of the tone that do not count as noise.
const HARMONICS: usize = 9;
/// Hum is looked at up to this harmonic of the mains.
const HUM_HARMONICS: usize = 6;

/// What the spectrum of one channel shows. Powers are mean squares: a full-scale sine has 0.5.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spectrum {
    /// Power of everything above 0 Hz.
    pub total_power: f64,
    /// Frequency of the strongest line (or of the one asked for), Hz.
    pub tone_hz: f64,
    /// Power of that line with its flutter sidebands.
    pub tone_power: f64,
    /// Share of `tone_power` that lies close to the line: near 1 for a tone, small for a band of noise.
    pub concentration: f64,
    /// Power of the rest but offset and harmonics, scaled up for the parts of the band left out.
    pub noise_power: f64,
    /// Noise power per hertz beside the tone (median: lines do not count).
    pub noise_density_per_hz: f64,
    /// Amplitude of harmonics 2 and 3 relative to the tone; `None` where the sample rate does not reach.
    pub harmonics: [Option<f64>; 2],
    /// Power at the mains frequency and its harmonics: 50 Hz, then 60 Hz.
    pub hum: [HumPower; 2],
}

/// Hum of one mains frequency.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HumPower {
    /// Power at the mains frequency itself.
    pub fundamental: f64,
    /// Power sum of harmonics 1 to 6.
    pub total: f64,
    /// Noise power that would lie in the fundamental's place if there were no hum.
    pub floor: f64,
}

impl Spectrum {
    /// Share of the tone in all power.
    pub fn purity(&self) -> f64 {
        if self.total_power > 0.0 {
            self.tone_power / self.total_power
        } else {
            0.0
        }
    }
}

/// The searcher: keeps the last samples of each channel, transforms them when asked.
pub struct ToneSearch {
    sample_rate_hz: f64,
    recent: Vec<Vec<f64>>,
    at: usize,
    filled: usize,
    window: Vec<f64>,
    /// Makes the bins' squares add up to the mean square of the samples.
    scale: f64,
    fft: Arc<dyn RealToComplex<f64>>,
    work: Vec<f64>,
    scratch: Vec<Complex64>,
    bins: Vec<Complex64>,
    power: Vec<f64>,
    sorted: Vec<f64>,
}

impl ToneSearch {
    /// For `channels` channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64, channels: usize) -> Self {
        let length = ((LEAST_WINDOW_S * sample_rate_hz) as usize).next_power_of_two();
        let fft = RealFftPlanner::new().plan_fft_forward(length);
        let window: Vec<f64> = (0..length)
            .map(|i| {
                let x = TAU * i as f64 / length as f64;
                (0..)
                    .zip(WINDOW)
                    .map(|(n, term)| term * (f64::from(n) * x).cos())
                    .sum()
            })
            .collect();
        Self {
            sample_rate_hz,
            recent: vec![vec![0.0; length]; channels],
            at: 0,
            filled: 0,
            scale: 2.0 / (length as f64 * window.iter().map(|w| w * w).sum::<f64>()),
            window,
            work: fft.make_input_vec(),
            scratch: fft.make_scratch_vec(),
            bins: fft.make_output_vec(),
            power: vec![0.0; length / 2 + 1],
            sorted: Vec::with_capacity(length / 2 + 1),
            fft,
        }
    }

    /// Time the window spans, seconds.
    pub fn window_s(&self) -> f64 {
        self.window.len() as f64 / self.sample_rate_hz
    }

    /// Whether a whole window has come in since the last restart.
    pub fn is_full(&self) -> bool {
        self.filled >= self.window.len()
    }

    /// Forgets the samples: what follows does not join on to them.
    pub fn restart(&mut self) {
        self.filled = 0;
    }

    /// Takes the next samples in, the same number for each channel.
    pub fn push(&mut self, input: &[Vec<f64>]) {
        let length = self.window.len();
        let count = input.first().map_or(0, Vec::len).min(length);
        let first = count.min(length - self.at);
        for (recent, samples) in self.recent.iter_mut().zip(input) {
            let samples = &samples[samples.len() - count..];
            recent[self.at..self.at + first].copy_from_slice(&samples[..first]);
            recent[..count - first].copy_from_slice(&samples[first..]);
        }
        self.at = (self.at + count) % length;
        self.filled = (self.filled + count).min(length);
    }

    /// The spectrum of a channel. With `tone_hz` the tone is taken to be there; otherwise it is the strongest line.
    pub fn analyse(&mut self, channel: usize, tone_hz: Option<f64>) -> Spectrum {
        self.transform(channel);
        let peak = tone_hz.map_or_else(|| self.strongest_hz(), Some);
        let Some(tone_hz) = peak else {
            return Spectrum::default();
        };
        self.describe(tone_hz)
    }

    /// Power in each bin, scaled so that the sum is the mean square of the samples about their mean.
    fn transform(&mut self, channel: usize) {
        let recent = &self.recent[channel];
        let (newest, oldest) = recent.split_at(self.at);
        let (work_old, work_new) = self.work.split_at_mut(oldest.len());
        let (window_old, window_new) = self.window.split_at(oldest.len());
        let sum = windowed(oldest, window_old, work_old) + windowed(newest, window_new, work_new);
        if self
            .fft
            .process_with_scratch(&mut self.work, &mut self.bins, &mut self.scratch)
            .is_err()
        {
            // Only buffers of the wrong length can fail, and they were made by the transform itself.
            self.bins.fill(Complex64::ZERO);
        }
        // What the mean gives: the window is a sum of so many cosines, and lies in as many bins.
        self.bins[0].re -= sum * WINDOW[0];
        for (bin, term) in self.bins.iter_mut().zip(WINDOW).skip(1) {
            bin.re -= sum * 0.5 * term;
        }
        let scale = self.scale;
        for (power, bin) in self.power.iter_mut().zip(&self.bins) {
            *power = scale * (bin.re * bin.re + bin.im * bin.im);
        }
    }

    fn bin_hz(&self) -> f64 {
        self.sample_rate_hz / self.window.len() as f64
    }

    /// Bins whose centre is within `half_width_hz` of `hz`.
    fn bins_near(&self, hz: f64, half_width_hz: f64) -> std::ops::Range<usize> {
        let bin_hz = self.bin_hz();
        let last = self.power.len() as f64;
        let low = ((hz - half_width_hz) / bin_hz).ceil().clamp(0.0, last);
        let high = ((hz + half_width_hz) / bin_hz + 1.0)
            .floor()
            .clamp(low, last);
        low as usize..high as usize
    }

    fn power_near(&self, hz: f64, half_width_hz: f64) -> f64 {
        sum(&self.power[self.bins_near(hz, half_width_hz)])
    }

    /// Half-width of a line with the frequency modulation that a bad deck gives it.
    fn line_hz(&self, hz: f64) -> f64 {
        (MAIN_LOBE_BINS + 1.0) * self.bin_hz() + 0.01 * hz
    }

    /// Half-width of a tone with its flutter sidebands.
    fn tone_width_hz(&self, hz: f64) -> f64 {
        self.line_hz(hz).max(300f64.min(0.4 * hz))
    }

    fn strongest_hz(&self) -> Option<f64> {
        let bin_hz = self.bin_hz();
        let low = (LOWEST_TONE_HZ / bin_hz).ceil() as usize;
        let high =
            ((HIGHEST_TONE * self.sample_rate_hz / bin_hz) as usize).min(self.power.len() - 2);
        let peak = (low.max(1)..=high).max_by(|&a, &b| self.power[a].total_cmp(&self.power[b]))?;
        if self.power[peak] <= 0.0 {
            return None;
        }
        let log = |i: usize| self.power[i].max(f64::MIN_POSITIVE).ln();
        let (left, here, right) = (log(peak - 1), log(peak), log(peak + 1));
        let curvature = left - 2.0 * here + right;
        let shift = if curvature < 0.0 {
            (0.5 * (left - right) / curvature).clamp(-0.5, 0.5)
        } else {
            0.0
        };
        Some((peak as f64 + shift) * bin_hz)
    }

    fn describe(&mut self, tone_hz: f64) -> Spectrum {
        let bin_hz = self.bin_hz();
        let half_rate_hz = self.sample_rate_hz / 2.0;
        let first_noise_bin = (LOWEST_NOISE_HZ / bin_hz).ceil() as usize;
        let total_power = sum(&self.power[first_noise_bin..]);
        let tone = self.bins_near(tone_hz, self.tone_width_hz(tone_hz));
        let tone_power = sum(&self.power[tone.clone()]);
        let line_power = self.power_near(tone_hz, self.line_hz(tone_hz));
        let harmonic_power = |n: usize| {
            let hz = tone_hz * n as f64;
            (hz + self.line_hz(hz) < half_rate_hz).then(|| self.power_near(hz, self.line_hz(hz)))
        };
        let harmonics = [2, 3].map(|n| {
            let power = harmonic_power(n).filter(|_| tone_power > 0.0)?;
            Some((power / tone_power).sqrt())
        });
        let mut noise_power = total_power - tone_power;
        let mut left_out = tone.len();
        for n in 2..=HARMONICS {
            if let Some(power) = harmonic_power(n) {
                let hz = tone_hz * n as f64;
                noise_power -= power;
                left_out += self.bins_near(hz, self.line_hz(hz)).len();
            }
        }
        let noise_bins = (self.power.len() - first_noise_bin).saturating_sub(left_out);
        let scale = self.power.len() as f64 / noise_bins.max(1) as f64;
        Spectrum {
            total_power,
            tone_hz,
            tone_power,
            concentration: if tone_power > 0.0 {
                line_power / tone_power
            } else {
                0.0
            },
            noise_power: noise_power.max(0.0) * scale,
            noise_density_per_hz: self.density_beside(tone_hz, &tone),
            harmonics,
            hum: [50.0, 60.0].map(|mains_hz| self.hum(mains_hz, tone_hz)),
        }
    }

    /// Median noise density within an octave of the tone, its own bins left out.
    fn density_beside(&mut self, tone_hz: f64, tone: &std::ops::Range<usize>) -> f64 {
        let band = self.bins_near(tone_hz, 0.5 * tone_hz);
        self.sorted.clear();
        let outside = band.filter(|bin| !tone.contains(bin));
        self.sorted.extend(outside.map(|bin| self.power[bin]));
        if self.sorted.is_empty() {
            return 0.0;
        }
        let middle = self.sorted.len() / 2;
        let (_, median, _) = self.sorted.select_nth_unstable_by(middle, f64::total_cmp);
        // The power of a noise bin is exponentially distributed: its mean is the median over ln 2.
        *median / std::f64::consts::LN_2 / self.bin_hz()
    }

    /// Harmonics that the tone itself covers are left out.
    fn hum(&self, mains_hz: f64, tone_hz: f64) -> HumPower {
        let half_width_hz = MAIN_LOBE_BINS * self.bin_hz();
        let power = |n: usize| {
            let hz = mains_hz * n as f64;
            let covered = (hz - tone_hz).abs() < half_width_hz + self.line_hz(tone_hz);
            if covered {
                0.0
            } else {
                self.power_near(hz, 0.4 * half_width_hz)
            }
        };
        let fundamental = power(1);
        let harmonics: f64 = (2..=HUM_HARMONICS).map(power).sum();
        let width = self.bins_near(mains_hz, 0.4 * half_width_hz).len() as f64;
        // Between hum's lines: half-way to the second and the third harmonic.
        let between = |n: f64| self.bins_near(mains_hz * n, self.bin_hz());
        let (sum, count) = [1.5, 2.5, 3.5]
            .into_iter()
            .flat_map(between)
            .fold((0.0, 0.0), |(s, c), bin| (s + self.power[bin], c + 1.0));
        HumPower {
            fundamental,
            total: fundamental + harmonics,
            floor: if count > 0.0 {
                sum / count * width
            } else {
                0.0
            },
        }
    }
}

/// Writes the samples times the window; returns the sum of the samples.
fn windowed(samples: &[f64], window: &[f64], out: &mut [f64]) -> f64 {
    on_widest(Windowed {
        samples,
        window,
        out,
    })
}

struct Windowed<'a> {
    samples: &'a [f64],
    window: &'a [f64],
    out: &'a mut [f64],
}

impl Kernel for Windowed<'_> {
    type Output = f64;

    #[inline(always)]
    fn run<L: Lanes>(self) -> f64 {
        let (samples, samples_rest) = self.samples.as_chunks::<LANES>();
        let (window, window_rest) = self.window.as_chunks();
        let (out, out_rest) = self.out.as_chunks_mut();
        let mut sums = L::splat(0.0);
        for ((x, window), out) in samples.iter().zip(window).zip(out) {
            let x = L::load(x);
            sums = sums.plus(x);
            x.times(L::load(window)).store(out);
        }
        let mut sum = sums.sum();
        for ((x, window), out) in samples_rest.iter().zip(window_rest).zip(out_rest) {
            sum += x;
            *out = x * window;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the mean taken off every sample; the ring is cut at an odd place.
    #[test]
    fn the_mean_of_the_samples_shows_nowhere() {
        let wave = |offset: f64| {
            let mut search = ToneSearch::new(8000.0, 1);
            for block in 0..40 {
                let sample = |i: i32| offset + 0.3 * (0.7 * f64::from(101 * block + i)).sin();
                search.push(&[(0..101).map(sample).collect()]);
            }
            search.transform(0);
            search
        };
        let (plain, moved) = (wave(0.0), wave(0.8));
        let mean = plain.recent[0].iter().sum::<f64>() / plain.recent[0].len() as f64;
        assert!(mean.abs() < 1e-3);
        for (plain, moved) in plain.power.iter().zip(&moved.power) {
            assert!((plain - moved).abs() < 1e-13, "{plain} {moved}");
        }
    }
}
