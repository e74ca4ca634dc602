//! Random speed variation with known power and an exact integral.
//!
//! Independent Gaussian numbers are the coefficients of a uniform cubic B-spline over travel. Such a spline is a
//! band-limited noise with two continuous derivatives, so the tape's *position* can be the spline and its speed the
//! derivative, exactly.

use super::{
    plan::{RandomWow, Scrape},
    random::Chance,
    turns::{Travel, sin_cos},
};
use std::f64::consts::TAU;

/// Mean over a knot of Σβ₃², the power of a spline with coefficients of variance 1.
const SPLINE_POWER: f64 = 151.0 / 315.0;
/// The same for its derivative by the knot number.
const SLOPE_POWER: f64 = 2.0 / 3.0;
/// The derivative's spectrum f²·sinc⁸(f/R) is greatest at this part of the knot rate R (found numerically).
const SLOPE_PEAK: f64 = 0.2689;
/// Half power of the spline's own spectrum sinc⁸(f/R) lies at this part of the knot rate.
const SPLINE_HALF_POWER: f64 = 0.2275;

/// A noise of variance [`SPLINE_POWER`]: its value and derivatives by travel.
#[derive(Clone, Debug)]
struct Spline {
    knots_hz: f64,
    /// The coefficients around the present place.
    coefficients: [f64; 4],
    /// Knots passed.
    passed: f64,
    chance: Chance,
}

#[derive(Clone, Copy, Debug, Default)]
struct SplinePoint {
    value: f64,
    slope: f64,
    curvature: f64,
}

impl Spline {
    fn new(knots_hz: f64, mut chance: Chance) -> Self {
        Self {
            knots_hz,
            coefficients: std::array::from_fn(|_| chance.gaussian()),
            passed: 0.0,
            chance,
        }
    }

    /// The noise at a place not before the last one asked for.
    fn at(&mut self, place: Travel) -> SplinePoint {
        let mut t = self.knots_hz * place.seconds() - self.passed;
        while t >= 1.0 {
            self.coefficients.rotate_left(1);
            self.coefficients[3] = self.chance.gaussian();
            self.passed += 1.0;
            t -= 1.0;
        }
        let [a, b, c, d] = self.coefficients;
        // The cubic B-spline's segment as a polynomial in t.
        let p0 = (a + 4.0 * b + c) / 6.0;
        let p1 = (c - a) / 2.0;
        let p2 = (a - 2.0 * b + c) / 2.0;
        let p3 = (d - a + 3.0 * (b - c)) / 6.0;
        SplinePoint {
            value: p0 + t * (p1 + t * (p2 + t * p3)),
            slope: self.knots_hz * (p1 + t * (2.0 * p2 + t * 3.0 * p3)),
            curvature: self.knots_hz * self.knots_hz * (2.0 * p2 + t * 6.0 * p3),
        }
    }
}

/// How something moves the tape against steady travel, in seconds of travel and derivatives by travel.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Step {
    /// Change of position since the place asked for before.
    pub(super) moved: f64,
    /// Speed deviation here, as a fraction.
    pub(super) speed: f64,
    /// Derivative of the speed deviation.
    pub(super) acceleration: f64,
}

/// Slow random wow.
#[derive(Clone, Debug)]
pub(super) struct WowNoise {
    spline: Spline,
    scale: f64,
    position: f64,
}

impl WowNoise {
    pub(super) fn new(wow: &RandomWow, chance: Chance) -> Self {
        let knots_hz = wow.peak_hz.get() / SLOPE_PEAK;
        Self {
            spline: Spline::new(knots_hz, chance),
            scale: wow.rms_percent.get() / 100.0 / (knots_hz * SLOPE_POWER.sqrt()),
            position: 0.0,
        }
    }

    pub(super) fn step_to(&mut self, place: Travel) -> Step {
        let point = self.spline.at(place);
        let before = std::mem::replace(&mut self.position, self.scale * point.value);
        Step {
            moved: self.position - before,
            speed: self.scale * point.slope,
            acceleration: self.scale * point.curvature,
        }
    }
}

/// Scrape flutter: a carrier at the scrape's rate, modulated in both its phases by slow noises.
#[derive(Clone, Debug)]
pub(super) struct ScrapeNoise {
    centre_hz: f64,
    in_phase: Spline,
    quadrature: Spline,
    scale: f64,
}

impl ScrapeNoise {
    pub(super) fn new(scrape: &Scrape, chance: Chance, quadrature_chance: Chance) -> Self {
        let centre_hz = scrape.centre_hz.get();
        let knots_hz = scrape.width_hz.get_ref().get() / (2.0 * SPLINE_HALF_POWER);
        let omega = TAU * centre_hz;
        // The position is (x·sin + y·cos)/ω, so the speed has x, y and, less, their slopes over ω in it.
        let power = SPLINE_POWER + SLOPE_POWER * (knots_hz / omega).powi(2);
        Self {
            centre_hz,
            in_phase: Spline::new(knots_hz, chance),
            quadrature: Spline::new(knots_hz, quadrature_chance),
            scale: scrape.rms_percent.get() / 100.0 / (power.sqrt() * omega),
        }
    }

    /// Position relative to steady travel, seconds of travel.
    pub(super) fn position_at(&mut self, place: Travel) -> f64 {
        let (sin, cos) = sin_cos(place.turns(self.centre_hz));
        let (x, y) = (
            self.in_phase.at(place).value,
            self.quadrature.at(place).value,
        );
        self.scale * (x * sin + y * cos)
    }
}
