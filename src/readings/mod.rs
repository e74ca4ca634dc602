//! The plain data that meters publish: one immutable [`Readings`] snapshot at a time.
//!
//! Screen, console and bench read these and nothing else. Every value carries its unit in its name; every
//! group carries a [`Validity`], and where that is not [`Validity::Ok`] the numbers it covers are `None`
//! (JSON `null`). Serialised, this is the `trimwatch.readings/1` format.

mod clock;
mod directions;
mod flutter;
mod level;
mod mechanism;
mod notice;
mod phase;
mod phase_line;
mod question;
mod source;
mod speed;
mod tone;
mod trail;
mod validity;
mod xy_figure;

pub use clock::{ClockReading, Synchronisation};
pub use directions::{BothDirections, Direction, KeptAzimuth};
pub use flutter::{Component, FlutterBands, FlutterFigures, FlutterReading};
pub use level::{ChannelLevel, Hum, LevelReading};
pub use mechanism::{
    AttributionRow, Candidate, Change, Comparison, ComparisonRow, Confidence, Estimate, Harmonic,
    LEAST_SECONDS, LEAST_TURNS, MechanismReading, MotionLine, OnceRoundTrace, PartReading,
    Quantity, RateMark, RowKind, Spectrum, SteadinessHint, TraceShape, Verdict, WholeFigures,
};
pub use notice::{Notice, NoticeCode};
pub use phase::{CyclesSettled, PhaseCandidate, PhaseMethod, PhaseReading};
pub use phase_line::{LineVerdict, PhaseLine, PhasePoint};
pub use question::TapeQuestion;
pub use source::{InputState, SourceDescription, SourceKind, SourceReading};
pub use speed::{NeedleReading, NeedleWow, SpeedReading, SpeedWindow, TurnReading};
pub use tone::ToneReading;
pub use trail::Trail;
pub use validity::Validity;
pub use xy_figure::XyFigure;

use serde::{Serialize, Serializer};
use std::sync::Arc;

/// The name and version of the serialised form. Fields may be added under it, never changed in meaning.
pub const SCHEMA: &str = "trimwatch.readings/1";

/// Everything the meters know at one moment.
#[derive(Clone, Debug, Serialize)]
pub struct Readings {
    /// Always [`SCHEMA`].
    pub schema: &'static str,
    /// Where the samples come from and whether any were lost.
    pub source: SourceReading,
    /// The steady tone found on each channel.
    pub tone: ToneReading,
    /// Speed deviation from the reference.
    pub speed: SpeedReading,
    /// Variation of the speed about its mean.
    pub flutter: FlutterReading,
    /// Level, balance, steadiness, dropouts, hum.
    pub level: LevelReading,
    /// Interchannel phase, delay, azimuth.
    pub phase: PhaseReading,
    /// The mechanism read from the motion of the last minute; `None` until there is enough of it. Written out only
    /// where the deck's parts are known.
    #[serde(skip_serializing_if = "is_of_no_deck", serialize_with = "plain")]
    pub mechanism: Option<Arc<MechanismReading>>,
    /// Which of the two usual tapes plays, where that is not clear; written out only then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tape_question: Option<TapeQuestion>,
    /// What the technician should know besides, in words; empty when there is nothing to say.
    pub notices: Vec<Notice>,
}

fn is_of_no_deck(mechanism: &Option<Arc<MechanismReading>>) -> bool {
    mechanism
        .as_ref()
        .is_none_or(|reading| reading.mechanism.is_none())
}

fn plain<S: Serializer>(
    mechanism: &Option<Arc<MechanismReading>>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    mechanism.as_deref().serialize(serializer)
}

impl Readings {
    /// A snapshot with no reading in it: what is known before the first samples arrive.
    pub fn empty(source: SourceReading) -> Self {
        Self {
            schema: SCHEMA,
            source,
            tone: ToneReading::default(),
            speed: SpeedReading::default(),
            flutter: FlutterReading::default(),
            level: LevelReading::default(),
            phase: PhaseReading::default(),
            mechanism: None,
            tape_question: None,
            notices: Vec::new(),
        }
    }

    /// A snapshot with no number in it, and the reason everywhere.
    pub fn unread(source: SourceReading, why: Validity) -> Self {
        let mut readings = Self::empty(source);
        readings.tone.status = why;
        readings.speed.status = why;
        readings.flutter.status = why;
        readings.level.status = why;
        readings.phase.status = why;
        readings
    }

    /// Whether at least one meter has a valid reading (the console's exit code 0).
    pub fn any_valid(&self) -> bool {
        [
            self.speed.status,
            self.flutter.status,
            self.level.status,
            self.phase.status,
        ]
        .contains(&Validity::Ok)
    }
}
