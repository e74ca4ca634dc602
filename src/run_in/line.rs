//! The lines of a run-in log: one JSON object each, so that what is torn off by a power cut is one line.
//!
//! ```text
//! {"session":{"schema":"trimwatch.run-in/1","started_unix_s":…,"every_s":5.0,"source":"…","expected":"…"}}
//! {"reading":{"at_s":5.0,"seconds":4.75,"status":"ok","speed_percent":0.012,…}}
//! {"event":{"at_s":812.4,"tone_lost":{"first":"unsteady","then":"no signal"}}}
//! {"temperature":{"unix_s":…,"celsius":23.5}}
//! {"end":{"at_s":14400.0,"why":"…"}}
//! ```
//! Each start of a run on the same file begins a session of its own; `at_s` counts from its session's start. Fields
//! may be added, never changed in meaning; what a reader does not know it passes over.

use serde::{Deserialize, Serialize};

/// The name and version of the format.
pub const SCHEMA: &str = "trimwatch.run-in/1";

/// The latest time that is believed, seconds: some three years. A greater one is damage.
const LATEST_S: f64 = 1e8;

/// One line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// A run begins, or goes on after it was broken off.
    Session(Session),
    /// The readings of the last few seconds.
    Reading(LoggedReading),
    /// Something happened.
    Event(LoggedEvent),
    /// A temperature was typed in.
    Temperature(Temperature),
    /// The run was ended in order.
    End(End),
}

/// The start of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// When it started, seconds since 1970 UTC by the computer's clock.
    pub started_unix_s: f64,
    /// Time between two readings, seconds.
    pub every_s: f64,
    /// Where the signal came from, in words.
    pub source: String,
    /// What the readings were read against, in words.
    pub expected: String,
}

/// The means of one interval. A field is absent (`null`) where there was no valid reading.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LoggedReading {
    /// The end of the interval, seconds since the session's start.
    pub at_s: f64,
    /// How much of the interval had a valid speed, seconds.
    pub seconds: f64,
    /// The speed reading's status at the end of the interval, in words.
    pub status: String,
    /// Mean speed deviation, percent; positive = fast.
    pub speed_percent: Option<f64>,
    /// Least 0.25 s mean, percent.
    pub speed_min_percent: Option<f64>,
    /// Greatest 0.25 s mean, percent.
    pub speed_max_percent: Option<f64>,
    /// Weighted flutter, two-sigma of the last 10 s, percent.
    pub weighted_two_sigma_percent: Option<f64>,
    /// Weighted flutter, greatest quasi-peak, percent.
    pub weighted_quasi_peak_max_percent: Option<f64>,
    /// Mean level, dBFS.
    pub left_dbfs: Option<f64>,
    /// Mean level, dBFS.
    pub right_dbfs: Option<f64>,
    /// Left minus right, dB.
    pub balance_db: Option<f64>,
    /// Mean delay of the right channel, µs; the candidate nearest zero where whole cycles are open.
    pub delay_us: Option<f64>,
    /// The azimuth of that delay, arc minutes.
    pub azimuth_arcmin: Option<f64>,
    /// Where whole cycles are open, the length of one, µs.
    pub cycle_us: Option<f64>,
    /// Tone over everything else, dB.
    pub snr_db: Option<f64>,
}

/// What happened, as a fact; what it means is judged by the evaluation, which knows what came later.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoggedEvent {
    /// When, seconds since the session's start.
    pub at_s: f64,
    /// What.
    #[serde(flatten)]
    pub what: Happening,
}

/// The kinds of event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Happening {
    /// The tone went and stayed away for longer than a dropout lasts; `at_s` is when it was last heard.
    ToneLost {
        /// The first status without it: `unsteady` when its pitch ran down, `dropout` when it broke off.
        first: String,
        /// The status a second later.
        then: String,
    },
    /// The tone is back; `at_s` is when it was first heard again.
    ToneBack {
        /// How long it was away, seconds.
        gone_s: f64,
    },
    /// Dropouts since the last such line.
    Dropouts {
        /// How many.
        count: u64,
        /// The deepest since the averages began, dB.
        deepest_db: Option<f64>,
        /// The longest since the averages began, milliseconds.
        longest_ms: Option<f64>,
    },
    /// Samples were lost on their way into the computer; no fault of the deck.
    LostSamples {
        /// Frames known to be lost.
        frames: u64,
        /// Breaks in the stream.
        gaps: u64,
    },
    /// The input device went away.
    InputLost,
    /// The input device is back.
    InputBack,
    /// The speed was moved (a trimmer, most likely); the drift before and after is another run's.
    SpeedMoved,
    /// Lines could not be written to the disk and had to be forgotten.
    NotWritten {
        /// How many.
        lines: u64,
    },
}

/// A temperature, typed in. One of the two times is given.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Temperature {
    /// When, seconds since the start of the run's *first* session: that is what a person looking at it counts from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_s: Option<f64>,
    /// When, seconds since 1970 UTC.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unix_s: Option<f64>,
    /// Degrees Celsius.
    pub celsius: f64,
}

/// The end of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct End {
    /// When, seconds since the session's start.
    pub at_s: f64,
    /// Why, in words.
    pub why: String,
}

