//! Clipping: samples stuck at the converter's limit, or a tone whose tops are flat below it.

use super::dot::greatest_magnitude;

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

    /// Takes a block in; returns the result of the window that ended in it, if one did. A block is shorter than a
    /// window.
    pub fn process(&mut self, block: &[f64]) -> Option<Clipping> {
        if greatest_magnitude(block) >= FULL_SCALE {
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
        self.keep(now);
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
        self.keep(later);
        Some(result)
    }

    fn keep(&mut self, samples: &[f64]) {
        let window = &mut self.window[self.filled..self.filled + samples.len()];
        for (kept, x) in window.iter_mut().zip(samples) {
            *kept = x.abs();
        }
        self.filled += samples.len();
        self.peak = self.peak.max(greatest_magnitude(samples));
    }
}

fn has_flat_tops(magnitudes: &[f64], peak: f64) -> bool {
    if peak < FLAT_TOP_LEAST_PEAK {
        return false;
    }
    let zone = peak * (1.0 - TOP_ZONE);
    let top: u32 = magnitudes.iter().map(|&x| u32::from(x >= zone)).sum();
    f64::from(top) > FLAT_TOP_SHARE * magnitudes.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn watch(wave: impl Fn(f64) -> f64) -> Clipping {
        let samples: Vec<f64> = (0..2400)
            .map(|i| wave(std::f64::consts::TAU * 3150.0 * f64::from(i) / 48e3))
            .collect();
        ClippingWatch::new(2400)
            .process(&samples)
            .unwrap_or_default()
    }

    #[test]
    fn tells_clipped_from_merely_distorted() {
        assert_eq!(watch(f64::sin), Clipping::default());
        assert_eq!(
            watch(|t| 0.5 * (t.sin() + 0.05 * (3.0 * t).sin())),
            Clipping::default()
        );
        assert!(watch(|t| (1.2 * t.sin()).clamp(-1.0, 1.0)).at_full_scale);
        let below = watch(|t| (0.5 * t.sin()).clamp(-0.45, 0.45));
        assert!(below.flat_tops && !below.at_full_scale);
    }
}
