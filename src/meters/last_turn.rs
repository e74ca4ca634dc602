//! The swing of the speed in the last turn of the slowest part: how far the needle will go to and fro by itself,
//! wherever the trimmer stands.

use super::trace::Trace;
use crate::{readings::TurnReading, tables::Mechanism};

/// Without a mechanism this long is looked at, seconds: a turn of most capstans, rollers and belts (common practice, no
/// source).
const FIXED_S: f64 = 2.0;
/// A longer turn than the trail is not looked at, seconds.
const LONGEST_S: f64 = 29.0;

/// What is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Turn {
    part: Option<String>,
    seconds: f64,
}

impl Default for Turn {
    fn default() -> Self {
        Self {
            part: None,
            seconds: FIXED_S,
        }
    }
}

impl Turn {
    /// The turn of the slowest part of a mechanism, at the slowest that the part's tolerance allows: a whole turn is in
    /// it. A reel counts where its file says how full it is, or its rate; one that is somewhere between hub and full
    /// has no turn that is known.
    pub fn of(mechanism: Option<&Mechanism>) -> Self {
        let Some((mechanism, rates)) =
            mechanism.and_then(|mechanism| Some((mechanism, mechanism.rates().ok()?)))
        else {
            return Self::default();
        };
        mechanism
            .part
            .iter()
            .zip(rates)
            .filter(|(part, _)| {
                !part.kind.is_reel() || part.pack_radius_mm.is_some() || part.rate_hz.is_some()
            })
            .map(|(part, rate)| (part, 1.0 / rate.low_hz))
            .filter(|(_, seconds)| *seconds <= LONGEST_S)
            .max_by(|(_, a), (_, b)| a.total_cmp(b))
            .map_or_else(Self::default, |(part, seconds)| Self {
                part: Some(part.name.clone()),
                seconds,
            })
    }

    /// Steps of a trail that hold the turn.
    fn steps(&self, step_s: f64) -> usize {
        (self.seconds / step_s - 1e-6).ceil().max(1.0) as usize
    }

    /// What is looked at, without numbers.
    pub fn unread(&self, step_s: f64) -> TurnReading {
        TurnReading {
            part: self.part.clone(),
            seconds: self.steps(step_s) as f64 * step_s,
            ..TurnReading::default()
        }
    }

    /// The swing at the end of `trail` (deviation in percent), of which the newest `usable` values are of the present
    /// reference.
    pub fn reading(&self, trail: &Trace, usable: usize) -> TurnReading {
        let mut reading = self.unread(trail.step_s());
        let steps = self.steps(trail.step_s());
        let (mut count, mut least, mut most) = (0, f64::INFINITY, f64::NEG_INFINITY);
        for percent in trail.last(steps.min(usable)) {
            if !percent.is_finite() {
                return reading;
            }
            count += 1;
            least = least.min(percent);
            most = most.max(percent);
        }
        if count == steps {
            reading.peak_to_peak_percent = Some(most - least);
            reading.min_percent = Some(least);
            reading.max_percent = Some(most);
        }
        reading
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::mechanism;
    use std::f64::consts::TAU;

    const STEP_S: f64 = 0.05;

    /// A trail of a part that turns once in `turn_s`, ±0.1 % about 0.5 %, with `hole` steps ago one without a reading.
    fn trail(turn_s: f64, seconds: f64, hole: Option<usize>) -> Trace {
        let mut trail = Trace::new(30.0, 1.0 / STEP_S, 1);
        let count = (seconds / STEP_S).round() as usize;
        for i in 0..count {
            let percent = 0.5 + 0.1 * (TAU * i as f64 * STEP_S / turn_s).sin();
            let is_hole = hole == Some(count - 1 - i);
            trail.push(if is_hole { f64::NAN } else { percent });
        }
        trail
    }

    fn turn(seconds: f64) -> Turn {
        Turn {
            part: Some("belt".into()),
            seconds,
        }
    }

    #[test]
    fn a_turn_of_a_sine_swings_by_its_peak_to_peak_value() {
        let reading = turn(4.0).reading(&trail(4.0, 20.0, None), usize::MAX);
        let swing = reading.peak_to_peak_percent.expect("a whole turn");
        assert!((swing - 0.2).abs() < 0.001, "{swing}");
        assert!((reading.min_percent.expect("least") - 0.4).abs() < 0.001);
        assert!((reading.max_percent.expect("most") - 0.6).abs() < 0.001);
        assert!((reading.seconds - 4.0).abs() < 1e-9);
        // Half of what it takes to come round shows half of it at the most.
        let half = turn(1.0).reading(&trail(4.0, 20.0, None), usize::MAX);
        assert!(half.peak_to_peak_percent.expect("full") < 0.15);
    }

    #[test]
    fn a_swing_that_is_over_is_forgotten_after_one_turn() {
        let mut trail = trail(4.0, 20.0, None);
        for _ in 0..(4.0 / STEP_S) as usize {
            trail.push(0.5);
        }
        let reading = turn(4.0).reading(&trail, usize::MAX);
        assert_eq!(reading.peak_to_peak_percent, Some(0.0));
    }

    #[test]
    fn without_a_whole_turn_or_with_a_hole_in_it_there_is_no_number() {
        for (trail, usable) in [
            (trail(4.0, 3.9, None), usize::MAX),
            (trail(4.0, 20.0, Some(79)), usize::MAX),
            (trail(4.0, 20.0, Some(0)), usize::MAX),
            (trail(4.0, 20.0, None), 79),
            (trail(4.0, 0.0, None), 0),
        ] {
            let reading = turn(4.0).reading(&trail, usable);
            assert_eq!(reading.peak_to_peak_percent, None);
            assert_eq!((reading.min_percent, reading.max_percent), (None, None));
            assert_eq!(reading.part.as_deref(), Some("belt"));
        }
        let before_it = turn(4.0).reading(&trail(4.0, 20.0, Some(80)), usize::MAX);
        assert!(before_it.peak_to_peak_percent.is_some());
    }

    #[test]
    fn the_slowest_part_is_taken_and_a_reel_only_where_its_turn_is_known() {
        let mut deck = mechanism("dual-capstan-cassette").expect("a supplied mechanism");
        let slowest = Turn::of(Some(&deck));
        let named = slowest.part.clone().expect("a part");
        let index = |name: &str| deck.part.iter().position(|part| part.name == name);
        let own = index(&named).expect("its part");
        assert!(!deck.part[own].kind.is_reel(), "{named}");
        let rates = deck.rates().expect("rates");
        assert!((slowest.seconds - 1.0 / rates[own].low_hz).abs() < 1e-9);
        let reel = deck.part.iter().position(|part| part.kind.is_reel());
        let reel = reel.expect("a cassette has reels");
        deck.part[reel].pack_radius_mm = deck.part[reel].full_radius_mm;
        let with_reel = Turn::of(Some(&deck));
        assert_eq!(with_reel.part.as_ref(), Some(&deck.part[reel].name));
        assert!(with_reel.seconds > slowest.seconds);
    }

    #[test]
    fn without_a_mechanism_two_seconds_are_looked_at() {
        let reading = Turn::of(None).unread(STEP_S);
        assert_eq!(reading.part, None);
        assert!((reading.seconds - 2.0).abs() < 1e-9);
    }
}
