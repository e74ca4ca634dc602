//! Where the samples come from.

use super::ClockReading;
use serde::{Deserialize, Serialize};

/// The kind of source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceKind {
    /// A live input of the computer.
    SoundCard,
    /// A file.
    Recording,
    /// The simulated deck.
    VirtualDeck,
}

/// Whether samples are arriving.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "is", content = "detail")]
pub enum InputState {
    /// Not opened yet.
    #[default]
    Opening,
    /// Samples arrive.
    Running,
    /// The device went away; the text names what is being waited for.
    Lost(String),
    /// The recording or the requested time is over.
    Ended,
    /// The source cannot go on; the text says why and what to do.
    Failed(String),
}

/// What really runs: fixed while one stream is open.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SourceDescription {
    /// The kind of source.
    pub kind: SourceKind,
    /// The device's, file's or deck's name, as a person would say it.
    pub name: String,
    /// Sound system the device belongs to (`ALSA`, ...); `None` for files and the virtual deck.
    pub host: Option<String>,
    /// Sample format in words (`32-bit float`, `24-bit`, ...).
    pub sample_format: String,
    /// Samples per second and channel.
    pub sample_rate_hz: u32,
    /// Channels handed to the meters: 1 or 2.
    pub channels: u16,
    /// Frames a callback, where the device tells; it may vary.
    pub buffer_frames: Option<u32>,
}

/// The state of the source at the moment of a snapshot.
#[derive(Clone, Debug, Serialize)]
pub struct SourceReading {
    /// What runs.
    #[serde(flatten)]
    pub description: SourceDescription,
    /// Time covered by the samples received so far, in seconds (sample count over nominal rate).
    pub seconds: f64,
    /// Frames lost since the start: ring overflow and the device's own overruns, as far as they tell.
    pub lost_frames: u64,
    /// Breaks in the stream (each may have lost many frames, or a number that is not known).
    pub gaps: u64,
    /// Whether samples are arriving.
    pub state: InputState,
    /// The interface's sample clock against the computer's; only of live inputs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clock: Option<ClockReading>,
}

impl SourceReading {
    /// The state before the first frame.
    pub fn new(description: SourceDescription) -> Self {
        Self {
            description,
            seconds: 0.0,
            lost_frames: 0,
            gaps: 0,
            state: InputState::Opening,
            clock: None,
        }
    }
}
