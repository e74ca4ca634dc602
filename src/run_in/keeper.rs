//! A run that keeps itself: a thread that takes the snapshots, starts the log when the disk lets it, and says from
//! time to time what it shows. Whoever looks at it never waits for a disk.

use super::{
    RunInError, RunInLog,
    evaluation::{Criteria, Evaluation, Event, evaluate},
};
use crate::readings::{InputState, Readings};
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded, select, unbounded};
use std::{
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    thread,
    time::{Duration, Instant},
};

/// Why a run ends whose window is closed: it can go on.
pub const WINDOW_CLOSED: &str = "the window was closed";
/// Snapshots that may wait while the run is evaluated: two seconds of them. More are left out; the recorder takes four
/// a second.
const WAITING_SNAPSHOTS: usize = 64;
/// A log that cannot be started is tried again this often, or as often as a reading is due.
const RETRY_EVERY: Duration = Duration::from_secs(5);
/// What is told is looked after this often.
const TELL_EVERY: Duration = Duration::from_millis(250);
/// An evaluation takes at most this share of the thread's time.
const EVALUATING_SHARE: u32 = 20;
/// So long the last lines may take to reach the disk when the window is closed.
const LAST_LINES: Duration = Duration::from_secs(3);

/// What a run is started with.
#[derive(Clone, Debug)]
pub struct KeeperSetup {
    /// The log's file; its folder is made if need be.
    pub path: PathBuf,
    /// A reading is kept each so many seconds.
    pub every_s: f64,
    /// What is listened to, in words.
    pub source: String,
    /// What it is read against, in words.
    pub expected: String,
}

/// Called, on the run's thread, when there is something new to show.
pub type Wake = Box<dyn Fn() + Send>;

/// A run that is being kept. Dropped, it is ended as one whose window was closed.
pub struct Keeper {
    path: PathBuf,
    asks: Sender<Ask>,
    feed: Feed,
    kept: Arc<Mutex<Kept>>,
    over: Receiver<()>,
}

/// Takes snapshots for a run; clones feed the same one.
#[derive(Clone)]
pub struct Feed(Sender<Arc<Readings>>);

/// Where a run stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Phase {
    /// The file is being opened.
    #[default]
    Starting,
    /// The file cannot be written; it is tried again and again.
    Refused,
    /// It is being kept.
    Running,
    /// It was ended.
    Over,
}

/// What is known of a run at this moment.
#[derive(Clone, Debug, Default)]
pub struct Kept {
    /// Where it stands.
    pub phase: Phase,
    /// When this session started, with the seconds of the run before it; `None` before it did.
    started: Option<(Instant, f64)>,
    /// Its length when it was ended, seconds.
    ended_s: Option<f64>,
    /// Readings kept in all sessions.
    pub readings: u64,
    /// Lines written in this session.
    pub lines: u64,
    /// What keeps the log from being written, in words.
    pub trouble: Option<String>,
    /// What the run shows.
    pub evaluation: Option<Arc<Evaluation>>,
}

enum Ask {
    Temperature(f64),
    Finish(String),
}

impl Feed {
    /// Takes a snapshot; never waits.
    pub fn take(&self, readings: &Arc<Readings>) {
        // A run that is busy or over has no use for this one.
        let _left_out = self.0.try_send(readings.clone());
    }
}

impl Kept {
    /// Seconds since the run's start, breaks included.
    pub fn elapsed_s(&self) -> f64 {
        self.ended_s.unwrap_or_else(|| {
            self.started
                .map_or(0.0, |(at, before_s)| before_s + at.elapsed().as_secs_f64())
        })
    }

    /// The last thing that happened.
    pub fn last_event(&self) -> Option<&Event> {
        self.evaluation.as_ref()?.events.last()
    }
}

impl Keeper {
    /// Starts a run, or goes on with the one that is in the file.
    ///
    /// # Errors
    /// When the system cannot start a thread. What is wrong with the file is told by [`Keeper::kept`].
    pub fn start(setup: KeeperSetup, wake: Wake) -> Result<Self, RunInError> {
        let (asks, asked) = unbounded();
        let (snapshots_in, snapshots) = bounded(WAITING_SNAPSHOTS);
        let (done, over) = bounded(1);
        let kept = Arc::new(Mutex::new(Kept::default()));
        let path = setup.path.clone();
        let mut work = Work {
            setup,
            asked,
            snapshots,
            kept: kept.clone(),
            wake,
            told_lines: 0,
            evaluate_again: Instant::now(),
        };
        thread::Builder::new()
            .name("run-in".into())
            .spawn(move || {
                work.keep();
                // Nobody may be waiting.
                let _nobody = done.send(());
            })
            .map_err(|error| RunInError(format!("cannot start the log's thread: {error}")))?;
        Ok(Self {
            path,
            asks,
            feed: Feed(snapshots_in),
            kept,
            over,
        })
    }

