//! What is remembered of a run, in constant memory: its course in steps of a minute (of longer ones in a run of days),
//! what happened, and the temperatures.

use super::{
    line::{Happening, Line, LoggedReading, Session, Temperature},
    tally::Tally,
};
use serde::Serialize;
use std::collections::VecDeque;

/// Length of a step at first, seconds.
const STEP_S: f64 = 60.0;
/// Steps kept; when there are more, neighbours are joined and steps become twice as long. 34 hours of minutes.
const MOST_STEPS: usize = 2048;
/// Happenings kept; more are only counted.
const MOST_HAPPENINGS: usize = 1000;
/// Temperatures kept.
const MOST_TEMPERATURES: usize = 500;
/// Readings on either side of a gap that are compared: a minute of one each five seconds.
const BESIDE_A_GAP: usize = 12;

/// A run, as far as it is known.
#[derive(Clone, Debug)]
pub struct History {
    /// The first session's head.
    first: Option<Session>,
    sessions: u64,
    /// Where the present session starts in the run, seconds.
    session_at_s: f64,
    latest_s: f64,
    step_s: f64,
    steps: Vec<Step>,
    stretch: u32,
    happenings: Vec<Occurrence>,
    gaps: Vec<Gap>,
    breaks: Vec<Break>,
    happenings_not_kept: u64,
    temperatures: Vec<Typed>,
    readings: u64,
    damaged_lines: u64,
    torn: bool,
    /// Why it ended, if it did in order.
    ended: Option<String>,
    recent: VecDeque<LoggedReading>,
}

/// The means of a minute or more.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct Step {
    /// The middle of what was read, seconds since the run's start.
    pub at_s: f64,
    /// How much of it had a valid speed, seconds.
    pub seconds: f64,
    /// Between one gap and the next; 0 is the first such stretch.
    pub stretch: u32,
    /// Speed deviation, percent.
    #[serde(serialize_with = "mean_only")]
    pub speed_percent: Tally,
    /// Least 0.25 s mean, percent; infinite where there is none.
    #[serde(skip)]
    pub speed_min_percent: f64,
    /// Greatest 0.25 s mean, percent; minus infinite where there is none.
    #[serde(skip)]
    pub speed_max_percent: f64,
    /// Weighted flutter, two-sigma, percent.
    #[serde(serialize_with = "mean_only")]
    pub weighted_two_sigma_percent: Tally,
    /// Level, dBFS.
    #[serde(serialize_with = "mean_only")]
    pub left_dbfs: Tally,
    /// Level, dBFS.
    #[serde(serialize_with = "mean_only")]
    pub right_dbfs: Tally,
    /// Left minus right, dB.
    #[serde(serialize_with = "mean_only")]
    pub balance_db: Tally,
    /// Azimuth, arc minutes; right later is positive.
    #[serde(serialize_with = "mean_only")]
    pub azimuth_arcmin: Tally,
    /// Delay of the right channel, µs.
    #[serde(serialize_with = "mean_only")]
    pub delay_us: Tally,
}

fn mean_only<S: serde::Serializer>(tally: &Tally, serializer: S) -> Result<S::Ok, S::Error> {
    tally.value().serialize(serializer)
}

/// Something that happened, at its time in the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Occurrence {
    /// Seconds since the run's start.
    pub at_s: f64,
    /// What.
    pub what: Happening,
}

/// A time without the tone.
#[derive(Clone, Debug)]
pub struct Gap {
    /// When the tone was last heard, seconds since the run's start.
    pub lost_s: f64,
    /// When it was heard again.
    pub back_s: Option<f64>,
    /// The first status without it.
    pub first: String,
    /// The status a second later.
    pub then: String,
    /// The readings before.
    pub before: Side,
    /// The readings after.
    pub after: Side,
}

/// A time in which nobody listened: from the end of one session to the start of the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Break {
    /// The last that is known of the session before, seconds since the run's start.
    pub from_s: f64,
    /// When the run went on.
    pub to_s: f64,
}

/// The last minute before a gap, or the first one after it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Side {
    /// Speed deviation, percent.
    pub speed_percent: Tally,
    /// Left minus right, dB.
    pub balance_db: Tally,
    /// Azimuth, arc minutes.
    pub azimuth_arcmin: Tally,
}

/// A typed temperature at its time in the run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Typed {
    /// Seconds since the run's start.
    pub at_s: f64,
    /// Degrees Celsius.
    pub celsius: f64,
}

