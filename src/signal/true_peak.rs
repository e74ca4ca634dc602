//! True peak: the greatest magnitude the waveform reaches between the samples, by fourfold interpolation.
//!
//! Only places next to a local extreme of the samples are interpolated: below about 0.4 of the sample rate the
//! waveform's peak lies beside one.

use super::{kaiser::low_pass, magnitudes::Magnitudes};

/// Interpolated places between two samples.
const PHASES: usize = 4;
/// Where the wave bends less than this share of itself in a sample (a sine below 0.07 of the rate), a parabola through
/// three samples is within 0.01 dB of its top, and does.
const SMOOTH: f64 = 0.2;
/// Samples on each side that take part.
const HALF_SPAN: usize = 8;
const SPAN: usize = 2 * HALF_SPAN;

/// The interpolator and its last samples.
#[derive(Clone, Debug)]
pub struct TruePeak {
    /// `taps[k][p]` is what sample `k` of the span gives to the place `(p + 1)/PHASES` of a sample after its middle;
    /// the last place is idle and fills the vector.
    taps: [[f64; PHASES]; SPAN],
    recent: Vec<f64>,
}

impl TruePeak {
    /// For blocks of at most `block` samples.
    pub fn new(block: usize) -> Self {
        // Half-band edges at the fourfold rate; the stop band starts where the images do.
        let prototype = low_pass(0.4 / PHASES as f64, 0.6 / PHASES as f64, 60.0);
        let centre = (prototype.len() / 2) as isize;
        let phases: [[f64; SPAN]; PHASES - 1] = std::array::from_fn(|p| {
            let mut phase: [f64; SPAN] = std::array::from_fn(|k| {
                let after_middle =
                    (p + 1) as isize - PHASES as isize * (k as isize - HALF_SPAN as isize + 1);
                usize::try_from(centre + after_middle)
                    .ok()
                    .and_then(|i| prototype.get(i).copied())
                    .unwrap_or(0.0)
            });
            let gain: f64 = phase.iter().sum();
            phase.iter_mut().for_each(|tap| *tap /= gain);
            phase
        });
        let taps = std::array::from_fn(|k| {
            std::array::from_fn(|p| phases.get(p).map_or(0.0, |phase| phase[k]))
        });
        let mut recent = Vec::with_capacity(SPAN + block);
        recent.resize(SPAN, 0.0);
        Self { taps, recent }
    }

    /// Greatest magnitude in the block (late by [`HALF_SPAN`] samples); interpolates only where the samples reach
    /// `worth` or more, since less cannot change a maximum that stands there already.
    pub fn process(&mut self, block: &[f64], worth: f64) -> f64 {
        self.recent.extend_from_slice(block);
        let x = &self.recent;
        let mut peak = Magnitudes::of(&x[HALF_SPAN..x.len() - HALF_SPAN]).greatest;
        for i in HALF_SPAN..x.len() - HALF_SPAN {
            let here = x[i].abs();
            // Upright: a trough is a crest of the other sign.
            let (before, after) = (x[i - 1] * x[i].signum(), x[i + 1] * x[i].signum());
            if here < worth || here < before || here < after {
                continue;
            }
            let bend = 2.0 * here - before - after;
            if bend < SMOOTH * here {
                let tilt = after - before;
                peak = peak.max(here + tilt * tilt / (8.0 * bend.max(f64::MIN_POSITIVE)));
            } else {
                for start in [i - HALF_SPAN, i + 1 - HALF_SPAN] {
                    peak = peak.max(self.between(&x[start..start + SPAN]));
                }
            }
        }
        let done = self.recent.len() - SPAN;
        self.recent.drain(..done);
        peak
    }

    /// Greatest interpolated magnitude between the two middle samples of the span.
    fn between(&self, span: &[f64]) -> f64 {
        let mut places = [0.0; PHASES];
        for (taps, x) in self.taps.iter().zip(span) {
            for (place, tap) in places.iter_mut().zip(taps) {
                *place += tap * x;
            }
        }
        places.into_iter().fold(0.0, |peak, x| peak.max(x.abs()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_peak_between_samples() {
        // At a quarter of the rate and 45° the samples miss the peak by 3 dB.
        for (frequency, phase) in [
            (0.01, 0.7),
            (0.25, std::f64::consts::FRAC_PI_4),
            (0.0656, 0.3),
            (0.31, 1.1),
            (0.4, 0.2),
        ] {
            let x: Vec<f64> = (0..4000)
                .map(|i| 0.5 * (std::f64::consts::TAU * frequency * f64::from(i) + phase).sin())
                .collect();
            let mut meter = TruePeak::new(x.len());
            meter.process(&x[..100], 0.0);
            let peak = meter.process(&x[100..], 0.0);
            let error_db = 20.0 * (peak / 0.5).log10();
            assert!(error_db.abs() < 0.5, "{frequency}: {error_db} dB");
        }
    }
}
