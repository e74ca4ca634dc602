//! VU and peak-programme-meter ballistics.
//!
//! VU: IEC 60268-17 (99 % of a steady reading in 300 ms; overshoot 1 to 1.5 % and full-wave average from memory).
//! PPM: IEC 60268-10 Types I and II (burst readings from memory; returns 20 dB in 1.7 s and 24 dB in 2.8 s).
//! The constants were fitted to those tables; the tests in `tests/standards` hold them to it.

use std::f64::consts::PI;

/// VU pointer: average-responding, second order, read on a sine's peak scale.
#[derive(Clone, Debug)]
pub struct Vu {
    /// What a step makes of the pointer's distance from its goal and of its velocity: the exact solution for a goal
    /// that rests through the step, so that the step's length does not change the swing.
    transition: [[f64; 2]; 2],
    position: f64,
    velocity: f64,
}

impl Vu {
    /// Damping that overshoots by 1.25 %.
    const DAMPING: f64 = 0.812_717;
    /// Natural frequency that is at 99 % after 300 ms with that damping, radians a second.
    const NATURAL_RAD_PER_S: f64 = 13.511_9;

    /// A pointer fed `rate_hz` times a second with the mean magnitude since the last time.
    pub fn new(rate_hz: f64) -> Self {
        let decay = Self::DAMPING * Self::NATURAL_RAD_PER_S;
        let swing = Self::NATURAL_RAD_PER_S * (1.0 - Self::DAMPING * Self::DAMPING).sqrt();
        let left = (-decay / rate_hz).exp();
        let (sin, cos) = (swing / rate_hz).sin_cos();
        let stiffness = Self::NATURAL_RAD_PER_S * Self::NATURAL_RAD_PER_S;
        Self {
            transition: [
                [left * (cos + decay / swing * sin), left * sin / swing],
                [
                    -left * stiffness * sin / swing,
                    left * (cos - decay / swing * sin),
                ],
            ],
            position: 0.0,
            velocity: 0.0,
        }
    }

    /// Takes the mean rectified magnitude of the interval in.
    #[inline]
    pub fn push(&mut self, mean_magnitude: f64) {
        let distance = self.position - mean_magnitude;
        let [of_position, of_velocity] = self.transition;
        self.position = mean_magnitude + of_position[0] * distance + of_position[1] * self.velocity;
        self.velocity = of_velocity[0] * distance + of_velocity[1] * self.velocity;
    }

    /// Reading as the peak of the steady sine that would read the same.
    pub fn sine_peak(&self) -> f64 {
        self.position.max(0.0) * PI / 2.0
    }
}

/// Peak programme meters of both types on up to two channels.
///
/// Type I has one rectifier that charges fast and discharges slowly, Type II the sum of two. All run side by side in
/// vector lanes: a meter on each sample would otherwise cost more than all the rest of the bank.
#[derive(Clone, Debug)]
pub struct PpmPair {
    charge: [f64; LANES],
    /// What a sample leaves of the charge where the input is above it, and where it is not.
    keep_charging: [f64; LANES],
    keep: [f64; LANES],
    attack: [f64; LANES],
}

/// Rectifiers: three a channel, and two idle ones that fill the vector.
const LANES: usize = 8;
const LANES_A_CHANNEL: usize = 3;
const CHARGE_S: [f64; LANES_A_CHANNEL] = [1.4e-3, 1.4e-3, 10e-3];
const RETURN_DB_PER_S: [f64; LANES_A_CHANNEL] = [20.0 / 1.7, 24.0 / 2.8, 24.0 / 2.8];
/// Shares of the two rectifiers of Type II.
const SHARES_II: [f64; 2] = [0.7, 0.3];
/// A steady sine leaves the charge a little below its peak; these put it back.
const STEADY_GAIN_I: f64 = 1.0215;
const STEADY_GAIN_II: f64 = 1.0315;

impl PpmPair {
    /// Meters for samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let lane = |values: [f64; LANES_A_CHANNEL], i: usize| values[i % LANES_A_CHANNEL];
        let attack: [f64; LANES] =
            std::array::from_fn(|i| 1.0 - (-1.0 / (lane(CHARGE_S, i) * rate_hz)).exp());
        let keep: [f64; LANES] =
            std::array::from_fn(|i| 10f64.powf(-lane(RETURN_DB_PER_S, i) / (20.0 * rate_hz)));
        Self {
            charge: [0.0; LANES],
            keep_charging: std::array::from_fn(|i| keep[i] * (1.0 - attack[i])),
            keep,
            attack,
        }
    }

    /// Takes samples of the first and the second channel in (twice the same where there is one).
    pub fn process(&mut self, first: &[f64], second: &[f64]) {
        let mut charge = self.charge;
        for (a, b) in first.iter().zip(second) {
            let (a, b) = (a.abs(), b.abs());
            let input = [a, a, a, b, b, b, 0.0, 0.0];
            for i in 0..LANES {
                // The greater of discharging and of charging towards the input: the same as asking which applies.
                let discharging = charge[i] * self.keep[i];
                let charging = charge[i] * self.keep_charging[i] + self.attack[i] * input[i];
                charge[i] = if charging > discharging {
                    charging
                } else {
                    discharging
                };
            }
        }
        self.charge = charge;
    }

    /// Type I reading of a channel (0 or 1), as the peak of the steady sine that would read the same.
    pub fn type_i(&self, channel: usize) -> f64 {
        STEADY_GAIN_I * self.charge[LANES_A_CHANNEL * channel]
    }

    /// Type II reading of a channel (0 or 1), as the peak of the steady sine that would read the same.
    pub fn type_ii(&self, channel: usize) -> f64 {
        let first = LANES_A_CHANNEL * channel + 1;
        STEADY_GAIN_II * (SHARES_II[0] * self.charge[first] + SHARES_II[1] * self.charge[first + 1])
    }
}
