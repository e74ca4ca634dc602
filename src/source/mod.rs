//! Where samples come from: the sound card, a recording, or the virtual deck, each into the same ring.

pub mod paced;
pub mod recording;
pub mod ring;
pub mod sound_card;
pub mod take_writer;
pub mod virtual_deck;

use crate::readings::SourceDescription;

/// Why a source cannot be opened or cannot go on: one line that says what to do, with the offending value in it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct SourceError(pub String);

/// A source that is asked for frames (a recording, the virtual deck), as fast or as slow as the caller likes.
pub trait FrameSource: Send {
    /// What it is; does not change while it is read.
    fn description(&self) -> &SourceDescription;

    /// Fills `interleaved` (a whole number of frames of `description().channels` samples, nominally within ±1.0)
    /// and returns the number of *frames* written; less than asked only at the end, 0 after it.
    ///
    /// # Errors
    /// When the file is damaged beyond this point or cannot be read.
    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError>;

    /// What is wrong with what was read so far, in words; `None` when nothing is. May first show at the end.
    fn damage(&self) -> Option<&str> {
        None
    }
}

/// What a running source tells the worker. Sent by the source's own supervising thread, never by an audio callback.
#[derive(Debug)]
pub enum SourceEvent {
    /// A stream is open; its frames arrive in this ring until the next event.
    Opened {
        /// What really runs.
        description: SourceDescription,
        /// The worker's end of the new ring.
        frames: ring::FrameConsumer,
    },
    /// The device went away; the source goes on trying to reopen it. The text names what is waited for.
    Lost(String),
    /// What was delivered so far is damaged or incomplete; the text says how. Frames go on coming.
    Damaged(String),
    /// No more frames will come (the ring may still hold some).
    Ended,
    /// The source cannot go on; one line that says why and what to do.
    Failed(String),
}

/// A running source: events to read, and a stop that takes effect when it is dropped.
pub struct RunningSource {
    /// What the source tells.
    pub events: crossbeam_channel::Receiver<SourceEvent>,
    /// Dropping it stops the source's threads.
    pub stop: StopOnDrop,
}

/// Tells a source's threads to stop when it goes out of scope.
pub struct StopOnDrop(std::sync::Arc<std::sync::atomic::AtomicBool>);

impl StopOnDrop {
    /// A fresh flag and its reader; the reader turns true when the guard is dropped.
    pub fn new() -> (Self, std::sync::Arc<std::sync::atomic::AtomicBool>) {
        let flag = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
        (Self(flag.clone()), flag)
    }
}

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, std::sync::atomic::Ordering::Release);
    }
}
