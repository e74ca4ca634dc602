//! The thread between ring and readings.
//!
//! Live, it drains the ring every few milliseconds and publishes a snapshot more than a hundred times a second: from
//! the sample in the ring to the snapshot that contains it no more than 15 ms go by: a block of 4 ms, and a pause of 8 ms
//! between two looks. Offline, [`measure`] runs the same loop body as fast as the
//! source delivers. Requests go the other way, typed.

mod analyst;
mod card_clock;
mod listener;

use self::{analyst::BackgroundAnalyst, card_clock::CardClock, listener::Listener};
use crate::{
    meters::{MeterBank, MeterSetup},
    profile::{Heard, ListenFor},
    readings::{
        InputState, Notice, NoticeCode, Readings, SourceDescription, SourceReading, Validity,
    },
    source::{
        FrameSource, RunningSource, SourceError, SourceEvent,
        ring::{self, FrameConsumer, Popped},
    },
};
use crossbeam_channel::{Receiver, Sender, TryRecvError, TrySendError};
use std::{
    cell::OnceCell,
    sync::Arc,
    thread,
    time::{Duration, Instant},
};

/// How often the ring is looked at, and a snapshot published: short against the latency wanted, long against the cost
/// of waking.
const LOOK_EVERY: Duration = Duration::from_millis(8);
/// A source that has ended says nothing new. Its last snapshot goes out again this often, for a reader that came late.
const REPEAT_EVERY: Duration = Duration::from_millis(250);
/// Frames taken from the ring at a time.
const CHUNK_FRAMES: usize = 1024;
/// Looks at a take on its way, a second of it.
const LOOKS_A_SECOND: u32 = 10;
/// Snapshots that may wait for a slow reader; the oldest goes first.
const WAITING_SNAPSHOTS: usize = 4;

/// What the screen, the console or the bench may ask of the worker.
#[derive(Clone, Debug)]
pub enum Request {
    /// Use these settings from now on.
    ChangeSetup(Box<MeterSetup>),
    /// Start all averages anew.
    ResetAverages,
    /// Measure the interface by listening to both inputs, from now on and instead of what was listened for before. What
    /// is heard goes into `told` a few times a second; that is dropped where there are no two inputs to listen to.
    Listen {
        /// What for.
        to: ListenFor,
        /// Where to tell; a full channel is waited for, a closed one ends it.
        told: Sender<Heard>,
    },
    /// Listen no more.
    StopListening,
}

/// A running worker. Dropping it stops the worker and its source.
pub struct Worker {
    /// Snapshots, newest last. A reader that lags loses old ones.
    pub readings: Receiver<Arc<Readings>>,
    /// Requests to the worker; sending fails only when the worker has ended.
    pub requests: Sender<Request>,
}

impl Worker {
    /// Starts a worker on a running source. `wake` is called after each snapshot (the window's repaint request).
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn start(
        source: RunningSource,
        setup: MeterSetup,
        wake: impl Fn() + Send + 'static,
    ) -> Result<Self, SourceError> {
        let (snapshots_in, snapshots_out) = crossbeam_channel::bounded(WAITING_SNAPSHOTS);
        let (requests_in, requests_out) = crossbeam_channel::unbounded();
        let oldest_out = snapshots_out.clone();
        thread::Builder::new()
            .name("meters".into())
            .spawn(move || {
                let publish = move |readings: Arc<Readings>| {
                    publish_newest(&snapshots_in, &oldest_out, readings);
                    wake();
                };
                run(&source, &requests_out, setup, publish);
            })
            .map_err(|error| SourceError(format!("cannot start the meter thread: {error}")))?;
        Ok(Self {
            readings: snapshots_out,
            requests: requests_in,
        })
    }
}

fn publish_newest(
    snapshots: &Sender<Arc<Readings>>,
    oldest: &Receiver<Arc<Readings>>,
    mut readings: Arc<Readings>,
) {
    while let Err(TrySendError::Full(unsent)) = snapshots.try_send(readings) {
        let _dropped = oldest.try_recv();
        readings = unsent;
    }
}

fn run(
    source: &RunningSource,
    requests: &Receiver<Request>,
    setup: MeterSetup,
    publish: impl Fn(Arc<Readings>),
) {
    let mut station = Station::new(setup);
    let mut last: Option<Arc<Readings>> = None;
    let mut published = Instant::now();
    loop {
        loop {
            match requests.try_recv() {
                Ok(request) => {
                    station.answer(request);
                    last = None;
                }
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => return,
            }
        }
        // A plain sleep: waiting on a channel would spin first, a hundred times a second.
        thread::sleep(LOOK_EVERY);
        // Where the source's thread has ended it told why before; what is in the ring is still drained.
        while let Ok(event) = source.events.try_recv() {
            station.note(event);
            last = None;
        }
        if station.drain() > 0 {
            station.read_the_clock();
            last = None;
        }
        station.analyse_beside();
        if last.is_none() || published.elapsed() >= REPEAT_EVERY {
            published = Instant::now();
            last = last.or_else(|| station.readings().map(Arc::new));
            if let Some(readings) = &last {
                publish(Arc::clone(readings));
            }
        }
    }
}

