//! The ring between a source and the worker: samples in order, and where samples are missing.
//!
//! The producer's methods never allocate, lock, wait or call the system, so they may be used in an audio callback.
//! What does not fit is dropped *and told*: the consumer meets a gap mark exactly where frames are missing.

use ringbuf::{
    HeapCons, HeapProd, HeapRb,
    traits::{Consumer as _, Observer as _, Producer as _, Split as _},
};
use std::sync::{
    Arc,
    atomic::{AtomicU64, Ordering},
};

/// Gap marks that may wait to be read. When they run out, frames are dropped until the consumer catches up.
const GAP_MARKS: usize = 64;

/// A place in the stream where frames are missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Gap {
    /// Number of frames delivered before the gap.
    at_frame: u64,
    /// Frames known to be missing; 0 when the device does not tell how many.
    lost_frames: u64,
}

/// Losses so far, readable from any thread.
#[derive(Debug, Default)]
struct Losses {
    lost_frames: AtomicU64,
    gaps: AtomicU64,
}

/// The writing end, owned by the source.
pub struct FrameProducer {
    samples: HeapProd<f32>,
    gaps: HeapProd<Gap>,
    losses: Arc<Losses>,
    channels: usize,
    delivered_frames: u64,
    /// A gap that is not in the stream yet, with the frames lost in it so far.
    open_gap: Option<u64>,
}

/// The reading end, owned by the worker.
pub struct FrameConsumer {
    samples: HeapCons<f32>,
    gaps: HeapCons<Gap>,
    losses: Arc<Losses>,
    channels: usize,
    taken_frames: u64,
}

impl std::fmt::Debug for FrameConsumer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("FrameConsumer")
            .field("channels", &self.channels)
            .field("taken_frames", &self.taken_frames)
            .finish_non_exhaustive()
    }
}

/// What [`FrameConsumer::pop`] brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Popped {
    /// This many frames were written to the buffer.
    Frames(usize),
    /// Frames are missing here: how many, or 0 when that is not known.
    Gap(u64),
}

/// Makes a ring for `capacity_frames` frames of `channels` interleaved samples. Allocates; the ends do not.
pub fn ring(channels: usize, capacity_frames: usize) -> (FrameProducer, FrameConsumer) {
    assert!(channels > 0, "a ring needs at least one channel");
    let (samples_in, samples_out) = HeapRb::new(capacity_frames.max(1) * channels).split();
    let (gaps_in, gaps_out) = HeapRb::new(GAP_MARKS).split();
    let losses = Arc::new(Losses::default());
    (
        FrameProducer {
            samples: samples_in,
            gaps: gaps_in,
            losses: losses.clone(),
            channels,
            delivered_frames: 0,
            open_gap: None,
        },
        FrameConsumer {
            samples: samples_out,
            gaps: gaps_out,
            losses,
            channels,
            taken_frames: 0,
        },
    )
}

impl FrameProducer {
    /// Copies whole interleaved frames in; returns how many fitted. The rest is lost and told as a gap.
    /// Real-time safe.
    pub fn push(&mut self, interleaved: &[f32]) -> usize {
        let frames = interleaved.len() / self.channels;
        let fitting = self.room_frames().min(frames);
        let pushed = self
            .samples
            .push_slice(&interleaved[..fitting * self.channels]);
        self.account(frames, pushed / self.channels)
    }

    /// Picks channels out of wider frames, converts and copies them in: `picks[c]` is the index in each
    /// `stride`-sample frame of `data` that becomes channel `c`. Returns how many frames fitted. Real-time safe.
    pub fn push_picked<T: Copy>(
        &mut self,
        data: &[T],
        stride: usize,
        picks: &[usize],
        to_f32: impl Fn(T) -> f32,
    ) -> usize {
        debug_assert_eq!(picks.len(), self.channels);
        if stride == 0 {
            return 0;
        }
        let frames = data.len() / stride;
        let fitting = self.room_frames().min(frames);
        let picked = data
            .chunks_exact(stride)
            .take(fitting)
            .flat_map(|frame| picks.iter().map(|&pick| to_f32(frame[pick])));
        let pushed = self.samples.push_iter(picked);
        self.account(frames, pushed / self.channels)
    }

    /// Tells that the device itself lost frames before the next ones pushed (`None`: it does not say how many).
    /// Real-time safe.
    pub fn mark_gap(&mut self, lost_frames: Option<u64>) {
        let lost = lost_frames.unwrap_or(0);
        if self.open_gap.is_none() {
            self.losses.gaps.fetch_add(1, Ordering::Relaxed);
        }
        self.open_gap = Some(self.open_gap.unwrap_or(0) + lost);
        self.losses.lost_frames.fetch_add(lost, Ordering::Relaxed);
    }

