//! Feeding a measurement: from a live input as it comes, from a file as fast as it is read.

use super::super::{ConsoleError, Reader, deliver, settings::SourceSetting, watch::interrupt};
use crate::{
    meters::MeterSetup,
    profile::{ListenFor, Listening},
    readings::{ClockReading, InputState, Readings, SourceDescription},
    source::{
        FrameSource, RunningSource, SourceEvent,
        ring::{FrameConsumer, Popped},
    },
    worker::{self, Worker},
};
use crossbeam_channel::{Receiver, RecvTimeoutError};
use std::{
    io::Write,
    time::{Duration, Instant},
};

/// The ring of a live input is looked at this often.
const DRAIN_EVERY: Duration = Duration::from_millis(20);
/// What is being heard is told at most this often.
const TELL_EVERY_S: f64 = 0.5;
/// The clock is told this often.
const TELL_CLOCK_EVERY_S: f64 = 60.0;
const CHUNK_FRAMES: usize = 1024;
/// How long after the time asked for a signal that does not come is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// Listens at the source's rate, and tells on the way what is heard where that changes.
pub(super) fn listen(
    source: SourceSetting,
    seconds: f64,
    out: &mut dyn Write,
    to: ListenFor,
) -> Result<(SourceDescription, Listening), ConsoleError> {
    match source {
        SourceSetting::Frames(source) => offline(source, seconds, to),
        live @ SourceSetting::SoundCard(_) => {
            let name = live.name();
            live_input(&live.start()?, &name, seconds, out, to)
        }
    }
}

fn both_inputs(description: &SourceDescription) -> Result<(), ConsoleError> {
    if description.channels == 2 {
        return Ok(());
    }
    Err(ConsoleError::Refused(format!(
        "{} has one channel; this takes both inputs: pick two with --channels",
        description.name
    )))
}

fn offline(
    mut source: Box<dyn FrameSource>,
    seconds: f64,
    to: ListenFor,
) -> Result<(SourceDescription, Listening), ConsoleError> {
    let description = source.description().clone();
    both_inputs(&description)?;
    let rate_hz = f64::from(description.sample_rate_hz);
    let mut listener = Listening::new(to, rate_hz);
    let mut chunk = vec![0.0; 2 * CHUNK_FRAMES];
    let mut left = (seconds * rate_hz) as u64;
    while left > 0 {
        let wanted = usize::try_from(left)
            .unwrap_or(usize::MAX)
            .min(CHUNK_FRAMES);
        let frames = source.read(&mut chunk[..2 * wanted])?;
        if frames == 0 {
            break;
        }
        listener.push(&chunk[..2 * frames]);
        left -= frames as u64;
    }
    Ok((description, listener))
}

fn live_input(
    source: &RunningSource,
    name: &str,
    seconds: f64,
    out: &mut dyn Write,
    to: ListenFor,
) -> Result<(SourceDescription, Listening), ConsoleError> {
    let interrupt = interrupt()?;
    let begun = Instant::now();
    let patience = Duration::from_secs_f64(seconds) + PATIENCE;
    let (description, mut ring) = opened(&source.events, name)?;
    both_inputs(&description)?;
    let rate_hz = f64::from(description.sample_rate_hz);
    let mut listener = Listening::new(to, rate_hz);
    let mut chunk = vec![0.0; 2 * CHUNK_FRAMES];
    let (mut frames, mut told_at_s, mut told) = (0, 0.0, String::new());
    while interrupt.is_empty() && begun.elapsed() < patience {
        match source.events.recv_timeout(DRAIN_EVERY) {
            Ok(SourceEvent::Failed(why)) => return Err(ConsoleError::Refused(why)),
            Ok(SourceEvent::Opened {
                description: again,
                frames,
            }) => {
                if again.sample_rate_hz != description.sample_rate_hz {
                    return Err(ConsoleError::Refused(format!(
                        "{name} came back at {} Hz instead of {} Hz; begin again",
                        again.sample_rate_hz, description.sample_rate_hz
                    )));
                }
                ring = frames;
                listener.mark_gap();
            }
            Ok(SourceEvent::Ended) => break,
            Ok(SourceEvent::Lost(_) | SourceEvent::Damaged(_)) | Err(RecvTimeoutError::Timeout) => {
            }
            Err(RecvTimeoutError::Disconnected) => break,
        }
        frames += drain(&mut ring, &mut chunk, &mut listener);
        let at_s = frames as f64 / rate_hz;
        if at_s - told_at_s >= TELL_EVERY_S {
            told_at_s = at_s;
            let state = listener.heard().words();
            if state != told && deliver(out, &format!("{at_s:>8.1} s  {state}\n"))? == Reader::Gone
            {
                break;
            }
            told = state;
        }
        if at_s >= seconds {
            break;
        }
    }
    Ok((description, listener))
}

