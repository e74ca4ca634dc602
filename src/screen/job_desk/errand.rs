//! What the desk is asked, and what it answers.

use super::InHand;
use crate::bench::{
    Environment, LimitSet, Workshop,
    keeping::{Entry, EntryId, Kept},
    sheet::Paper,
    standards::{TapeCheck, TapeOnHand, TapeRecord},
    store::{BackedUp, Filter, JobRow, KnownDeck, NewJob, StoreError},
};
use jiff::Timestamp;
use std::path::PathBuf;

/// What the desk is asked to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Errand {
    /// The jobs of a filter.
    List(Filter),
    /// What a new job can be made of.
    Prepare,
    /// Known decks with these words in model or serial number.
    Decks(String),
    /// The earlier visits of a deck.
    Visits {
        /// Its model.
        model: String,
        /// Its serial number.
        serial: String,
    },
    /// A new job, which is then in hand.
    Create(Box<NewJob>),
    /// Takes a job in hand.
    Open(String),
    /// No job is in hand any more.
    LetGo,
    /// Keeps an entry with a job.
    Keep(Box<ToKeep>),
    /// Takes an entry back: readings and checks stay in the record as withdrawn, others go.
    TakeBack {
        /// Its job's number.
        job: String,
        /// What it is called.
        which: Which,
        /// The entry, as it was shown.
        entry: Box<Entry>,
        /// When.
        at: Timestamp,
    },
    /// Lets a withdrawn reading or check count again.
    Restore {
        /// Its job's number.
        job: String,
        /// What it is called.
        which: Which,
        /// The entry, as it was shown.
        entry: Box<Entry>,
    },
    /// Changes the job itself.
    Change {
        /// Its number.
        job: String,
        /// How.
        change: Change,
    },
    /// Writes the job into a file of its own.
    Export(String),
    /// Makes the owner's sheet of the job, as PDF on that paper and as HTML.
    Sheet(String, Paper),
    /// The workshop's own standards.
    Standards,
    /// Writes down what is known of a tape.
    SetTape(Box<TapeOnHand>),
    /// Writes down that a tape was checked against another.
    CheckTape {
        /// Its name.
        name: String,
        /// What came of it.
        check: Box<TapeCheck>,
    },
    /// The workshop of the jobs to come, and of the one in hand.
    SetWorkshop(Workshop),
    /// Copies the whole record.
    Backup(PathBuf),
}

/// An entry to be kept.
#[derive(Clone, Debug, PartialEq)]
pub struct ToKeep {
    /// Comes back with the answer.
    pub ticket: u64,
    /// The job's number.
    pub job: String,
    /// The entry.
    pub entry: Entry,
    /// Name and title of the calibration tape that played for it, whose pass is counted.
    pub pass: Option<(String, String)>,
}

/// How an entry that is shown is found again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// It is in the record.
    Kept(EntryId),
    /// It waits in memory.
    Waiting,
}

/// A change of the job itself.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// The deck leaves.
    Close(Timestamp),
    /// It is taken up again.
    Reopen,
    /// Other circumstances.
    Environment(Environment),
    /// Judged by other limits.
    Limits(Box<LimitSet>),
    /// What the owner said.
    Complaint(String),
}

/// What a new job can be made of.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Prepared {
    /// The next number.
    pub number: String,
    /// The sets of limits at hand: those that come with the program first.
    pub limits: Vec<LimitSet>,
    /// Why the user's own limits cannot be used.
    pub problem: Option<String>,
}

/// The workshop's own standards.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Standards {
    /// Its calibration tapes.
    pub tapes: Vec<TapeRecord>,
    /// Its name and address.
    pub workshop: Workshop,
    /// A file that a backup could go to.
    pub backup: PathBuf,
}

/// The jobs of a filter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Listed {
    /// The filter.
    pub filter: Filter,
    /// Its jobs.
    pub rows: Vec<JobRow>,
    /// How many jobs there are in all.
    pub all: u32,
    /// How many of them are open.
    pub open: u32,
}

/// What the desk answers.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// To [`Errand::List`].
    Listed(Listed),
    /// To [`Errand::Prepare`].
    Prepared(Box<Prepared>),
    /// To [`Errand::Decks`].
    Decks {
        /// That of the errand.
        search: String,
        /// The decks, those seen last first.
        decks: Vec<KnownDeck>,
    },
    /// To [`Errand::Visits`].
    Visits {
        /// That of the errand.
        model: String,
        /// That of the errand.
        serial: String,
        /// Its jobs, the newest first.
        jobs: Vec<JobRow>,
    },
    /// The job was made and is in hand.
    Created(String),
    /// The job was not made, and why.
    NotCreated(String),
    /// The job in hand, as it is now.
    InHand(Box<InHand>),
    /// The job in hand was changed by another copy of the program; what it is now follows.
    ChangedElsewhere,
    /// A job cannot be taken in hand.
    NotOpened {
        /// Its number.
        number: String,
        /// Why.
        why: StoreError,
    },
    /// To [`Errand::Keep`].
    Kept {
        /// That of the errand.
        ticket: u64,
        /// Where it is; or why it never can be kept.
        outcome: Result<Kept, StoreError>,
        /// How many entries wait in memory now.
        waiting: usize,
    },
    /// To [`Errand::TakeBack`]; why not, where it was not.
    TakenBack {
        /// That of the errand.
        which: Which,
        /// The entry.
        entry: Box<Entry>,
        /// Whether it was done.
        done: Result<(), StoreError>,
    },
    /// Why the tape that played is due for a check against another; `None` while it is not.
    TapeDue(Option<String>),
    /// Something else was done.
    Done(String),
    /// Something was not done, and why.
    Failed(String),
    /// To [`Errand::Standards`], and after each change of one.
    Standards(Box<Standards>),
    /// To [`Errand::Backup`].
    BackedUp(PathBuf, Result<BackedUp, String>),
    /// How many entries wait in memory, and what a person must know of that.
    State {
        /// How many.
        waiting: usize,
        /// In one line; `None`: all is well.
        trouble: Option<String>,
    },
}
