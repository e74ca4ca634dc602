//! What repeats in a speed: a few lines, fitted to the last seconds and foretold from there.
//!
//! The rates come from a windowed spectrum of all that is kept; amplitudes and phases from a plain least-squares fit to
//! the last turns, so that the model holds where it is used: at the end. What somebody moves meanwhile is taken out
//! first ([`super::steps`]); the step of a trimmer is not wow. The parts turn faster by as much as the tape: time is
//! therefore counted in turns, and a line's rate is its rate at the present speed.

use super::{
    lines::{Line, LineFinder, fit_known},
    steps::{SIDE_S, level},
};
use rustfft::num_complex::Complex64;
use std::f64::consts::TAU;

/// Lines looked for: from what a few turns show within the memory, to what any short mean takes out by itself.
const LOWEST_HZ: f64 = 0.25;
const HIGHEST_HZ: f64 = 12.0;
const MOST: usize = 6;
/// A line needs so many turns to be told from a level...
const LEAST_TURNS: f64 = 2.5;
/// ...and the fit so many seconds.
const LEAST_FIT_S: f64 = 5.0;
/// Least series for a search, seconds.
pub const LEAST_S: f64 = 4.0;

/// The model. Values are in the unit of the series it was fitted to.
pub struct WowModel {
    rate_hz: f64,
    least_step: f64,
    finder: LineFinder,
    turning: Vec<Turning>,
    /// Level at the last fit, and how far the turns have run ahead of its time since then, seconds.
    fitted_level: f64,
    ahead_s: f64,
}

/// One line at work.
#[derive(Clone, Copy)]
struct Turning {
    line: Line,
    next: Complex64,
    turn_rad: f64,
    turn: Complex64,
}

impl WowModel {
    /// For series of at most `most_values` at `rate_hz`. Steps smaller than `least_step` are not looked for.
    pub fn new(rate_hz: f64, most_values: usize, least_step: f64) -> Self {
        Self {
            rate_hz,
            least_step,
            finder: LineFinder::new(most_values),
            turning: Vec::with_capacity(MOST),
            fitted_level: 0.0,
            ahead_s: 0.0,
        }
    }

    /// Forgets its lines.
    pub fn clear(&mut self) {
        self.turning.clear();
    }

    /// Its lines, strongest first.
    pub fn lines(&self) -> impl Iterator<Item = Line> {
        self.turning.iter().map(|turning| turning.line)
    }

    /// How far (cycles of 1 Hz) the turns have run ahead of even time since the last fit: what a model would be off by
    /// that did not know of the moves.
    pub fn ahead_s(&self) -> f64 {
        self.ahead_s
    }

    /// The value foretold for the next moment, where the series is about `level` (percent of the speed).
    pub fn next(&mut self, level: f64) -> f64 {
        let ahead = (level - self.fitted_level) / 100.0;
        self.ahead_s += ahead / self.rate_hz;
        let mut sum = 0.0;
        for turning in &mut self.turning {
            sum += turning.next.re;
            turning.next *= turning.turn;
            if ahead != 0.0 {
                turning.next *= Complex64::cis(ahead * turning.turn_rad);
            }
        }
        sum
    }

