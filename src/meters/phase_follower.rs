//! Follows the phase between the channels from block to block, so that whole cycles are counted while a screw turns;
//! and knows when it may have lost count.
//!
//! A phase is only known within a cycle. What came before tells which cycle it is in, as long as it was followed all
//! the way: slowly enough for the filters, with the tone strong on both channels. A dropout may be bridged where the
//! phase stood still before it and stands there again. After everything else a new *path* begins, and what was known
//! of whole cycles on the old one is of no use on it.

use super::{record::Record, series::Series};
use rustfft::num_complex::Complex64;
use std::f64::consts::TAU;

/// Span of the demodulator's filters, seconds: within it a leap is smeared into a turn.
const SPAN_S: f64 = 0.04;
/// The phase may move by no more than this within the span, turns (9 arc minutes a tenth of a second on cassette at
/// 10 kHz): what is faster might as well be the other way round.
const FASTEST_TURNS: f64 = 0.25;
/// Power that a channel may keep within the span, at least: less is a dropout, a null, or the middle of a leap.
const LEAST_LEFT: f64 = 0.36;
/// Squared coherence within a block; below it noise turns the phase.
const LEAST_COHERENCE: f64 = 0.8;
/// A longer hole is never bridged: a hand might turn over a whole cycle in it, seconds.
const LONGEST_HOLE_S: f64 = 0.3;
/// The phase stood still before a hole if it moved by less than this within [`STILL_S`], turns...
const STILL_TURNS: f64 = 0.125;
const STILL_S: f64 = 0.1;
/// ...and is the same after it if it is within this of where it was, turns.
const SAME_TURNS: f64 = 1.0 / 6.0;

/// Where the phase is, whole cycles counted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Phase between the channels, turns; positive: the right channel lags. Whole turns count from the path's start.
    pub turns: f64,
    /// The path it was counted on. Turns of different paths cannot be compared.
    pub path: u32,
}

/// The follower.
#[derive(Clone, Debug)]
pub struct PhaseFollower {
    span: usize,
    still: usize,
    longest_hole: usize,
    path: u32,
    /// Of the good blocks of this path, newest last.
    turns: Series,
    powers: [Series; 2],
    hole: Option<Hole>,
    /// Of the last good block, whatever its path: the next path counts on from there, as likely as not.
    last: Option<f64>,
}

/// A stretch that could not be followed, not yet decided.
#[derive(Clone, Copy, Debug)]
struct Hole {
    /// The phase stood still there before it, turns; `None`: it moved.
    before: Option<f64>,
    /// Blocks since its beginning.
    blocks: usize,
    /// Good blocks at its end.
    good: usize,
}

impl PhaseFollower {
    /// For `blocks_per_s` records a second.
    pub fn new(blocks_per_s: f64) -> Self {
        let blocks = |seconds: f64| (seconds * blocks_per_s).round().max(1.0) as usize;
        let (span, still) = (blocks(SPAN_S), blocks(STILL_S));
        Self {
            span,
            still,
            longest_hole: blocks(LONGEST_HOLE_S),
            path: 0,
            turns: Series::new(span + still + 1),
            powers: [Series::new(span + 1), Series::new(span + 1)],
            hole: None,
            last: None,
        }
    }

    /// Begins a new path: what comes does not join on to what was.
    pub fn break_off(&mut self) {
        self.path = self.path.wrapping_add(1);
        self.turns.clear();
        self.powers.iter_mut().for_each(Series::clear);
        self.hole = None;
    }

    /// Takes the newest record in; returns the place, or `None` where it is not followed.
    pub fn push(&mut self, record: &Record) -> Option<Place> {
        let phase = followable(record);
        let weak = self.is_weak(record);
        match (phase, self.hole) {
            (Some(phase), None) if !weak => self.go_on(phase, record),
            (Some(phase), Some(hole)) => {
                self.in_the_hole(hole, (!weak).then_some(phase));
                None
            }
            (_, Some(hole)) => {
                self.in_the_hole(hole, None);
                None
            }
            (_, None) => {
                self.fall_into_a_hole();
                None
            }
        }
    }

    /// Counts on from the last block.
    fn go_on(&mut self, phase: f64, record: &Record) -> Option<Place> {
        let turns = self.last.map_or(phase, |last| nearest(phase, last));
        let before = self
            .turns
            .ago(self.span.min(self.turns.len()).saturating_sub(1));
        if before.is_some_and(|before| (turns - before).abs() > FASTEST_TURNS) {
            self.break_off();
            return None;
        }
        self.turns.push(turns);
        self.last = Some(turns);
        self.keep_powers(record);
        Some(Place {
            turns,
            path: self.path,
        })
    }

    fn keep_powers(&mut self, record: &Record) {
        for (kept, power) in self.powers.iter_mut().zip(record.tone_power) {
            kept.push(power);
        }
    }

    /// Whether a channel has lost too much of its power within the span.
    fn is_weak(&self, record: &Record) -> bool {
        self.powers
            .iter()
            .zip(record.tone_power)
            .any(|(kept, power)| {
                let steps = self.span.min(kept.len()).saturating_sub(1);
                kept.ago(steps)
                    .is_some_and(|before| power < LEAST_LEFT * before)
            })
    }

