//! VU and peak-programme-meter ballistics.
//!
//! VU: IEC 60268-17 (99 % of a steady reading in 300 ms; overshoot 1 to 1.5 % and full-wave average from memory).
//! PPM: IEC 60268-10 Types I and II (burst readings from memory; returns 20 dB in 1.7 s and 24 dB in 2.8 s).
//! The constants were fitted to those tables; the tests in `tests/standards` hold them to it.

use std::f64::consts::PI;

/// VU pointer: average-responding, second order, read on a sine's peak scale.
#[derive(Clone, Debug)]
pub struct Vu {
    natural_rad_per_s: f64,
    step_s: f64,
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
        Self {
            natural_rad_per_s: Self::NATURAL_RAD_PER_S,
            step_s: 1.0 / rate_hz,
            position: 0.0,
            velocity: 0.0,
        }
    }

    /// Takes the mean rectified magnitude of the interval in.
    #[inline]
    pub fn push(&mut self, mean_magnitude: f64) {
        let w = self.natural_rad_per_s;
        let force =
            w * w * (mean_magnitude - self.position) - 2.0 * Self::DAMPING * w * self.velocity;
        self.velocity += force * self.step_s;
        self.position += self.velocity * self.step_s;
    }

    /// Reading as the peak of the steady sine that would read the same.
    pub fn sine_peak(&self) -> f64 {
        self.position.max(0.0) * PI / 2.0
    }
}

/// The two types of peak programme meter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PpmType {
    /// IEC 60268-10 Type I.
    I,
    /// IEC 60268-10 Type II.
    II,
}

/// Peak programme meter: one or two rectifiers that charge fast and discharge slowly.
#[derive(Clone, Debug)]
pub struct Ppm {
    attack: [f64; 2],
    share: [f64; 2],
    keep: f64,
    steady_gain: f64,
    charge: [f64; 2],
}

impl Ppm {
    /// A meter for samples at `rate_hz`.
    pub fn new(kind: PpmType, rate_hz: f64) -> Self {
        let (attack_s, share, return_db_per_s, steady_gain) = match kind {
            PpmType::I => ([1.4e-3, 1.4e-3], [1.0, 0.0], 20.0 / 1.7, 1.0215),
            PpmType::II => ([1.4e-3, 10e-3], [0.7, 0.3], 24.0 / 2.8, 1.0315),
        };
        Self {
            attack: attack_s.map(|tau: f64| 1.0 - (-1.0 / (tau * rate_hz)).exp()),
            share,
            keep: 10f64.powf(-return_db_per_s / (20.0 * rate_hz)),
            steady_gain,
            charge: [0.0; 2],
        }
    }

    /// Takes samples in.
    #[inline]
    pub fn process(&mut self, block: &[f64]) {
        for x in block {
            let x = x.abs();
            for (charge, attack) in self.charge.iter_mut().zip(self.attack) {
                *charge *= self.keep;
                *charge += attack * (x - *charge).max(0.0);
            }
        }
    }

    /// Reading as the peak of the steady sine that would read the same.
    pub fn sine_peak(&self) -> f64 {
        self.steady_gain * (self.share[0] * self.charge[0] + self.share[1] * self.charge[1])
    }
}