    /// Fits the lines anew to a series that ends now, and goes on from there. Returns what they make of the series'
    /// own moments.
    pub fn refit(&mut self, series: &[f64], foretold: &[f64]) -> Vec<f64> {
        let blind = (SIDE_S * self.rate_hz).round() as usize;
        let seen = series.len().saturating_sub(blind);
        self.turning.clear();
        self.ahead_s = 0.0;
        if (seen as f64) < LEAST_S * self.rate_hz {
            return vec![0.0; series.len()];
        }
        let rest: Vec<f64> = series
            .iter()
            .zip(foretold)
            .map(|(x, wow)| x - wow)
            .collect();
        let level = level(&rest, self.rate_hz, self.least_step);
        self.fitted_level = level[series.len() - 1];
        let turns = turns(&level);
        let swing: Vec<f64> = series
            .iter()
            .zip(&level)
            .map(|(x, level)| x - level)
            .collect();
        // A move in the last moments cannot be told yet: they are left out.
        let even = evenly(&swing[..seen], &turns[..seen]);
        let lines = self.lines_of(&even);
        let to_end = turns[series.len() - 1] - turns[seen - 1];
        self.turning
            .extend(lines.into_iter().map(|(line, from_middle)| {
                let turn_rad = TAU * line.rate_hz / self.rate_hz;
                let phase_rad = line.phase_rad + turn_rad * (from_middle + to_end + 1.0);
                Turning {
                    line,
                    next: Complex64::from_polar(line.amplitude, phase_rad),
                    turn_rad,
                    turn: Complex64::cis(turn_rad),
                }
            }));
        self.backwards(&turns)
    }

    /// The lines of an even series, each with the way from the middle of its fit to the end of the series.
    fn lines_of(&mut self, even: &[f64]) -> Vec<(Line, f64)> {
        let all_s = even.len() as f64 / self.rate_hz;
        let found = self
            .finder
            .find(even, self.rate_hz, LOWEST_HZ..HIGHEST_HZ, MOST);
        let rates: Vec<f64> = found
            .iter()
            .map(|line| line.rate_hz)
            .filter(|rate_hz| rate_hz * all_s >= LEAST_TURNS)
            .collect();
        let slowest_hz = rates.iter().copied().fold(f64::INFINITY, f64::min);
        let fit_s = LEAST_FIT_S.max(LEAST_TURNS / slowest_hz).min(all_s);
        let fitted = (fit_s * self.rate_hz) as usize;
        let from_middle = (fitted as f64 - 1.0) / 2.0;
        fit_known(&even[even.len() - fitted..], self.rate_hz, &rates)
            .into_iter()
            .map(|line| (line, from_middle))
            .collect()
    }

    /// What the lines make of moments that stand at `turns`, the last of them the one before the next.
    fn backwards(&self, turns: &[f64]) -> Vec<f64> {
        let next = turns.last().map_or(0.0, |last| last + 1.0);
        let mut values = vec![0.0; turns.len()];
        for turning in &self.turning {
            for (value, at) in values.iter_mut().zip(turns) {
                *value += (turning.next * Complex64::cis(turning.turn_rad * (at - next))).re;
            }
        }
        values
    }
}

/// Where each moment stands, counted in moments at the last one's speed.
fn turns(level: &[f64]) -> Vec<f64> {
    let last = level.last().copied().unwrap_or(0.0);
    let mut at = 0.0;
    level
        .iter()
        .map(|level| {
            let here = at;
            at += 1.0 + (level - last) / 100.0;
            here
        })
        .collect()
}

