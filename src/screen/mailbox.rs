//! Latest-value hand-over from the worker to the window, which is woken only when there is something new to see.
//!
//! The worker's wake call runs [`Mailbox::look`] on the worker's thread: it keeps the newest snapshot and asks for a
//! repaint when that differs from the one before. So an input that is lost, a recording that is over or a held
//! display redraws nothing, and a hidden window costs nothing but that comparison.

use super::inputs::Wake;
use crate::readings::{InputState, NoticeCode, Readings};
use crossbeam_channel::{Receiver, TryRecvError};
use eframe::egui;
use std::{
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicU8, Ordering},
    },
    time::Duration,
};

/// As good as at once, but an immediate repaint would be followed by a second one for widgets to settle: twice the
/// work for every snapshot.
const SOON: Duration = Duration::from_millis(1);

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
    newest: Option<Arc<Readings>>,
    seen: Option<Gist>,
    worker_ended: bool,
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

    /// Chooses what the window is woken for.
    pub fn set_pace(&self, pace: Pace) {
        self.0.pace.store(pace as u8, Ordering::Relaxed);
    }

    /// The newest snapshot, once.
    pub fn take(&self) -> Option<Arc<Readings>> {
        let mut state = self.state();
        state.receive();
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
        drop(state);
        if news && pace != Pace::Hidden as u8 {
            self.0.ctx.request_repaint_after(SOON);
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // A panic elsewhere leaves nothing half done in here.
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn receive(&mut self) {
        let Some(receiver) = &self.readings else {
            return;
        };
        loop {
            match receiver.try_recv() {
                Ok(readings) => self.newest = Some(readings),
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
    use std::sync::atomic::AtomicUsize;

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
        wake: Wake,
        asked: Arc<AtomicUsize>,
    }

    impl Bench {
        fn new() -> Self {
            let ctx = egui::Context::default();
            let asked = Arc::new(AtomicUsize::new(0));
            let counted = asked.clone();
            ctx.set_repaint_observer(move |_| {
                counted.fetch_add(1, Ordering::Relaxed);
            });
            let (snapshots, readings) = bounded(4);
            let mailbox = Mailbox::new(&ctx);
            let wake = mailbox.wake();
            mailbox.attach(readings);
            Self {
                snapshots,
                mailbox,
                wake,
                asked,
            }
        }

        fn publish(&self, readings: Arc<Readings>) -> usize {
            self.snapshots.send(readings).expect("room");
            let before = self.asked.load(Ordering::Relaxed);
            (self.wake)();
            self.asked.load(Ordering::Relaxed) - before
        }
    }

    #[test]
    fn the_newest_wins_and_is_handed_over_once() {
        let bench = Bench::new();
        bench.publish(snapshot(1.0, InputState::Running));
        bench.publish(snapshot(2.0, InputState::Running));
        let newest = bench.mailbox.take().expect("a snapshot");
        assert_eq!(newest.source.seconds, 2.0);
        assert!(bench.mailbox.take().is_none());
    }

    #[test]
    fn what_looks_the_same_wakes_nobody() {
        let bench = Bench::new();
        assert_eq!(bench.publish(snapshot(1.0, InputState::Running)), 1);
        assert_eq!(bench.publish(snapshot(1.1, InputState::Running)), 1);
        let lost = InputState::Lost("line in".into());
        assert_eq!(bench.publish(snapshot(1.1, lost.clone())), 1);
        for _ in 0..50 {
            assert_eq!(bench.publish(snapshot(1.1, lost.clone())), 0);
            bench.mailbox.take();
        }
        assert_eq!(bench.publish(snapshot(1.1, InputState::Running)), 1);
    }

    #[test]
    fn a_held_display_is_woken_for_warnings_only_and_a_hidden_one_never() {
        let bench = Bench::new();
        bench.publish(snapshot(1.0, InputState::Running));
        bench.mailbox.set_pace(Pace::Held);
        assert_eq!(bench.publish(snapshot(1.1, InputState::Running)), 0);
        let lost = InputState::Lost("line in".into());
        assert_eq!(bench.publish(snapshot(1.2, lost)), 1);
        bench.mailbox.set_pace(Pace::Hidden);
        assert_eq!(bench.publish(snapshot(1.3, InputState::Running)), 0);
        let newest = bench.mailbox.take().expect("kept all the same");
        assert_eq!(newest.source.seconds, 1.3);
    }

    #[test]
    fn a_worker_that_ends_is_noticed() {
        let bench = Bench::new();
        bench.publish(snapshot(1.0, InputState::Running));
        assert!(!bench.mailbox.worker_ended());
        let Bench {
            snapshots, mailbox, ..
        } = bench;
        drop(snapshots);
        mailbox.take();
        assert!(mailbox.worker_ended());
    }
}
