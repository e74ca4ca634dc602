//! The spectral lines of a slowly sampled series: rates and amplitudes of what turns in the mechanism.
//!
//! A Hann-windowed, zero-padded transform finds the peaks; a joint least-squares fit of all of them, windowed the
//! same way, gives the amplitudes, so that neighbours do not colour each other.

use realfft::{RealFftPlanner, RealToComplex, num_complex::Complex64};
use std::{
    f64::consts::{PI, TAU},
    ops::Range,
    sync::Arc,
};

/// Zero padding: the transform is at least this many times longer than the series.
const PADDING: usize = 2;
/// A peak must stand this far (power ratio, 12 dB) above the median of its neighbourhood.
const PROMINENCE: f64 = 16.0;
/// Half-width of that neighbourhood, in resolutions.
const NEIGHBOURHOOD: f64 = 12.0;
/// Peaks fitted together at most, as a rule.
pub const MOST_LINES: usize = 12;
/// Gauss–Newton steps on rates and amplitudes together.
const REFINEMENTS: usize = 3;

/// One line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Rate, Hz.
    pub rate_hz: f64,
    /// Peak amplitude, in the series' unit.
    pub amplitude: f64,
    /// Phase in the middle of the series, radians: the line is amplitude × cos(2π·rate·t + phase).
    pub phase_rad: f64,
}

/// Finds lines in series of at most a given length.
pub struct LineFinder {
    fft: Arc<dyn RealToComplex<f64>>,
    work: Vec<f64>,
    scratch: Vec<Complex64>,
    bins: Vec<Complex64>,
}

impl LineFinder {
    /// For series of at most `most_samples`.
    pub fn new(most_samples: usize) -> Self {
        let length = (PADDING * most_samples).next_power_of_two();
        let fft = RealFftPlanner::new().plan_fft_forward(length);
        Self {
            work: fft.make_input_vec(),
            scratch: fft.make_scratch_vec(),
            bins: fft.make_output_vec(),
            fft,
        }
    }

    /// Width of a line that can be told from its neighbour in a series of that many samples, Hz: the Hann window's
    /// main lobe between its zeros, halved.
    pub fn resolution_hz(samples: usize, rate_hz: f64) -> f64 {
        2.0 * rate_hz / samples.max(1) as f64
    }

    /// The strongest lines within `band_hz`, `most` at most, strongest first. Mean and straight trend are taken out
    /// first.
    pub fn find(
        &mut self,
        series: &[f64],
        rate_hz: f64,
        band_hz: Range<f64>,
        most: usize,
    ) -> Vec<Line> {
        if series.len() < 16 {
            return Vec::new();
        }
        let series = detrended(series);
        self.transform(&series);
        let resolution_hz = Self::resolution_hz(series.len(), rate_hz);
        let band_hz = band_hz.start.max(resolution_hz)..band_hz.end;
        let mut rates = self.peaks(rate_hz, band_hz, resolution_hz, most);
        let mut lines = Vec::new();
        for _ in 0..REFINEMENTS {
            lines = refine(&series, rate_hz, &rates, resolution_hz);
            for (rate, line) in rates.iter_mut().zip(&lines) {
                *rate = line.rate_hz;
            }
        }
        lines.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
        lines
    }

    fn transform(&mut self, series: &[f64]) {
        self.work.fill(0.0);
        let length = series.len().min(self.work.len());
        for (i, (work, x)) in self.work[..length].iter_mut().zip(series).enumerate() {
            *work = x * hann(i, series.len());
        }
        if self
            .fft
            .process_with_scratch(&mut self.work, &mut self.bins, &mut self.scratch)
            .is_err()
        {
            self.bins.fill(Complex64::ZERO);
        }
    }

