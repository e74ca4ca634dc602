//! A stream of two channels as spectra of overlapping windows.

use realfft::{RealFftPlanner, RealToComplex, num_complex::Complex64};
use std::{f64::consts::TAU, ops::Range, sync::Arc};

/// Half of the main lobe of the four-term Blackman–Harris window (Harris 1978), and a bin for a tone that moves.
const LOBE_BINS: f64 = 5.0;
/// Below lie offset and drift of the input.
const LOWEST_HZ: f64 = 20.0;
/// Above lie the converter's filters, as a share of the sample rate.
const HIGHEST: f64 = 0.45;

/// Cuts the stream into windows that overlap by half.
pub(super) struct Frames {
    sample_rate_hz: f64,
    window: Vec<f64>,
    /// Makes the bins' squares add up to the mean square of the samples.
    scale: f64,
    recent: [Vec<f64>; 2],
    fft: Arc<dyn RealToComplex<f64>>,
    work: Vec<f64>,
    spectra: [Vec<Complex64>; 2],
}

impl Frames {
    /// Windows of at least `least_s`.
    pub(super) fn new(sample_rate_hz: f64, least_s: f64) -> Self {
        let length = ((least_s * sample_rate_hz) as usize).next_power_of_two();
        let fft = RealFftPlanner::new().plan_fft_forward(length);
        let window: Vec<f64> = (0..length)
            .map(|i| {
                let x = TAU * i as f64 / length as f64;
                0.358_75 - 0.488_29 * x.cos() + 0.141_28 * (2.0 * x).cos()
                    - 0.011_68 * (3.0 * x).cos()
            })
            .collect();
        let squares = window.iter().map(|w| w * w).sum::<f64>();
        Self {
            sample_rate_hz,
            scale: (2.0 / (length as f64 * squares)).sqrt(),
            window,
            recent: std::array::from_fn(|_| Vec::with_capacity(2 * length)),
            work: fft.make_input_vec(),
            spectra: std::array::from_fn(|_| fft.make_output_vec()),
            fft,
        }
    }

    /// What follows does not join on.
    pub(super) fn mark_gap(&mut self) {
        self.recent.iter_mut().for_each(Vec::clear);
    }

    /// Takes interleaved frames of two channels in; `each` is called for every window that gets full. What is no number
    /// is taken as silence.
    pub(super) fn push(&mut self, interleaved: &[f32], mut each: impl FnMut(&Frame<'_>)) {
        let hop = self.window.len() / 2;
        for frame in interleaved.chunks_exact(2) {
            for (recent, &sample) in self.recent.iter_mut().zip(frame) {
                let sample = f64::from(sample);
                recent.push(if sample.is_finite() { sample } else { 0.0 });
            }
            if self.recent[0].len() == self.window.len() {
                self.transform();
                each(&Frame {
                    bin_hz: self.sample_rate_hz / self.window.len() as f64,
                    spectra: &self.spectra,
                    newest: std::array::from_fn(|channel| &self.recent[channel][hop..]),
                });
                for recent in &mut self.recent {
                    recent.drain(..hop);
                }
            }
        }
    }

    fn transform(&mut self) {
        for (recent, spectrum) in self.recent.iter().zip(&mut self.spectra) {
            let mean = recent.iter().sum::<f64>() / recent.len() as f64;
            for ((work, sample), window) in self.work.iter_mut().zip(recent).zip(&self.window) {
                *work = (sample - mean) * window * self.scale;
            }
            if self.fft.process(&mut self.work, spectrum).is_err() {
                // Only buffers of the wrong length can fail, and they were made by the transform itself.
                spectrum.fill(Complex64::ZERO);
            }
        }
    }
}

/// One window of both channels.
pub(super) struct Frame<'a> {
    bin_hz: f64,
    spectra: &'a [Vec<Complex64>; 2],
    /// The newer half of the window's samples.
    pub(super) newest: [&'a [f64]; 2],
}

impl Frame<'_> {
    /// Mean square of a channel in the usable band.
    pub(super) fn power(&self, channel: usize) -> f64 {
        self.power_in(channel, self.band())
    }

    /// Mean square of a channel between two frequencies.
    pub(super) fn power_between(&self, channel: usize, low_hz: f64, high_hz: f64) -> f64 {
        self.power_in(channel, self.bins(low_hz, high_hz))
    }

    /// Mean square of a channel with each frequency weighted.
    pub(super) fn weighted_power(
        &self,
        channel: usize,
        [low_hz, high_hz]: [f64; 2],
        power_weight: impl Fn(f64) -> f64,
    ) -> f64 {
        self.bins(low_hz, high_hz)
            .map(|bin| {
                self.spectra[channel][bin].norm_sqr() * power_weight(bin as f64 * self.bin_hz)
            })
            .sum()
    }

    /// Half of the width of a line, Hz.
    pub(super) fn lobe_hz(&self) -> f64 {
        LOBE_BINS * self.bin_hz
    }

    /// Mean square of a line.
    pub(super) fn line_power(&self, channel: usize, hz: f64) -> f64 {
        self.power_in(channel, self.lobe(hz))
    }

    /// Mean of left × conjugate of right over a line: its angle is 2π·f·(delay of the right channel).
    pub(super) fn line_cross(&self, hz: f64) -> Complex64 {
        let [left, right] = self.spectra;
        self.lobe(hz).map(|bin| left[bin] * right[bin].conj()).sum()
    }

    /// Frequency of the strongest line of a channel, Hz.
    pub(super) fn strongest_hz(&self, channel: usize) -> Option<f64> {
        let spectrum = &self.spectra[channel];
        let power = |bin: usize| spectrum[bin].norm_sqr();
        let peak = self.band().max_by(|&a, &b| power(a).total_cmp(&power(b)))?;
        if peak == 0 || peak + 1 >= spectrum.len() || power(peak) <= 0.0 {
            return None;
        }
        let log = |bin: usize| power(bin).max(f64::MIN_POSITIVE).ln();
        let (left, here, right) = (log(peak - 1), log(peak), log(peak + 1));
        let curvature = left - 2.0 * here + right;
        let shift = if curvature < 0.0 {
            (0.5 * (left - right) / curvature).clamp(-0.5, 0.5)
        } else {
            0.0
        };
        Some((peak as f64 + shift) * self.bin_hz)
    }

    fn power_in(&self, channel: usize, bins: Range<usize>) -> f64 {
        self.spectra[channel][bins]
            .iter()
            .map(Complex64::norm_sqr)
            .sum()
    }

    fn band(&self) -> Range<usize> {
        let rate_hz = 2.0 * self.bin_hz * (self.spectra[0].len() - 1) as f64;
        self.bins(LOWEST_HZ, HIGHEST * rate_hz)
    }

    fn lobe(&self, hz: f64) -> Range<usize> {
        self.bins(hz - self.lobe_hz(), hz + self.lobe_hz())
    }

    fn bins(&self, low_hz: f64, high_hz: f64) -> Range<usize> {
        let last = self.spectra[0].len() as f64;
        let low = (low_hz / self.bin_hz).ceil().clamp(0.0, last);
        let high = (high_hz / self.bin_hz + 1.0).floor().clamp(low, last);
        low as usize..high as usize
    }
}
