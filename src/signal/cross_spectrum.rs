//! Delay between two channels that carry the same broadband programme or noise.
//!
//! Averaged cross-spectra (Welch) give, at every frequency, how alike the channels are and at what phase. A
//! correlation with all frequencies weighted by their coherence alone (generalised cross-correlation, Knapp &
//! Carter 1976) finds the delay to a fraction of a sample; the slope of phase against frequency, weighted as
//! maximum likelihood asks (coherence²/(1 − coherence²)), refines it.

use super::phase_fit::WrappedPhase;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex, num_complex::Complex64};
use std::{f64::consts::TAU, sync::Arc};

/// Least length of a transform: long against any delay between two tracks.
const LEAST_WINDOW_S: f64 = 0.06;
/// Lowest frequency used: below lie hum and rumble.
const LOWEST_HZ: f64 = 150.0;
/// Highest, as a share of the sample rate: above lie the converter's filters.
const HIGHEST: f64 = 0.45;
/// Above, bands for a line through the phase hold more of the tape than of the head.
const HIGHEST_BAND_HZ: f64 = 16e3;
/// A band needs so many bins, and so much agreement of their phases.
const LEAST_BAND_BINS: f64 = 4.0;
const LEAST_BAND_AGREES: f64 = 0.7;
/// Bins that must be coherent: a tone alone is alike in few, and its whole cycles are open.
const LEAST_COHERENT_BINS: f64 = 20.0;
/// Transforms that must be averaged before coherence means something.
const LEAST_AVERAGES: f64 = 8.0;

/// What the cross-spectrum says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProgrammeDelay {
    /// Delay of the second channel, seconds; positive = later.
    pub delay_s: f64,
    /// Standard uncertainty from the scatter of the phase about its straight line, seconds.
    pub uncertainty_s: f64,
    /// Root-mean-square coherence over the band, each frequency weighted by its power.
    pub coherence: f64,
    /// Whether the second channel is upside down.
    pub inverted: bool,
}

/// Averages cross-spectra of two channels.
pub struct CrossSpectrum {
    sample_rate_hz: f64,
    length: usize,
    forward: Arc<dyn RealToComplex<f64>>,
    inverse: Arc<dyn ComplexToReal<f64>>,
    window: Vec<f64>,
    recent: [Vec<f64>; 2],
    work: Vec<f64>,
    scratch: Vec<Complex64>,
    bins: [Vec<Complex64>; 2],
    correlation: Vec<f64>,
    cross: Vec<Complex64>,
    power: [Vec<f64>; 2],
    averages: f64,
    /// Averages after which old ones fade; infinite for an average over everything.
    memory: f64,
}

