//! Keeps one named input running: notices its loss, says so, and reopens it when it is back.
//!
//! A state machine that is told the time, so that a test can tell it another. It never waits: opening and closing
//! may hang in a driver, so both are done elsewhere, behind [`Door`].

use super::{delivery::DeliveryClock, health::StreamHealth};
use crate::{
    readings::SourceDescription,
    source::{SourceError, SourceEvent, ring::FrameConsumer},
};
use crossbeam_channel::{Receiver, Sender, TryRecvError};
use std::{
    any::Any,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    thread,
    time::{Duration, Instant},
};

/// How often the state is looked at.
const TICK: Duration = Duration::from_millis(20);
/// Of a longer time between two looks only this much counts as silence: it was our own thread that did not run.
const LONGEST_TICK: Duration = Duration::from_millis(200);
/// An idle sound server wakes up its device within two seconds.
const FIRST_DATA_WITHIN: Duration = Duration::from_secs(5);
/// Blocks come at least ten times a second.
const DATA_WITHIN: Duration = Duration::from_millis(1500);
/// Between two attempts to reopen.
const RETRY_EVERY: Duration = Duration::from_millis(500);

/// A stream that has been opened.
pub(super) struct OpenStream {
    pub description: SourceDescription,
    pub frames: FrameConsumer,
    pub health: Arc<StreamHealth>,
    /// Keeps the stream running; dropping it may hang.
    pub handle: Box<dyn Any + Send>,
}

/// Opens and closes the input that is supervised. Neither call waits.
pub(super) trait Door: Send {
    /// Begins to open; the result comes through the channel.
    fn open(&mut self) -> Receiver<Result<OpenStream, SourceError>>;
    /// Lets go of a stream.
    fn close(&mut self, handle: Box<dyn Any + Send>);
}

/// Whether to go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    GoOn,
    /// Nobody listens any more.
    Stop,
}

enum Phase {
    Running(Watched),
    /// Open, but not announced before data have come: a server may accept a stream on a device that is not back yet.
    Proving(Watched, SourceDescription, FrameConsumer),
    Opening(Receiver<Result<OpenStream, SourceError>>),
    Waiting {
        retry_at: Instant,
    },
    /// Between two phases, or stopped.
    Closed,
}

/// A stream and how long it has been silent.
struct Watched {
    health: Arc<StreamHealth>,
    handle: Box<dyn Any + Send>,
    captured_frames: u64,
    silent_for: Duration,
    looked_at: Instant,
    delivery: DeliveryClock,
}

impl Watched {
    fn new(stream: OpenStream, now: Instant) -> (Self, SourceDescription, FrameConsumer) {
        let watched = Self {
            health: stream.health,
            handle: stream.handle,
            captured_frames: 0,
            silent_for: Duration::ZERO,
            looked_at: now,
            delivery: DeliveryClock::new(stream.description.sample_rate_hz, now),
        };
        (watched, stream.description, stream.frames)
    }

    /// Why the stream is of no more use, if so.
    fn look(&mut self, now: Instant) -> Option<String> {
        if let Some(fault) = self.health.fault() {
            return Some(fault.words().into());
        }
        if self.health.callback_gone() {
            return Some("the sound system ended the stream".into());
        }
        let elapsed = now.duration_since(self.looked_at).min(LONGEST_TICK);
        self.looked_at = now;
        let captured_frames = self.health.captured_frames();
        if let Some(lost) = self.delivery.observe(now, captured_frames) {
            self.health.note_silent_loss(lost);
        }
        if captured_frames != self.captured_frames {
            self.captured_frames = captured_frames;
            self.silent_for = Duration::ZERO;
            return None;
        }
        self.silent_for += elapsed;
        let limit = if captured_frames == 0 {
            FIRST_DATA_WITHIN
        } else {
            DATA_WITHIN
        };
        (self.silent_for >= limit).then(|| format!("no samples for {:.1} s", limit.as_secs_f64()))
    }
}

/// The state machine.
pub(super) struct Supervisor<D: Door> {
    door: D,
    events: Sender<SourceEvent>,
    name: String,
    phase: Phase,
    /// What was last said about the loss, so as not to repeat it twice a second.
    said: Option<String>,
    outcome: Outcome,
}