impl LoggedReading {
    /// Where whole cycles are open, moves the delay by as many as bring it nearest to `near_us`: a delay that wanders
    /// over the border of a cycle does not leap.
    pub fn move_delay_near(&mut self, near_us: f64) {
        let (Some(delay_us), Some(cycle_us)) = (self.delay_us, self.cycle_us) else {
            return;
        };
        let cycles = ((near_us - delay_us) / cycle_us).round();
        if cycles == 0.0 || !cycles.is_finite() || delay_us == 0.0 {
            return;
        }
        let moved_us = delay_us + cycles * cycle_us;
        // At the angles of a head azimuth and delay are proportional, at 40 arc minutes to 5 parts in 100 000.
        self.azimuth_arcmin = self
            .azimuth_arcmin
            .map(|arcmin| arcmin * moved_us / delay_us);
        self.delay_us = Some(moved_us);
    }
}

impl Line {
    /// The line as it stands in the file, with its end.
    pub fn to_text(&self) -> String {
        // Only maps with keys that are no strings and a failing `Serialize` are errors; there are neither.
        let mut text = serde_json::to_string(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Reads a line back; `None` for what is no whole, sensible line.
    pub fn parse(text: &[u8]) -> Option<Self> {
        let line: Self = serde_json::from_slice(text).ok()?;
        line.is_sensible().then_some(line)
    }

    /// Whether the times in it can be true; everything else is a reading's own affair.
    fn is_sensible(&self) -> bool {
        let within = |seconds: f64| (0.0..=LATEST_S).contains(&seconds);
        match self {
            Self::Session(session) => {
                session.schema == SCHEMA
                    && session.started_unix_s.is_finite()
                    && session.every_s > 0.0
            }
            Self::Reading(reading) => within(reading.at_s) && within(reading.seconds),
            Self::Event(event) => within(event.at_s),
            Self::Temperature(note) => {
                note.celsius.is_finite()
                    && note.at_s.is_none_or(within)
                    && note.unix_s.is_none_or(f64::is_finite)
                    && (note.at_s.is_some() || note.unix_s.is_some())
            }
            Self::End(end) => within(end.at_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one_of_each() -> Vec<Line> {
        let event = |what| Line::Event(LoggedEvent { at_s: 7.25, what });
        vec![
            Line::Session(Session {
                schema: SCHEMA.into(),
                started_unix_s: 1.75e9,
                every_s: 5.0,
                source: "line input\nof two lines".into(),
                expected: "a tone of 3150 Hz".into(),
            }),
            Line::Reading(LoggedReading {
                at_s: 5.0,
                seconds: 4.75,
                status: "ok".into(),
                speed_percent: Some(0.125),
                ..LoggedReading::default()
            }),
            event(Happening::ToneLost {
                first: "unsteady".into(),
                then: "no signal".into(),
            }),
            event(Happening::ToneBack { gone_s: 2.5 }),
            event(Happening::Dropouts {
                count: 2,
                deepest_db: Some(12.0),
                longest_ms: None,
            }),
            event(Happening::LostSamples { frames: 0, gaps: 1 }),
            event(Happening::InputLost),
            event(Happening::NotWritten { lines: 3 }),
            Line::Temperature(Temperature {
                at_s: None,
                unix_s: Some(1.75e9),
                celsius: 23.5,
            }),
            Line::End(End {
                at_s: 60.0,
                why: "ended".into(),
            }),
        ]
    }

    #[test]
    fn each_kind_is_one_line_and_comes_back_as_it_went() {
        for line in one_of_each() {
            let text = line.to_text();
            assert_eq!(text.matches('\n').count(), 1, "{text}");
            assert_eq!(Line::parse(text.as_bytes()), Some(line), "{text}");
        }
    }

    #[test]
    fn no_piece_of_a_line_passes_for_a_line() {
        for line in one_of_each() {
            let text = line.to_text();
            let whole = text.trim_end();
            for end in 0..whole.len() {
                assert_eq!(
                    Line::parse(&whole.as_bytes()[..end]),
                    None,
                    "{whole} at {end}"
                );
            }
        }
    }

    #[test]
    fn what_is_no_number_is_no_reading() {
        let text = Line::Reading(LoggedReading {
            at_s: 5.0,
            speed_percent: Some(f64::NAN),
            ..LoggedReading::default()
        })
        .to_text();
        let Some(Line::Reading(reading)) = Line::parse(text.as_bytes()) else {
            panic!("{text}");
        };
        assert_eq!(reading.speed_percent, None);
    }

    #[test]
    fn times_that_cannot_be_are_damage() {
        for text in [
            r#"{"reading":{"at_s":-1.0}}"#,
            r#"{"reading":{"at_s":1e300}}"#,
            r#"{"event":{"at_s":1e9,"input_lost":null}}"#,
            r#"{"temperature":{"celsius":20.0}}"#,
            r#"{"session":{"schema":"another/1","started_unix_s":0,"every_s":5,"source":"","expected":""}}"#,
        ] {
            assert_eq!(Line::parse(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn fields_of_a_later_version_are_passed_over() {
        let text = r#"{"reading":{"at_s":5.0,"seconds":5.0,"status":"ok","new_field":[1,2]}}"#;
        assert!(matches!(
            Line::parse(text.as_bytes()),
            Some(Line::Reading(_))
        ));
    }
}
