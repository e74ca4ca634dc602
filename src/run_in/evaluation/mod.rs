//! What a run shows: its trend, when it became steady, the warm-up, the passes of the tape, and the events.

mod events;
mod statistics;
mod steady;
#[cfg(test)]
mod tests;
mod words;

pub(crate) use events::span_words;
pub use events::{Event, EventKind};
pub(super) use statistics::student_t;

use super::{
    ends::{Ends, EndsLimits},
    history::{History, Step, Typed},
    line::Happening,
};
use serde::Serialize;
use statistics::Estimate;

/// The name and version of the serialised form.
const SCHEMA: &str = "trimwatch.run-in-evaluation/1";
/// A change is read from this much at the start and at the end of the run, seconds.
const ENDS_S: f64 = 600.0;
/// A minute counts if a quarter of it had a reading.
const LEAST_SHARE: f64 = 0.25;
/// The trend of the last part of the run is of this length, seconds.
const LATELY_S: f64 = 1800.0;

/// What the run is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Criteria {
    /// Half the width of the band in which a deck is called steady, percent (common practice, no source).
    pub steady_within_percent: f64,
}

impl Default for Criteria {
    /// ±0.05 %: a sixth of what an archive asks of the speed, ±0.3 % (common practice, no source).
    fn default() -> Self {
        Self {
            steady_within_percent: 0.05,
        }
    }
}

/// What a run shows. Serialised, this is the `trimwatch.run-in-evaluation/1` format.
#[derive(Clone, Debug, Serialize)]
pub struct Evaluation {
    /// Its name and version.
    pub schema: &'static str,
    /// Where the signal came from, in words.
    pub source: String,
    /// What it was read against, in words.
    pub expected: String,
    /// When it started, seconds since 1970 UTC.
    pub started_unix_s: f64,
    /// Its length, seconds.
    pub seconds: f64,
    /// How many times it was started.
    pub sessions: u64,
    /// Readings in it.
    pub readings: u64,
    /// Lines of the log that could not be read.
    pub damaged_lines: u64,
    /// Why it ended, in words; `None` where it goes on or was broken off.
    pub ended: Option<String>,
    /// What part of the run trend, steadiness and warm-up are of, in words.
    pub basis: String,
    /// How the speed changed.
    pub trend: Option<Trend>,
    /// The same over the last half hour.
    pub trend_lately: Option<Trend>,
    /// When the deck became steady.
    pub steady: Steadiness,
    /// How far it drifted until then.
    pub warm_up: Option<WarmUp>,
    /// Other readings at the start and at the end.
    pub changes: Vec<Change>,
    /// The stretches between one gap and the next.
    pub passes: Vec<Pass>,
    /// Start, middle and end of the longest of them.
    pub ends: Option<Ends>,
    /// What happened, in order.
    pub events: Vec<Event>,
    /// Events that are not in the list, because there were too many.
    pub events_not_listed: u64,
    /// The typed temperatures.
    pub temperatures: Vec<Typed>,
    /// The course of the run.
    pub course: Course,
}

/// A slope with its expanded uncertainty (95 %).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// Percent an hour; positive = getting faster.
    pub percent_per_hour: f64,
    /// Its uncertainty: the scatter of the minutes, as alike as they are.
    pub uncertainty_percent_per_hour: f64,
    /// The time it is of, seconds.
    pub seconds: f64,
    /// A point that its line goes through: the middle of these minutes, seconds since the run's start.
    pub through_s: f64,
    /// And their mean speed deviation, percent.
    pub through_percent: f64,
}

impl Trend {
    /// Whether it is one.
    pub fn verdict(&self) -> Verdict {
        Verdict::of(self.percent_per_hour, self.uncertainty_percent_per_hour)
    }

    /// The trend's line at a time of the run, percent.
    pub fn percent_at(&self, at_s: f64) -> f64 {
        self.through_percent + self.percent_per_hour * (at_s - self.through_s) / 3600.0
    }
}

/// When the deck became steady.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Steadiness {
    /// What is called steady, in words.
    pub criterion: String,
    /// Where that comes from.
    pub source: &'static str,
    /// Half the width of the band, percent.
    pub within_percent: f64,
    /// Since when, seconds since the run's start; `None`: not yet.
    pub since_s: Option<f64>,
    /// Mean speed deviation since then, percent.
    pub mean_percent: Option<f64>,
    /// Its expanded uncertainty (95 %), percent: scatter only.
    pub uncertainty_percent: Option<f64>,
}

