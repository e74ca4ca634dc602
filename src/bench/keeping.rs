//! Nothing taken is lost: what cannot be saved now (a full disk, a folder that is gone, a damaged file) is held in memory,
//! in order, until it can be.

use super::{
    CheckDone, Note, PartReplaced, Skip, Store, StoreError, TakenReading, sound,
    store::{CheckId, NoteId, PartId, ReadingId, SkipId},
};
use jiff::Timestamp;
use std::{
    collections::VecDeque,
    path::{Path, PathBuf},
};

/// Something to be kept with a job.
#[derive(Clone, Debug, PartialEq)]
#[allow(
    clippy::large_enum_variant,
    reason = "nearly all entries are readings, and each is made once for a key that was pressed"
)]
pub enum Entry {
    /// A reading.
    Reading(TakenReading),
    /// A mechanical check.
    Check(CheckDone),
    /// A station left out.
    Skip(Skip),
    /// A replaced part.
    Part(PartReplaced),
    /// A note.
    Note(Note),
}

/// What an entry is called in the record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EntryId {
    /// A reading.
    Reading(ReadingId),
    /// A mechanical check.
    Check(CheckId),
    /// A station left out.
    Skip(SkipId),
    /// A replaced part.
    Part(PartId),
    /// A note.
    Note(NoteId),
}

/// Where an entry is.
#[derive(Clone, Debug, PartialEq)]
pub enum Kept {
    /// On disk.
    OnDisk(EntryId),
    /// In memory only, because of this; [`Keeper::retry`] tries again.
    InMemory(StoreError),
}

/// An entry that waits.
#[derive(Clone, Debug, PartialEq)]
pub struct Waiting {
    /// Its job's number.
    pub job: String,
    /// The entry.
    pub entry: Entry,
}

/// The record, and what waits to get into it.
#[derive(Debug)]
pub struct Keeper {
    path: PathBuf,
    store: Option<Store>,
    waiting: VecDeque<Waiting>,
    /// What the record will never take (its job is not there): kept to be seen and exported.
    set_aside: Vec<(Waiting, StoreError)>,
    trouble: Option<StoreError>,
}

impl Keeper {
    /// A record at that path, opened if it can be; [`Self::trouble`] says why not.
    pub fn at(path: impl Into<PathBuf>) -> Self {
        let mut keeper = Self {
            path: path.into(),
            store: None,
            waiting: VecDeque::new(),
            set_aside: Vec::new(),
            trouble: None,
        };
        // What is wrong is kept in `trouble`.
        let _told = keeper.store();
        keeper
    }

    /// The file of the record.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The open record; tries to open it when it is not.
    ///
    /// # Errors
    /// Why it cannot be opened.
    pub fn store(&mut self) -> Result<&mut Store, StoreError> {
        if self.store.is_none() {
            match Store::open(&self.path) {
                Ok(store) => {
                    self.trouble = None;
                    self.store = Some(store);
                }
                Err(error) => {
                    self.trouble = Some(error.clone());
                    return Err(error);
                }
            }
        }
        self.store
            .as_mut()
            .ok_or_else(|| StoreError::NotNow(format!("{}: cannot be opened", self.path.display())))
    }

    /// Keeps an entry on disk, or holds it until it can be, behind those that wait already.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it can never be kept: it makes no sense, or there is no such job. It is then not held.
    pub fn keep(&mut self, job: &str, entry: Entry) -> Result<Kept, StoreError> {
        check(&entry).map_err(StoreError::Refused)?;
        self.retry();
        let waiting = Waiting {
            job: job.to_owned(),
            entry,
        };
        if !self.waiting.is_empty() {
            let why = self.why();
            self.waiting.push_back(waiting);
            return Ok(Kept::InMemory(why));
        }
        match self.save(&waiting) {
            Ok(id) => Ok(Kept::OnDisk(id)),
            Err(error) if error.may_pass() => {
                self.waiting.push_back(waiting);
                Ok(Kept::InMemory(error))
            }
            Err(refused) => Err(refused),
        }
    }

