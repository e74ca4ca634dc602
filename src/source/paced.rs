//! Plays a [`FrameSource`] in real time, as if a sound card delivered it.

use super::{FrameSource, RunningSource, SourceError, SourceEvent, StopOnDrop, ring};
use crossbeam_channel::Sender;
use std::{
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    thread,
    time::{Duration, Instant},
};

/// Frames are delivered in blocks of about this length, like those of a sound card.
const BLOCK: Duration = Duration::from_millis(5);
/// What the ring holds: how long the worker may be away before frames are lost.
const RING: Duration = Duration::from_secs(1);
/// A delay beyond this (the computer was suspended, the process was stopped) is not made up for: the clock of the
/// play-out moves on instead, and no frame is lost. Shorter than [`RING`], so that catching up never overflows it.
const LONGEST_CATCH_UP: Duration = Duration::from_millis(500);

/// Starts playing `source` in real time; `frame_limit` ends it earlier. `Ended` follows the last frame.
///
/// # Errors
/// When the source's description makes no sense or the system cannot start a thread.
pub fn play_live(
    source: Box<dyn FrameSource>,
    frame_limit: Option<u64>,
) -> Result<RunningSource, SourceError> {
    let description = source.description().clone();
    let rate = description.sample_rate_hz;
    let channels = usize::from(description.channels);
    if rate == 0 || channels == 0 {
        return Err(SourceError(format!(
            "{} has {channels} channels at {rate} Hz; nothing can be played from it",
            description.name
        )));
    }
    let (frames_in, frames_out) = ring::ring(channels, frames_in_time(rate, RING));
    let (events_in, events) = crossbeam_channel::unbounded();
    let (stop, stopped) = StopOnDrop::new();
    let mut player = Player {
        source,
        frames: frames_in,
        block: vec![0.0; frames_in_time(rate, BLOCK) * channels],
        frames_left: frame_limit.unwrap_or(u64::MAX),
        told_damage: false,
    };
    // The reader of the events is right here, so this cannot fail.
    let _sent = events_in.send(SourceEvent::Opened {
        description,
        frames: frames_out,
    });
    thread::Builder::new()
        .name("paced source".into())
        .spawn(move || player.run(rate, &events_in, &stopped))
        .map_err(|error| SourceError(format!("cannot start the playing thread: {error}")))?;
    Ok(RunningSource { events, stop })
}

/// Whole frames in a time at a rate, at least one.
fn frames_in_time(rate_hz: u32, time: Duration) -> usize {
    let frames = u128::from(rate_hz) * time.as_nanos() / NANOS_PER_SECOND;
    usize::try_from(frames).unwrap_or(usize::MAX).max(1)
}

const NANOS_PER_SECOND: u128 = 1_000_000_000;

/// Which frame is due when. Counts frames, never adds up durations, so it does not drift.
struct Pace {
    rate_hz: u32,
    /// When frame 0 would have been heard.
    start: Instant,
    /// Frames delivered.
    delivered: u64,
}

impl Pace {
    fn new(rate_hz: u32, now: Instant) -> Self {
        Self {
            rate_hz,
            start: now,
            delivered: 0,
        }
    }

    /// How long to wait until `frames` more frames have passed; zero when they are due. Forgets a long delay.
    fn wait_for(&mut self, frames: usize, now: Instant) -> Duration {
        let due = self.start + self.time_of(self.delivered + frames as u64);
        let late = now.saturating_duration_since(due);
        if late > LONGEST_CATCH_UP {
            self.start += late;
        }
        due.saturating_duration_since(now)
    }

    fn delivered(&mut self, frames: usize) {
        self.delivered += frames as u64;
    }

    fn time_of(&self, frame: u64) -> Duration {
        let rate = u64::from(self.rate_hz);
        let nanos = u128::from(frame % rate) * NANOS_PER_SECOND / u128::from(rate);
        Duration::new(frame / rate, nanos as u32)
    }
}