    /// Frames that can be pushed now without loss. Real-time safe.
    pub fn room_frames(&mut self) -> usize {
        self.close_gap();
        if self.open_gap.is_some() {
            return 0;
        }
        self.samples.vacant_len() / self.channels
    }

    /// Channels in a frame.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Writes the mark of an open gap. It goes in before any sample that follows it, so that a consumer that sees
    /// the sample also sees the mark.
    fn close_gap(&mut self) {
        if let Some(lost_frames) = self.open_gap {
            let mark = Gap {
                at_frame: self.delivered_frames,
                lost_frames,
            };
            if self.gaps.try_push(mark).is_ok() {
                self.open_gap = None;
            }
        }
    }

    fn account(&mut self, offered: usize, pushed: usize) -> usize {
        self.delivered_frames += pushed as u64;
        if pushed < offered {
            self.mark_gap(Some((offered - pushed) as u64));
        }
        pushed
    }
}

impl FrameConsumer {
    /// Takes the next frames, at most as many as fit in `interleaved`, or the gap that stands before them.
    /// `Frames(0)`: nothing there at the moment.
    pub fn pop(&mut self, interleaved: &mut [f32]) -> Popped {
        // The number of samples is read before the gap marks: see `FrameProducer::close_gap`.
        let available = self.samples.occupied_len() / self.channels;
        let mut frames = available.min(interleaved.len() / self.channels);
        if let Some(gap) = self.gaps.try_peek() {
            let before_gap = gap.at_frame - self.taken_frames;
            if before_gap == 0 {
                let lost_frames = gap.lost_frames;
                self.gaps.try_pop();
                return Popped::Gap(lost_frames);
            }
            frames = frames.min(usize::try_from(before_gap).unwrap_or(usize::MAX));
        }
        let taken = self
            .samples
            .pop_slice(&mut interleaved[..frames * self.channels])
            / self.channels;
        self.taken_frames += taken as u64;
        Popped::Frames(taken)
    }

    /// Frames lost so far in this ring, whether or not their gap has been reached.
    pub fn lost_frames(&self) -> u64 {
        self.losses.lost_frames.load(Ordering::Relaxed)
    }

    /// Gaps so far in this ring.
    pub fn gaps(&self) -> u64 {
        self.losses.gaps.load(Ordering::Relaxed)
    }

    /// Whether the producer is gone and everything it delivered has been taken.
    pub fn is_finished(&self) -> bool {
        !self.samples.write_is_held() && self.samples.is_empty() && self.gaps.is_empty()
    }

    /// Channels in a frame.
    pub fn channels(&self) -> usize {
        self.channels
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overflow_is_told_exactly_where_frames_are_missing() {
        let (mut producer, mut consumer) = ring(2, 3);
        let frames: Vec<f32> = (0..10).map(|i| i as f32).collect();
        assert_eq!(producer.push(&frames), 3);
        assert_eq!(consumer.lost_frames(), 2);
        let mut out = [0.0; 8];
        assert_eq!(consumer.pop(&mut out), Popped::Frames(3));
        assert_eq!(out[..6], frames[..6]);
        assert_eq!(consumer.pop(&mut out), Popped::Frames(0));
        assert_eq!(producer.push(&[20.0, 21.0]), 1);
        assert_eq!(consumer.pop(&mut out), Popped::Gap(2));
        assert_eq!(consumer.pop(&mut out), Popped::Frames(1));
        assert_eq!(out[..2], [20.0, 21.0]);
        assert_eq!((consumer.lost_frames(), consumer.gaps()), (2, 1));
    }

    #[test]
    fn picks_and_converts_two_channels_of_four() {
        let (mut producer, mut consumer) = ring(2, 8);
        let data: [i16; 8] = [1, 2, 3, 4, 5, 6, 7, 8];
        assert_eq!(producer.push_picked(&data, 4, &[2, 0], f32::from), 2);
        let mut out = [0.0; 4];
        assert_eq!(consumer.pop(&mut out), Popped::Frames(2));
        assert_eq!(out, [3.0, 1.0, 7.0, 5.0]);
    }

    #[test]
    fn more_gaps_than_marks_lose_frames_but_no_count() {
        let (mut producer, mut consumer) = ring(1, 1024);
        for i in 0..200 {
            producer.push(&[i as f32]);
            producer.mark_gap(None);
        }
        let (mut frames, mut gaps, mut lost) = (0, 0, 0);
        let mut out = [0.0; 16];
        loop {
            producer.room_frames();
            match consumer.pop(&mut out) {
                Popped::Frames(0) => break,
                Popped::Frames(n) => frames += n,
                Popped::Gap(n) => {
                    gaps += 1;
                    lost += n;
                }
            }
        }
        assert_eq!(frames as u64 + lost, 200);
        assert_eq!(lost, consumer.lost_frames());
        assert_eq!(gaps, consumer.gaps());
    }
}