/// Reads a source to its end, as fast as it goes, through the same ring and meters as a live one.
/// `frame_limit` ends it earlier.
///
/// # Errors
/// When the source cannot be read; the readings up to there are lost.
pub fn measure(
    source: &mut dyn FrameSource,
    setup: MeterSetup,
    frame_limit: Option<u64>,
) -> Result<Readings, SourceError> {
    read_through(source, setup, frame_limit, &mut |_| {})
}

/// The same, with a look at the readings on the way, ten times a second of the source: what a run-in log is fed with.
///
/// # Errors
/// As [`measure`].
pub fn measure_looking(
    source: &mut dyn FrameSource,
    setup: MeterSetup,
    look: &mut dyn FnMut(&Readings),
) -> Result<Readings, SourceError> {
    let every_frames = u64::from(source.description().sample_rate_hz / LOOKS_A_SECOND).max(1);
    let mut due_frames = every_frames;
    read_through(source, setup, None, &mut |station| {
        let frames = station
            .stream
            .as_ref()
            .map_or(0, |stream| stream.received_frames);
        if frames >= due_frames {
            due_frames = frames + every_frames;
            if let Some(readings) = station.readings() {
                look(&readings);
            }
        }
    })
}

fn read_through(
    source: &mut dyn FrameSource,
    setup: MeterSetup,
    frame_limit: Option<u64>,
    after_chunk: &mut dyn FnMut(&mut Station),
) -> Result<Readings, SourceError> {
    let description = source.description().clone();
    let channels = usize::from(description.channels);
    let (mut producer, consumer) = ring::ring(channels, 4 * CHUNK_FRAMES);
    let mut station = Station::new(setup);
    station.note(SourceEvent::Opened {
        description,
        frames: consumer,
    });
    let mut chunk = vec![0.0; CHUNK_FRAMES * channels];
    let mut left = frame_limit.unwrap_or(u64::MAX);
    while left > 0 {
        let wanted = usize::try_from(left)
            .unwrap_or(usize::MAX)
            .min(CHUNK_FRAMES);
        let frames = source.read(&mut chunk[..wanted * channels])?;
        if frames == 0 {
            break;
        }
        producer.push(&chunk[..frames * channels]);
        station.drain();
        after_chunk(&mut station);
        left -= frames as u64;
    }
    if let Some(damage) = source.damage() {
        station.note(SourceEvent::Damaged(damage.into()));
    }
    station.note(SourceEvent::Ended);
    station
        .final_readings()
        .ok_or_else(|| SourceError("the source was never opened".into()))
}

/// What runs at the moment: the stream, its meters, and their common account.
struct Station {
    setup: MeterSetup,
    stream: Option<Stream>,
    /// What is wrong with the source, in words.
    damage: Option<String>,
    chunk: Vec<f32>,
}

struct Stream {
    frames: FrameConsumer,
    bank: MeterBank,
    /// Started where snapshots are asked for; a take that is measured at once does without.
    analyst: OnceCell<Option<BackgroundAnalyst>>,
    source: SourceReading,
    /// Of a live input: its sample clock against the computer's.
    clock: Option<CardClock>,
    /// The measurement of the interface under way.
    listener: Option<Listener>,
    received_frames: u64,
    /// Losses of earlier rings of the same source.
    earlier_lost_frames: u64,
    earlier_gaps: u64,
}

impl Station {
    fn new(setup: MeterSetup) -> Self {
        Self {
            setup,
            stream: None,
            damage: None,
            chunk: vec![0.0; 2 * CHUNK_FRAMES],
        }
    }

    fn answer(&mut self, request: Request) {
        match request {
            Request::ChangeSetup(setup) => {
                self.setup = *setup;
                if let Some(stream) = &mut self.stream {
                    stream.bank.change_setup(&self.setup);
                }
            }
            Request::ResetAverages => {
                if let Some(stream) = &mut self.stream {
                    stream.bank.reset_averages();
                }
            }
            Request::Listen { to, told } => {
                if let Some(stream) = &mut self.stream {
                    let description = &stream.source.description;
                    let rate_hz = f64::from(description.sample_rate_hz);
                    stream.listener =
                        (description.channels == 2).then(|| Listener::new(to, rate_hz, told));
                }
            }
            Request::StopListening => {
                if let Some(stream) = &mut self.stream {
                    stream.listener = None;
                }
            }
        }
    }

