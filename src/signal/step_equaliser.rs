//! Equaliser for frequencies read as phase steps.

/// A frequency read as the step of the phase between two samples droops as sin(x)/x, x = π·f/rate. Seven symmetric taps
/// fitted (least squares, up to a third of the rate) to the inverse; three samples late.
#[derive(Clone, Copy, Debug, Default)]
pub struct StepEqualiser {
    recent: [f64; 7],
}

impl StepEqualiser {
    const TAPS: [f64; 4] = [1.144_619_87, -0.086_401_41, 0.017_014_28, -0.002_922_82];

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
