//! What the technician should know beside the numbers.

use serde::Serialize;

/// What a notice is about; stable words for programs that read the output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoticeCode {
    /// Samples at the limit of the converter, or flattened tops below it.
    Clipping,
    /// The reference tone was not given and was taken to be the nearest usual one.
    ToneAssumed,
    /// The tone fits another usual speed tone as well as or better than the expected one: the question which tape plays.
    OtherStandardTone,
    /// Samples were lost; the windows they fell in were left out.
    LostSamples,
    /// The tone dropped out.
    Dropouts,
    /// The tone changed or ended during the take; the readings are of the stretch named.
    ToneChanged,
    /// The speed was moved; averages began anew.
    SpeedMoved,
    /// Not-a-number or infinite samples were replaced by silence.
    BadSamples,
    /// Exact zeros for seconds: a dead input or a missing permission rather than a quiet deck.
    DigitalSilence,
    /// Only one channel carries signal, or the source has only one.
    OneChannel,
    /// The tone's phase leaves whole cycles of delay open.
    PhaseAmbiguous,
    /// The channels are in opposite polarity, or nearly so.
    OppositePolarity,
    /// A tolerance that belongs in the uncertainty is not known and a default was used.
    Uncorrected,
    /// The sample rate limits what can be read.
    RateLimits,
    /// The recording is damaged or shorter than its header says.
    DamagedRecording,
}

/// One thing worth saying, as a code for programs and a sentence for people.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Notice {
    /// The kind.
    pub code: NoticeCode,
    /// The sentence, with its figures.
    pub message: String,
}

impl Notice {
    /// Makes a notice.
    pub fn new(code: NoticeCode, message: impl Into<String>) -> Self {
        Self {
            code,
            message: message.into(),
        }
    }
}
