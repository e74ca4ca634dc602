//! What the audio thread and the error callback have to tell, in atomics that the supervisor looks at.

use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering};

/// Why a stream is of no more use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum StreamFault {
    /// The device was unplugged or switched off.
    Disconnected = 1,
    /// The sound server or driver ended the stream or fails for good.
    Broken = 2,
    /// The system no longer lets us record.
    Denied = 3,
    /// The system moved the stream to another device.
    Rerouted = 4,
}

impl StreamFault {
    const fn from_code(code: u8) -> Option<Self> {
        match code {
            1 => Some(Self::Disconnected),
            2 => Some(Self::Broken),
            3 => Some(Self::Denied),
            4 => Some(Self::Rerouted),
            _ => None,
        }
    }

    /// The fault in a few words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Disconnected => "it was disconnected",
            Self::Broken => "the sound system ended the stream",
            Self::Denied => "the system refuses access",
            Self::Rerouted => "the sound system switched to another input",
        }
    }
}

/// The state of a running stream, written by the audio thread and the error callback, read by the supervisor.
/// All of it is atomics: writing costs nothing and never waits.
#[derive(Debug, Default)]
pub struct StreamHealth {
    captured_frames: AtomicU64,
    xruns: AtomicU64,
    silent_losses: AtomicU64,
    silently_lost_frames: AtomicU64,
    fault: AtomicU8,
    callback_gone: AtomicBool,
    closed: AtomicBool,
}

impl StreamHealth {
    /// Frames the device has handed over so far.
    pub fn captured_frames(&self) -> u64 {
        self.captured_frames.load(Ordering::Acquire)
    }

    /// Tells that the device lost frames before the ones it hands over next, and does not say how many.
    pub fn note_xrun(&self) {
        self.xruns.fetch_add(1, Ordering::AcqRel);
    }

    /// Tells that `frames` are missing of which neither the device nor the system said a word.
    pub fn note_silent_loss(&self, frames: u64) {
        self.silently_lost_frames
            .fetch_add(frames, Ordering::AcqRel);
        self.silent_losses.fetch_add(1, Ordering::AcqRel);
    }

    /// Notes a fault; the first one stays.
    pub fn note_fault(&self, fault: StreamFault) {
        let _first_stays =
            self.fault
                .compare_exchange(0, fault as u8, Ordering::AcqRel, Ordering::Relaxed);
    }

    /// Sorts an error of the stream into what it means. May be called tens of thousands of times a second.
    pub fn note_stream_error(&self, kind: cpal::ErrorKind) {
        use cpal::ErrorKind;
        match kind {
            ErrorKind::Xrun => self.note_xrun(),
            // The stream runs on, only with a less urgent thread.
            ErrorKind::RealtimeDenied => {}
            ErrorKind::DeviceChanged => self.note_fault(StreamFault::Rerouted),
            ErrorKind::DeviceNotAvailable => self.note_fault(StreamFault::Disconnected),
            ErrorKind::PermissionDenied => self.note_fault(StreamFault::Denied),
            _ => self.note_fault(StreamFault::Broken),
        }
    }

    /// The first fault, if any.
    pub fn fault(&self) -> Option<StreamFault> {
        StreamFault::from_code(self.fault.load(Ordering::Acquire))
    }

    /// Whether the system has thrown the callback away: no more frames can come.
    pub fn callback_gone(&self) -> bool {
        self.callback_gone.load(Ordering::Acquire)
    }

    /// For the callback: frames that were handed over.
    pub(super) fn note_captured(&self, frames: u64) {
        self.captured_frames.fetch_add(frames, Ordering::AcqRel);
    }

    /// For the callback: how many xruns were noted so far.
    pub(super) fn xruns(&self) -> u64 {
        self.xruns.load(Ordering::Acquire)
    }

    /// For the callback: how many silent losses were noted so far.
    pub(super) fn silent_losses(&self) -> u64 {
        self.silent_losses.load(Ordering::Acquire)
    }

    /// For the callback: the frames of the silent losses that have not been taken yet.
    pub(super) fn take_silently_lost_frames(&self) -> u64 {
        self.silently_lost_frames.swap(0, Ordering::AcqRel)
    }

    /// For the callback when it is dropped.
    pub(super) fn note_callback_gone(&self) {
        self.callback_gone.store(true, Ordering::Release);
    }

    /// From now on what the device hands over is ignored.
    pub fn close(&self) {
        self.closed.store(true, Ordering::Release);
    }

    /// Whether [`Self::close`] was called.
    pub fn is_closed(&self) -> bool {
        self.closed.load(Ordering::Acquire)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_are_sorted_and_the_first_fault_stays() {
        let health = StreamHealth::default();
        health.note_stream_error(cpal::ErrorKind::RealtimeDenied);
        health.note_stream_error(cpal::ErrorKind::Xrun);
        assert_eq!(health.fault(), None);
        health.note_stream_error(cpal::ErrorKind::DeviceNotAvailable);
        health.note_stream_error(cpal::ErrorKind::BackendError);
        assert_eq!(health.fault(), Some(StreamFault::Disconnected));
        for fault in [
            StreamFault::Disconnected,
            StreamFault::Broken,
            StreamFault::Denied,
            StreamFault::Rerouted,
        ] {
            assert_eq!(StreamFault::from_code(fault as u8), Some(fault));
        }
    }
}