    /// Tries to save what waits, oldest first; ends at the first that cannot be saved yet. Returns how many were saved.
    pub fn retry(&mut self) -> usize {
        let mut saved = 0;
        while let Some(first) = self.waiting.pop_front() {
            match self.save(&first) {
                Ok(_) => saved += 1,
                Err(error) if error.may_pass() => {
                    self.waiting.push_front(first);
                    break;
                }
                Err(refused) => self.set_aside.push((first, refused)),
            }
        }
        saved
    }

    /// What waits, oldest first.
    pub fn waiting(&self) -> impl ExactSizeIterator<Item = &Waiting> {
        self.waiting.iter()
    }

    /// Withdraws a reading or check that still waits, by its place among them; other entries are dropped from the queue.
    /// Returns whether there was one.
    pub fn withdraw_waiting(&mut self, place: usize, at: Timestamp) -> bool {
        match self
            .waiting
            .get_mut(place)
            .map(|waiting| &mut waiting.entry)
        {
            Some(Entry::Reading(reading)) => reading.withdrawn = Some(at),
            Some(Entry::Check(check)) => check.withdrawn = Some(at),
            Some(_) => {
                self.waiting.remove(place);
            }
            None => return false,
        }
        true
    }

    /// What the record did not take when its turn came, and why.
    pub fn set_aside(&self) -> &[(Waiting, StoreError)] {
        &self.set_aside
    }

    /// Why the last try to open or to save went wrong; `None` when all is well.
    pub fn trouble(&self) -> Option<&StoreError> {
        self.trouble.as_ref()
    }

    /// What a person must know now, in one line; `None` when all is well.
    pub fn words(&self) -> Option<String> {
        let count = |number: usize| match number {
            1 => "1 entry".to_owned(),
            number => format!("{number} entries"),
        };
        if let Some((waiting, why)) = self.set_aside.last() {
            return Some(format!(
                "{} of job {} could not be kept and stays in memory: {why}",
                count(self.set_aside.len()),
                waiting.job
            ));
        }
        match (&self.trouble, self.waiting.len()) {
            (None, 0) => None,
            (None, number) => Some(format!("{} not saved yet", count(number))),
            (Some(why), 0) => Some(why.to_string()),
            (Some(why), number) => Some(format!(
                "{} not saved yet, held in memory: {why}",
                count(number)
            )),
        }
    }

    fn why(&self) -> StoreError {
        self.trouble.clone().unwrap_or_else(|| {
            StoreError::NotNow(format!("{}: not saved yet", self.path.display()))
        })
    }

    fn save(&mut self, waiting: &Waiting) -> Result<EntryId, StoreError> {
        let job = &*waiting.job;
        let saved = self.store().and_then(|store| match &waiting.entry {
            Entry::Reading(reading) => store.add_reading(job, reading).map(EntryId::Reading),
            Entry::Check(check) => store.add_check(job, check).map(EntryId::Check),
            Entry::Skip(skip) => store.add_skip(job, skip).map(EntryId::Skip),
            Entry::Part(part) => store.add_part(job, part).map(EntryId::Part),
            Entry::Note(note) => store.add_note(job, note).map(EntryId::Note),
        });
        match &saved {
            Ok(_) | Err(StoreError::Refused(_)) => self.trouble = None,
            Err(error) => {
                self.trouble = Some(error.clone());
                // Opened anew next time: the file may have been put back, or moved, meanwhile.
                self.store = None;
            }
        }
        saved
    }
}

fn check(entry: &Entry) -> Result<(), String> {
    match entry {
        Entry::Reading(reading) => sound::check_reading(reading),
        Entry::Check(check) => sound::check_check(check),
        Entry::Skip(skip) => sound::check_skip(skip),
        Entry::Part(part) => sound::check_part(part),
        Entry::Note(note) => sound::check_note(note),
    }
}