    /// Rates of the strongest prominent peaks.
    fn peaks(
        &self,
        rate_hz: f64,
        band_hz: Range<f64>,
        resolution_hz: f64,
        most: usize,
    ) -> Vec<f64> {
        let bin_hz = rate_hz / self.work.len() as f64;
        let power: Vec<f64> = self.bins.iter().map(Complex64::norm_sqr).collect();
        let low = ((band_hz.start / bin_hz).ceil() as usize).max(1);
        let high = ((band_hz.end / bin_hz) as usize).min(power.len() - 2);
        let reach = (NEIGHBOURHOOD * resolution_hz / bin_hz) as usize;
        let mut peaks: Vec<usize> = (low..=high)
            .filter(|&i| power[i] > power[i - 1] && power[i] >= power[i + 1])
            .collect();
        peaks.sort_by(|&a, &b| power[b].total_cmp(&power[a]));
        let mut neighbourhood = Vec::new();
        let mut kept: Vec<usize> = Vec::new();
        // The strongest few dozen are more than will be kept; beyond them is noise.
        for &peak in peaks.iter().take(4 * most) {
            let apart = |other: &usize| {
                (peak.abs_diff(*other) as f64) * bin_hz >= 0.9 * resolution_hz
                    // Side lobes of a strong line fall off steeply but stand above a low floor.
                    && !is_side_lobe(power[peak], power[*other], peak.abs_diff(*other) as f64 * bin_hz / resolution_hz)
            };
            neighbourhood.clear();
            neighbourhood.extend_from_slice(
                &power[peak.saturating_sub(reach)..(peak + reach).min(power.len())],
            );
            let middle = neighbourhood.len() / 2;
            let (_, median, _) = neighbourhood.select_nth_unstable_by(middle, f64::total_cmp);
            if power[peak] > PROMINENCE * *median && kept.iter().all(apart) {
                kept.push(peak);
                if kept.len() == most {
                    break;
                }
            }
        }
        kept.iter()
            .map(|&i| {
                let log = |i: usize| power[i].max(f64::MIN_POSITIVE).ln();
                let curvature = log(i - 1) - 2.0 * log(i) + log(i + 1);
                let shift = if curvature < 0.0 {
                    0.5 * (log(i - 1) - log(i + 1)) / curvature
                } else {
                    0.0
                };
                (i as f64 + shift) * bin_hz
            })
            .collect()
    }
}

/// Whether a peak is no more than the Hann window's side lobe of a stronger one, `distance` resolutions away. The
/// window's spectrum is sinc(x)/(1 − x²), x in bins (Harris 1978); 6 dB are allowed for lobes of several lines.
fn is_side_lobe(power: f64, of_power: f64, distance: f64) -> bool {
    let bins = 2.0 * distance;
    let lobe = 1.0 / (PI * bins * (bins * bins - 1.0));
    power < 4.0 * of_power * lobe * lobe
}

/// The Hann window of `length` samples at sample `i`.
pub fn hann(i: usize, length: usize) -> f64 {
    0.5 - 0.5 * (TAU * (i as f64 + 0.5) / length as f64).cos()
}

fn detrended(series: &[f64]) -> Vec<f64> {
    let count = series.len() as f64;
    let mean = series.iter().sum::<f64>() / count;
    let slope = super::regression::slope_of_series(series.iter().copied()).unwrap_or(0.0);
    let centre = (count - 1.0) / 2.0;
    series
        .iter()
        .enumerate()
        .map(|(i, x)| x - mean - slope * (i as f64 - centre))
        .collect()
}

/// One Gauss–Newton step: fits cosine, sine and (time-weighted) quadrature of every line at once and moves the rates.
fn refine(series: &[f64], rate_hz: f64, rates: &[f64], resolution_hz: f64) -> Vec<Line> {
    let weight = |i: usize| hann(i, series.len());
    let first = fit(series, rate_hz, rates, None, weight);
    let Some(first) = first else {
        return Vec::new();
    };
    let Some(second) = fit(series, rate_hz, rates, Some(&first), weight) else {
        return Vec::new();
    };
    rates
        .iter()
        .enumerate()
        .map(|(i, &rate)| {
            let shift_hz = second[3 * i + 2].clamp(-0.25 * resolution_hz, 0.25 * resolution_hz);
            Line {
                rate_hz: rate + shift_hz,
                amplitude: second[3 * i].hypot(second[3 * i + 1]),
                // The model is a·cos + b·sin.
                phase_rad: (-second[3 * i + 1]).atan2(second[3 * i]),
            }
        })
        .collect()
}

/// Lines of known rates in a series, all of it counting alike: what they are up to its end, not only in its middle.
pub fn fit_known(series: &[f64], rate_hz: f64, rates: &[f64]) -> Vec<Line> {
    let Some(fitted) = fit(series, rate_hz, rates, None, |_| 1.0) else {
        return Vec::new();
    };
    let (pairs, _) = fitted.as_chunks::<2>();
    rates
        .iter()
        .zip(pairs)
        .map(|(&rate_hz, [a, b])| Line {
            rate_hz,
            amplitude: a.hypot(*b),
            phase_rad: (-b).atan2(*a),
        })
        .collect()
}

