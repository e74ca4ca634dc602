//! One job: one deck's stay at the workshop, as plain data. What is kept on disk, what a job file carries, and what the
//! owner's sheet is made of are this same record.

use super::{LimitSet, Quantity};
use crate::readings::{SourceDescription, SourceKind};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// When a deck was looked at: before or after the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Before anything was touched.
    AsFound,
    /// As it goes back to its owner.
    AsLeft,
}

impl Stage {
    /// Both, in order.
    pub const ALL: [Self; 2] = [Self::AsFound, Self::AsLeft];

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::AsFound => "as found",
            Self::AsLeft => "as left",
        }
    }
}

/// A station of the job, in the order of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Station {
    /// What gauges and eyes say.
    Mechanical,
    /// Speed.
    Speed,
    /// Wow and flutter.
    Flutter,
    /// Azimuth.
    Azimuth,
    /// Level and balance.
    Level,
}

impl Station {
    /// All of them, in order.
    pub const ALL: [Self; 5] = [
        Self::Mechanical,
        Self::Speed,
        Self::Flutter,
        Self::Azimuth,
        Self::Level,
    ];

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Mechanical => "mechanical checks",
            Self::Speed => "speed",
            Self::Flutter => "wow and flutter",
            Self::Azimuth => "azimuth",
            Self::Level => "level and balance",
        }
    }
}

/// The workshop that does the job.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Workshop {
    /// Its name.
    pub name: String,
    /// Address and how to reach it, a line each.
    pub lines: Vec<String>,
}

/// The deck.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Deck {
    /// Model.
    pub model: String,
    /// Serial number, or whatever tells it from another of the model.
    pub serial: String,
    /// Name of its tape format (`calibration/tape-formats.toml`).
    pub tape_format: String,
    /// Name or path of its mechanism's file; empty: not known.
    pub mechanism: String,
}

/// What surrounded the work.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Environment {
    /// Room temperature, °C.
    pub temperature_c: Option<f64>,
    /// Mains voltage, V rms.
    pub mains_volts: Option<f64>,
    /// How long the deck ran before the readings as left, minutes.
    pub warm_up_minutes: Option<f64>,
}

/// One figure of a reading or of a gauge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// What it is.
    pub quantity: Quantity,
    /// Its value in the quantity's unit; finite.
    pub value: f64,
    /// Expanded uncertainty (k = 2) in the same unit; `None`: not known.
    #[serde(default)]
    pub uncertainty: Option<f64>,
}

/// What a short series for pictures shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SeriesKind {
    /// Speed deviation, percent.
    SpeedPercent,
    /// Unweighted deviation about the mean, percent.
    FlutterPercent,
    /// Interchannel delay, µs.
    DelayUs,
    /// Level of the left channel, dBFS.
    LeftDbfs,
    /// Level of the right channel, dBFS.
    RightDbfs,
}

/// A short series, evenly spaced in time, oldest first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Series {
    /// What it shows.
    pub kind: SeriesKind,
    /// Time between neighbours, seconds.
    pub step_s: f64,
    /// The values; `None` where there was none.
    pub values: Vec<Option<f32>>,
}

/// The calibration tape that played.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TapeUsed {
    /// Name in the tables; empty where none was chosen.
    pub name: String,
    /// Title.
    pub title: String,
    /// The tone that played, Hz.
    pub tone_hz: Option<f64>,
    /// Its certificate's correction to that frequency, percent.
    pub frequency_correction_percent: f64,
    /// Tolerance of that frequency, percent.
    pub frequency_tolerance_percent: Option<f64>,
}

/// All that is needed to take the reading once more.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Context {
    /// The program's version.
    pub program: String,
    /// Device, file or deck listened to, with its sound system.
    pub input: String,
    /// What kind of input that is.
    pub input_kind: SourceKind,
    /// Sample rate, Hz.
    pub sample_rate_hz: u32,
    /// Whether the interface's own errors were taken out, and how old their figures are, in words.
    pub profile: String,
    /// Error of the sample clock that was taken out, ppm.
    pub clock_error_ppm: f64,
    /// Its uncertainty (k = 2), ppm.
    pub clock_tolerance_ppm: f64,
    /// The tape.
    pub tape: TapeUsed,
    /// Title of the tape format.
    pub tape_format: String,
    /// Time the averages cover, seconds.
    pub averaged_seconds: f64,
    /// How long the input had been running, seconds.
    pub running_seconds: f64,
    /// Frames lost by then.
    pub lost_frames: u64,
    /// The notices that stood beside the reading, in words.
    pub notices: Vec<String>,
}

impl Context {
    /// Input and host in words.
    pub fn input_of(description: &SourceDescription) -> String {
        match &description.host {
            Some(host) => format!("{} ({host})", description.name),
            None => description.name.clone(),
        }
    }
}