/// The values at whole turns up to the last, by cubic interpolation (Catmull and Rom): the last value stays where it is.
fn evenly(values: &[f64], turns: &[f64]) -> Vec<f64> {
    let (Some(first), Some(end)) = (turns.first(), turns.last()) else {
        return Vec::new();
    };
    let count = (end - first).floor() as usize + 1;
    let value = |i: isize| values[i.clamp(0, values.len() as isize - 1) as usize];
    let mut after = 1;
    (0..count)
        .map(|i| {
            let wanted = end - (count - 1 - i) as f64;
            while after + 1 < turns.len() && turns[after] < wanted {
                after += 1;
            }
            if turns.len() < 2 {
                return values[0];
            }
            let share = (wanted - turns[after - 1]) / (turns[after] - turns[after - 1]);
            let [a, b, c, d] = [-2, -1, 0, 1].map(|k| value(after as isize + k));
            let slope = (c - a) / 2.0;
            let next_slope = (d - b) / 2.0;
            let (square, cube) = (share * share, share * share * share);
            b * (2.0 * cube - 3.0 * square + 1.0)
                + slope * (cube - 2.0 * square + share)
                + c * (3.0 * square - 2.0 * cube)
                + next_slope * (cube - square)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 62.5;
    const WOW: [(f64, f64, f64); 3] = [(0.6, 0.1, 0.3), (1.2, 0.1, 2.0), (6.0, 0.1, -1.0)];

    /// A deck whose speed is moved, its parts with it: level and wow, moment by moment.
    fn deck(level: impl Fn(usize) -> f64, moments: usize) -> Vec<(f64, f64)> {
        let mut turned_s = 0.0;
        (0..moments)
            .map(|i| {
                turned_s += (1.0 + level(i) / 100.0) / RATE_HZ;
                let wow = |(f, a, p): &(f64, f64, f64)| a * (TAU * f * turned_s + p).cos();
                (level(i), WOW.iter().map(wow).sum())
            })
            .collect()
    }

    /// Greatest error of what is foretold from one fit to the next, half a second later.
    fn greatest_errors(deck: &[(f64, f64)], memory: usize) -> Vec<(usize, f64)> {
        const EVERY: usize = 31;
        let mut model = WowModel::new(RATE_HZ, memory, 0.015);
        let mut foretold = vec![0.0; 300];
        (foretold.len()..deck.len() - EVERY)
            .step_by(EVERY)
            .map(|end| {
                let start = end.saturating_sub(memory);
                let series: Vec<f64> = deck[start..end].iter().map(|(l, w)| l + w).collect();
                foretold.drain(..foretold.len() - series.len());
                foretold = model.refit(&series, &foretold);
                let next: Vec<f64> = deck[end..end + EVERY]
                    .iter()
                    .map(|(level, _)| model.next(*level))
                    .collect();
                foretold.extend_from_slice(&next);
                let truth = deck[end..end + EVERY].iter().map(|(_, wow)| wow);
                let errors = next.iter().zip(truth).map(|(a, b)| (a - b).abs());
                (end, errors.fold(0.0, f64::max))
            })
            .collect()
    }

    #[test]
    fn foretells_what_repeats_though_the_speed_is_moved_and_the_parts_with_it() {
        let level = |i: usize| match i {
            0..600 => 0.8,
            600..900 => 0.3,
            900..1000 => 0.3 - 0.02 * (i - 900) as f64,
            _ => -1.7,
        };
        for (end, error) in greatest_errors(&deck(level, 2000), 1000) {
            let moved_slowly = (900..2000).contains(&end);
            let bound = if moved_slowly { 0.007 } else { 0.001 };
            assert!(end < 390 || error < bound, "at {end}: {error}");
        }
    }

    #[test]
    fn what_does_not_repeat_has_no_lines() {
        let mut model = WowModel::new(RATE_HZ, 1000, 0.015);
        model.refit(&vec![0.3; 900], &vec![0.0; 900]);
        assert_eq!(model.lines().count(), 0);
        model.refit(&[1.0; 20], &[0.0; 20]);
        assert_eq!(model.lines().count(), 0);
    }

    #[test]
    fn evenly_spaced_values_stay_and_others_are_interpolated() {
        let wave = |t: f64| (0.6 * t).sin();
        let whole: Vec<f64> = (0..50).map(|i| wave(f64::from(i))).collect();
        let places: Vec<f64> = (0..50).map(f64::from).collect();
        assert_eq!(evenly(&whole, &places), whole);
        let slow: Vec<f64> = places.iter().map(|t| 1.013 * t).collect();
        let values: Vec<f64> = slow.iter().map(|t| wave(*t)).collect();
        let even = evenly(&values, &slow);
        let last = slow[49];
        for (back, x) in even.iter().rev().enumerate().take(even.len() - 2) {
            assert!((x - wave(last - back as f64)).abs() < 0.004);
        }
    }
}