impl Default for History {
    fn default() -> Self {
        Self {
            first: None,
            sessions: 0,
            session_at_s: 0.0,
            latest_s: 0.0,
            step_s: STEP_S,
            steps: Vec::new(),
            stretch: 0,
            happenings: Vec::new(),
            gaps: Vec::new(),
            breaks: Vec::new(),
            happenings_not_kept: 0,
            temperatures: Vec::new(),
            readings: 0,
            damaged_lines: 0,
            torn: false,
            ended: None,
            recent: VecDeque::new(),
        }
    }
}

impl History {
    /// Takes the next line of the log.
    pub fn take(&mut self, line: &Line) {
        self.torn = false;
        match line {
            Line::Session(session) => self.begin(session),
            Line::Reading(reading) => self.take_reading(reading),
            Line::Event(event) => self.happen(self.session_at_s + event.at_s, &event.what),
            Line::Temperature(note) => self.take_temperature(*note),
            Line::End(end) => {
                self.latest_s = self.latest_s.max(self.session_at_s + end.at_s);
                self.ended = Some(end.why.clone());
            }
        }
    }

    /// A line that is none. `at_end`: it is the last one and has no end, so it was torn off.
    pub fn note_damage(&mut self, at_end: bool) {
        if at_end {
            self.torn = true;
        } else {
            self.damaged_lines += 1;
        }
    }

    /// The head of the first session.
    pub fn session(&self) -> Option<&Session> {
        self.first.as_ref()
    }

    /// How many times the run was started.
    pub fn sessions(&self) -> u64 {
        self.sessions
    }

    /// When the present session started, seconds since the run's start.
    pub fn session_at_s(&self) -> f64 {
        self.session_at_s
    }

    /// Length of the run so far, seconds.
    pub fn seconds(&self) -> f64 {
        self.latest_s
    }

    /// Readings in it.
    pub fn readings(&self) -> u64 {
        self.readings
    }

    /// Lines that could not be read.
    pub fn damaged_lines(&self) -> u64 {
        self.damaged_lines
    }

    /// Whether the last line was torn off.
    pub fn is_torn(&self) -> bool {
        self.torn
    }

    /// Why the run ended; `None` while it goes on, and where it was broken off.
    pub fn ended(&self) -> Option<&str> {
        self.ended.as_deref()
    }

    /// The course of the run, oldest first.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Length of a step, seconds.
    pub fn step_s(&self) -> f64 {
        self.step_s
    }

    /// What happened beside the tone's going and coming, oldest first.
    pub fn happenings(&self) -> &[Occurrence] {
        &self.happenings
    }

    /// Events there was no room for.
    pub fn happenings_not_kept(&self) -> u64 {
        self.happenings_not_kept
    }

    /// The times without the tone, oldest first.
    pub fn gaps(&self) -> &[Gap] {
        &self.gaps
    }

    /// The times in which nobody listened, oldest first.
    pub fn breaks(&self) -> &[Break] {
        &self.breaks
    }

    /// The typed temperatures, in the order of their times.
    pub fn temperatures(&self) -> &[Typed] {
        &self.temperatures
    }

    /// A session goes on after the last one by the computer's clock; one that was set back meanwhile goes on at once.
    fn begin(&mut self, session: &Session) {
        self.sessions += 1;
        self.ended = None;
        self.recent.clear();
        match &self.first {
            None => self.first = Some(session.clone()),
            Some(first) => {
                let later_s = session.started_unix_s - first.started_unix_s;
                self.session_at_s = if later_s.is_finite() {
                    later_s.max(self.latest_s)
                } else {
                    self.latest_s
                };
                self.stretch += 1;
                if self.breaks.len() < MOST_HAPPENINGS {
                    self.breaks.push(Break {
                        from_s: self.latest_s,
                        to_s: self.session_at_s,
                    });
                } else {
                    self.happenings_not_kept += 1;
                }
            }
        }
    }

    fn take_reading(&mut self, reading: &LoggedReading) {
        self.readings += 1;
        let at_s = self.session_at_s + reading.at_s;
        self.latest_s = self.latest_s.max(at_s);
        if reading.speed_percent.is_none() && reading.azimuth_arcmin.is_none() {
            return;
        }
        let mut reading = reading.clone();
        if let Some(before_us) = self.recent.back().and_then(|before| before.delay_us) {
            reading.move_delay_near(before_us);
        }
        if let Some(gap) = self.gaps.last_mut()
            && gap.back_s.is_some()
            && gap.after.speed_percent.count < BESIDE_A_GAP as u64
        {
            gap.after.push(&reading);
        }
        if self.recent.len() == BESIDE_A_GAP {
            self.recent.pop_front();
        }
        let step = Step::of(&reading, at_s - reading.seconds / 2.0, self.stretch);
        self.recent.push_back(reading);
        match self.steps.last_mut() {
            Some(last) if last.belongs_with(&step, self.step_s) => last.join(&step),
            _ => self.steps.push(step),
        }
        if self.steps.len() > MOST_STEPS {
            self.halve();
        }
    }

