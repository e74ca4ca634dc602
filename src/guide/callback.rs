//! What runs on the audio thread of the guide's output. Nothing here allocates, locks, waits, logs, panics or calls
//! the system; `tests/realtime` enforces it.

use super::{controls::GuideControls, tone::GuideTone};
use cpal::FromSample;
use std::sync::{
    Arc,
    atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering},
};

/// The state of the output, in atomics.
#[derive(Debug, Default)]
pub struct OutputHealth {
    frames: AtomicU64,
    faded_out: AtomicBool,
    /// 0, or why the stream is of no more use.
    fault: AtomicU8,
}

/// Faults, as they are kept in the atomic.
const FAULTS: [&str; 3] = [
    "it was disconnected",
    "the sound system switched to another output",
    "the sound system ended the stream",
];

impl OutputHealth {
    /// Frames that the device has asked for.
    pub fn frames(&self) -> u64 {
        self.frames.load(Ordering::Acquire)
    }

    /// Whether the guide has been faded out to nothing, and not only rests between two pips.
    pub fn has_faded_out(&self) -> bool {
        self.faded_out.load(Ordering::Acquire)
    }

    /// Sorts an error of the stream into what it means; the first one that ends it stays.
    pub fn note_stream_error(&self, kind: cpal::ErrorKind) {
        use cpal::ErrorKind;
        let fault = match kind {
            // A gap in the guide is heard and forgotten.
            ErrorKind::Xrun | ErrorKind::RealtimeDenied => return,
            ErrorKind::DeviceNotAvailable => 1,
            ErrorKind::DeviceChanged => 2,
            _ => 3,
        };
        let _first_stays =
            self.fault
                .compare_exchange(0, fault, Ordering::AcqRel, Ordering::Relaxed);
    }

    /// Why the output is of no more use.
    pub fn fault(&self) -> Option<&'static str> {
        let code = usize::from(self.fault.load(Ordering::Acquire));
        code.checked_sub(1)
            .and_then(|index| FAULTS.get(index))
            .copied()
    }
}

/// The data callback of the guide's stream.
#[derive(Debug)]
pub struct GuideCallback {
    tone: GuideTone,
    controls: Arc<GuideControls>,
    health: Arc<OutputHealth>,
    channels: usize,
}

impl GuideCallback {
    /// For a device of so many channels; the guide sounds on the first two.
    pub fn new(
        sample_rate_hz: u32,
        channels: u16,
        controls: Arc<GuideControls>,
        health: Arc<OutputHealth>,
    ) -> Self {
        Self {
            tone: GuideTone::new(sample_rate_hz),
            controls,
            health,
            channels: usize::from(channels.max(1)),
        }
    }

    /// Fills what the device asks for. Real-time safe; any length will do. An output that has a fault gets silence: it
    /// may be another one than the one that was chosen.
    pub fn fill<T: Copy + FromSample<f32>>(&mut self, data: &mut [T]) {
        let silence = T::from_sample_(0.0);
        let wanted = self.tone.follow(&self.controls);
        let faulty = self.health.fault().is_some();
        for frame in data.chunks_mut(self.channels) {
            let sample = self.tone.next(wanted);
            let sample = if faulty {
                silence
            } else {
                T::from_sample_(sample)
            };
            for (channel, value) in frame.iter_mut().enumerate() {
                *value = if channel < 2 { sample } else { silence };
            }
        }
        let frames = (data.len() / self.channels) as u64;
        self.health
            .faded_out
            .store(self.tone.has_faded_out(), Ordering::Release);
        self.health.frames.fetch_add(frames, Ordering::AcqRel);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn callback(channels: u16) -> (GuideCallback, Arc<GuideControls>, Arc<OutputHealth>) {
        let controls = Arc::new(GuideControls::default());
        let health = Arc::new(OutputHealth::default());
        let callback = GuideCallback::new(48_000, channels, controls.clone(), health.clone());
        (callback, controls, health)
    }

    #[test]
    fn it_sounds_on_the_first_two_channels_and_fills_every_format() {
        let (mut callback, controls, health) = callback(4);
        let mut block = vec![i16::MIN; 4 * 4800];
        for _ in 0..10 {
            controls.set_offset(1.0);
            callback.fill(&mut block);
        }
        let frames: Vec<_> = block.chunks(4).collect();
        assert!(frames.iter().any(|frame| frame[0] != 0));
        assert!(
            frames
                .iter()
                .all(|frame| frame[0] == frame[1] && frame[2..] == [0, 0])
        );
        assert_eq!(health.frames(), 48_000);
        // Half a frame, and nothing at all.
        callback.fill(&mut block[..3]);
        callback.fill(&mut block[..0]);
        // Unsigned silence is the middle.
        let mut unsigned = vec![0_u16; 8];
        controls.set_offset(0.0);
        callback.fill(&mut vec![0.0_f32; 4 * 4800]);
        callback.fill(&mut unsigned);
        assert_eq!(unsigned, [32_768; 8]);
    }

    #[test]
    fn after_a_fault_there_is_silence() {
        let (mut callback, controls, health) = callback(2);
        health.note_stream_error(cpal::ErrorKind::Xrun);
        assert_eq!(health.fault(), None);
        health.note_stream_error(cpal::ErrorKind::DeviceChanged);
        health.note_stream_error(cpal::ErrorKind::BackendError);
        assert_eq!(health.fault(), Some(FAULTS[1]));
        let mut block = vec![1.0_f32; 96_000];
        controls.set_offset(1.0);
        callback.fill(&mut block);
        assert!(block.iter().all(|sample| *sample == 0.0));
    }
}