    /// The log's file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes the snapshots.
    pub fn feed(&self) -> Feed {
        self.feed.clone()
    }

    /// What is known of it.
    pub fn kept(&self) -> Kept {
        lock(&self.kept).clone()
    }

    /// Whether it is not over.
    pub fn is_going_on(&self) -> bool {
        lock(&self.kept).phase != Phase::Over
    }

    /// Notes a temperature of this moment.
    pub fn note_temperature(&self, celsius: f64) {
        self.ask(Ask::Temperature(celsius));
    }

    /// Ends it in order; what it shows stays.
    pub fn finish(&self, why: &str) {
        self.ask(Ask::Finish(why.into()));
    }

    fn ask(&self, ask: Ask) {
        // A run that is over takes nothing any more.
        let _over = self.asks.send(ask);
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.finish(WINDOW_CLOSED);
        // A disk that hangs must not hang the window; every line up to now has been handed to it.
        let _over_or_hanging = self.over.recv_timeout(LAST_LINES);
    }
}

fn lock(kept: &Mutex<Kept>) -> MutexGuard<'_, Kept> {
    kept.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The thread's side.
struct Work {
    setup: KeeperSetup,
    asked: Receiver<Ask>,
    snapshots: Receiver<Arc<Readings>>,
    kept: Arc<Mutex<Kept>>,
    wake: Wake,
    told_lines: u64,
    evaluate_again: Instant,
}

impl Work {
    fn keep(&mut self) {
        if let Some(mut log) = self.begin() {
            let why = self.follow(&mut log);
            log.end(&why);
            self.evaluate_again = Instant::now();
            self.told_lines = 0;
            self.tell(&log);
            lock(&self.kept).ended_s = Some(log.history().seconds());
        } else {
            // It was given up before anything was lost.
            lock(&self.kept).trouble = None;
        }
        lock(&self.kept).phase = Phase::Over;
        (self.wake)();
    }

    /// Starts the log as soon as the disk lets it; `None` when it is not wanted any more.
    fn begin(&mut self) -> Option<RunInLog> {
        loop {
            match self.start() {
                Ok(log) => {
                    // What was heard while there was no file is no part of it.
                    while self.snapshots.try_recv().is_ok() {}
                    let mut kept = lock(&self.kept);
                    kept.phase = Phase::Running;
                    kept.trouble = None;
                    kept.started = Some((Instant::now(), log.history().session_at_s()));
                    return Some(log);
                }
                Err(error) => self.refuse(error.to_string()),
            }
            let wait = Duration::from_secs_f64(self.setup.every_s).min(RETRY_EVERY);
            match self.asked.recv_timeout(wait) {
                Ok(Ask::Finish(_)) | Err(RecvTimeoutError::Disconnected) => return None,
                Ok(Ask::Temperature(_)) | Err(RecvTimeoutError::Timeout) => {}
            }
        }
    }

    fn start(&self) -> Result<RunInLog, RunInError> {
        let setup = &self.setup;
        if let Some(folder) = setup.path.parent() {
            std::fs::create_dir_all(folder).map_err(|error| {
                RunInError(format!(
                    "{}: the folder of the log cannot be made: {error}",
                    folder.display()
                ))
            })?;
        }
        RunInLog::start(&setup.path, setup.every_s, &setup.source, &setup.expected)
    }

    fn refuse(&self, why: String) {
        let mut kept = lock(&self.kept);
        let news = kept.trouble.as_ref() != Some(&why);
        kept.phase = Phase::Refused;
        kept.trouble = Some(why);
        drop(kept);
        if news {
            (self.wake)();
        }
    }

    /// Feeds the log until it is to end; returns why.
    fn follow(&mut self, log: &mut RunInLog) -> String {
        let started = Instant::now();
        let mut tell_at = started;
        loop {
            select! {
                recv(self.asked) -> ask => match ask {
                    Ok(Ask::Temperature(celsius)) => log.note_temperature(celsius),
                    Ok(Ask::Finish(why)) => return why,
                    Err(_) => return WINDOW_CLOSED.into(),
                },
                recv(self.snapshots) -> readings => match readings {
                    Ok(readings) if readings.source.state == InputState::Ended => return "the signal ended".into(),
                    Ok(readings) => log.take(&readings, started.elapsed().as_secs_f64()),
                    Err(_) => return WINDOW_CLOSED.into(),
                },
                default(TELL_EVERY) => {}
            }
            if Instant::now() >= tell_at {
                self.tell(log);
                tell_at = Instant::now() + TELL_EVERY;
            }
        }
    }