    fn happen(&mut self, at_s: f64, what: &Happening) {
        self.latest_s = self.latest_s.max(at_s);
        match what {
            Happening::ToneLost { first, then } => {
                let mut before = Side::default();
                self.recent
                    .drain(..)
                    .for_each(|reading| before.push(&reading));
                let gap = Gap {
                    lost_s: at_s,
                    back_s: None,
                    first: first.clone(),
                    then: then.clone(),
                    before,
                    after: Side::default(),
                };
                self.stretch += 1;
                if self.gaps.len() < MOST_HAPPENINGS {
                    self.gaps.push(gap);
                } else {
                    self.happenings_not_kept += 1;
                }
            }
            Happening::ToneBack { .. } => {
                self.recent.clear();
                if let Some(gap) = self.gaps.last_mut().filter(|gap| gap.back_s.is_none()) {
                    gap.back_s = Some(at_s);
                }
            }
            _ if self.happenings.len() < MOST_HAPPENINGS => self.happenings.push(Occurrence {
                at_s,
                what: what.clone(),
            }),
            _ => self.happenings_not_kept += 1,
        }
    }

    fn take_temperature(&mut self, note: Temperature) {
        let started_unix_s = self.first.as_ref().map(|first| first.started_unix_s);
        let at_s = match (note.at_s, note.unix_s, started_unix_s) {
            (Some(at_s), ..) => at_s,
            (None, Some(unix_s), Some(started_unix_s)) => unix_s - started_unix_s,
            _ => return,
        };
        if self.temperatures.len() < MOST_TEMPERATURES && at_s.is_finite() {
            let at = self
                .temperatures
                .partition_point(|typed| typed.at_s <= at_s);
            let typed = Typed {
                at_s,
                celsius: note.celsius,
            };
            self.temperatures.insert(at, typed);
        }
    }

    /// Makes steps twice as long until there is room; where even that does not help (a tone that came and went
    /// thousands of times), neighbours are joined across their gaps.
    fn halve(&mut self) {
        let steps = std::mem::take(&mut self.steps);
        let before = steps.len();
        self.step_s *= 2.0;
        for step in steps {
            match self.steps.last_mut() {
                Some(last) if last.belongs_with(&step, self.step_s) => last.join(&step),
                _ => self.steps.push(step),
            }
        }
        if self.steps.len() > before * 3 / 4 {
            let mut pairs = std::mem::take(&mut self.steps).into_iter();
            while let Some(mut step) = pairs.next() {
                if let Some(next) = pairs.next() {
                    step.join(&next);
                }
                self.steps.push(step);
            }
        }
    }
}

impl Step {
    fn of(reading: &LoggedReading, at_s: f64, stretch: u32) -> Self {
        let tally = |value| {
            let mut tally = Tally::default();
            tally.push(value);
            tally
        };
        Self {
            at_s,
            seconds: reading.seconds,
            stretch,
            speed_percent: tally(reading.speed_percent),
            speed_min_percent: reading.speed_min_percent.unwrap_or(f64::INFINITY),
            speed_max_percent: reading.speed_max_percent.unwrap_or(f64::NEG_INFINITY),
            weighted_two_sigma_percent: tally(reading.weighted_two_sigma_percent),
            left_dbfs: tally(reading.left_dbfs),
            right_dbfs: tally(reading.right_dbfs),
            balance_db: tally(reading.balance_db),
            azimuth_arcmin: tally(reading.azimuth_arcmin),
            delay_us: tally(reading.delay_us),
        }
    }

    fn belongs_with(&self, later: &Self, step_s: f64) -> bool {
        self.stretch == later.stretch
            && (self.at_s / step_s).floor() == (later.at_s / step_s).floor()
    }

    /// Takes a later step in.
    pub(super) fn join(&mut self, later: &Self) {
        let all_s = self.seconds + later.seconds;
        let share = if all_s > 0.0 {
            later.seconds / all_s
        } else {
            0.5
        };
        self.at_s += (later.at_s - self.at_s) * share;
        self.seconds = all_s;
        self.speed_min_percent = self.speed_min_percent.min(later.speed_min_percent);
        self.speed_max_percent = self.speed_max_percent.max(later.speed_max_percent);
        for (mine, others) in [
            (&mut self.speed_percent, &later.speed_percent),
            (
                &mut self.weighted_two_sigma_percent,
                &later.weighted_two_sigma_percent,
            ),
            (&mut self.left_dbfs, &later.left_dbfs),
            (&mut self.right_dbfs, &later.right_dbfs),
            (&mut self.balance_db, &later.balance_db),
            (&mut self.azimuth_arcmin, &later.azimuth_arcmin),
            (&mut self.delay_us, &later.delay_us),
        ] {
            mine.join(others);
        }
    }
}

