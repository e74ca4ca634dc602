//! The test tapes to choose from: those that come with the program, and the technician's own in the data folder.

use crate::tables::{TableError, TestTape, test_tapes, test_tapes_in, user_tapes_folder};
use std::path::{Path, PathBuf};

/// Where own tapes are found.
#[derive(Clone, Debug, Default)]
pub struct TapeShelf {
    folder: Option<PathBuf>,
}

/// What there is to choose from.
#[derive(Clone, Debug, Default)]
pub struct TapeList {
    /// The technician's own, with their certificates.
    pub own: Vec<TestTape>,
    /// Those that come with the program: kinds of tapes, without certificates.
    pub supplied: Vec<TestTape>,
    /// Why own tapes are left out, in one line.
    pub problem: Option<String>,
}

impl TapeShelf {
    /// With the folder `tapes` in the data folder of the user, where the system has one.
    pub fn of_the_user() -> Self {
        Self {
            folder: user_tapes_folder(),
        }
    }

    /// With own tapes in this folder.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: Some(folder.into()),
        }
    }

    /// The folder of the own tapes.
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// What there is at this moment.
    pub fn list(&self) -> TapeList {
        let own = self.folder().map_or(Ok(Vec::new()), test_tapes_in);
        let supplied = test_tapes().map(<[TestTape]>::to_vec);
        let problems = [own.as_ref().err(), supplied.as_ref().err()];
        let problems: Vec<&str> = problems
            .into_iter()
            .flatten()
            .map(|TableError(why)| &**why)
            .collect();
        TapeList {
            problem: (!problems.is_empty()).then(|| problems.join("; ")),
            own: own.unwrap_or_default(),
            supplied: supplied.unwrap_or_default(),
        }
    }
}

impl TapeList {
    /// All of them, the own ones first.
    pub fn all(&self) -> impl Iterator<Item = &TestTape> {
        self.own.iter().chain(&self.supplied)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn own_tapes_come_first_and_a_damaged_file_is_told_with_the_supplied_ones_left() {
        let folder = tempfile::tempdir().expect("a folder");
        let shelf = TapeShelf::at(folder.path());
        let supplied = shelf.list().supplied.len();
        assert!(supplied > 3);
        let tape = "[[tape]]\nname = \"mine\"\ntitle = \"Mine\"\ntone_hz = 3150.0\nsource = \"its label\"\n";
        fs::write(folder.path().join("mine.toml"), tape).expect("written");
        let list = shelf.list();
        assert_eq!(list.all().next().map(|tape| &*tape.name), Some("mine"));
        assert_eq!((list.all().count(), list.problem), (supplied + 1, None));
        fs::write(folder.path().join("bad.toml"), "[[tape]]\nname = 3\n").expect("written");
        let list = shelf.list();
        assert_eq!((list.own.len(), list.supplied.len()), (0, supplied));
        assert!(list.problem.expect("told").contains("bad.toml"));
    }
}
