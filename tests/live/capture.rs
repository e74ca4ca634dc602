//! Listens to a source and keeps everything it says and delivers.

use std::{
    thread,
    time::{Duration, Instant},
};
use trimwatch::{
    readings::SourceDescription,
    source::{
        RunningSource, SourceEvent,
        ring::{FrameConsumer, Popped},
        sound_card::{self, InputChoice},
    },
};

/// What came between one opening and the next.
pub struct Segment {
    pub description: SourceDescription,
    /// Interleaved.
    pub samples: Vec<f32>,
    pub lost_frames: u64,
    pub gaps: u64,
}

impl Segment {
    pub fn frames(&self) -> usize {
        self.samples.len() / usize::from(self.description.channels)
    }

    /// Fails unless nothing at all was lost.
    pub fn assert_whole(&self) {
        assert_eq!(
            (self.lost_frames, self.gaps),
            (0, 0),
            "lost frames and gaps"
        );
    }
}

pub struct Capture {
    source: RunningSource,
    open: Option<FrameConsumer>,
    pub segments: Vec<Segment>,
    /// What was said at each loss.
    pub losses: Vec<String>,
    chunk: Vec<f32>,
}

/// A choice by name.
pub fn input(name: &str) -> InputChoice {
    InputChoice {
        input: Some(name.into()),
        ..InputChoice::default()
    }
}

/// A choice by name and rate.
pub fn input_at(name: &str, sample_rate_hz: u32) -> InputChoice {
    InputChoice {
        sample_rate_hz: Some(sample_rate_hz),
        ..input(name)
    }
}

impl Capture {
    pub fn open(choice: &InputChoice) -> Self {
        let source = sound_card::open(choice).unwrap_or_else(|error| panic!("{choice:?}: {error}"));
        let mut capture = Self {
            source,
            open: None,
            segments: Vec::new(),
            losses: Vec::new(),
            chunk: vec![0.0; 8192],
        };
        assert!(capture.run(Duration::from_secs(1), |capture| {
            !capture.segments.is_empty()
        }));
        capture
    }

    /// Listens until `done` or until the time is over; returns whether it was `done`.
    pub fn run(&mut self, limit: Duration, mut done: impl FnMut(&Self) -> bool) -> bool {
        let deadline = Instant::now() + limit;
        loop {
            while let Ok(event) = self.source.events.try_recv() {
                self.note(event);
            }
            self.drain();
            if done(self) {
                return true;
            }
            if Instant::now() > deadline {
                return false;
            }
            thread::sleep(Duration::from_millis(4));
        }
    }

    /// Listens for this long.
    pub fn run_for(&mut self, time: Duration) {
        self.run(time, |_| false);
    }

    /// The latest segment.
    pub fn latest(&self) -> &Segment {
        self.segments.last().expect("opened once")
    }

    fn note(&mut self, event: SourceEvent) {
        self.drain();
        match event {
            SourceEvent::Opened {
                description,
                frames,
            } => {
                println!("opened: {description:?}");
                self.open = Some(frames);
                self.segments.push(Segment {
                    description,
                    samples: Vec::new(),
                    lost_frames: 0,
                    gaps: 0,
                });
            }
            SourceEvent::Damaged(how) => panic!("a sound card is not damaged: {how}"),
            SourceEvent::Lost(text) => {
                println!("lost: {text}");
                self.losses.push(text);
            }
            SourceEvent::Ended => panic!("a live source does not end"),
            SourceEvent::Failed(text) => panic!("failed: {text}"),
        }
    }

    fn drain(&mut self) {
        let (Some(frames), Some(segment)) = (&mut self.open, self.segments.last_mut()) else {
            return;
        };
        loop {
            match frames.pop(&mut self.chunk) {
                Popped::Frames(0) => break,
                Popped::Frames(count) => {
                    let samples = count * frames.channels();
                    segment.samples.extend_from_slice(&self.chunk[..samples]);
                }
                Popped::Gap(_) => {}
            }
        }
        segment.lost_frames = frames.lost_frames();
        segment.gaps = frames.gaps();
    }
}

/// Where in `captured` the piece begins that starts as `played` does; exact to the bit.
pub fn locate(captured: &[f32], played: &[f32], channels: usize) -> Option<usize> {
    const ENOUGH: usize = 64;
    let start = &played[..(ENOUGH * channels).min(played.len())];
    (0..captured.len().saturating_sub(start.len()) / channels)
        .find(|frame| captured[frame * channels..].starts_with(start))
}

/// How many frames from the start are the same in both, to the bit.
pub fn same_frames(captured: &[f32], played: &[f32], channels: usize) -> usize {
    let same = captured
        .iter()
        .zip(played)
        .take_while(|(one, other)| one.to_bits() == other.to_bits());
    same.count() / channels
}