    /// Says what is new.
    fn tell(&mut self, log: &RunInLog) {
        let now = Instant::now();
        let lines = log.lines();
        let evaluation = (lines != self.told_lines && now >= self.evaluate_again)
            .then(|| Arc::new(evaluate(log.history(), &Criteria::default())));
        if evaluation.is_some() {
            self.told_lines = lines;
            self.evaluate_again = Instant::now() + now.elapsed() * EVALUATING_SHARE;
        }
        let trouble = log.trouble();
        let mut kept = lock(&self.kept);
        let news = evaluation.is_some() || kept.trouble != trouble;
        kept.readings = log.history().readings();
        kept.lines = lines;
        kept.trouble = trouble;
        kept.evaluation = evaluation.or(kept.evaluation.take());
        drop(kept);
        if news {
            (self.wake)();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{super::example::snapshot, *};

    fn setup(path: PathBuf) -> KeeperSetup {
        KeeperSetup {
            path,
            every_s: 0.1,
            source: "line input".into(),
            expected: "3150 Hz".into(),
        }
    }

    fn wait_until(what: &str, done: impl Fn() -> bool) {
        let deadline = Instant::now() + Duration::from_secs(20);
        while !done() {
            assert!(Instant::now() < deadline, "waited in vain until {what}");
            thread::sleep(Duration::from_millis(5));
        }
    }

    fn feed_until(keeper: &Keeper, what: &str, done: impl Fn(&Kept) -> bool) {
        let readings = Arc::new(snapshot());
        wait_until(what, || {
            keeper.feed().take(&readings);
            done(&keeper.kept())
        });
    }

    #[test]
    fn a_run_goes_on_after_its_window_was_closed_and_the_break_is_an_event() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("deep/er/belt.log");
        let keeper = Keeper::start(setup(path.clone()), Box::new(|| {})).expect("a thread");
        feed_until(&keeper, "three readings are kept", |kept| {
            kept.readings >= 3
        });
        keeper.note_temperature(21.5);
        drop(keeper);
        let first = super::super::read(&path).expect("a log");
        assert_eq!(first.ended(), Some(WINDOW_CLOSED));
        assert_eq!(first.temperatures().len(), 1);

        let keeper = Keeper::start(setup(path.clone()), Box::new(|| {})).expect("a thread");
        feed_until(&keeper, "more readings are kept", |kept| {
            kept.readings > first.readings() + 1 && kept.evaluation.is_some()
        });
        keeper.finish("ended by the technician");
        wait_until("it is over", || !keeper.is_going_on());
        let kept = keeper.kept();
        let shown = kept.evaluation.clone().expect("evaluated");
        assert_eq!(shown.sessions, 2);
        assert_eq!(shown.ended.as_deref(), Some("ended by the technician"));
        let breaks = shown.events.iter();
        let breaks = breaks.filter(|event| event.words.contains("was not kept for"));
        assert_eq!(breaks.count(), 1, "{:?}", shown.events);
        assert!(kept.elapsed_s() > first.seconds());
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_told_and_tried_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let in_the_way = folder.path().join("run-in");
        std::fs::write(&in_the_way, "a file").expect("written");
        let path = in_the_way.join("belt.log");
        let keeper = Keeper::start(setup(path.clone()), Box::new(|| {})).expect("a thread");
        wait_until("it is refused", || keeper.kept().phase == Phase::Refused);
        let told = keeper.kept().trouble.expect("told");
        assert!(
            told.contains("run-in: the folder of the log cannot be made"),
            "{told}"
        );
        std::fs::remove_file(&in_the_way).expect("removed");
        feed_until(&keeper, "it is kept after all", |kept| {
            kept.phase == Phase::Running && kept.readings > 0 && kept.trouble.is_none()
        });
    }

    #[test]
    fn a_signal_that_ends_ends_the_run() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("belt.log");
        let keeper = Keeper::start(setup(path), Box::new(|| {})).expect("a thread");
        feed_until(&keeper, "a reading is kept", |kept| kept.readings > 0);
        let mut ended = snapshot();
        ended.source.state = InputState::Ended;
        keeper.feed().take(&Arc::new(ended));
        wait_until("it is over", || !keeper.is_going_on());
        let shown = keeper.kept().evaluation.expect("evaluated");
        assert_eq!(shown.ended.as_deref(), Some("the signal ended"));
    }
}
