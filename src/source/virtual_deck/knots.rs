//! Broadband signals on tape: a sequence of numbers made into a function of place that can be averaged exactly.
//!
//! The sequence, at [`KNOTS_HZ`] numbers a second of travel, is summed up, and the sums are the coefficients of a
//! quintic B-spline P. The signal is its derivative, so its average over any width is a difference of P at two
//! places: a head that reads the tape askew (an average over the track's width, the sin x / x of the handbooks) at a
//! place of its own (the delay) costs two evaluations and is exact at every frequency.

use super::generator::Generator;

/// Numbers a second of travel.
pub(super) const KNOTS_HZ: f64 = 96_000.0;
/// Knots a quintic B-spline takes on either side.
const REACH: f64 = 3.0;
/// Averages are never taken over less: below, the difference would lose its digits, and a tenth of a microsecond
/// costs less than 0.0001 dB at 20 kHz.
const LEAST_WIDTH_S: f64 = 1e-7;

/// A broadband signal as a function of place.
pub(super) struct KnotSignal {
    generator: Generator,
    /// The last running sums, the n-th at index n modulo the length (a power of two).
    sums: Box<[f64]>,
    sum: f64,
    made: u64,
    /// Knots before place 0, so that a head may look back from there.
    lead: f64,
}

impl KnotSignal {
    /// `reach_s`: how far from the place of a frame its averages may extend, to either side, seconds of travel.
    pub(super) fn new(generator: Generator, reach_s: f64) -> Self {
        let lead = (reach_s * KNOTS_HZ).ceil() + REACH;
        let span = 2 * (lead as usize + 1);
        Self {
            generator,
            sums: vec![0.0; (2 * span).next_power_of_two()].into(),
            sum: 0.0,
            made: 0,
            lead,
        }
    }

    /// Makes what can be read around a place, seconds of travel. Places never go back.
    pub(super) fn advance_to(&mut self, place_s: f64) {
        let needed = (place_s * KNOTS_HZ + 2.0 * self.lead).ceil() as u64;
        let mask = self.sums.len() as u64 - 1;
        while self.made < needed {
            self.sum += self.generator.next();
            self.sums[(self.made & mask) as usize] = self.sum;
            self.made += 1;
        }
    }

    /// The signal's average over `width_s` around a place within reach of the last one advanced to.
    pub(super) fn average(&self, place_s: f64, width_s: f64) -> f64 {
        let centre = place_s * KNOTS_HZ + self.lead;
        let width = width_s.max(LEAST_WIDTH_S) * KNOTS_HZ;
        let half = 0.5 * width;
        (self.summed_to(centre + half) - self.summed_to(centre - half)) / width
    }

    fn summed_to(&self, knot: f64) -> f64 {
        let before = knot.floor();
        let weights = quintic_weights(knot - before);
        let first = before as u64 - 2;
        let mask = self.sums.len() as u64 - 1;
        weights
            .iter()
            .zip(first..)
            .map(|(weight, n)| weight * self.sums[(n & mask) as usize])
            .sum()
    }
}

/// What the spline leaves of a frequency: sinc⁵(f/R), as an amplitude factor.
pub(super) fn spline_response(frequency_hz: f64) -> f64 {
    super::turns::sinc(frequency_hz / KNOTS_HZ).powi(5)
}

/// Weights of the six knots around a place a part `t` of the way from the third to the fourth.
fn quintic_weights(t: f64) -> [f64; 6] {
    let u = 1.0 - t;
    let outer = |x: f64| x.powi(5) / 120.0;
    let middle = |x: f64| (1.0 + x * (5.0 + x * (10.0 + x * (10.0 + x * (5.0 - 5.0 * x))))) / 120.0;
    let inner = |x: f64| {
        let x2 = x * x;
        (66.0 + x2 * (-60.0 + x2 * (30.0 - 10.0 * x))) / 120.0
    };
    [outer(u), middle(u), inner(t), inner(u), middle(t), outer(t)]
}