/// The change of speed from the start on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WarmUp {
    /// Mean of the first two minutes, percent.
    pub from_percent: f64,
    /// Mean since the deck is steady, or of the last ten minutes where it is not, percent.
    pub to_percent: f64,
    /// Which of these.
    pub to_is_steady: bool,
    /// The change, percent; positive = it became faster.
    pub drift_percent: f64,
    /// Its expanded uncertainty (95 %), percent.
    pub uncertainty_percent: f64,
    /// How many temperatures were typed.
    pub temperatures: usize,
    /// Percent per °C, where temperatures far enough apart were typed. Time and temperature go together in a warm-up:
    /// whatever else settles meanwhile is in it.
    pub percent_per_celsius: Option<f64>,
    /// Its expanded uncertainty (95 %).
    pub percent_per_celsius_uncertainty: Option<f64>,
}

/// A reading at the start and at the end.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// Which reading, in words.
    pub what: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Mean of the first ten minutes.
    pub from: f64,
    /// Mean of the last ten minutes.
    pub to: f64,
    /// Expanded uncertainty (95 %) of the difference.
    pub uncertainty: f64,
    /// What that means.
    pub verdict: Verdict,
}

/// Whether a change is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Greater at the end, beyond its uncertainty.
    Rose,
    /// Less at the end, beyond its uncertainty.
    Fell,
    /// The difference is within its uncertainty.
    NoDifferenceShown,
}

/// Which way the tape ran, as far as it is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// As at the start.
    First,
    /// After an odd number of reversals.
    Other,
}

/// A stretch between one gap and the next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pass {
    /// Its start, seconds since the run's.
    pub from_s: f64,
    /// Its end.
    pub to_s: f64,
    /// Which way the tape ran.
    pub direction: Direction,
    /// Mean speed deviation, percent.
    pub speed_percent: Option<f64>,
    /// Mean weighted flutter, two-sigma, percent.
    pub weighted_two_sigma_percent: Option<f64>,
    /// Mean azimuth, arc minutes.
    pub azimuth_arcmin: Option<f64>,
    /// Left minus right, dB.
    pub balance_db: Option<f64>,
}

/// The course of the run, for drawing.
#[derive(Clone, Debug, Serialize)]
pub struct Course {
    /// Length of a step, seconds.
    pub step_s: f64,
    /// The steps, oldest first.
    pub steps: Vec<Step>,
}

/// Says what a run shows, at its end or while it goes on.
pub fn evaluate(history: &History, criteria: &Criteria) -> Evaluation {
    let session = history.session();
    let passes = passes(history);
    let (steps, basis) = basis(history, &passes);
    let steady = steady::steadiness(&steps, criteria);
    Evaluation {
        schema: SCHEMA,
        source: session.map_or_else(String::new, |session| session.source.clone()),
        expected: session.map_or_else(String::new, |session| session.expected.clone()),
        started_unix_s: session.map_or(0.0, |session| session.started_unix_s),
        seconds: history.seconds(),
        sessions: history.sessions(),
        readings: history.readings(),
        damaged_lines: history.damaged_lines(),
        ended: history.ended().map(str::to_owned),
        basis,
        trend: trend(&steps, f64::INFINITY),
        trend_lately: trend(&steps, LATELY_S),
        warm_up: steady::warm_up(&steps, &steady, history.temperatures()),
        steady,
        changes: changes(&steps),
        passes,
        ends: ends(history),
        events: events::events(history),
        events_not_listed: history.happenings_not_kept(),
        temperatures: history.temperatures().to_vec(),
        course: Course {
            step_s: history.step_s(),
            steps: history.steps().to_vec(),
        },
    }
}

/// The steps that trend and steadiness are of: what came after the speed was last moved, in one direction.
fn basis<'a>(history: &'a History, passes: &[Pass]) -> (Vec<&'a Step>, String) {
    let moved_s = history
        .happenings()
        .iter()
        .filter(|event| event.what == Happening::SpeedMoved)
        .map(|event| event.at_s)
        .next_back();
    let seconds_in = |direction| -> f64 {
        passes
            .iter()
            .filter(|pass| pass.direction == direction)
            .map(|pass| pass.to_s - pass.from_s)
            .sum()
    };
    let reversed = passes.iter().any(|pass| pass.direction == Direction::Other);
    let direction = if seconds_in(Direction::Other) > seconds_in(Direction::First) {
        Direction::Other
    } else {
        Direction::First
    };
    let direction_at = |step: &Step| {
        let pass = passes.iter().rfind(|pass| pass.from_s <= step.at_s);
        pass.map_or(Direction::First, |pass| pass.direction)
    };
    let steps = history
        .steps()
        .iter()
        .filter(|step| step.speed_percent.count > 0)
        .filter(|step| step.seconds >= LEAST_SHARE * history.step_s())
        .filter(|step| moved_s.is_none_or(|moved_s| step.at_s > moved_s))
        .filter(|step| !reversed || direction_at(step) == direction)
        .collect();
    let since = moved_s.map_or("the whole run".to_owned(), |moved_s| {
        format!(
            "what came after the speed was moved at {}",
            span_words(moved_s)
        )
    });
    let way = match (reversed, direction) {
        (false, _) => "",
        (true, Direction::First) => ", the tape running as at the start",
        (true, Direction::Other) => ", the tape running the other way than at the start",
    };
    (steps, since + way)
}

