//! The interface's sample clock against the computer's clock.

use serde::{Serialize, Serializer};

/// Whether the computer's own clock is kept right from outside.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Synchronisation {
    /// The system says that it is.
    Synchronised,
    /// The system says that it is not: the sample clock is compared with an ordinary quartz.
    NotSynchronised,
    /// The system does not tell.
    #[default]
    NotKnown,
}

impl Synchronisation {
    /// The state in words, as shown, as kept in a profile, and as serialised.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Synchronised => "synchronised",
            Self::NotSynchronised => "not synchronised",
            Self::NotKnown => "not known",
        }
    }
}

impl Serialize for Synchronisation {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}

/// What a capture says of the interface's sample clock so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct ClockReading {
    /// Error of the sample clock, ppm; positive = the card samples fast. `None` in the first half minute.
    pub error_ppm: Option<f64>,
    /// Expanded uncertainty (k = 2) of `error_ppm` against the computer's clock, ppm. That clock's own error is not
    /// in it: see `synchronisation`.
    pub uncertainty_ppm: Option<f64>,
    /// Capture behind the figure, seconds.
    pub seconds: f64,
    /// Of these, seconds left out because the computer's clock was being put right meanwhile.
    pub set_aside_seconds: f64,
    /// Times the comparison began anew: lost samples, jumps of the computer's clock, suspended time.
    pub breaks: u32,
    /// Whether the computer's clock can be trusted.
    pub synchronisation: Synchronisation,
}
