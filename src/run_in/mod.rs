//! The run-in log: an unattended run of hours, kept on disk, and what it shows.
//!
//! New belts, rollers and lubricants settle, and a deck warms up. A [`RunInLog`] is fed with the snapshots of the
//! meters; it keeps a reading each few seconds and each event with its time, in a file of one line each and in a
//! [`History`] of constant size. [`read`] makes the same history of the file, also of one whose run was killed, and
//! [`evaluate`] says what either shows: the trend, when the deck became steady, the warm-up, and what happened.
//! Nothing here knows a screen; a panel draws an [`Evaluation`].

mod ends;
mod ends_taken;
mod evaluation;
mod events;
#[cfg(test)]
mod example;
mod gatherer;
mod history;
mod keeper;
mod line;
mod log_file;
mod reader;
mod recorder;
mod run;
mod summary;
mod tally;

pub use ends::{
    Compared, Difference, EndReading, Ends, EndsLimits, Measured, Place, Significance,
    ends_of_readings,
};
pub use ends_taken::{EndsTaken, TakenEnd};
pub(crate) use evaluation::span_words;
pub use evaluation::{
    Change, Course, Criteria, Direction, Evaluation, Event, EventKind, Pass, Steadiness, Trend,
    Verdict, WarmUp, evaluate,
};
pub use history::{Break, Gap, History, Occurrence, Side, Step, Typed};
pub use keeper::{Feed, Keeper, KeeperSetup, Kept, Phase, WINDOW_CLOSED};
pub use line::{End, Happening, Line, LoggedEvent, LoggedReading, SCHEMA, Session, Temperature};
pub use log_file::add_line;
pub use reader::read;
pub use recorder::Recorder;
pub use run::RunInLog;
pub use summary::{LogSummary, summary};
pub use tally::Tally;

/// Why a log cannot be kept or read: one line that says what to do, with the file in it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct RunInError(pub String);
