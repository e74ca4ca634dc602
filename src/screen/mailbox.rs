//! Latest-value hand-over from the worker to the window, which is woken only when there is something new to see.
//!
//! The worker's wake call runs [`Mailbox::look`] on the worker's thread: it keeps the newest snapshot and asks for a
//! repaint when that differs from the one before. So an input that is lost, a recording that is over or a held
//! display redraws nothing, and a hidden window costs nothing but that comparison.
//!
//! Snapshots come as often as latency asks for; the eye is content with less. The repaint is asked for once, and for
//! the end of the frame's share of time: what comes meanwhile is shown by the same frame, which takes the newest.

use super::inputs::Wake;
use crate::{
    readings::{InputState, NoticeCode, Readings},
    run_in::Feed,
};
use crossbeam_channel::{Receiver, TryRecvError};
use eframe::egui;
use std::{
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicU8, Ordering},
    },
    time::{Duration, Instant},
};

/// As good as at once, but an immediate repaint would be followed by a second one for widgets to settle: twice the
/// work for every snapshot.
const SOON: Duration = Duration::from_millis(1);
/// From one frame to the next at least: some 31 frames a second, however often snapshots come.
const FRAME: Duration = Duration::from_millis(31);
/// A repaint that has not come this long after it was due is asked for again: the last snapshot must not stay unseen.
const ASK_AGAIN: Duration = Duration::from_millis(250);

/// Which news the window wants to be woken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Pace {
    /// Every snapshot that differs.
    Live,
    /// Only a change of the input's state or of its warnings: the readings are held.
    Held,
    /// Nothing: the window is hidden.
    Hidden,
}

/// The hand-over. Clones share it.
#[derive(Clone)]
pub struct Mailbox(Arc<Shared>);

struct Shared {
    ctx: egui::Context,
    pace: AtomicU8,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    readings: Option<Receiver<Arc<Readings>>>,
    /// A run that takes every snapshot, also while the window is hidden.
    feed: Option<Feed>,
    newest: Option<Arc<Readings>>,
    seen: Option<Gist>,
    worker_ended: bool,
    /// When the window last took what there was, that is, when it last began a frame.
    taken: Option<Instant>,
    /// When the repaint that was asked for is due; `None` when none was asked for since the last frame.
    due: Option<Instant>,
}

/// What decides whether two snapshots look the same.
#[derive(Clone, Debug, PartialEq)]
struct Gist {
    warnings: Warnings,
    progress: [Option<f64>; 8],
}

#[derive(Clone, Debug, PartialEq)]
struct Warnings {
    state: InputState,
    lost_frames: u64,
    gaps: u64,
    clipping: bool,
}

impl Gist {
    fn of(readings: &Readings) -> Self {
        let source = &readings.source;
        Self {
            warnings: Warnings {
                state: source.state.clone(),
                lost_frames: source.lost_frames,
                gaps: source.gaps,
                clipping: readings
                    .notices
                    .iter()
                    .any(|notice| notice.code == NoticeCode::Clipping),
            },
            // Time alone moves while samples arrive; the others change with a request after the end of a recording.
            progress: [
                Some(source.seconds),
                Some(readings.speed.averaged_seconds),
                Some(readings.flutter.averaged_seconds),
                readings.speed.reference_hz,
                readings.speed.deviation_percent,
                readings.speed.uncertainty_percent,
                readings.phase.azimuth_arcmin,
                readings.level.left.rms_dbfs,
            ],
        }
    }
}

impl Mailbox {
    /// An empty one that wakes `ctx`.
    pub fn new(ctx: &egui::Context) -> Self {
        Self(Arc::new(Shared {
            ctx: ctx.clone(),
            pace: AtomicU8::new(Pace::Live as u8),
            state: Mutex::default(),
        }))
    }

    /// What the worker is to call after each snapshot.
    pub fn wake(&self) -> Wake {
        let mailbox = self.clone();
        Box::new(move || mailbox.look())
    }

    /// Takes the worker's snapshots from now on.
    pub fn attach(&self, readings: Receiver<Arc<Readings>>) {
        self.state().readings = Some(readings);
        self.look();
    }

    /// Hands every snapshot to a run, too.
    pub fn feed(&self, feed: Feed) {
        self.state().feed = Some(feed);
    }

