//! A run that is being logged: the recorder, what is remembered of it, and the thread that writes.

use super::{
    RunInError,
    history::History,
    line::{Line, SCHEMA, Session, Temperature},
    log_file::{self, LogFile, Storage},
    reader,
    recorder::Recorder,
};
use crate::readings::Readings;
use crossbeam_channel::{Receiver, Sender, TrySendError};
use std::{
    path::Path,
    sync::{Arc, Mutex, PoisonError},
    thread::{self, JoinHandle},
    time::{Instant, SystemTime, UNIX_EPOCH},
};

/// Lines that may wait for a disk that does not answer (a network folder that hangs).
const WAITING_LINES: usize = 1024;

/// A run-in log that is being written. Feed it with snapshots; finish it, or drop it, and its file is closed in order.
/// If it is killed instead, the file holds every line up to then.
pub struct RunInLog {
    recorder: Recorder,
    history: History,
    lines: Option<Sender<Line>>,
    writer: Option<JoinHandle<()>>,
    trouble: Arc<Mutex<Option<String>>>,
    /// Lines that the writer's queue could not take.
    not_taken: u64,
    /// Lines of this session, its head among them.
    lines_made: u64,
    latest_s: f64,
}

impl RunInLog {
    /// Begins a run on `path`, or goes on with the run that is there. A reading is kept each `every_s` seconds;
    /// `source` and `expected` say in words what is listened to and what it is read against.
    ///
    /// # Errors
    /// When the file cannot be written, is in use by another run, or is something else than a run-in log; when the
    /// system cannot start a thread.
    pub fn start(
        path: &Path,
        every_s: f64,
        source: &str,
        expected: &str,
    ) -> Result<Self, RunInError> {
        let mut file = log_file::open(path)?;
        let mut history = reader::history_so_far(path)?;
        let session = Session {
            schema: SCHEMA.into(),
            started_unix_s: unix_now_s(),
            every_s,
            source: source.into(),
            expected: expected.into(),
        };
        file.begin(session.clone(), Instant::now());
        if let Some(trouble) = file.trouble() {
            // Told at once where the technician still stands beside it, rather than hours later.
            return Err(RunInError(trouble));
        }
        history.take(&Line::Session(session));
        let trouble = Arc::new(Mutex::new(None));
        let (lines, waiting) = crossbeam_channel::bounded(WAITING_LINES);
        let told = trouble.clone();
        let writer = thread::Builder::new()
            .name("run-in log".into())
            .spawn(move || write_all(file, &waiting, &told))
            .map_err(|error| RunInError(format!("cannot start the log's thread: {error}")))?;
        Ok(Self {
            recorder: Recorder::new(every_s),
            history,
            lines: Some(lines),
            writer: Some(writer),
            trouble,
            not_taken: 0,
            lines_made: 1,
            latest_s: 0.0,
        })
    }

    /// Takes a snapshot of the moment `at_s`, seconds since the start by a clock that only goes forward. Does not
    /// wait for the disk.
    pub fn take(&mut self, readings: &Readings, at_s: f64) {
        self.latest_s = self.latest_s.max(at_s);
        let mut lines = Vec::new();
        self.recorder
            .take(readings, at_s, &mut |line| lines.push(line));
        lines.into_iter().for_each(|line| self.write(line));
    }

    /// Notes a temperature that is typed in now.
    pub fn note_temperature(&mut self, celsius: f64) {
        self.write(Line::Temperature(Temperature {
            at_s: None,
            unix_s: Some(unix_now_s()),
            celsius,
        }));
    }

    /// The run so far, earlier sessions in the same file included, in constant memory.
    pub fn history(&self) -> &History {
        &self.history
    }

    /// What keeps the log from being written, in words; `None` when all is well. The run goes on in memory meanwhile.
    pub fn trouble(&self) -> Option<String> {
        let told = self
            .trouble
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        match (told, self.not_taken) {
            (None, 0) => None,
            (told, 0) => told,
            (told, lines) => Some(format!(
                "{}{lines} lines are missing in the log, because its disk did not answer",
                told.map_or_else(String::new, |told| told + "; ")
            )),
        }
    }

    /// Lines of this session that were handed to the writer.
    pub fn lines(&self) -> u64 {
        self.lines_made - self.not_taken
    }

    /// Ends the run and waits until its lines are written; what it shows can still be asked for.
    pub fn end(&mut self, why: &str) {
        self.close(why);
    }

    /// Ends the run, waits until its lines are written and returns what keeps them from it, if anything.
    pub fn finish(mut self, why: &str) -> Option<String> {
        self.close(why);
        self.trouble()
    }

    fn close(&mut self, why: &str) {
        if self.lines.is_none() {
            return;
        }
        let mut lines = Vec::new();
        self.recorder
            .finish(self.latest_s, why, &mut |line| lines.push(line));
        lines.into_iter().for_each(|line| self.write(line));
        self.lines = None;
        if let Some(writer) = self.writer.take() {
            // It ends with its queue; if it has failed there is nothing left to wait for.
            let _failed = writer.join();
        }
    }

    fn write(&mut self, line: Line) {
        self.history.take(&line);
        let Some(lines) = &self.lines else {
            return;
        };
        self.lines_made += 1;
        if let Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) = lines.try_send(line) {
            self.not_taken += 1;
        }
    }
}

impl Drop for RunInLog {
    fn drop(&mut self) {
        self.close("closed");
    }
}

fn write_all<S: Storage>(
    mut file: LogFile<S>,
    waiting: &Receiver<Line>,
    trouble: &Mutex<Option<String>>,
) {
    for line in waiting {
        file.write(&line, Instant::now());
        *trouble.lock().unwrap_or_else(PoisonError::into_inner) = file.trouble();
    }
}

/// The computer's clock. One that stands before 1970 is wrong and taken for 1970.
fn unix_now_s() -> f64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0.0, |since| since.as_secs_f64())
}
