//! What runs on the audio thread: convert, pick, copy into the ring. Nothing else.
//!
//! [`CaptureCallback::take`] never allocates, locks, waits, logs, panics or calls the system; `tests/realtime`
//! enforces it. What there is to tell goes through the atomics of [`StreamHealth`].

use super::{health::StreamHealth, sample::CaptureSample};
use crate::source::{SourceError, ring::FrameProducer};
use std::sync::Arc;

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
        self.health.note_captured(frames as u64);
    }

    fn mark_told_losses(&mut self) {
        let xruns = self.health.xruns();
        if xruns != self.seen_xruns {
            self.seen_xruns = xruns;
            self.frames.mark_gap(None);
        }
        let silent_losses = self.health.silent_losses();
        if silent_losses != self.seen_silent_losses {
            self.seen_silent_losses = silent_losses;
            let lost = self.health.take_silently_lost_frames();
            self.frames.mark_gap(Some(lost));
        }
    }
}

impl Drop for CaptureCallback {
    fn drop(&mut self) {
        self.health.note_callback_gone();
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