    /// Chooses what the window is woken for.
    pub fn set_pace(&self, pace: Pace) {
        self.0.pace.store(pace as u8, Ordering::Relaxed);
    }

    /// The newest snapshot, once.
    pub fn take(&self) -> Option<Arc<Readings>> {
        self.take_at(Instant::now())
    }

    fn take_at(&self, now: Instant) -> Option<Arc<Readings>> {
        let mut state = self.state();
        state.receive();
        state.taken = Some(now);
        state.due = None;
        let newest = state.newest.take();
        if let Some(readings) = &newest {
            state.seen = Some(Gist::of(readings));
        }
        newest
    }

    /// Whether the worker has ended without being told to.
    pub fn worker_ended(&self) -> bool {
        self.state().worker_ended
    }

    fn look(&self) {
        self.look_at(Instant::now());
    }

    fn look_at(&self, now: Instant) {
        let pace = self.0.pace.load(Ordering::Relaxed);
        let mut state = self.state();
        state.receive();
        let Some(newest) = &state.newest else {
            return;
        };
        let gist = Gist::of(newest);
        let news = match &state.seen {
            None => true,
            Some(seen) if pace == Pace::Held as u8 => seen.warnings != gist.warnings,
            Some(seen) => *seen != gist,
        };
        state.seen = Some(gist);
        if !news || pace == Pace::Hidden as u8 || state.is_asked_for(now) {
            return;
        }
        let due = state.next_frame(now);
        state.due = Some(due);
        drop(state);
        self.0.ctx.request_repaint_after(due - now);
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // A panic elsewhere leaves nothing half done in here.
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    /// Whether a repaint is on its way that will show what there is now.
    fn is_asked_for(&self, now: Instant) -> bool {
        self.due.is_some_and(|due| now < due + ASK_AGAIN)
    }

    /// The earliest moment for the next frame: soon, but not before the last one has had its time.
    fn next_frame(&self, now: Instant) -> Instant {
        let soon = now + SOON;
        self.taken.map_or(soon, |taken| soon.max(taken + FRAME))
    }

    fn receive(&mut self) {
        let Some(receiver) = &self.readings else {
            return;
        };
        loop {
            match receiver.try_recv() {
                Ok(readings) => {
                    if let Some(feed) = &self.feed {
                        feed.take(&readings);
                    }
                    self.newest = Some(readings);
                }
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => {
                    self.worker_ended = true;
                    break;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{SourceDescription, SourceKind, SourceReading};
    use crossbeam_channel::{Sender, bounded};

    fn snapshot(seconds: f64, state: InputState) -> Arc<Readings> {
        let mut source = SourceReading::new(SourceDescription {
            kind: SourceKind::SoundCard,
            name: "line in".into(),
            host: None,
            sample_format: "24-bit".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        });
        source.seconds = seconds;
        source.state = state;
        Arc::new(Readings::empty(source))
    }

    struct Bench {
        snapshots: Sender<Arc<Readings>>,
        mailbox: Mailbox,
        asked: Arc<Mutex<Vec<Duration>>>,
        start: Instant,
    }

    impl Bench {
        fn new() -> Self {
            let ctx = egui::Context::default();
            let asked = Arc::new(Mutex::new(Vec::new()));
            let noted = asked.clone();
            ctx.set_repaint_observer(move |request| {
                noted.lock().expect("noted").push(request.delay);
            });
            let (snapshots, readings) = bounded(4);
            let mailbox = Mailbox::new(&ctx);
            mailbox.attach(readings);
            Self {
                snapshots,
                mailbox,
                asked,
                start: Instant::now(),
            }
        }

        fn at(&self, ms: u64) -> Instant {
            self.start + Duration::from_millis(ms)
        }

        /// Publishes at that time; returns after how long the repaint that this asks for is wanted.
        fn publish(&self, ms: u64, readings: Arc<Readings>) -> Option<Duration> {
            self.snapshots.send(readings).expect("room");
            self.asked.lock().expect("noted").clear();
            self.mailbox.look_at(self.at(ms));
            let asked = self.asked.lock().expect("noted");
            assert!(asked.len() <= 1, "a storm: {asked:?}");
            asked.first().copied()
        }

        fn take(&self, ms: u64) -> Option<f64> {
            let newest = self.mailbox.take_at(self.at(ms))?;
            Some(newest.source.seconds)
        }
    }

    fn running(seconds: f64) -> Arc<Readings> {
        snapshot(seconds, InputState::Running)
    }

    #[test]
    fn the_newest_wins_and_is_handed_over_once() {
        let bench = Bench::new();
        bench.publish(0, running(1.0));
        bench.publish(8, running(2.0));
        assert_eq!(bench.take(9), Some(2.0));
        assert_eq!(bench.take(10), None);
    }

    /// A window that draws when it was asked to, and snapshots every `every_ms`: the times of its frames.
    fn frames(every_ms: u64, for_ms: u64) -> Vec<(u64, f64)> {
        let bench = Bench::new();
        let mut due = None;
        let mut frames = Vec::new();
        for ms in 0..for_ms {
            if ms % every_ms == 0
                && let Some(delay) = bench.publish(ms, running(ms as f64 / 1000.0))
            {
                assert_eq!(due, None, "asked for twice");
                due = Some(ms + delay.as_millis() as u64);
            }
            if due == Some(ms) {
                due = None;
                frames.push((ms, bench.take(ms).expect("something new")));
            }
        }
        frames
    }

    #[test]
    fn however_often_snapshots_come_some_thirty_frames_a_second_show_the_newest() {
        for every_ms in [1, 4, 8, 10, 28] {
            let frames = frames(every_ms, 10_000);
            assert!(
                (270..=330).contains(&frames.len()),
                "{every_ms} ms: {} frames in 10 s",
                frames.len()
            );
            for (ms, shown_s) in frames {
                let newest_ms = ms - ms % every_ms;
                assert_eq!(shown_s, newest_ms as f64 / 1000.0, "at {ms} ms");
            }
        }
        assert_eq!(frames(100, 10_000).len(), 100, "slow ones are shown each");
    }

    #[test]
    fn the_first_snapshot_after_a_rest_is_shown_at_once_and_the_last_one_always() {
        let bench = Bench::new();
        bench.take(0);
        assert_eq!(bench.publish(500, running(1.0)), Some(SOON));
        assert_eq!(bench.take(501), Some(1.0));
        let wait = bench.publish(509, running(1.1));
        assert_eq!(wait, Some(Duration::from_millis(23)));
        assert_eq!(bench.publish(517, running(1.2)), None, "it will be shown");
        assert_eq!(bench.take(532), Some(1.2));
        // A window system that forgot the repaint is asked again.
        assert!(bench.publish(540, running(1.3)).is_some());
        assert_eq!(bench.publish(700, running(1.4)), None);
        assert_eq!(bench.publish(820, running(1.5)), Some(SOON));
    }

    #[test]
    fn what_looks_the_same_wakes_nobody() {
        let bench = Bench::new();
        let lost = InputState::Lost("line in".into());
        let mut ms = 0;
        let mut wakes = |readings: Arc<Readings>| {
            ms += 100;
            let asked = bench.publish(ms, readings).is_some();
            bench.take(ms + 1);
            asked
        };
        assert!(wakes(running(1.0)));
        assert!(wakes(running(1.1)));
        assert!(wakes(snapshot(1.1, lost.clone())));
        for _ in 0..50 {
            assert!(!wakes(snapshot(1.1, lost.clone())));
        }
        assert!(wakes(running(1.1)));
    }

    #[test]
    fn a_held_display_is_woken_for_warnings_only_and_a_hidden_one_never() {
        let bench = Bench::new();
        bench.publish(0, running(1.0));
        bench.take(1);
        bench.mailbox.set_pace(Pace::Held);
        assert_eq!(bench.publish(100, running(1.1)), None);
        let lost = InputState::Lost("line in".into());
        assert!(bench.publish(200, snapshot(1.2, lost)).is_some());
        bench.take(201);
        bench.mailbox.set_pace(Pace::Hidden);
        assert_eq!(bench.publish(300, running(1.3)), None);
        assert_eq!(bench.take(301), Some(1.3), "kept all the same");
    }

    #[test]
    fn a_worker_that_ends_is_noticed() {
        let bench = Bench::new();
        bench.publish(0, running(1.0));
        assert!(!bench.mailbox.worker_ended());
        let Bench {
            snapshots, mailbox, ..
        } = bench;
        drop(snapshots);
        mailbox.take();
        assert!(mailbox.worker_ended());
    }
}
