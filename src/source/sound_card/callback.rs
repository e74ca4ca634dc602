//! What runs on the audio thread: convert, pick, copy into the ring. Nothing else.
//!
//! [`CaptureCallback::take`] never allocates, locks, waits, logs, panics or calls the system; `tests/realtime`
//! enforces it. What the audio thread and the error callback have to tell goes through the atomics of
//! [`StreamHealth`], which the supervisor looks at.

use crate::source::{SourceError, ring::FrameProducer};
use std::sync::{
    Arc,
    atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering},
};

/// A sample as a device delivers it.
pub trait CaptureSample: Copy + Send + 'static {
    /// The sample with full scale at ±1.0.
    fn to_full_scale(self) -> f32;
}

/// Full scale of a sample held in the upper bits of 32.
const FULL_SCALE_32: f32 = 2_147_483_648.0;

impl CaptureSample for f32 {
    fn to_full_scale(self) -> f32 {
        self
    }
}

impl CaptureSample for f64 {
    fn to_full_scale(self) -> f32 {
        self as f32
    }
}

impl CaptureSample for i32 {
    fn to_full_scale(self) -> f32 {
        self as f32 / FULL_SCALE_32
    }
}

impl CaptureSample for i16 {
    fn to_full_scale(self) -> f32 {
        f32::from(self) / 32_768.0
    }
}

impl CaptureSample for i8 {
    fn to_full_scale(self) -> f32 {
        f32::from(self) / 128.0
    }
}

impl CaptureSample for u32 {
    fn to_full_scale(self) -> f32 {
        ((self ^ (1 << 31)) as i32).to_full_scale()
    }
}

impl CaptureSample for u16 {
    fn to_full_scale(self) -> f32 {
        ((self ^ (1 << 15)) as i16).to_full_scale()
    }
}

impl CaptureSample for u8 {
    fn to_full_scale(self) -> f32 {
        ((self ^ (1 << 7)) as i8).to_full_scale()
    }
}

/// The lower three bytes count; what a driver leaves in the fourth (sign, zeros, rubbish) does not.
impl CaptureSample for cpal::I24 {
    fn to_full_scale(self) -> f32 {
        (self.inner() << 8).to_full_scale()
    }
}

/// As for the signed kind.
impl CaptureSample for cpal::U24 {
    fn to_full_scale(self) -> f32 {
        ((self.inner() << 8) as u32).to_full_scale()
    }
}

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

    /// From now on what the device hands over is ignored.
    pub fn close(&self) {
        self.closed.store(true, Ordering::Release);
    }

    /// Whether [`Self::close`] was called.
    pub fn is_closed(&self) -> bool {
        self.closed.load(Ordering::Acquire)
    }
}

/// The data callback of a capture stream.
pub struct CaptureCallback {
    frames: FrameProducer,
    device_channels: usize,
    picks: [usize; 2],
    picked: usize,
    health: Arc<StreamHealth>,
    seen_xruns: u64,
    seen_silent_losses: u64,
}

impl CaptureCallback {
    /// Takes frames of `device_channels` samples and writes the channels `picks` (one or two, counted from 0).
    ///
    /// # Errors
    /// When a picked channel is not in the frame or the ring is not made for as many channels.
    pub fn new(
        frames: FrameProducer,
        device_channels: usize,
        picks: &[usize],
        health: Arc<StreamHealth>,
    ) -> Result<Self, SourceError> {
        let (first, second) = match *picks {
            [only] => (only, only),
            [first, second] => (first, second),
            _ => {
                return Err(SourceError(format!(
                    "{} channels picked, one or two are possible",
                    picks.len()
                )));
            }
        };
        if let Some(missing) = picks.iter().find(|&&pick| pick >= device_channels) {
            return Err(SourceError(format!(
                "channel {} picked out of {device_channels}",
                missing + 1
            )));
        }
        if frames.channels() != picks.len() {
            return Err(SourceError(format!(
                "{} channels picked for a ring of {}",
                picks.len(),
                frames.channels()
            )));
        }
        Ok(Self {
            frames,
            device_channels,
            picks: [first, second],
            picked: picks.len(),
            health,
            seen_xruns: 0,
            seen_silent_losses: 0,
        })
    }

    /// Takes what the device hands over. Real-time safe; any length will do.
    pub fn take<T: CaptureSample>(&mut self, data: &[T]) {
        if self.health.is_closed() {
            return;
        }
        self.mark_told_losses();
        let picks = &self.picks[..self.picked];
        self.frames
            .push_picked(data, self.device_channels, picks, T::to_full_scale);
        let frames = data.len() / self.device_channels;
        if !data.len().is_multiple_of(self.device_channels) {
            // Half a frame: the rest of it will not come.
            self.frames.mark_gap(None);
        }
        self.health
            .captured_frames
            .fetch_add(frames as u64, Ordering::AcqRel);
    }

    fn mark_told_losses(&mut self) {
        let xruns = self.health.xruns.load(Ordering::Acquire);
        if xruns != self.seen_xruns {
            self.seen_xruns = xruns;
            self.frames.mark_gap(None);
        }
        let silent_losses = self.health.silent_losses.load(Ordering::Acquire);
        if silent_losses != self.seen_silent_losses {
            self.seen_silent_losses = silent_losses;
            let lost = self.health.silently_lost_frames.swap(0, Ordering::AcqRel);
            self.frames.mark_gap(Some(lost));
        }
    }
}

