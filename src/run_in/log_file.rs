//! The log on the disk: append-only, a whole line at a time.
//!
//! **What survives.** Each line goes to the system in one write, so that a killed program loses none that was written.
//! The system is asked to put them on the disk (fsync) at each event, at the end, and otherwise once a minute: a power
//! cut costs a minute of readings at most. What a cut has torn is one line, which is ended before the next is written.
//!
//! **What goes wrong.** A line that cannot be written (a full disk) waits in memory with those after it, and is tried
//! again every few seconds. Only so many wait; then the oldest is forgotten, and a line in the log says how many were.

use super::{
    RunInError,
    line::{Happening, Line, LoggedEvent, Session},
    reader::first_line,
};
use std::{
    collections::VecDeque,
    fs::{File, OpenOptions},
    io::{self, Read as _, Seek as _, SeekFrom, Write},
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

/// Readings are put on the disk this often.
const SYNC_EVERY: Duration = Duration::from_secs(60);
/// A disk that takes nothing is asked again this often.
const RETRY_EVERY: Duration = Duration::from_secs(5);
/// Lines that may wait for the disk: five and a half hours of a reading each five seconds, about a megabyte.
const MOST_WAITING: usize = 4096;

/// Where the lines go; a file, or what a test puts in its place.
pub trait Storage {
    /// Writes all of it, or some of it and tells.
    ///
    /// # Errors
    /// When not all could be written.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Has the system put on the disk what was written.
    ///
    /// # Errors
    /// When it cannot.
    fn sync(&mut self) -> io::Result<()>;
}

impl Storage for File {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.write_all(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }
}

/// Writes lines to a storage that may fail for a while.
pub struct LogFile<S: Storage> {
    storage: S,
    path: PathBuf,
    waiting: VecDeque<String>,
    forgotten: u64,
    /// The time of the last line forgotten, seconds since the start.
    forgotten_at_s: f64,
    /// Whether the last write left a piece of a line.
    torn: bool,
    synced: Instant,
    unsynced: bool,
    failed: Option<(Instant, String)>,
}

/// Opens the file for a run, and makes sure that nothing else is lost by it.
///
/// # Errors
/// When it cannot be written, is in use by another run, or holds something else than a run-in log.
pub fn open(path: &Path) -> Result<LogFile<File>, RunInError> {
    let refuse = |why: String| RunInError(format!("{}: {why}", path.display()));
    let mut file = OpenOptions::new()
        .read(true)
        .append(true)
        .create(true)
        .open(path)
        .map_err(|error| refuse(format!("the log cannot be written here: {error}")))?;
    let kind = file
        .metadata()
        .map_err(|error| refuse(format!("the log cannot be looked at: {error}")))?;
    if !kind.is_file() {
        return Err(refuse("a log must be a plain file; name another".into()));
    }
    take_for_itself(&file).map_err(|_| {
        refuse("another run is writing this log; end it, or name another file".into())
    })?;
    if kind.len() > 0 {
        match first_line(&mut file) {
            Ok(Some(Line::Session(_))) => {}
            Ok(_) => {
                return Err(refuse(
                    "this is no run-in log, and nothing is added to it; name another file".into(),
                ));
            }
            Err(error) => return Err(refuse(format!("cannot be read: {error}"))),
        }
    }
    let torn = ends_within_a_line(&mut file)
        .map_err(|error| refuse(format!("cannot be read: {error}")))?;
    let mut log = LogFile::new(file, path.into());
    log.torn = torn;
    Ok(log)
}

/// Other programs may read meanwhile, and add a temperature; on Windows a lock would keep them from it, so there is
/// none.
fn take_for_itself(file: &File) -> Result<(), std::fs::TryLockError> {
    if cfg!(unix) { file.try_lock() } else { Ok(()) }
}

/// Whether the last line has no end: it was being written when the program or the computer was stopped.
fn ends_within_a_line(file: &mut File) -> io::Result<bool> {
    if file.seek(SeekFrom::End(0))? == 0 {
        return Ok(false);
    }
    file.seek(SeekFrom::End(-1))?;
    let mut last = [0];
    file.read_exact(&mut last)?;
    Ok(last != *b"\n")
}

/// Adds one line to a log that may be in use by a run at this moment.
///
/// # Errors
/// When there is no run-in log at `path` or it cannot be written.
pub fn add_line(path: &Path, line: &Line) -> Result<(), RunInError> {
    let refuse = |why: String| RunInError(format!("{}: {why}", path.display()));
    let mut file = OpenOptions::new()
        .read(true)
        .append(true)
        .open(path)
        .map_err(|error| refuse(format!("cannot be opened: {error}")))?;
    match first_line(&mut file) {
        Ok(Some(Line::Session(_))) => {}
        Ok(_) => return Err(refuse("this is no run-in log".into())),
        Err(error) => return Err(refuse(format!("cannot be read: {error}"))),
    }
    let mut text = line.to_text();
    if ends_within_a_line(&mut file).unwrap_or(true) {
        text.insert(0, '\n');
    }
    file.append(text.as_bytes())
        .and_then(|()| file.sync())
        .map_err(|error| refuse(format!("cannot be written: {error}")))
}

impl<S: Storage> LogFile<S> {
    /// A log on a storage; `path` is what messages call it.
    pub fn new(storage: S, path: PathBuf) -> Self {
        Self {
            storage,
            path,
            waiting: VecDeque::new(),
            forgotten: 0,
            forgotten_at_s: 0.0,
            torn: false,
            synced: Instant::now(),
            unsynced: false,
            failed: None,
        }
    }

    /// Begins a session.
    pub fn begin(&mut self, session: Session, now: Instant) {
        self.write(&Line::Session(session), now);
    }

    /// Writes a line, or keeps it until the disk takes it.
    pub fn write(&mut self, line: &Line, now: Instant) {
        if self.waiting.len() == MOST_WAITING {
            self.waiting.pop_front();
            self.forgotten += 1;
        }
        self.forgotten_at_s = match line {
            Line::Reading(reading) => reading.at_s,
            Line::Event(event) => event.at_s,
            Line::End(end) => end.at_s,
            Line::Session(_) | Line::Temperature(_) => self.forgotten_at_s,
        };
        self.waiting.push_back(line.to_text());
        let due = self
            .failed
            .as_ref()
            .is_none_or(|(at, _)| now.duration_since(*at) >= RETRY_EVERY);
        let matters = !matches!(line, Line::Reading(_));
        if due || matches!(line, Line::End(_)) {
            self.write_waiting(now);
        }
        if matters || now.duration_since(self.synced) >= SYNC_EVERY {
            self.sync(now);
        }
    }

    /// What keeps lines from being written, in words for the technician; `None` when all is well.
    pub fn trouble(&self) -> Option<String> {
        let (_, why) = self.failed.as_ref()?;
        let forgotten = match self.forgotten {
            0 => String::new(),
            lines => format!("; the {lines} oldest are lost"),
        };
        Some(format!(
            "the log {} cannot be written ({why}): make room there. The run goes on, {} lines wait in memory{forgotten}",
            self.path.display(),
            self.waiting.len(),
        ))
    }

    fn write_waiting(&mut self, now: Instant) {
        if self.forgotten > 0 {
            let what = Happening::NotWritten {
                lines: self.forgotten,
            };
            let told = Line::Event(LoggedEvent {
                at_s: self.forgotten_at_s,
                what,
            });
            if self.append(&told.to_text(), now).is_err() {
                return;
            }
            self.forgotten = 0;
        }
        while let Some(text) = self.waiting.pop_front() {
            if self.append(&text, now).is_err() {
                self.waiting.push_front(text);
                return;
            }
        }
        self.failed = None;
    }

    fn append(&mut self, text: &str, now: Instant) -> Result<(), ()> {
        let mut bytes = Vec::with_capacity(text.len() + 1);
        if self.torn {
            bytes.push(b'\n');
        }
        bytes.extend_from_slice(text.as_bytes());
        match self.storage.append(&bytes) {
            Ok(()) => {
                self.torn = false;
                self.unsynced = true;
                Ok(())
            }
            Err(error) => {
                self.torn = true;
                self.failed = Some((now, error.to_string()));
                Err(())
            }
        }
    }

    fn sync(&mut self, now: Instant) {
        self.synced = now;
        if self.unsynced {
            match self.storage.sync() {
                Ok(()) => self.unsynced = false,
                Err(error) => self.failed = Some((now, error.to_string())),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{super::line::LoggedReading, *};

    /// A disk with so much room, which takes what fits and then fails.
    #[derive(Default)]
    struct SmallDisk {
        bytes: Vec<u8>,
        room: usize,
        syncs: usize,
    }

    impl Storage for SmallDisk {
        fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
            let fits = bytes.len().min(self.room - self.bytes.len());
            self.bytes.extend_from_slice(&bytes[..fits]);
            if fits == bytes.len() {
                return Ok(());
            }
            Err(io::ErrorKind::StorageFull.into())
        }

        fn sync(&mut self) -> io::Result<()> {
            self.syncs += 1;
            Ok(())
        }
    }

    fn log(room: usize) -> LogFile<SmallDisk> {
        let disk = SmallDisk {
            room,
            ..SmallDisk::default()
        };
        LogFile::new(disk, "run.log".into())
    }

    fn reading(at_s: f64) -> Line {
        Line::Reading(LoggedReading {
            at_s,
            status: "ok".into(),
            ..LoggedReading::default()
        })
    }

    /// The times of the readings on the disk, and how many lines are damaged.
    fn on_disk(log: &LogFile<SmallDisk>) -> (Vec<f64>, usize) {
        let mut times = Vec::new();
        let mut damaged = 0;
        for line in log.storage.bytes.split(|byte| *byte == b'\n') {
            match Line::parse(line) {
                Some(Line::Reading(reading)) => times.push(reading.at_s),
                Some(_) => {}
                None => damaged += usize::from(!line.is_empty()),
            }
        }
        (times, damaged)
    }

    #[test]
    fn a_disk_that_is_full_for_a_while_loses_no_line() {
        let mut log = log(1000);
        let mut now = Instant::now();
        for tick in 0..100 {
            now += Duration::from_secs(5);
            if tick == 60 {
                let trouble = log.trouble().expect("the disk is full");
                assert!(
                    trouble.contains("run.log") && trouble.contains("make room"),
                    "{trouble}"
                );
                log.storage.room = usize::MAX;
            }
            log.write(&reading(f64::from(tick)), now);
        }
        assert_eq!(log.trouble(), None);
        let (times, damaged) = on_disk(&log);
        assert_eq!(times, (0..100).map(f64::from).collect::<Vec<_>>());
        // Each try on the full disk may leave a piece; none of them spoils the line after it.
        assert!((1..=60).contains(&damaged), "{damaged}");
    }

    #[test]
    fn what_waits_is_bounded_and_what_is_forgotten_is_told() {
        let mut log = log(0);
        let now = Instant::now();
        let extra = 500;
        for tick in 0..MOST_WAITING + extra {
            log.write(&reading(tick as f64), now);
        }
        assert_eq!(log.waiting.len(), MOST_WAITING);
        let trouble = log.trouble().expect("the disk is full");
        assert!(trouble.contains("500 oldest"), "{trouble}");
        log.storage.room = usize::MAX;
        let later = now + RETRY_EVERY;
        log.write(&reading((MOST_WAITING + extra) as f64), later);
        assert_eq!(log.trouble(), None);
        let (times, _) = on_disk(&log);
        assert_eq!(times.len(), MOST_WAITING);
        assert_eq!(times[0], (extra + 1) as f64);
        let text = String::from_utf8_lossy(&log.storage.bytes).into_owned();
        assert!(
            text.contains(r#""not_written":{"lines":501}"#),
            "{text:.300}"
        );
    }

    #[test]
    fn a_full_disk_is_not_asked_at_every_line() {
        let mut log = log(0);
        let now = Instant::now();
        log.write(&reading(0.0), now);
        log.storage.room = usize::MAX;
        log.write(&reading(1.0), now + RETRY_EVERY / 2);
        assert!(log.storage.bytes.is_empty());
        log.write(&reading(2.0), now + RETRY_EVERY);
        assert_eq!(on_disk(&log).0, [0.0, 1.0, 2.0]);
    }

    #[test]
    fn readings_are_synced_once_a_minute_and_events_at_once() {
        let mut log = log(usize::MAX);
        let start = Instant::now();
        for tick in 1..=120 {
            log.write(
                &reading(f64::from(tick)),
                start + Duration::from_secs(5 * tick as u64),
            );
        }
        assert_eq!(log.storage.syncs, 10);
        let what = Happening::InputLost;
        log.write(
            &Line::Event(LoggedEvent { at_s: 601.0, what }),
            start + Duration::from_secs(601),
        );
        assert_eq!(log.storage.syncs, 11);
    }
}