struct Player {
    source: Box<dyn FrameSource>,
    frames: ring::FrameProducer,
    block: Vec<f32>,
    frames_left: u64,
    told_damage: bool,
}

impl Player {
    fn run(&mut self, rate_hz: u32, events: &Sender<SourceEvent>, stopped: &Arc<AtomicBool>) {
        let mut pace = Pace::new(rate_hz, Instant::now());
        let last = loop {
            match self.next_block() {
                Ok(0) => break SourceEvent::Ended,
                Ok(frames) => {
                    thread::sleep(pace.wait_for(frames, Instant::now()));
                    if stopped.load(Ordering::Acquire) {
                        return;
                    }
                    self.frames
                        .push(&self.block[..frames * self.frames.channels()]);
                    pace.delivered(frames);
                }
                Err(SourceError(why)) => break SourceEvent::Failed(why),
            }
            self.tell_damage(events);
        };
        self.tell_damage(events);
        // Nobody listens any more only when nobody needs to know.
        let _sent = events.send(last);
    }

    /// Reads the next block; 0 frames at the end.
    fn next_block(&mut self) -> Result<usize, SourceError> {
        let channels = self.frames.channels();
        let wanted = (self.block.len() / channels)
            .min(usize::try_from(self.frames_left).unwrap_or(usize::MAX));
        let frames = self.source.read(&mut self.block[..wanted * channels])?;
        self.frames_left -= frames as u64;
        Ok(frames)
    }

    fn tell_damage(&mut self, events: &Sender<SourceEvent>) {
        if let Some(damage) = self.source.damage().filter(|_| !self.told_damage) {
            self.told_damage = true;
            let _sent = events.send(SourceEvent::Damaged(damage.into()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plays for `seconds` on an invented clock that oversleeps by up to `jitter`; returns frames delivered.
    fn play(pace: &mut Pace, mut now: Instant, seconds: u64, jitter: Duration) -> (u64, Instant) {
        let end = now + Duration::from_secs(seconds);
        let mut step = 0;
        loop {
            let block = 240;
            step += 1;
            now += pace.wait_for(block, now) + jitter * (step % 7) / 7;
            if now > end {
                return (pace.delivered, now);
            }
            pace.delivered(block);
        }
    }

    #[test]
    fn an_hour_at_any_rate_drifts_by_less_than_a_block() {
        for rate in [8_000, 44_100, 48_000, 384_000] {
            let start = Instant::now();
            let mut pace = Pace::new(rate, start);
            let (frames, _) = play(&mut pace, start, 3600, Duration::from_micros(700));
            let expected = u64::from(rate) * 3600;
            assert!(expected - frames <= 1000, "{rate}: {frames} of {expected}");
        }
    }

    #[test]
    fn a_short_delay_is_made_up_for() {
        let start = Instant::now();
        let mut pace = Pace::new(48_000, start);
        let (_, now) = play(&mut pace, start, 1, Duration::ZERO);
        let (frames, _) = play(
            &mut pace,
            now + Duration::from_millis(300),
            1,
            Duration::ZERO,
        );
        assert!((frames as i64 - 48_000 * 23 / 10).abs() <= 480, "{frames}");
    }

    #[test]
    fn after_a_suspend_the_pace_goes_on_without_a_burst() {
        let start = Instant::now();
        let mut pace = Pace::new(48_000, start);
        let (before, now) = play(&mut pace, start, 1, Duration::ZERO);
        let awake = now + Duration::from_secs(8 * 3600);
        // The first block after the suspend is late and due at once; the one after it waits its full time.
        assert_eq!(pace.wait_for(240, awake), Duration::ZERO);
        pace.delivered(240);
        assert_eq!(pace.wait_for(240, awake), Duration::from_millis(5));
        let (after, _) = play(&mut pace, awake, 2, Duration::ZERO);
        assert!(
            (after - before).abs_diff(96_000) <= 480,
            "{before} to {after}"
        );
    }
}