impl Drop for CaptureCallback {
    fn drop(&mut self) {
        self.health.callback_gone.store(true, Ordering::Release);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::ring::{FrameConsumer, Popped, ring};

    fn callback(
        device_channels: usize,
        picks: &[usize],
    ) -> (CaptureCallback, FrameConsumer, Arc<StreamHealth>) {
        let (producer, consumer) = ring(picks.len(), 64);
        let health = Arc::new(StreamHealth::default());
        let callback = CaptureCallback::new(producer, device_channels, picks, health.clone());
        (callback.expect("a fair pick"), consumer, health)
    }

    fn drain(consumer: &mut FrameConsumer) -> Vec<Popped> {
        let mut out = [0.0; 128];
        std::iter::from_fn(|| match consumer.pop(&mut out) {
            Popped::Frames(0) => None,
            popped => Some(popped),
        })
        .collect()
    }

    fn full_scale_of<T: CaptureSample>(samples: &[T]) -> Vec<f32> {
        let (mut callback, mut consumer, _health) = callback(1, &[0]);
        callback.take(samples);
        let mut out = vec![0.0; samples.len()];
        assert_eq!(consumer.pop(&mut out), Popped::Frames(samples.len()));
        out
    }

    #[test]
    fn every_format_has_full_scale_at_one_and_zero_in_the_middle() {
        assert_eq!(full_scale_of(&[-1.5_f32, 0.0, 0.25]), [-1.5, 0.0, 0.25]);
        assert_eq!(full_scale_of(&[-1.0_f64, 0.0, 0.25]), [-1.0, 0.0, 0.25]);
        assert_eq!(full_scale_of(&[i32::MIN, 0, 1 << 30]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[i16::MIN, 0, 1 << 14]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[i8::MIN, 0, 1 << 6]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[0_u32, 1 << 31, 3 << 30]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[0_u16, 1 << 15, 3 << 14]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[0_u8, 1 << 7, 3 << 6]), [-1.0, 0.0, 0.5]);
        let smallest = 1.0 / 8_388_608.0;
        assert_eq!(full_scale_of(&[1 << 8_i32]), [smallest]);
        assert_eq!(full_scale_of(&[1_i16]), [256.0 * smallest]);
    }

    #[test]
    fn the_fourth_byte_of_a_24_bit_sample_does_not_matter() {
        let i24 = |bits: u32| cpal::I24::new_unchecked(bits as i32);
        let minus_one_step = -1.0 / 8_388_608.0;
        let samples = [
            0x00_FF_FF_FF,
            0xFF_FF_FF_FF,
            0x5A_FF_FF_FF,
            0x00_80_00_00,
            0xFF_40_00_00,
        ]
        .map(i24);
        let expected = [minus_one_step, minus_one_step, minus_one_step, -1.0, 0.5];
        assert_eq!(full_scale_of(&samples), expected);
        let u24 = |bits: u32| cpal::U24::new_unchecked(bits as i32);
        let samples = [0x00_00_00_00, 0xAA_80_00_00, 0x00_C0_00_00].map(u24);
        assert_eq!(full_scale_of(&samples), [-1.0, 0.0, 0.5]);
    }

    #[test]
    fn two_channels_of_four_are_picked_in_the_order_named() {
        let (mut callback, mut consumer, _health) = callback(4, &[3, 2]);
        callback.take(&[1.0_f32, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]);
        let mut out = [0.0; 4];
        assert_eq!(consumer.pop(&mut out), Popped::Frames(2));
        assert_eq!(out, [4.0, 3.0, 8.0, 7.0]);
    }

    #[test]
    fn half_a_frame_is_a_gap_and_nothing_is_too_short() {
        let (mut callback, mut consumer, health) = callback(3, &[0, 2]);
        callback.take::<i16>(&[]);
        assert_eq!(health.captured_frames(), 0);
        callback.take(&[1_i16, 2, 3, 4]);
        callback.take(&[1_i16, 2, 3]);
        assert_eq!(health.captured_frames(), 2);
        assert_eq!(
            drain(&mut consumer),
            [Popped::Frames(1), Popped::Gap(0), Popped::Frames(1)]
        );
    }

    #[test]
    fn an_xrun_and_a_silent_loss_are_gaps_before_the_next_frames() {
        let (mut callback, mut consumer, health) = callback(1, &[0]);
        callback.take(&[0.5_f32]);
        health.note_stream_error(cpal::ErrorKind::Xrun);
        health.note_stream_error(cpal::ErrorKind::Xrun);
        callback.take(&[0.5_f32]);
        health.note_silent_loss(40);
        health.note_silent_loss(2);
        callback.take(&[0.5_f32; 2]);
        callback.take(&[0.5_f32; 2]);
        let one_gap_each = [
            Popped::Frames(1),
            Popped::Gap(0),
            Popped::Frames(1),
            Popped::Gap(42),
            Popped::Frames(4),
        ];
        assert_eq!(drain(&mut consumer), one_gap_each);
        assert_eq!((consumer.lost_frames(), consumer.gaps()), (42, 2));
    }

    #[test]
    fn a_closed_stream_delivers_nothing_more() {
        let (mut callback, mut consumer, health) = callback(1, &[0]);
        health.close();
        callback.take(&[0.5_f32]);
        assert_eq!(drain(&mut consumer), []);
        assert!(!health.callback_gone());
        drop(callback);
        assert!(health.callback_gone());
    }

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

    #[test]
    fn picks_that_cannot_be_are_refused() {
        let try_picks = |device_channels, ring_channels, picks: &[usize]| {
            let (producer, _consumer) = ring(ring_channels, 4);
            CaptureCallback::new(producer, device_channels, picks, Arc::default()).err()
        };
        assert!(try_picks(2, 2, &[0, 1]).is_none());
        assert!(try_picks(2, 2, &[0, 2]).is_some());
        assert!(try_picks(0, 1, &[0]).is_some());
        assert!(try_picks(2, 2, &[0]).is_some());
        assert!(try_picks(4, 3, &[0, 1, 2]).is_some());
    }
}