/// A reading that was taken: one try at one station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakenReading {
    /// When.
    pub at: Timestamp,
    /// Where.
    pub station: Station,
    /// Before or after the work.
    pub stage: Stage,
    /// The reading in words, as it was shown.
    pub words: String,
    /// Its figures, the main one first; never empty.
    pub figures: Vec<Figure>,
    /// How it was taken.
    pub context: Context,
    /// Series for pictures.
    #[serde(default)]
    pub series: Vec<Series>,
    /// When it was withdrawn (undo); a withdrawn reading stays in the record and counts for nothing.
    #[serde(default)]
    pub withdrawn: Option<Timestamp>,
}

impl TakenReading {
    /// Its figure of that quantity.
    pub fn figure(&self, quantity: Quantity) -> Option<&Figure> {
        self.figures
            .iter()
            .find(|figure| figure.quantity == quantity)
    }
}

/// What a mechanical check says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Check {
    /// A figure from a gauge, with the unit it was typed in (`g·cm`, `mN·m`, `mm`, `g`, `N`).
    Gauge {
        /// The figure, in the quantity's own unit.
        figure: Figure,
        /// The number as it was typed.
        typed: f64,
        /// The unit as it was typed.
        typed_unit: String,
    },
    /// Something looked at or done: `belt`, `head wear`, `cleaned`, `demagnetised`; and what was seen.
    Seen {
        /// What was looked at.
        what: String,
        /// What was seen, in words.
        found: String,
        /// Whether that is as it should be; `None`: not judged.
        good: Option<bool>,
    },
}

/// A mechanical check with its place in the job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckDone {
    /// When.
    pub at: Timestamp,
    /// Before or after the work.
    pub stage: Stage,
    /// What it says.
    pub check: Check,
    /// When it was withdrawn.
    #[serde(default)]
    pub withdrawn: Option<Timestamp>,
}

/// A station left out, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Skip {
    /// When.
    pub at: Timestamp,
    /// Which.
    pub station: Station,
    /// Before or after the work.
    pub stage: Stage,
    /// Why.
    pub reason: String,
}

/// A part that was replaced.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartReplaced {
    /// When.
    pub at: Timestamp,
    /// What was replaced, and by what.
    pub what: String,
}

/// A note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// When.
    pub at: Timestamp,
    /// The text.
    pub text: String,
    /// Whether the owner's page carries it.
    #[serde(default)]
    pub for_owner: bool,
}

/// One job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Job number, which also stands for the owner (`HL-0031`).
    pub number: String,
    /// The workshop.
    #[serde(default)]
    pub workshop: Workshop,
    /// The deck.
    pub deck: Deck,
    /// When the deck came.
    pub opened: Timestamp,
    /// When it left; `None` while it is here.
    #[serde(default)]
    pub closed: Option<Timestamp>,
    /// What the owner said.
    #[serde(default)]
    pub complaint: String,
    /// The limits its figures are judged by, as they were when they were chosen.
    pub limits: LimitSet,
    /// What surrounded the work.
    #[serde(default)]
    pub environment: Environment,
    /// Mechanical checks, oldest first.
    #[serde(default)]
    pub checks: Vec<CheckDone>,
    /// Readings, oldest first.
    #[serde(default)]
    pub readings: Vec<TakenReading>,
    /// Stations left out.
    #[serde(default)]
    pub skips: Vec<Skip>,
    /// Parts replaced.
    #[serde(default)]
    pub parts: Vec<PartReplaced>,
    /// Notes.
    #[serde(default)]
    pub notes: Vec<Note>,
}

impl Job {
    /// The reading that counts for a station and stage: the last one that was not withdrawn.
    pub fn standing(&self, station: Station, stage: Stage) -> Option<&TakenReading> {
        self.tries(station, stage)
            .rfind(|reading| reading.withdrawn.is_none())
    }

    /// All tries of a station and stage, oldest first, withdrawn ones too.
    pub fn tries(
        &self,
        station: Station,
        stage: Stage,
    ) -> impl DoubleEndedIterator<Item = &TakenReading> {
        self.readings
            .iter()
            .filter(move |reading| reading.station == station && reading.stage == stage)
    }

    /// The check of a gauge that counts for a quantity and stage.
    pub fn standing_gauge(&self, quantity: Quantity, stage: Stage) -> Option<&CheckDone> {
        self.checks.iter().rfind(|done| {
            done.stage == stage
                && done.withdrawn.is_none()
                && matches!(&done.check, Check::Gauge { figure, .. } if figure.quantity == quantity)
        })
    }

    /// Why a station was left out, where it was and nothing was taken there since.
    pub fn skipped(&self, station: Station, stage: Stage) -> Option<&Skip> {
        let skip = self
            .skips
            .iter()
            .rfind(|skip| skip.station == station && skip.stage == stage)?;
        let taken_since = self
            .standing(station, stage)
            .is_some_and(|reading| reading.at > skip.at);
        (!taken_since).then_some(skip)
    }
}
