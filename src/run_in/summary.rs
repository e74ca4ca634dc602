//! What a log is, without reading all of it: its head, and whether its run was ended.

use super::{
    RunInError,
    keeper::WINDOW_CLOSED,
    line::{Line, Session},
    reader::first_line,
};
use std::{
    fs::{File, TryLockError},
    io::{self, Read as _, Seek as _, SeekFrom},
    path::{Path, PathBuf},
};

/// So much of the end of a log is looked at: some two hundred lines.
const TAIL_BYTES: u64 = 65_536;

/// A log at a glance.
#[derive(Clone, Debug, PartialEq)]
pub struct LogSummary {
    /// Its file.
    pub path: PathBuf,
    /// The head of its first session.
    pub session: Session,
    /// Why the run ended; `None` where it goes on or was broken off.
    pub ended: Option<String>,
    /// Whether a run writes it at this moment, as far as the system tells.
    pub in_use: bool,
}

impl LogSummary {
    /// Whether it was broken off without being ended by anybody: the window was closed, the program killed, the power
    /// gone.
    pub fn is_unfinished(&self) -> bool {
        !self.in_use && self.ended.as_deref().is_none_or(|why| why == WINDOW_CLOSED)
    }

    /// Its name: the file's, without folder and ending.
    pub fn name(&self) -> String {
        let stem = self.path.file_stem().unwrap_or_default();
        stem.to_string_lossy().into_owned()
    }
}

/// Looks at the log at `path`.
///
/// # Errors
/// When it cannot be read or is no run-in log.
pub fn summary(path: &Path) -> Result<LogSummary, RunInError> {
    let refuse = |why: String| RunInError(format!("{}: {why}", path.display()));
    let mut file =
        File::open(path).map_err(|error| refuse(format!("the log cannot be opened: {error}")))?;
    let head = first_line(&mut file)
        .map_err(|error| refuse(format!("the log cannot be read: {error}")))?;
    let Some(Line::Session(session)) = head else {
        return Err(refuse("this is no run-in log".into()));
    };
    let ended =
        ending(&mut file).map_err(|error| refuse(format!("the log cannot be read: {error}")))?;
    Ok(LogSummary {
        path: path.into(),
        session,
        ended,
        in_use: is_in_use(&file),
    })
}

/// Why the last session ended; a temperature that is added later changes nothing of it.
fn ending(file: &mut File) -> io::Result<Option<String>> {
    let bytes = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(bytes.saturating_sub(TAIL_BYTES)))?;
    let mut tail = Vec::new();
    file.take(TAIL_BYTES).read_to_end(&mut tail)?;
    let mut ended = None;
    for line in tail.split(|byte| *byte == b'\n') {
        match Line::parse(line) {
            Some(Line::End(end)) => ended = Some(end.why),
            Some(Line::Session(_) | Line::Reading(_) | Line::Event(_)) => ended = None,
            Some(Line::Temperature(_)) | None => {}
        }
    }
    Ok(ended)
}

/// A run locks its file, except on Windows; there nobody knows.
fn is_in_use(file: &File) -> bool {
    if !cfg!(unix) {
        return false;
    }
    match file.try_lock_shared() {
        Ok(()) => {
            let _unlocked_with_the_file_anyway = file.unlock();
            false
        }
        Err(TryLockError::WouldBlock) => true,
        Err(TryLockError::Error(_)) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::{
        super::{RunInLog, example::snapshot},
        *,
    };

    #[test]
    fn a_run_is_unfinished_until_somebody_ends_it() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("belt.log");
        let start = || RunInLog::start(&path, 1.0, "line input", "3150 Hz").expect("writable");
        let mut log = start();
        assert!(cfg!(windows) || summary(&path).expect("a log").in_use);
        log.take(&snapshot(), 1.0);
        assert_eq!(log.finish(WINDOW_CLOSED), None);
        let seen = summary(&path).expect("a log");
        assert!(seen.is_unfinished() && !seen.in_use, "{seen:?}");
        assert_eq!(
            (seen.name().as_str(), seen.session.source.as_str()),
            ("belt", "line input")
        );
        // It goes on, and is killed: the line of its end is missing.
        std::mem::forget(start().finish("ended by the technician"));
        assert!(!summary(&path).expect("a log").is_unfinished());
        let text = std::fs::read_to_string(&path).expect("text");
        let killed = text.trim_end().rsplit_once('\n').expect("lines").0;
        std::fs::write(&path, killed).expect("written");
        assert!(summary(&path).expect("a log").is_unfinished());
    }

    #[test]
    fn another_file_is_no_log() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("other.log");
        std::fs::write(&path, "RIFF....WAVE").expect("written");
        let told = summary(&path).expect_err("no log").to_string();
        assert!(told.contains("other.log: this is no run-in log"), "{told}");
        assert!(summary(folder.path()).is_err());
    }
}
