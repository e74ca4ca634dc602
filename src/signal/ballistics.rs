//! VU and peak-programme-meter ballistics.
//!
//! VU: IEC 60268-17 (99 % of a steady reading in 300 ms; overshoot 1 to 1.5 % and full-wave average from memory).
//! PPM: IEC 60268-10 Types I and II (burst readings from memory; returns 20 dB in 1.7 s and 24 dB in 2.8 s).
//! The constants were fitted to those tables; the tests in `tests/standards` hold them to it.

use super::lanes::{Kernel, LANES, Lanes, on_widest};
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
/// lanes: a meter on each sample would otherwise cost more than all the rest of the bank.
#[derive(Clone, Debug)]
pub struct PpmPair {
    /// In units of what a sample of 1 adds to an empty rectifier: its attack.
    charge: [f64; LANES],
    attack: [f64; LANES],
    step: PpmStep,
}

/// What samples do to the charges.
///
/// A sample leaves the greater of `keep · charge` and `keep_charging · charge + |x|`: the same as asking which applies.
/// After four samples that is the greatest of five straight lines over the charge, one for each number of times it was
/// charged. Their heights do not depend on the charge, so that only one of four samples waits for those before it.
#[derive(Clone, Copy, Debug)]
struct PpmStep {
    keep: [f64; LANES],
    keep_charging: [f64; LANES],
    /// Slopes of the five lines, the one charged least often first.
    slopes: [[f64; LANES]; 5],
}

/// Rectifiers of a channel; a fourth lane is idle, and the second channel has the upper half.
const LANES_A_CHANNEL: usize = 3;
const SECOND_CHANNEL: usize = LANES / 2;
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
        let lane = |values: [f64; LANES_A_CHANNEL], i: usize| {
            values.get(i % SECOND_CHANNEL).copied().unwrap_or(1.0)
        };
        let attack: [f64; LANES] =
            std::array::from_fn(|i| 1.0 - (-1.0 / (lane(CHARGE_S, i) * rate_hz)).exp());
        let keep: [f64; LANES] =
            std::array::from_fn(|i| 10f64.powf(-lane(RETURN_DB_PER_S, i) / (20.0 * rate_hz)));
        let keep_charging: [f64; LANES] = std::array::from_fn(|i| keep[i] * (1.0 - attack[i]));
        Self {
            charge: [0.0; LANES],
            attack,
            step: PpmStep {
                keep,
                keep_charging,
                slopes: std::array::from_fn(|charged| {
                    std::array::from_fn(|i| {
                        keep[i].powi(4 - charged as i32) * keep_charging[i].powi(charged as i32)
                    })
                }),
            },
        }
    }

    /// Takes samples of the first and the second channel in (twice the same where there is one).
    pub fn process(&mut self, first: &[f64], second: &[f64]) {
        self.charge = on_widest(PpmKernel {
            step: &self.step,
            charge: self.charge,
            samples: [first, second],
        });
    }

    /// Type I reading of a channel (0 or 1), as the peak of the steady sine that would read the same.
    pub fn type_i(&self, channel: usize) -> f64 {
        STEADY_GAIN_I * self.charge(SECOND_CHANNEL * channel)
    }

    /// Type II reading of a channel (0 or 1), as the peak of the steady sine that would read the same.
    pub fn type_ii(&self, channel: usize) -> f64 {
        let first = SECOND_CHANNEL * channel + 1;
        STEADY_GAIN_II * (SHARES_II[0] * self.charge(first) + SHARES_II[1] * self.charge(first + 1))
    }

    fn charge(&self, lane: usize) -> f64 {
        self.attack[lane] * self.charge[lane]
    }
}

#[derive(Clone)]
struct PpmKernel<'a> {
    step: &'a PpmStep,
    charge: [f64; LANES],
    samples: [&'a [f64]; 2],
}

impl Kernel for PpmKernel<'_> {
    type Output = [f64; LANES];

    #[inline(always)]
    fn run<L: Lanes>(self) -> [f64; LANES] {
        let keep = L::load(&self.step.keep);
        let keep_charging = L::load(&self.step.keep_charging);
        let [s0, s1, s2, s3, s4] = self.step.slopes.each_ref().map(L::load);
        let mut charge = L::load(&self.charge);
        let [first, second] = self.samples;
        let (fours, rest) = first.as_chunks::<4>();
        let (second_fours, second_rest) = second.as_chunks::<4>();
        for (a, b) in fours.iter().zip(second_fours) {
            let x1 = L::halves(a[0], b[0]).abs();
            let x2 = L::halves(a[1], b[1]).abs();
            let x3 = L::halves(a[2], b[2]).abs();
            let x4 = L::halves(a[3], b[3]).abs();
            // Heights of the lines after two, three and four samples, by the number of times charged.
            let once = x1.times(keep).or_greater(x2);
            let twice = x2.plus_product(keep_charging, x1);
            let thrice = x3.plus_product(keep_charging, twice);
            let twice = (twice.times(keep)).or_greater(x3.plus_product(keep_charging, once));
            let once = once.times(keep).or_greater(x3);
            let four_times = x4.plus_product(keep_charging, thrice);
            let thrice = (thrice.times(keep)).or_greater(x4.plus_product(keep_charging, twice));
            let twice = (twice.times(keep)).or_greater(x4.plus_product(keep_charging, once));
            let once = once.times(keep).or_greater(x4);
            let seldom = charge.times(s0).or_greater(once.plus_product(charge, s1));
            let often =
                (twice.plus_product(charge, s2)).or_greater(thrice.plus_product(charge, s3));
            let always = four_times.plus_product(charge, s4);
            charge = seldom.or_greater(always).or_greater(often);
        }
        for (a, b) in rest.iter().zip(second_rest) {
            let x = L::halves(*a, *b).abs();
            charge = (charge.times(keep)).or_greater(x.plus_product(keep_charging, charge));
        }
        charge.array()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::lanes::in_all_ways;

    #[test]
    fn four_samples_at_once_are_four_times_one() {
        // Bursts and pauses: charged never, always, and now and then.
        let wave = |k: f64| -> Vec<f64> {
            let burst = |t: f64| if (t * 0.003).sin() > 0.0 { 1.0 } else { 0.01 };
            let times = (0..4003).map(f64::from);
            times.map(|t| burst(t) * (t * k).sin()).collect()
        };
        let (first, second) = (wave(0.41), wave(0.13));
        let meters = PpmPair::new(8000.0);
        let kernel = PpmKernel {
            step: &meters.step,
            charge: meters.charge,
            samples: [&first, &second],
        };
        let mut expected = [0.0; LANES];
        for (a, b) in first.iter().zip(&second) {
            for (i, charge) in expected.iter_mut().enumerate() {
                let x = if i < SECOND_CHANNEL { a.abs() } else { b.abs() };
                let charging = meters.step.keep_charging[i] * *charge + x;
                *charge = charging.max(meters.step.keep[i] * *charge);
            }
        }
        for charge in in_all_ways(&kernel) {
            for (charge, expected) in charge.iter().zip(&expected) {
                assert!((charge / expected - 1.0).abs() < 1e-12);
            }
        }
    }
}
