//! The question which of the two usual speed tapes plays.

use serde::Serialize;

/// A tone that a fast deck with one tape makes as well as a slow one with the other. Not answered by guessing: the
/// technician knows the tape.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TapeQuestion {
    /// What is heard, Hz.
    pub measured_hz: f64,
    /// The tone that it is taken for, Hz.
    pub taken_hz: f64,
    /// Speed deviation with a tape of that tone, percent.
    pub taken_deviation_percent: f64,
    /// The tone that it could be as well, Hz.
    pub other_hz: f64,
    /// Speed deviation with a tape of that one, percent.
    pub other_deviation_percent: f64,
}
