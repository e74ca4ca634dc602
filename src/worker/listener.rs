//! A measurement of the interface beside the meters: the same frames, raw, as they come from the ring.

use crate::profile::{Heard, ListenFor, Listening};
use crossbeam_channel::{Sender, TrySendError};

/// What is heard is told this often, times a second of the input: making a reading is no small work.
const TELLS_A_SECOND: f64 = 4.0;

/// It listens for as long as somebody wants to know.
pub(super) struct Listener {
    listening: Listening,
    told: Sender<Heard>,
    tell_every_frames: f64,
    untold_frames: f64,
}

impl Listener {
    /// For two channels at `sample_rate_hz`.
    pub(super) fn new(to: ListenFor, sample_rate_hz: f64, told: Sender<Heard>) -> Self {
        Self {
            listening: Listening::new(to, sample_rate_hz),
            told,
            tell_every_frames: sample_rate_hz / TELLS_A_SECOND,
            untold_frames: 0.0,
        }
    }

    /// Takes interleaved frames of both inputs in.
    pub(super) fn push(&mut self, interleaved: &[f32]) {
        self.listening.push(interleaved);
        self.untold_frames += interleaved.len() as f64 / 2.0;
    }

    /// Frames are missing before the next.
    pub(super) fn mark_gap(&mut self) {
        self.listening.mark_gap();
    }

    /// Tells what is heard, where it is time; false when nobody wants to know any more. One who is slow to look misses
    /// what was heard meanwhile, not the last of it: that is told as soon as there is room.
    pub(super) fn tell(&mut self) -> bool {
        if self.untold_frames < self.tell_every_frames || self.told.is_full() {
            return true;
        }
        self.untold_frames = 0.0;
        !matches!(
            self.told.try_send(self.listening.heard()),
            Err(TrySendError::Disconnected(_))
        )
    }
}
