//! Whether a reading is one and, if not, why not.

use serde::{Serialize, Serializer};

/// The state of a reading. Anything but [`Validity::Ok`] means: no number, and these words say why.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Validity {
    /// The numbers stand.
    Ok,
    /// No samples have arrived yet.
    #[default]
    Waiting,
    /// The input was lost and is being waited for.
    InputLost,
    /// The input is silent.
    NoSignal,
    /// There is signal, but no steady tone in it.
    NoTone,
    /// A tone is there, but its frequency or level moves too much to be read.
    Unsteady,
    /// A tone is there, but too far down in level or in noise.
    TooWeak,
    /// The converter or the deck is driven into its limit.
    Clipped,
    /// A steady tone is there, but not the one the tape should carry.
    NotTheExpectedTone,
    /// The tone is good; the filters or the averages are not there yet.
    Settling,
    /// The take ended before enough of it could be read.
    TooShort,
    /// The tone is interrupted at the moment.
    Dropout,
    /// Samples were lost inside the window.
    LostSamples,
    /// Only one channel is connected or alive, so there is nothing to compare.
    OneChannel,
    /// The two channels do not carry the same signal.
    ChannelsDiffer,
}

impl Validity {
    /// The state in words, as shown to the technician and as written in the readings format.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Waiting => "waiting for samples",
            Self::InputLost => "input lost",
            Self::NoSignal => "no signal",
            Self::NoTone => "no tone",
            Self::Unsteady => "unsteady",
            Self::TooWeak => "too weak",
            Self::Clipped => "clipped",
            Self::NotTheExpectedTone => "not the expected tone",
            Self::Settling => "settling",
            Self::TooShort => "too little time",
            Self::Dropout => "dropout",
            Self::LostSamples => "lost samples",
            Self::OneChannel => "one channel only",
            Self::ChannelsDiffer => "channels differ",
        }
    }

    /// Whether the numbers stand.
    pub const fn is_ok(self) -> bool {
        matches!(self, Self::Ok)
    }
}

impl std::fmt::Display for Validity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.words())
    }
}

impl Serialize for Validity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}