impl CrossSpectrum {
    /// For two channels at `sample_rate_hz`; averages fade with a time constant of `memory_s` (infinity: never).
    pub fn new(sample_rate_hz: f64, memory_s: f64) -> Self {
        let length = ((LEAST_WINDOW_S * sample_rate_hz) as usize).next_power_of_two();
        let mut planner = RealFftPlanner::new();
        let forward = planner.plan_fft_forward(length);
        let inverse = planner.plan_fft_inverse(length);
        let window = (0..length)
            .map(|i| 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / length as f64).cos())
            .collect();
        let bins = length / 2 + 1;
        Self {
            sample_rate_hz,
            length,
            window,
            recent: std::array::from_fn(|_| Vec::with_capacity(2 * length)),
            work: forward.make_input_vec(),
            scratch: forward.make_scratch_vec(),
            bins: std::array::from_fn(|_| forward.make_output_vec()),
            correlation: inverse.make_output_vec(),
            cross: vec![Complex64::ZERO; bins],
            power: std::array::from_fn(|_| vec![0.0; bins]),
            averages: 0.0,
            memory: memory_s * sample_rate_hz / (length / 2) as f64,
            forward,
            inverse,
        }
    }

    /// Forgets everything.
    pub fn restart(&mut self) {
        self.recent.iter_mut().for_each(Vec::clear);
        self.cross.fill(Complex64::ZERO);
        self.power.iter_mut().for_each(|power| power.fill(0.0));
        self.averages = 0.0;
    }

    /// What follows does not join on to what was taken in before; the averages stay.
    pub fn mark_gap(&mut self) {
        self.recent.iter_mut().for_each(Vec::clear);
    }

    /// Takes the next samples of both channels in (fewer than a window at a time).
    pub fn push(&mut self, first: &[f64], second: &[f64]) {
        self.recent[0].extend_from_slice(first);
        self.recent[1].extend_from_slice(second);
        while self.recent[0].len() >= self.length {
            self.average_one();
            for recent in &mut self.recent {
                recent.drain(..self.length / 2);
            }
        }
    }

    fn average_one(&mut self) {
        for channel in 0..2 {
            for ((work, x), window) in self
                .work
                .iter_mut()
                .zip(&self.recent[channel])
                .zip(&self.window)
            {
                *work = x * window;
            }
            let bins = &mut self.bins[channel];
            if self
                .forward
                .process_with_scratch(&mut self.work, bins, &mut self.scratch)
                .is_err()
            {
                return;
            }
        }
        let keep = (1.0 - 1.0 / self.memory).max(0.0);
        self.averages = self.averages * keep + 1.0;
        let [first, second] = &self.bins;
        for (i, (a, b)) in first.iter().zip(second).enumerate() {
            self.cross[i] = self.cross[i] * keep + a * b.conj();
            self.power[0][i] = self.power[0][i] * keep + a.norm_sqr();
            self.power[1][i] = self.power[1][i] * keep + b.norm_sqr();
        }
    }

    /// Whether enough is averaged for [`CrossSpectrum::delay`].
    pub fn is_ready(&self) -> bool {
        self.averages >= LEAST_AVERAGES
    }

    /// The delay, looked for within ±`most_s`; `None` before enough is averaged or where the channels are alike in
    /// too narrow a band.
    pub fn delay(&mut self, most_s: f64) -> Option<ProgrammeDelay> {
        if !self.is_ready() {
            return None;
        }
        let bin_hz = self.sample_rate_hz / self.length as f64;
        let band = (LOWEST_HZ / bin_hz).ceil() as usize
            ..((HIGHEST * self.sample_rate_hz / bin_hz) as usize).min(self.cross.len() - 1);
        let (coarse_s, inverted) = self.coarse_delay(&band, most_s)?;
        let mut delay_s = coarse_s;
        let mut uncertainty_s = f64::INFINITY;
        for _ in 0..3 {
            let (correction_s, sigma_s) = self.slope(&band, delay_s, inverted)?;
            delay_s += correction_s;
            uncertainty_s = sigma_s;
        }
        Some(ProgrammeDelay {
            delay_s,
            uncertainty_s,
            coherence: self.mean_coherence(&band),
            inverted,
        })
    }

    /// The phase in up to `count` bands of equal ratio, each with its scatter about the delay found: what a straight line
    /// is to be laid through. Bands with too little in common are left out.
    pub fn phases(&self, delay: &ProgrammeDelay, count: usize) -> Vec<WrappedPhase> {
        let bin_hz = self.sample_rate_hz / self.length as f64;
        let highest_hz = (HIGHEST * self.sample_rate_hz).min(HIGHEST_BAND_HZ);
        let ratio = (highest_hz / LOWEST_HZ).powf(1.0 / count as f64);
        let edge = |i: usize| (LOWEST_HZ * ratio.powi(i as i32) / bin_hz).ceil() as usize;
        (0..count)
            .filter_map(|i| self.band_phase(edge(i)..edge(i + 1).min(self.cross.len()), delay))
            .collect()
    }

    fn band_phase(
        &self,
        band: std::ops::Range<usize>,
        delay: &ProgrammeDelay,
    ) -> Option<WrappedPhase> {
        let bin_hz = self.sample_rate_hz / self.length as f64;
        let (mut sum, mut weights, mut hz, mut used) = (Complex64::ZERO, 0.0, 0.0, 0.0);
        let turned = |bin: usize| {
            let coherence = self.coherence_squared(bin);
            let size = self.cross[bin].norm();
            (coherence > 0.0 && size > 0.0).then(|| {
                let angle = -TAU * bin_hz * bin as f64 * delay.delay_s;
                let unit = self.cross[bin] / size * Complex64::from_polar(1.0, angle);
                (unit, coherence / (1.0 - coherence))
            })
        };
        for bin in band.clone() {
            if let Some((unit, weight)) = turned(bin) {
                sum += weight * unit;
                weights += weight;
                hz += weight * bin_hz * bin as f64;
                used += 1.0;
            }
        }
        if used < LEAST_BAND_BINS || sum.norm() < LEAST_BAND_AGREES * weights {
            return None;
        }
        let frequency_hz = hz / weights;
        // The mean direction's scatter; half-overlapping Hann windows leave about half of the bins independent.
        let scatter = -2.0 * (sum.norm() / weights).min(1.0).ln();
        Some(WrappedPhase {
            frequency_hz,
            turns: sum.arg() / TAU + frequency_hz * delay.delay_s,
            sigma: (scatter / (0.5 * used)).sqrt() / TAU,
        })
    }

    /// Squared coherence of a bin, with the bias that a finite average of unrelated noise has taken off.
    fn coherence_squared(&self, bin: usize) -> f64 {
        let product = self.power[0][bin] * self.power[1][bin];
        if product <= 0.0 {
            return 0.0;
        }
        let raw = self.cross[bin].norm_sqr() / product;
        let bias = 1.0 / self.averages;
        ((raw - bias) / (1.0 - bias)).clamp(0.0, 0.999_999)
    }

    fn mean_coherence(&self, band: &std::ops::Range<usize>) -> f64 {
        let (sum, weight) = band.clone().fold((0.0, 0.0), |(sum, weight), bin| {
            let power = (self.power[0][bin] * self.power[1][bin]).sqrt();
            (sum + power * self.coherence_squared(bin), weight + power)
        });
        if weight > 0.0 {
            (sum / weight).sqrt()
        } else {
            0.0
        }
    }

    /// Place and sign of the highest peak of the coherence-weighted correlation.
    fn coarse_delay(&mut self, band: &std::ops::Range<usize>, most_s: f64) -> Option<(f64, bool)> {
        let mut weighted = self.inverse.make_input_vec();
        let (mut sum, mut squares) = (0.0, 0.0);
        for bin in band.clone() {
            let size = self.cross[bin].norm();
            if size > 0.0 {
                let coherence = self.coherence_squared(bin);
                weighted[bin] = self.cross[bin] / size * coherence;
                sum += coherence;
                squares += coherence * coherence;
            }
        }
        if sum * sum < LEAST_COHERENT_BINS * squares
            || squares <= 0.0
            || self
                .inverse
                .process(&mut weighted, &mut self.correlation)
                .is_err()
        {
            return None;
        }
        let most =
            ((most_s * self.sample_rate_hz).ceil() as isize).min(self.length as isize / 2 - 2);
        // cross = first · conj(second): a later second channel shows at negative lags.
        let at = |lag: isize| self.correlation[(-lag).rem_euclid(self.length as isize) as usize];
        let best = (-most..=most).max_by(|&a, &b| at(a).abs().total_cmp(&at(b).abs()))?;
        let (left, here, right) = (at(best - 1), at(best), at(best + 1));
        let curvature = left - 2.0 * here + right;
        let shift = if curvature == 0.0 {
            0.0
        } else {
            (0.5 * (left - right) / curvature).clamp(-0.5, 0.5)
        };
        Some(((best as f64 + shift) / self.sample_rate_hz, here < 0.0))
    }

    /// Weighted slope of the phase left after `delay_s` is taken off: correction and its standard uncertainty.
    fn slope(
        &self,
        band: &std::ops::Range<usize>,
        delay_s: f64,
        inverted: bool,
    ) -> Option<(f64, f64)> {
        let bin_rad_per_s = TAU * self.sample_rate_hz / self.length as f64;
        let sign = if inverted { -1.0 } else { 1.0 };
        let (mut sxx, mut sxy, mut syy, mut used) = (0.0, 0.0, 0.0, 0.0);
        for bin in band.clone() {
            let coherence = self.coherence_squared(bin);
            let weight = coherence / (1.0 - coherence);
            if weight <= 0.0 {
                continue;
            }
            let omega = bin_rad_per_s * bin as f64;
            let left = sign * self.cross[bin] * Complex64::from_polar(1.0, -omega * delay_s);
            let phase = left.arg();
            sxx += weight * omega * omega;
            sxy += weight * omega * phase;
            syy += weight * phase * phase;
            used += 1.0;
        }
        if sxx <= 0.0 || used < 4.0 {
            return None;
        }
        let correction = sxy / sxx;
        // Half-overlapping Hann windows leave about half of the bins independent.
        let scatter = ((syy - correction * sxy) / (0.5 * used)).max(0.0);
        Some((correction, (scatter / sxx).sqrt()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt as _, SeedableRng as _};

    #[test]
    fn reads_the_delay_of_noise_to_a_fraction_of_a_sample() {
        let rate_hz = 48_000.0;
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(5);
        // Noise of many random sines: its delay is exact.
        let sines: Vec<(f64, f64)> = (0..400)
            .map(|_| {
                (
                    random.random_range(200.0..18_000.0),
                    random.random_range(0.0..TAU),
                )
            })
            .collect();
        let noise = |t: f64| {
            sines
                .iter()
                .map(|(f, p)| (TAU * f * t + p).sin())
                .sum::<f64>()
                / 40.0
        };
        for (delay_us, sign) in [(7.3, 1.0), (-41.7, 1.0), (160.2, -1.0)] {
            let mut cross = CrossSpectrum::new(rate_hz, f64::INFINITY);
            for block in 0..250 {
                let t = |i: usize| (block * 192 + i) as f64 / rate_hz;
                let first: Vec<f64> = (0..192).map(|i| noise(t(i))).collect();
                let second: Vec<f64> = (0..192)
                    .map(|i| sign * noise(t(i) - delay_us * 1e-6))
                    .collect();
                cross.push(&first, &second);
            }
            let read = cross.delay(1e-3);
            let read_us = read.map_or(f64::NAN, |read| read.delay_s * 1e6);
            assert!((read_us - delay_us).abs() < 0.05, "{delay_us}: {read:?}");
            assert_eq!(read.map(|read| read.inverted), Some(sign < 0.0));
        }
    }

    #[test]
    fn unrelated_channels_are_not_coherent() {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(6);
        let mut cross = CrossSpectrum::new(48e3, f64::INFINITY);
        let mut noise = || {
            (0..480)
                .map(|_| random.random_range(-1.0..1.0))
                .collect::<Vec<f64>>()
        };
        for _ in 0..400 {
            cross.push(&noise(), &noise());
        }
        assert!(cross.delay(1e-3).is_none_or(|read| read.coherence < 0.2));
    }
}