fn trend(steps: &[&Step], lately_s: f64) -> Option<Trend> {
    let end_s = steps.last()?.at_s;
    let points: Vec<(f64, f64)> = steps
        .iter()
        .filter(|step| step.at_s > end_s - lately_s)
        .map(|step| (step.at_s / 3600.0, step.speed_percent.mean))
        .collect();
    let Estimate { value, uncertainty } = statistics::slope(&points)?;
    let (first, last) = (points.first()?, points.last()?);
    let count = points.len() as f64;
    Some(Trend {
        percent_per_hour: value,
        uncertainty_percent_per_hour: uncertainty,
        seconds: 3600.0 * (last.0 - first.0),
        // A line of least squares goes through the mean of both.
        through_s: 3600.0 * points.iter().map(|(hours, _)| hours).sum::<f64>() / count,
        through_percent: points.iter().map(|(_, percent)| percent).sum::<f64>() / count,
    })
}

/// Which reading of a step is held against itself, with its words and unit.
type Compared = (&'static str, &'static str, fn(&Step) -> Option<f64>);

fn changes(steps: &[&Step]) -> Vec<Change> {
    let compared: [Compared; 4] = [
        ("weighted flutter, two-sigma", "%", |step| {
            step.weighted_two_sigma_percent.value()
        }),
        ("level, left", "dB", |step| step.left_dbfs.value()),
        ("level, right", "dB", |step| step.right_dbfs.value()),
        ("azimuth", "arc minutes", |step| step.azimuth_arcmin.value()),
    ];
    let (Some(first), Some(last)) = (steps.first(), steps.last()) else {
        return Vec::new();
    };
    let (start_s, end_s) = (first.at_s, last.at_s);
    // The two ends must be apart.
    if end_s - start_s < 2.0 * ENDS_S {
        return Vec::new();
    }
    compared
        .into_iter()
        .filter_map(|(what, unit, get)| {
            let mean = |within: &dyn Fn(&Step) -> bool| {
                let values: Vec<f64> = steps
                    .iter()
                    .filter(|step| within(step))
                    .filter_map(|step| get(step))
                    .collect();
                statistics::mean(&values)
            };
            let from = mean(&|step| step.at_s < start_s + ENDS_S)?;
            let to = mean(&|step| step.at_s > end_s - ENDS_S)?;
            let uncertainty = from.uncertainty.hypot(to.uncertainty);
            Some(Change {
                what,
                unit,
                from: from.value,
                to: to.value,
                uncertainty,
                verdict: Verdict::of(to.value - from.value, uncertainty),
            })
        })
        .collect()
}

impl Verdict {
    /// Of a difference and its expanded uncertainty.
    pub fn of(difference: f64, uncertainty: f64) -> Self {
        if difference.abs() <= uncertainty || difference.is_nan() {
            Self::NoDifferenceShown
        } else if difference > 0.0 {
            Self::Rose
        } else {
            Self::Fell
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Rose => "rose",
            Self::Fell => "fell",
            Self::NoDifferenceShown => "no difference shown",
        }
    }
}

/// Start, middle and end of the longest pass, where it is long enough.
fn ends(history: &History) -> Option<Ends> {
    let passes = history
        .steps()
        .chunk_by(|one, next| one.stretch == next.stretch);
    let length_s = |steps: &&[Step]| steps.iter().map(|step| step.seconds).sum::<f64>();
    let longest = passes.max_by(|one, other| length_s(one).total_cmp(&length_s(other)))?;
    Ends::of_steps(longest, &EndsLimits::default())
}

/// The stretches of a run. Steps know theirs; the direction is turned by each reversal.
fn passes(history: &History) -> Vec<Pass> {
    let reversals: Vec<f64> = history
        .gaps()
        .iter()
        .filter(|gap| events::is_reversal(gap))
        .map(|gap| gap.lost_s)
        .collect();
    history
        .steps()
        .chunk_by(|one, next| one.stretch == next.stretch)
        .filter_map(|steps| {
            let (first, last) = (steps.first()?, steps.last()?);
            let mut whole = *first;
            steps[1..].iter().for_each(|step| whole.join(step));
            let from_s = first.at_s - first.seconds / 2.0;
            let before = reversals
                .iter()
                .filter(|lost_s| **lost_s < first.at_s)
                .count();
            Some(Pass {
                from_s,
                to_s: last.at_s + last.seconds / 2.0,
                direction: if before.is_multiple_of(2) {
                    Direction::First
                } else {
                    Direction::Other
                },
                speed_percent: whole.speed_percent.value(),
                weighted_two_sigma_percent: whole.weighted_two_sigma_percent.value(),
                azimuth_arcmin: whole.azimuth_arcmin.value(),
                balance_db: whole.balance_db.value(),
            })
        })
        .collect()
}