impl Side {
    fn push(&mut self, reading: &LoggedReading) {
        self.speed_percent.push(reading.speed_percent);
        self.balance_db.push(reading.balance_db);
        self.azimuth_arcmin.push(reading.azimuth_arcmin);
    }
}

#[cfg(test)]
mod tests {
    use super::{super::line::SCHEMA, *};

    fn session(started_unix_s: f64) -> Line {
        Line::Session(Session {
            schema: SCHEMA.into(),
            started_unix_s,
            every_s: 5.0,
            source: "a".into(),
            expected: "b".into(),
        })
    }

    fn reading(at_s: f64, speed_percent: f64) -> Line {
        Line::Reading(LoggedReading {
            at_s,
            seconds: 5.0,
            speed_percent: Some(speed_percent),
            ..LoggedReading::default()
        })
    }

    #[test]
    fn four_weeks_take_no_more_room_than_two_days() {
        let mut history = History::default();
        history.take(&session(0.0));
        let mut most = 0;
        for tick in 0..4 * 7 * 24 * 720 {
            history.take(&reading(5.0 * f64::from(tick + 1), f64::from(tick)));
            most = most.max(history.steps().len());
        }
        assert!(most <= MOST_STEPS + 1, "{most}");
        assert_eq!(history.readings(), 483_840);
        let steps = history.steps();
        let seconds: f64 = steps.iter().map(|step| step.seconds).sum();
        assert!((seconds - 4.0 * 7.0 * 86_400.0).abs() < 1.0, "{seconds}");
        // A ramp stays a ramp: each step's mean is the value at its middle.
        for step in steps {
            let expected = step.at_s / 5.0 - 0.5;
            assert!((step.speed_percent.mean - expected).abs() < 1.0, "{step:?}");
        }
    }

    #[test]
    fn a_tone_that_comes_and_goes_all_day_is_bounded_too() {
        let mut history = History::default();
        history.take(&session(0.0));
        for tick in 0..20_000 {
            let at_s = 10.0 * f64::from(tick);
            history.take(&reading(at_s + 5.0, 0.1));
            history.happen(
                at_s + 6.0,
                &Happening::ToneLost {
                    first: "dropout".into(),
                    then: "no tone".into(),
                },
            );
            history.happen(at_s + 9.0, &Happening::ToneBack { gone_s: 3.0 });
            history.happen(at_s + 9.5, &Happening::InputLost);
        }
        assert!(history.steps().len() <= MOST_STEPS + 1);
        assert_eq!(history.gaps().len(), MOST_HAPPENINGS);
        assert_eq!(history.happenings().len(), MOST_HAPPENINGS);
        assert_eq!(
            history.happenings_not_kept(),
            2 * (20_000 - MOST_HAPPENINGS as u64)
        );
    }

    #[test]
    fn a_run_that_was_broken_off_goes_on_by_the_clock() {
        let mut history = History::default();
        history.take(&session(1000.0));
        history.take(&reading(60.0, 0.1));
        history.take(&session(1300.0));
        history.take(&reading(60.0, 0.2));
        assert_eq!((history.sessions(), history.seconds()), (2, 360.0));
        // A clock that was set back does not turn the run round.
        history.take(&session(500.0));
        history.take(&reading(60.0, 0.3));
        assert_eq!(history.seconds(), 420.0);
        assert!(
            history
                .steps()
                .is_sorted_by(|one, other| one.at_s <= other.at_s)
        );
    }

    #[test]
    fn temperatures_come_by_either_clock_and_in_order() {
        let mut history = History::default();
        history.take(&session(1000.0));
        for (at_s, unix_s, celsius) in [(None, Some(1600.0), 25.0), (Some(60.0), None, 20.0)] {
            history.take(&Line::Temperature(Temperature {
                at_s,
                unix_s,
                celsius,
            }));
        }
        let typed: Vec<_> = history
            .temperatures()
            .iter()
            .map(|t| (t.at_s, t.celsius))
            .collect();
        assert_eq!(typed, [(60.0, 20.0), (600.0, 25.0)]);
    }
}
