//! Where the window keeps its run-in logs: a file a run, in the user's data folder, named by its date and deck.

use crate::{
    profile::to_date,
    run_in::{LogSummary, summary},
    tables::user_data,
};
use std::{
    fs, io,
    path::{Path, PathBuf},
    time::SystemTime,
};

/// A reading is kept each so many seconds, unless the shelf says otherwise.
const EVERY_S: f64 = 5.0;
const EXTENSION: &str = "log";
/// Letters of a name that go into the file's name.
const MOST_LETTERS: usize = 60;

/// A folder of logs.
#[derive(Clone, Debug, Default)]
pub struct LogShelf {
    folder: Option<PathBuf>,
    every_s: Option<f64>,
}

/// The logs in the folder, newest first.
#[derive(Clone, Debug, Default)]
pub struct LogList {
    /// The logs.
    pub logs: Vec<LogSummary>,
    /// Why the folder or one of its files is left out, in words.
    pub problem: Option<String>,
}

impl LogShelf {
    /// The folder `run-in` in the user's data folder, where the system has one.
    pub fn of_the_user() -> Self {
        Self {
            folder: user_data("run-in"),
            every_s: None,
        }
    }

    /// A folder of that path; made when a log is started.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: Some(folder.into()),
            every_s: None,
        }
    }

    /// Keeps a reading each so many seconds.
    #[must_use]
    pub fn reading_each(self, seconds: f64) -> Self {
        Self {
            every_s: Some(seconds),
            ..self
        }
    }

    /// The folder.
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// Time between two readings, seconds.
    pub fn every_s(&self) -> f64 {
        self.every_s.unwrap_or(EVERY_S)
    }

    /// The file of a log of that name that begins now; `None` where there is no folder.
    pub fn file(&self, name: &str, now: SystemTime) -> Option<PathBuf> {
        let folder = self.folder.as_ref()?;
        let date = date_and_time(now).to_lowercase();
        let date = date.replace(':', "").replace(' ', "-");
        let name = file_name(name);
        let dash = if name.is_empty() { "" } else { "-" };
        Some(folder.join(format!("{date}{dash}{name}.{EXTENSION}")))
    }

    /// What is in the folder at this moment. No folder is no log.
    pub fn list(&self) -> LogList {
        let Some(folder) = &self.folder else {
            return LogList::default();
        };
        let files = match fs::read_dir(folder) {
            Ok(files) => files,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return LogList::default(),
            Err(error) => {
                return LogList {
                    logs: Vec::new(),
                    problem: Some(format!("{}: {error}", folder.display())),
                };
            }
        };
        let mut list = LogList::default();
        for path in files.filter_map(|file| Some(file.ok()?.path())) {
            if path.extension().is_none_or(|ending| ending != EXTENSION) {
                continue;
            }
            match summary(&path) {
                Ok(log) => list.logs.push(log),
                Err(error) => list.problem = Some(error.to_string()),
            }
        }
        list.logs.sort_by(|one, other| {
            let started = |log: &LogSummary| log.session.started_unix_s;
            started(other).total_cmp(&started(one))
        });
        list
    }
}

/// `2026-11-26 14:03:05 UTC`, to the second.
pub fn date_and_time(time: SystemTime) -> String {
    let date = to_date(time).to_string();
    date.trim_end_matches('Z').replace('T', " ") + " UTC"
}

/// What every system takes as a part of a file's name: small letters, digits and dashes.
fn file_name(name: &str) -> String {
    let mut kept = String::new();
    for letter in name.chars().flat_map(char::to_lowercase) {
        if letter.is_alphanumeric() {
            kept.push(letter);
        } else if !kept.is_empty() && !kept.ends_with('-') {
            kept.push('-');
        }
    }
    let kept: String = kept.chars().take(MOST_LETTERS).collect();
    kept.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn a_file_is_named_by_its_date_and_deck_whatever_is_typed() {
        let shelf = LogShelf::at("logs");
        let now = SystemTime::UNIX_EPOCH + Duration::from_secs(1_795_701_785);
        let file = |name| shelf.file(name, now).expect("a folder");
        let expected = "logs/2026-11-26-140305-utc-heron-3hc-new-belt.log";
        assert_eq!(file("Heron 3HC: new belt").to_string_lossy(), expected);
        let bare = file("../..//\\ \0");
        assert_eq!(bare.parent(), Some(Path::new("logs")));
        assert!(bare.to_string_lossy().ends_with("-utc.log"));
        let long = file(&"x".repeat(500));
        assert!(long.file_name().expect("a name").len() < 100);
        assert_eq!(LogShelf::default().file("x", now), None);
    }

    #[test]
    fn other_files_are_left_out_and_damaged_ones_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let shelf = LogShelf::at(folder.path());
        assert!(
            LogShelf::at(folder.path().join("none"))
                .list()
                .logs
                .is_empty()
        );
        fs::write(folder.path().join("notes.txt"), "other").expect("written");
        assert_eq!(shelf.list().problem, None);
        fs::write(folder.path().join("bad.log"), "other").expect("written");
        let told = shelf.list().problem.expect("told");
        assert!(told.contains("bad.log: this is no run-in log"), "{told}");
        assert!(shelf.list().logs.is_empty());
    }
}
