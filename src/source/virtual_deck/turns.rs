//! Angles in turns, and travel that keeps its precision however long it goes on.

use std::f64::consts::TAU;

/// Adding and subtracting this rounds a number below 2^51 to the nearest integer, with two additions and no call.
const ROUNDER: f64 = 1.5 * (1_u64 << 52) as f64;

fn nearest_integer(x: f64) -> f64 {
    (x + ROUNDER) - ROUNDER
}

/// Sine and cosine of an angle in turns. Plain arithmetic without branches: every machine gives the same bits, and
/// several an audio frame cost little. Error below 1e-15; whole turns are taken off exactly.
pub(super) fn sin_cos(turns: f64) -> (f64, f64) {
    let (x, sign) = quadrant(turns);
    let x2 = x * x;
    (sign * x * series(x2, &SIN), sign * series(x2, &COS))
}

/// Sine of an angle in turns; see [`sin_cos`].
pub(super) fn sin(turns: f64) -> f64 {
    let (x, sign) = quadrant(turns);
    sign * x * series(x * x, &SIN)
}

/// An angle in radians between ±π/2, and the sign with which its sine and cosine are those of `turns`.
fn quadrant(turns: f64) -> (f64, f64) {
    let half_turns = nearest_integer(2.0 * turns);
    let x = TAU * (turns - 0.5 * half_turns);
    let odd = half_turns - 2.0 * nearest_integer(0.5 * half_turns);
    (x, 1.0 - 2.0 * odd.abs())
}

/// sin(πx)/(πx).
pub(super) fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-8 {
        1.0
    } else {
        sin(0.5 * x) / (0.5 * TAU * x)
    }
}

/// Terms of the Taylor series: on ±π/2 the first one left out is below 3e-18.
const TERMS: usize = 12;
const SIN: [f64; TERMS] = alternating_inverse_factorials(1);
const COS: [f64; TERMS] = alternating_inverse_factorials(0);

/// 1/first!, −1/(first+2)!, 1/(first+4)!, …
const fn alternating_inverse_factorials(first: u64) -> [f64; TERMS] {
    let mut terms = [0.0; TERMS];
    let (mut factorial, mut n, mut i) = (1.0, first, 0);
    while i < TERMS {
        terms[i] = if i % 2 == 0 {
            1.0 / factorial
        } else {
            -1.0 / factorial
        };
        factorial *= ((n + 1) * (n + 2)) as f64;
        n += 2;
        i += 1;
    }
    terms
}

/// Σ terms[i]·xⁱ, in pairs and pairs of pairs so that the processor can work on several at once.
fn series(x: f64, t: &[f64; TERMS]) -> f64 {
    let x2 = x * x;
    let x4 = x2 * x2;
    let four = |i: usize| (t[i] + t[i + 1] * x) + (t[i + 2] + t[i + 3] * x) * x2;
    four(0) + (four(4) + four(8) * x4) * x4
}

/// A travel in seconds, as whole seconds and the rest: as exact after hours as at the start.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Travel {
    whole: f64,
    rest: f64,
}

impl Travel {
    pub(super) const fn new(whole: f64, rest: f64) -> Self {
        Self { whole, rest }
    }

    /// The place `seconds` further on.
    pub(super) fn plus(self, seconds: f64) -> Self {
        Self::new(self.whole, self.rest + seconds)
    }

    /// The place `seconds` further on, for a place that will be kept.
    pub(super) fn moved_by(self, seconds: f64) -> Self {
        let rest = self.rest + seconds;
        Self::new(self.whole + rest.floor(), rest - rest.floor())
    }

    /// The travel from `origin` to here.
    pub(super) fn since(self, origin: Self) -> Self {
        Self::new(self.whole - origin.whole, self.rest - origin.rest)
    }

    pub(super) fn seconds(self) -> f64 {
        self.whole + self.rest
    }

    /// Turns that something turning `rate_hz` times a second of travel has made, less whole ones.
    pub(super) fn turns(self, rate_hz: f64) -> f64 {
        let turns = rate_hz * self.whole;
        turns - nearest_integer(turns) + rate_hz * self.rest
    }
}

/// Adds up a travel in many small steps. Each step's rounding is carried over to the next: rounded all the same
/// way, they would add up to some 0.04 ppm of speed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Odometer {
    travel: Travel,
    carried: f64,
}

impl Odometer {
    pub(super) const fn travel(&self) -> Travel {
        self.travel
    }

    /// Moves on by less than a second.
    pub(super) fn advance(&mut self, seconds: f64) {
        let before = self.travel.rest;
        let step = seconds - self.carried;
        self.travel.rest += step;
        self.carried = (self.travel.rest - before) - step;
        if self.travel.rest >= 1.0 {
            self.travel.rest -= 1.0;
            self.travel.whole += 1.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_standard_library() {
        for i in -40_000..40_000 {
            let turns = f64::from(i) / 10_000.0 + 1e-7 * f64::from(i % 13);
            let (sin, cos) = sin_cos(turns);
            // The reference itself rounds 2π·turns: 4 turns cost it 4e-15.
            assert!((sin - (TAU * turns).sin()).abs() < 5e-15, "{turns}");
            assert!((cos - (TAU * turns).cos()).abs() < 5e-15, "{turns}");
            assert!((sin * sin + cos * cos - 1.0).abs() < 1e-15, "{turns}");
        }
        assert_eq!(sin_cos(0.25).0, 1.0);
        assert_eq!(sin_cos(1e9), (0.0, 1.0));
        assert_eq!(sin(1e9 + 0.75), -1.0);
    }

    #[test]
    fn travel_stays_exact() {
        let mut odometer = Odometer::default();
        let step = 1.0 / 48_000.0;
        for _ in 0..48_000 * 600 {
            odometer.advance(step);
        }
        let travel = odometer.travel();
        assert!((travel.seconds() - 600.0).abs() < 1e-12);
        let late = Travel::new(3600.0 * 24.0, travel.rest);
        assert!((late.turns(3150.0) - travel.turns(3150.0)).abs() < 1e-9);
    }
}