    fn fall_into_a_hole(&mut self) {
        // What lies within the span may already be spoilt.
        let before = self.turns.ago(self.span);
        let earlier = self.turns.ago(self.span + self.still - 1);
        let stood = before
            .zip(earlier)
            .is_some_and(|(a, b)| (a - b).abs() < STILL_TURNS);
        if self.turns.len() == 0 {
            return;
        }
        self.hole = Some(Hole {
            before: before.filter(|_| stood),
            blocks: 0,
            good: 0,
        });
    }

    /// `phase`: of a good block. Past the span of the filters the phase has to be where it was.
    fn in_the_hole(&mut self, hole: Hole, phase: Option<f64>) {
        let good = if phase.is_some() { hole.good + 1 } else { 0 };
        let blocks = hole.blocks + 1;
        let Some(before) = hole
            .before
            .filter(|_| blocks <= self.longest_hole + self.span)
        else {
            self.break_off();
            return;
        };
        self.hole = Some(Hole {
            blocks,
            good,
            ..hole
        });
        let Some(phase) = phase.filter(|_| good > self.span) else {
            return;
        };
        let turns = nearest(phase, before);
        if (turns - before).abs() > SAME_TURNS {
            self.break_off();
            return;
        }
        self.hole = None;
        self.turns.clear();
        self.powers.iter_mut().for_each(Series::clear);
        self.turns.push(turns);
        self.last = Some(turns);
    }

    /// The turns of the last good block of this path; `None` before the first.
    pub fn turns(&self) -> Option<f64> {
        self.turns.ago(0)
    }

    /// The path that is followed.
    pub fn path(&self) -> u32 {
        self.path
    }
}

/// Phase of a record's block, turns, where it is more than noise.
fn followable(record: &Record) -> Option<f64> {
    let [left, right] = record.tone_power;
    let coherent = record.mean_cross.norm_sqr() > LEAST_COHERENCE * left * right;
    (record.ok && coherent && left > 0.0 && right > 0.0).then(|| turns_of(record.mean_cross))
}

/// Angle of a cross product, turns.
pub fn turns_of(cross: Complex64) -> f64 {
    cross.arg() / TAU
}

/// The value that differs from `turns` by whole turns and is nearest to `to`.
pub fn nearest(turns: f64, to: f64) -> f64 {
    turns - (turns - to).round()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 250.0;

    fn record(turns: f64, amplitude: f64) -> Record {
        let power = amplitude * amplitude;
        Record {
            ok: amplitude > 0.0,
            tone_power: [power; 2],
            mean_cross: Complex64::from_polar(power, TAU * turns),
            ..Record::default()
        }
    }

    /// Pushes `seconds` of a phase given by time; the last place.
    fn follow(
        follower: &mut PhaseFollower,
        seconds: f64,
        turns: impl Fn(f64) -> f64,
    ) -> Option<Place> {
        let mut place = None;
        for i in 0..(seconds * RATE) as usize {
            place = follower.push(&record(turns(i as f64 / RATE), 0.3));
        }
        place
    }

    #[test]
    fn a_screw_that_turns_is_counted_over_whole_cycles() {
        let mut follower = PhaseFollower::new(RATE);
        let place = follow(&mut follower, 4.0, |t| 0.2 + 2.0 * t).expect("followed");
        assert_eq!(place.path, 0);
        assert!((place.turns - 0.2 - 2.0 * (4.0 - 1.0 / RATE)).abs() < 1e-9);
    }

    #[test]
    fn a_leap_begins_a_new_path_even_where_the_filters_smear_it() {
        for leap in [0.3, 0.5, 0.52, 0.7] {
            let mut follower = PhaseFollower::new(RATE);
            follow(&mut follower, 1.0, |_| 0.1);
            // The filters see the two phasors fade into one another.
            for i in 0..=10 {
                let share = f64::from(i) / 10.0;
                let from = Complex64::from_polar(1.0 - share, TAU * 0.1);
                let mixed = from + Complex64::from_polar(share, TAU * (0.1 + leap));
                let mut smeared = record(mixed.arg() / TAU, 1.0);
                smeared.tone_power = [0.09, 0.09 * mixed.norm_sqr()];
                smeared.mean_cross = 0.09 * mixed;
                follower.push(&smeared);
            }
            let place = follow(&mut follower, 1.0, |_| 0.1 + leap).expect("followed");
            assert!(place.path > 0, "{leap}: {place:?}");
        }
    }

    #[test]
    fn a_dropout_is_bridged_where_the_phase_stands_and_not_where_it_moves() {
        for (hole_s, speed, bridged) in [
            (0.1, 0.0, true),
            (0.25, 0.0, true),
            (0.6, 0.0, false),
            (0.1, 3.0, false),
        ] {
            let mut follower = PhaseFollower::new(RATE);
            follow(&mut follower, 1.0, |t| 0.4 + speed * t);
            for _ in 0..(hole_s * RATE) as usize {
                assert_eq!(follower.push(&record(0.0, 0.0)), None);
            }
            let after = 0.45 + speed * (1.0 + hole_s);
            let place = follow(&mut follower, 1.0, |t| after + speed * t).expect("followed");
            assert_eq!(place.path == 0, bridged, "{hole_s} s at {speed} turns/s");
        }
    }

    #[test]
    fn noise_is_not_followed() {
        let mut follower = PhaseFollower::new(RATE);
        let mut noise = record(0.3, 0.1);
        noise.mean_cross *= 0.5;
        assert_eq!(follower.push(&noise), None);
    }
}