/// Weighted linear least squares on cosine and sine of each rate and, where `tangents` gives the amplitudes, on the
/// derivative by the rate too. Returns the coefficients, two or three a line.
fn fit(
    series: &[f64],
    rate_hz: f64,
    rates: &[f64],
    tangents: Option<&[f64]>,
    weight: impl Fn(usize) -> f64,
) -> Option<Vec<f64>> {
    let per_line = if tangents.is_some() { 3 } else { 2 };
    let size = per_line * rates.len();
    let mut normal = vec![0.0; size * (size + 1)];
    let mut row = vec![0.0; size + 1];
    let centre = (series.len() as f64 - 1.0) / 2.0;
    let mut phasors: Vec<(Complex64, Complex64)> = rates
        .iter()
        .map(|rate| {
            let turn = TAU * rate / rate_hz;
            (
                Complex64::from_polar(1.0, -turn * centre),
                Complex64::from_polar(1.0, turn),
            )
        })
        .collect();
    for (i, x) in series.iter().enumerate() {
        let weight = weight(i);
        let time_s = (i as f64 - centre) / rate_hz;
        for (k, (phasor, turn)) in phasors.iter_mut().enumerate() {
            row[per_line * k] = weight * phasor.re;
            row[per_line * k + 1] = weight * phasor.im;
            if let Some(tangents) = tangents {
                let (a, b) = (tangents[2 * k], tangents[2 * k + 1]);
                row[per_line * k + 2] = weight * TAU * time_s * (b * phasor.re - a * phasor.im);
            }
            *phasor *= *turn;
        }
        row[size] = weight * x;
        for a in 0..size {
            let scale = row[a];
            let start = a * (size + 1);
            for b in a..=size {
                normal[start + b] += scale * row[b];
            }
        }
    }
    solve_symmetric(&mut normal, size)
}

/// Solves the normal equations (upper triangle with right-hand side, row by row) by Gaussian elimination, scaled.
fn solve_symmetric(normal: &mut [f64], size: usize) -> Option<Vec<f64>> {
    let width = size + 1;
    for a in 0..size {
        for b in 0..a {
            normal[a * width + b] = normal[b * width + a];
        }
    }
    for a in 0..size {
        let pivot = normal[a * width + a];
        if pivot.abs() < 1e-30 {
            return None;
        }
        for b in a + 1..size {
            let factor = normal[b * width + a] / pivot;
            for c in a..width {
                normal[b * width + c] -= factor * normal[a * width + c];
            }
        }
    }
    let mut solution = vec![0.0; size];
    for a in (0..size).rev() {
        let known: f64 = (a + 1..size)
            .map(|b| normal[a * width + b] * solution[b])
            .sum();
        solution[a] = (normal[a * width + size] - known) / normal[a * width + a];
    }
    Some(solution)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn separates_and_sizes_lines() {
        let rate_hz = 500.0;
        let truth = [
            (6.06, 0.05),
            (6.46, 0.02),
            (0.61, 0.08),
            (24.9, 0.01),
            (98.7, 0.004),
        ];
        let series: Vec<f64> = (0..15_000)
            .map(|i| {
                let t = f64::from(i) / rate_hz;
                let lines = truth.iter().enumerate();
                1.3 + 0.002 * t
                    + lines
                        .map(|(k, (f, a))| a * (TAU * f * t + k as f64).sin())
                        .sum::<f64>()
            })
            .collect();
        let lines = LineFinder::new(16_384).find(&series, rate_hz, 0.05..200.0, MOST_LINES);
        assert_eq!(lines.len(), truth.len());
        for (f, a) in truth {
            let line = lines.iter().find(|line| (line.rate_hz - f).abs() < 0.005);
            let amplitude = line.map_or(0.0, |line| line.amplitude);
            assert!((amplitude / a - 1.0).abs() < 0.005, "{f}: {amplitude}");
        }
    }

    #[test]
    fn a_line_tells_its_phase_in_the_middle() {
        let rate_hz = 100.0;
        let middle_s = 1999.0 / 2.0 / rate_hz;
        for phase_rad in [-2.0, 0.3, 1.6] {
            let series: Vec<f64> = (0..2000)
                .map(|i| 0.1 * (TAU * 1.23 * (f64::from(i) / rate_hz - middle_s) + phase_rad).cos())
                .collect();
            let lines = LineFinder::new(2000).find(&series, rate_hz, 0.2..10.0, 3);
            let found = lines.first().map(|line| line.phase_rad);
            assert!(
                found.is_some_and(|found| (found - phase_rad).abs() < 1e-3),
                "{found:?}"
            );
        }
    }

    #[test]
    fn finds_nothing_in_nothing() {
        let mut finder = LineFinder::new(4096);
        assert!(
            finder
                .find(&vec![0.0; 4096], 500.0, 0.05..200.0, MOST_LINES)
                .is_empty()
        );
        assert!(
            finder
                .find(&[1.0; 4], 500.0, 0.05..200.0, MOST_LINES)
                .is_empty()
        );
    }
}