fn opened(
    events: &Receiver<SourceEvent>,
    name: &str,
) -> Result<(SourceDescription, FrameConsumer), ConsoleError> {
    loop {
        match events.recv_timeout(PATIENCE) {
            Ok(SourceEvent::Opened {
                description,
                frames,
            }) => return Ok((description, frames)),
            Ok(SourceEvent::Failed(why)) => return Err(ConsoleError::Refused(why)),
            Ok(_) => {}
            Err(_) => {
                return Err(ConsoleError::Refused(format!(
                    "no samples came from {name}"
                )));
            }
        }
    }
}

fn drain(ring: &mut FrameConsumer, chunk: &mut [f32], listener: &mut Listening) -> u64 {
    let mut taken = 0;
    loop {
        match ring.pop(chunk) {
            Popped::Frames(0) => return taken,
            Popped::Frames(frames) => {
                listener.push(&chunk[..2 * frames]);
                taken += frames as u64;
            }
            Popped::Gap(_) => listener.mark_gap(),
        }
    }
}

/// The readings of the meters after that many seconds.
pub(super) fn read(
    source: SourceSetting,
    seconds: f64,
    setup: MeterSetup,
) -> Result<(SourceDescription, Readings), ConsoleError> {
    match source {
        SourceSetting::Frames(mut source) => {
            let description = source.description().clone();
            let frames = (seconds * f64::from(description.sample_rate_hz)) as u64;
            let readings = worker::measure(&mut *source, setup, Some(frames))?;
            Ok((description, readings))
        }
        live @ SourceSetting::SoundCard(_) => {
            let mut last = None;
            follow(live, seconds, setup, |readings| {
                last = Some(readings.clone());
                Ok(Reader::There)
            })?;
            let readings = last.ok_or_else(|| ConsoleError::Refused("no samples came".into()))?;
            Ok((readings.source.description.clone(), readings))
        }
    }
}

/// Watches the clock of a live stream; tells how it stands every minute.
pub(super) fn watch_clock(
    source: SourceSetting,
    seconds: f64,
    out: &mut dyn Write,
) -> Result<(SourceDescription, ClockReading), ConsoleError> {
    let mut last = None;
    let mut told_at_s = 0.0;
    follow(source, seconds, MeterSetup::new()?, |readings| {
        let source = &readings.source;
        let clock = source.clock.unwrap_or_default();
        last = Some((source.description.clone(), clock));
        if source.seconds - told_at_s < TELL_CLOCK_EVERY_S {
            return Ok(Reader::There);
        }
        told_at_s = source.seconds;
        deliver(
            out,
            &format!(
                "{told_at_s:>8.0} s  {}\n",
                super::pages::clock_in_words(&clock)
            ),
        )
    })?;
    last.ok_or_else(|| ConsoleError::Refused("no samples came".into()))
}

/// Hands the snapshots of a live stream on, up to that many seconds or Ctrl-C.
fn follow(
    source: SourceSetting,
    seconds: f64,
    setup: MeterSetup,
    mut each: impl FnMut(&Readings) -> Result<Reader, ConsoleError>,
) -> Result<(), ConsoleError> {
    let name = source.name();
    let worker = Worker::start(source.start()?, setup, || {})?;
    let interrupt = interrupt()?;
    let begun = Instant::now();
    let patience = Duration::from_secs_f64(seconds) + PATIENCE;
    let mut any = false;
    while interrupt.is_empty() && begun.elapsed() < patience {
        let Ok(readings) = worker.readings.recv_timeout(Duration::from_millis(100)) else {
            continue;
        };
        if let InputState::Failed(why) = &readings.source.state {
            return Err(ConsoleError::Refused(why.clone()));
        }
        any = true;
        let ended = readings.source.state == InputState::Ended;
        if each(&readings)? == Reader::Gone || ended || readings.source.seconds >= seconds {
            break;
        }
    }
    if any {
        Ok(())
    } else {
        Err(ConsoleError::Refused(format!(
            "no samples came from {name}"
        )))
    }
}
