//! Equaliser for frequencies read as phase steps.

use super::phasors::BLOCK;

/// A frequency read as the step of the phase between two samples droops as sin(x)/x, x = π·f/rate. Seven symmetric taps
/// fitted (least squares, up to a third of the rate) to the inverse; three samples late.
#[derive(Clone, Copy, Debug, Default)]
pub struct StepEqualiser {
    recent: [f64; 7],
}

impl StepEqualiser {
    const TAPS: [f64; 4] = [1.144_619_87, -0.086_401_41, 0.017_014_28, -0.002_922_82];

    /// The next outputs.
    pub fn process_block(&mut self, x: &[f64; BLOCK]) -> [f64; BLOCK] {
        let mut r = [0.0; BLOCK + 6];
        r[..6].copy_from_slice(&self.recent[1..]);
        r[6..].copy_from_slice(x);
        let mut y = [0.0; BLOCK];
        for i in 0..BLOCK {
            y[i] = Self::TAPS[0] * r[i + 3]
                + Self::TAPS[1] * (r[i + 2] + r[i + 4])
                + Self::TAPS[2] * (r[i + 1] + r[i + 5])
                + Self::TAPS[3] * (r[i] + r[i + 6]);
        }
        self.recent.copy_from_slice(&x[BLOCK - 7..]);
        y
    }

    /// The next output.
    #[inline]
    pub fn process(&mut self, x: f64) -> f64 {
        self.recent.copy_within(1.., 0);
        self.recent[6] = x;
        let r = &self.recent;
        Self::TAPS[0] * r[3]
            + Self::TAPS[1] * (r[2] + r[4])
            + Self::TAPS[2] * (r[1] + r[5])
            + Self::TAPS[3] * (r[0] + r[6])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{PI, TAU};

    #[test]
    fn a_block_is_its_samples() {
        let (mut by_sample, mut by_block) = (StepEqualiser::default(), StepEqualiser::default());
        for block in 0..3 {
            let x = std::array::from_fn(|i| ((block * BLOCK + i) as f64).sin());
            let plain = x.map(|x| by_sample.process(x));
            let error = |(a, b): (&f64, &f64)| (a - b).abs();
            let y = by_block.process_block(&x);
            assert!(y.iter().zip(&plain).map(error).all(|error| error < 1e-15));
        }
    }

    #[test]
    fn puts_back_what_the_step_takes_up_to_a_third_of_the_rate() {
        for frequency in [0.0, 0.05, 0.15, 0.25, 0.31] {
            let x = PI * frequency;
            let droop = if x > 0.0 { x.sin() / x } else { 1.0 };
            let mut equaliser = StepEqualiser::default();
            let (mut re, mut im) = (0.0, 0.0);
            for i in 0..2000 {
                let turn = TAU * frequency * f64::from(i);
                let y = equaliser.process(droop * turn.cos());
                if i >= 1000 {
                    re += y * turn.cos() / 1000.0;
                    im += y * turn.sin() / 1000.0;
                }
            }
            let gain = if frequency > 0.0 {
                2.0 * f64::hypot(re, im)
            } else {
                re
            };
            assert!((gain - 1.0).abs() < 2e-3, "{frequency}: {gain}");
        }
    }
}
