//! The tape's slow displacement, known at knots of travel and joined by quintic polynomials through position, speed
//! and acceleration.

use super::{speed_noise::Step, turns::Travel};

/// Knots a second of travel. A power of two, so that their places are exact numbers.
pub(super) const KNOTS_HZ: f64 = 4096.0;

/// Displacement against steady travel and its derivatives.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Motion {
    pub(super) position: f64,
    pub(super) speed: f64,
    pub(super) acceleration: f64,
}

impl Motion {
    pub(super) fn add(&mut self, scale: f64, step: Step) {
        self.position += scale * step.moved;
        self.speed += scale * step.speed;
        self.acceleration += scale * step.acceleration;
    }
}

/// The n-th knot of a second.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Knot {
    second: f64,
    number: f64,
}

impl Knot {
    pub(super) fn next_knot(self) -> Self {
        let number = self.number + 1.0;
        if number < KNOTS_HZ {
            Self { number, ..self }
        } else {
            Self {
                second: self.second + 1.0,
                number: 0.0,
            }
        }
    }

    pub(super) fn travel(self) -> Travel {
        Travel::new(self.second, self.number / KNOTS_HZ)
    }
}

/// The displacement between two knots.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Bend {
    start_place: Travel,
    pub(super) end_place: Knot,
    pub(super) end: Motion,
    /// Polynomial in the part of the way from knot to knot, 0 to 1.
    terms: [f64; 6],
}

impl Bend {
    /// The quintic with the given position, speed and acceleration at both ends.
    pub(super) fn between(start_place: Knot, start: Motion, end_place: Knot, end: Motion) -> Self {
        let h = 1.0 / KNOTS_HZ;
        let (v0, v1) = (h * start.speed, h * end.speed);
        let (a0, a1) = (h * h * start.acceleration, h * h * end.acceleration);
        let rise = end.position - start.position;
        Self {
            start_place: start_place.travel(),
            end_place,
            end,
            terms: [
                start.position,
                v0,
                0.5 * a0,
                10.0 * rise - 6.0 * v0 - 4.0 * v1 - 1.5 * a0 + 0.5 * a1,
                -15.0 * rise + 8.0 * v0 + 7.0 * v1 + 1.5 * a0 - a1,
                6.0 * rise - 3.0 * (v0 + v1) - 0.5 * (a0 - a1),
            ],
        }
    }

    pub(super) fn along(&self, place: Travel) -> f64 {
        place.since(self.start_place).seconds() * KNOTS_HZ
    }

    pub(super) fn reaches(&self, place: Travel) -> bool {
        self.along(place) < 1.0
    }

    pub(super) fn at(&self, place: Travel) -> f64 {
        let t = self.along(place);
        self.terms
            .iter()
            .rev()
            .fold(0.0, |sum, term| sum * t + term)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::virtual_deck::plan::FASTEST_LINE_HZ;
    use std::f64::consts::TAU;

    #[test]
    fn the_fastest_line_is_followed_to_a_millionth() {
        let omega = TAU * FASTEST_LINE_HZ;
        for phase in [0.0, 0.7, 1.4, 2.1, 2.8] {
            let exact = |t: f64| Motion {
                position: (omega * t + phase).sin(),
                speed: omega * (omega * t + phase).cos(),
                acceleration: -omega * omega * (omega * t + phase).sin(),
            };
            let next = Knot::default().next_knot();
            let bend = Bend::between(Knot::default(), exact(0.0), next, exact(1.0 / KNOTS_HZ));
            for step in 0..=100 {
                let t = f64::from(step) / 100.0 / KNOTS_HZ;
                let place = bend.at(Travel::new(0.0, t));
                assert!((place - exact(t).position).abs() < 1e-6, "{phase} {step}");
                // Speed, by a difference: its error relative to its own amplitude.
                let dt = 1e-7;
                let ahead = bend.at(Travel::new(0.0, t + dt));
                let behind = bend.at(Travel::new(0.0, t - dt));
                let speed = (ahead - behind) / (2.0 * dt);
                assert!(
                    (speed - exact(t).speed).abs() < 3e-6 * omega,
                    "{phase} {step}"
                );
            }
        }
    }
}
