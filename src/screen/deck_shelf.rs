//! The mechanisms to choose from: those that come with the program, and the technician's own in the settings folder.
//! A supplied one is never written over, nor an own one by another.

use crate::tables::{
    Mechanism, mechanism, mechanism_by_name_or_path, mechanism_names, toml_files_in,
};
use directories::ProjectDirs;
use std::{
    fs, io,
    path::{Path, PathBuf},
};

/// One mechanism, by what opens it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DeckChoice {
    /// One that comes with the program, by its name.
    Supplied(String),
    /// A file.
    File(PathBuf),
}

/// An entry of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeckEntry {
    /// What opens it.
    pub choice: DeckChoice,
    /// What a person calls the deck.
    pub title: String,
}

/// What there is to choose from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeckList {
    /// Those that come with the program.
    pub supplied: Vec<DeckEntry>,
    /// The technician's own.
    pub own: Vec<DeckEntry>,
    /// Why own files are left out, one line each.
    pub problems: Vec<String>,
}

/// Where mechanisms are found and kept.
#[derive(Clone, Debug, Default)]
pub struct DeckShelf {
    folder: Option<PathBuf>,
}

impl DeckShelf {
    /// With the folder `decks` in the settings folder of the user, where the system has one.
    pub fn of_the_user() -> Self {
        Self {
            folder: ProjectDirs::from("", "", "trimwatch")
                .map(|folders| folders.config_dir().join("decks")),
        }
    }

    /// With own files in this folder.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: Some(folder.into()),
        }
    }

    /// The folder of the own files.
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// What there is at this moment.
    pub fn list(&self) -> DeckList {
        let mut list = DeckList {
            supplied: mechanism_names()
                .map(|name| DeckEntry {
                    choice: DeckChoice::Supplied(name.into()),
                    title: mechanism(name).map_or_else(|_| name.into(), |one| one.title),
                })
                .collect(),
            ..DeckList::default()
        };
        for path in self.folder.as_deref().map_or(Vec::new(), toml_files_in) {
            match open_file(&path) {
                Ok(mechanism) => list.own.push(DeckEntry {
                    choice: DeckChoice::File(path),
                    title: mechanism.title,
                }),
                Err(why) => list.problems.push(why),
            }
        }
        list
    }

    /// Opens one.
    ///
    /// # Errors
    /// One line that says why it cannot be used.
    pub fn open(&self, choice: &DeckChoice) -> Result<Mechanism, String> {
        match choice {
            DeckChoice::Supplied(name) => mechanism(name).map_err(|error| error.to_string()),
            DeckChoice::File(path) => open_file(path),
        }
    }

    /// Keeps a mechanism as `NAME.toml` in the own folder; `instead_of` is the file that it was opened from.
    ///
    /// # Errors
    /// One line: there is no such folder, the name does not make a file name, is taken by a supplied mechanism or by
    /// another own file, or the file cannot be written.
    pub fn save(
        &self,
        mechanism: &Mechanism,
        instead_of: Option<&DeckChoice>,
    ) -> Result<DeckChoice, String> {
        let name = &mechanism.name;
        let Some(folder) = &self.folder else {
            return Err("not saved: this system has no settings folder of the user".into());
        };
        let fits =
            |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
        if name.is_empty() || name.len() > 60 || !name.chars().all(fits) {
            return Err(format!(
                "not saved: '{name}' is no file name; use small letters a to z, digits and '-'"
            ));
        }
        if mechanism_names().any(|supplied| supplied == name) {
            return Err(format!(
                "not saved: '{name}' comes with the program and is never written over; choose another file name"
            ));
        }
        let path = folder.join(format!("{name}.toml"));
        let choice = DeckChoice::File(path.clone());
        let is_its_own = instead_of == Some(&choice);
        if !is_its_own && path.exists() {
            return Err(format!(
                "not saved: there is a '{name}' already; choose another file name, or open that one to change it"
            ));
        }
        let text = mechanism.to_toml().map_err(|error| error.to_string())?;
        write(&path, &text).map_err(|error| format!("not saved: {}: {error}", path.display()))?;
        Ok(choice)
    }
}

fn open_file(path: &Path) -> Result<Mechanism, String> {
    mechanism_by_name_or_path(&path.to_string_lossy()).map_err(|error| error.to_string())
}

/// The file is never half written.
fn write(path: &Path, text: &str) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let unfinished = path.with_extension(format!("{}.new", std::process::id()));
    fs::write(&unfinished, text)?;
    fs::rename(&unfinished, path)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn deck(name: &str) -> Mechanism {
        let mut deck = mechanism("finch-2h").expect("supplied");
        deck.name = name.into();
        deck.title = format!("{name} of the workshop");
        deck
    }

    #[test]
    fn what_is_saved_is_listed_and_opens_as_it_was() {
        let folder = tempfile::tempdir().expect("a folder");
        let shelf = DeckShelf::at(folder.path().join("deep/er"));
        assert!(shelf.list().own.is_empty(), "no folder yet");
        let saved = shelf.save(&deck("mine"), None).expect("saved");
        assert_eq!(shelf.open(&saved), Ok(deck("mine")));
        let list = shelf.list();
        assert_eq!(list.own.len(), 1);
        assert_eq!(list.own[0].title, "mine of the workshop");
        assert!(list.supplied.len() > 3 && list.problems.is_empty());
    }

    #[test]
    fn nothing_is_written_over_that_is_not_the_file_in_hand() {
        let folder = tempfile::tempdir().expect("a folder");
        let shelf = DeckShelf::at(folder.path());
        let told = shelf.save(&deck("finch-2h"), None).expect_err("supplied");
        assert!(told.contains("'finch-2h' comes with the program"), "{told}");
        assert_eq!(fs::read_dir(folder.path()).expect("folder").count(), 0);
        let mine = shelf.save(&deck("mine"), None).expect("saved");
        let other = shelf.save(&deck("other"), None).expect("saved");
        let told = shelf.save(&deck("mine"), None).expect_err("taken");
        assert!(told.contains("there is a 'mine' already"), "{told}");
        assert!(shelf.save(&deck("mine"), Some(&other)).is_err());
        assert!(shelf.save(&deck("mine"), Some(&mine)).is_ok(), "changed");
        for name in ["", "../mine", "a/b", "Mine", "mine.toml"] {
            let told = shelf.save(&deck(name), None).expect_err("no file name");
            assert!(told.contains("is no file name"), "{told}");
        }
        assert!(DeckShelf::default().save(&deck("mine"), None).is_err());
    }

    #[test]
    fn a_damaged_own_file_is_told_and_hides_no_other() {
        let folder = tempfile::tempdir().expect("a folder");
        let shelf = DeckShelf::at(folder.path());
        shelf.save(&deck("mine"), None).expect("saved");
        fs::write(folder.path().join("bad.toml"), "name = 3\n").expect("written");
        fs::write(folder.path().join("notes.txt"), "other").expect("written");
        let list = shelf.list();
        assert_eq!((list.own.len(), list.problems.len()), (1, 1));
        let told = &list.problems[0];
        assert!(told.contains("bad.toml, line 1, key name"), "{told}");
    }
}