impl<D: Door> Supervisor<D> {
    /// Takes over a stream that has just been opened, and announces it.
    pub fn new(door: D, events: Sender<SourceEvent>, stream: OpenStream, now: Instant) -> Self {
        let (watched, description, frames) = Watched::new(stream, now);
        let mut supervisor = Self {
            door,
            events,
            name: description.name.clone(),
            phase: Phase::Running(watched),
            said: None,
            outcome: Outcome::GoOn,
        };
        supervisor.announce(description, frames);
        supervisor
    }

    /// Looks at the stream, or at the attempts to get it back.
    pub fn tick(&mut self, now: Instant) -> Outcome {
        self.phase = match std::mem::replace(&mut self.phase, Phase::Closed) {
            Phase::Running(mut watched) => match watched.look(now) {
                None => Phase::Running(watched),
                Some(why) => self.lose(watched, &why, now),
            },
            Phase::Proving(watched, description, frames) => {
                self.prove(watched, description, frames, now)
            }
            Phase::Opening(answer) => self.take_answer(answer, now),
            Phase::Waiting { retry_at } if now >= retry_at => Phase::Opening(self.door.open()),
            waiting @ (Phase::Waiting { .. } | Phase::Closed) => waiting,
        };
        self.outcome
    }

    /// Lets go of whatever is open.
    pub fn stop(&mut self) {
        if let Phase::Running(watched) | Phase::Proving(watched, ..) =
            std::mem::replace(&mut self.phase, Phase::Closed)
        {
            self.close(watched);
        }
    }

    fn prove(
        &mut self,
        mut watched: Watched,
        description: SourceDescription,
        frames: FrameConsumer,
        now: Instant,
    ) -> Phase {
        if let Some(why) = watched.look(now) {
            return self.lose(watched, &why, now);
        }
        if watched.captured_frames == 0 {
            return Phase::Proving(watched, description, frames);
        }
        self.said = None;
        self.announce(description, frames);
        Phase::Running(watched)
    }

    fn take_answer(
        &mut self,
        answer: Receiver<Result<OpenStream, SourceError>>,
        now: Instant,
    ) -> Phase {
        match answer.try_recv() {
            Ok(Ok(stream)) => {
                let (watched, description, frames) = Watched::new(stream, now);
                Phase::Proving(watched, description, frames)
            }
            Ok(Err(error)) => self.wait(&error.0, now),
            Err(TryRecvError::Disconnected) => self.wait("the attempt to open it failed", now),
            // An attempt that hangs is waited for: a second one would hang on the same lock.
            Err(TryRecvError::Empty) => Phase::Opening(answer),
        }
    }

    fn lose(&mut self, watched: Watched, why: &str, now: Instant) -> Phase {
        self.close(watched);
        self.wait(why, now)
    }

    fn wait(&mut self, why: &str, now: Instant) -> Phase {
        let text = format!("waiting for {} ({why})", self.name);
        if self.said.as_ref() != Some(&text) {
            self.said = Some(text.clone());
            self.tell(SourceEvent::Lost(text));
        }
        Phase::Waiting {
            retry_at: now + RETRY_EVERY,
        }
    }

    fn close(&mut self, watched: Watched) {
        watched.health.close();
        self.door.close(watched.handle);
    }

    fn announce(&mut self, description: SourceDescription, frames: FrameConsumer) {
        self.tell(SourceEvent::Opened {
            description,
            frames,
        });
    }

    fn tell(&mut self, event: SourceEvent) {
        if self.events.send(event).is_err() {
            self.outcome = Outcome::Stop;
        }
    }
}

/// Runs a supervisor on its own thread until `stopped` turns true or nobody listens.
///
/// # Errors
/// When the system cannot start a thread.
pub(super) fn run<D: Door + 'static>(
    mut supervisor: Supervisor<D>,
    stopped: Arc<AtomicBool>,
) -> Result<(), SourceError> {
    thread::Builder::new()
        .name("sound card".into())
        .spawn(move || {
            while !stopped.load(Ordering::Acquire)
                && supervisor.tick(Instant::now()) == Outcome::GoOn
            {
                thread::sleep(TICK);
            }
            supervisor.stop();
        })
        .map(drop)
        .map_err(|error| SourceError(format!("cannot start the sound card's thread: {error}")))
}

#[cfg(test)]
mod tests;