    fn note(&mut self, event: SourceEvent) {
        match event {
            SourceEvent::Opened {
                description,
                frames,
            } => self.open(description, frames),
            SourceEvent::Lost(waiting_for) => self.set_state(InputState::Lost(waiting_for)),
            SourceEvent::Damaged(how) => self.damage = Some(how),
            SourceEvent::Ended => self.set_state(InputState::Ended),
            SourceEvent::Failed(why) => self.set_state(InputState::Failed(why)),
        }
    }

    fn set_state(&mut self, state: InputState) {
        // What was captured before the news is still good.
        self.drain();
        if let Some(stream) = &mut self.stream {
            stream.source.state = state;
        }
    }

    /// Takes a new stream. One that matches the last continues its readings after a gap; another starts afresh.
    fn open(&mut self, description: SourceDescription, frames: FrameConsumer) {
        self.drain();
        let sample_rate_hz = f64::from(description.sample_rate_hz);
        let channels = usize::from(description.channels);
        let clock = CardClock::of(&description);
        let mut source = SourceReading::new(description.clone());
        source.state = InputState::Running;
        let continued = self.stream.take().filter(|stream| {
            let before = &stream.source.description;
            before.sample_rate_hz == description.sample_rate_hz
                && before.channels == description.channels
        });
        self.stream = Some(match continued {
            Some(mut stream) => {
                stream.mark_gap();
                stream.earlier_lost_frames += stream.frames.lost_frames();
                stream.earlier_gaps += stream.frames.gaps() + 1;
                stream.frames = frames;
                stream.source = source;
                stream
            }
            None => Stream {
                frames,
                bank: MeterBank::new(sample_rate_hz, channels, &self.setup),
                analyst: OnceCell::new(),
                source,
                clock,
                listener: None,
                received_frames: 0,
                earlier_lost_frames: 0,
                earlier_gaps: 0,
            },
        });
    }

    /// Feeds the meters with what is in the ring; returns how many frames there were.
    fn drain(&mut self) -> u64 {
        let Some(stream) = &mut self.stream else {
            return 0;
        };
        let before = stream.received_frames;
        loop {
            match stream.frames.pop(&mut self.chunk) {
                Popped::Frames(0) => break,
                Popped::Frames(frames) => {
                    let samples = frames * stream.frames.channels();
                    stream.bank.process(&self.chunk[..samples]);
                    if let Some(listener) = &mut stream.listener {
                        listener.push(&self.chunk[..samples]);
                    }
                    stream.received_frames += frames as u64;
                }
                Popped::Gap(_) => stream.mark_gap(),
            }
        }
        if stream.listener.as_mut().is_some_and(|it| !it.tell()) {
            stream.listener = None;
        }
        stream.received_frames - before
    }

    /// Notes the time at which the frames so far were there; right after they were taken.
    fn read_the_clock(&mut self) {
        if let Some(stream) = &mut self.stream
            && let Some(clock) = &mut stream.clock
        {
            clock.observe(stream.received_frames);
        }
    }

    /// Has the slow searches done beside the stream.
    fn analyse_beside(&mut self) {
        let Some(stream) = &mut self.stream else {
            return;
        };
        if stream.source.state != InputState::Running {
            return;
        }
        let analyst = stream.analyst.get_or_init(BackgroundAnalyst::start);
        if let Some(analyst) = analyst {
            analyst.serve(&mut stream.bank);
        }
    }

    fn readings(&mut self) -> Option<Readings> {
        let stream = self.stream.as_mut()?;
        let mut readings = match &stream.source.state {
            // Nothing old is shown as if it were now.
            InputState::Lost(_) => Readings::unread(stream.account(), Validity::InputLost),
            InputState::Ended => stream.bank.final_readings(stream.account()),
            _ => stream.bank.readings(stream.account()),
        };
        self.add_notices(&mut readings);
        Some(readings)
    }

    fn final_readings(&mut self) -> Option<Readings> {
        let stream = self.stream.as_mut()?;
        let mut readings = stream.bank.final_readings(stream.account());
        self.add_notices(&mut readings);
        Some(readings)
    }

    /// What the meters cannot know.
    fn add_notices(&self, readings: &mut Readings) {
        if let Some(damage) = &self.damage {
            let notice = Notice::new(NoticeCode::DamagedRecording, damage.clone());
            readings.notices.push(notice);
        }
    }
}

impl Stream {
    /// Frames are missing here.
    fn mark_gap(&mut self) {
        self.bank.mark_gap();
        if let Some(clock) = &mut self.clock {
            clock.mark_gap();
        }
        if let Some(listener) = &mut self.listener {
            listener.mark_gap();
        }
    }

    fn account(&self) -> SourceReading {
        let mut source = self.source.clone();
        source.seconds =
            self.received_frames as f64 / f64::from(source.description.sample_rate_hz.max(1));
        source.lost_frames = self.earlier_lost_frames + self.frames.lost_frames();
        source.gaps = self.earlier_gaps + self.frames.gaps();
        source.clock = self.clock.as_ref().map(CardClock::reading);
        source
    }
}
