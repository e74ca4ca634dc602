//! Clipping: samples stuck at the converter's limit, or a tone whose tops are flat below it.

use super::magnitudes::{count_from, greatest};

/// Full scale to the last half of a thousandth: converters and resamplers stop a little short of ±1.0.
const FULL_SCALE: f64 = 0.9995;
/// Samples in a row at full scale that no unclipped tone makes by chance.
const FULL_SCALE_RUN: u32 = 3;
/// Flat tops are looked for above this level only: below it the steps of 16-bit samples look flat too.
const FLAT_TOP_LEAST_PEAK: f64 = 0.03;
/// Width of the zone under the peak that counts as its top.
const TOP_ZONE: f64 = 0.015;
/// Share of samples in that zone: a sine has 2/π·acos(1 − 0.015) = 11 %, with 5 % third harmonic at its flattest
/// 15 %; cut by 0.5 dB it has over 22 %.
const FLAT_TOP_SHARE: f64 = 0.175;
/// Few samples a cycle that fall alike on every top crowd the zone too. Mean fourth power over the square of the mean
/// square tells them apart: 1.5 for a sine however it is sampled, 1.475 for one cut by 0.5 dB, less for deeper cuts.
const FLATNESS: f64 = 1.487;
/// With fewer samples a cycle the third harmonic, which makes a top flat, lies beyond half the sample rate.
const LEAST_SAMPLES_A_CYCLE: usize = 6;

/// Watches one channel. Results come a window at a time.
#[derive(Clone, Debug)]
pub struct ClippingWatch {
    window: Vec<f64>,
    peak: f64,
    filled: usize,
    run: u32,
    full_scale: bool,
}

/// What a window showed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Clipping {
    /// Three or more samples in a row stood at full scale.
    pub at_full_scale: bool,
    /// The tops are flat. Means clipping only where the signal is a tone.
    pub flat_tops: bool,
}

impl ClippingWatch {
    /// Looks at windows of `window` samples: some periods of the lowest tone.
    pub fn new(window: usize) -> Self {
        Self {
            window: vec![0.0; window.max(1)],
            peak: 0.0,
            filled: 0,
            run: 0,
            full_scale: false,
        }
    }

    /// Takes a block in, whose greatest magnitude is known already; returns the result of the window that ended in it,
    /// if one did. A block is shorter than a window.
    pub fn process(&mut self, block: &[f64], greatest_magnitude: f64) -> Option<Clipping> {
        if greatest_magnitude >= FULL_SCALE {
            for x in block {
                self.run = if x.abs() >= FULL_SCALE {
                    self.run + 1
                } else {
                    0
                };
                self.full_scale |= self.run >= FULL_SCALE_RUN;
            }
        } else {
            self.run = 0;
        }
        let room = self.window.len() - self.filled;
        let (now, later) = block.split_at(room.min(block.len()));
        if later.is_empty() {
            self.keep(now, greatest_magnitude);
        } else {
            self.keep(now, greatest(now));
        }
        if self.filled < self.window.len() {
            return None;
        }
        let result = Clipping {
            at_full_scale: self.full_scale,
            flat_tops: has_flat_tops(&self.window, self.peak),
        };
        self.filled = 0;
        self.peak = 0.0;
        self.full_scale = false;
        self.keep(later, greatest(later));
        Some(result)
    }

    fn keep(&mut self, samples: &[f64], greatest_magnitude: f64) {
        self.window[self.filled..self.filled + samples.len()].copy_from_slice(samples);
        self.filled += samples.len();
        self.peak = self.peak.max(greatest_magnitude);
    }
}

fn has_flat_tops(samples: &[f64], peak: f64) -> bool {
    if peak < FLAT_TOP_LEAST_PEAK {
        return false;
    }
    let zone = peak * (1.0 - TOP_ZONE);
    count_from(zone, samples) as f64 > FLAT_TOP_SHARE * samples.len() as f64
        && is_flattened(samples)
}

/// Whether the wave itself is flatter than a sine, where its samples can show it.
fn is_flattened(samples: &[f64]) -> bool {
    let pairs = samples.iter().zip(&samples[1..]);
    let crossings = pairs.filter(|(a, b)| (**a < 0.0) != (**b < 0.0)).count();
    if crossings * LEAST_SAMPLES_A_CYCLE > 2 * samples.len() {
        return false;
    }
    let (squares, fourths) = samples.iter().fold((0.0, 0.0), |(squares, fourths), x| {
        let square = x * x;
        (squares + square, fourths + square * square)
    });
    fourths * (samples.len() as f64) < FLATNESS * squares * squares
}

#[cfg(test)]
mod tests {
    use super::*;

    fn watch(wave: impl Fn(f64) -> f64) -> Clipping {
        let samples: Vec<f64> = (0..2400)
            .map(|i| wave(std::f64::consts::TAU * 3150.0 * f64::from(i) / 48e3))
            .collect();
        ClippingWatch::new(2400)
            .process(&samples, greatest(&samples))
            .unwrap_or_default()
    }

    /// Tones with a whole number of samples a cycle, or nearly: the same few phases for the whole window.
    #[test]
    fn a_sine_is_whole_whatever_phases_its_samples_have() {
        for samples_a_cycle in [
            2.9, 3.0, 4.0, 4.8, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 48.0,
        ] {
            for step in 0..100 {
                let shift = f64::from(step) / 100.0;
                let turns = |i: u32| f64::from(i) / samples_a_cycle + shift;
                let samples: Vec<f64> = (0..2400)
                    .map(|i| 0.7 * (std::f64::consts::TAU * turns(i)).sin())
                    .collect();
                let seen = ClippingWatch::new(2400).process(&samples, greatest(&samples));
                let what = format!("{samples_a_cycle} samples a cycle, {shift} turns");
                assert_eq!(seen, Some(Clipping::default()), "{what}");
            }
        }
    }

    #[test]
    fn tells_clipped_from_merely_distorted() {
        assert_eq!(watch(f64::sin), Clipping::default());
        assert_eq!(
            watch(|t| 0.5 * (t.sin() + 0.05 * (3.0 * t).sin())),
            Clipping::default()
        );
        assert!(watch(|t| (1.2 * t.sin()).clamp(-1.0, 1.0)).at_full_scale);
        let half_a_db = 10f64.powf(-0.5 / 20.0);
        assert!(watch(|t| 0.5 * t.sin().clamp(-half_a_db, half_a_db)).flat_tops);
        let below = watch(|t| (0.5 * t.sin()).clamp(-0.45, 0.45));
        assert!(below.flat_tops && !below.at_full_scale);
    }
}
