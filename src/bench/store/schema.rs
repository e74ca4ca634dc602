//! The tables of the record, and the steps from every earlier version to this one.
//!
//! A step is never changed once it has been published: a record that was made by it is out there. A change of the tables
//! is a further step.

mod search_text;

use rusqlite::{Connection, Transaction};

pub(super) use search_text::{fold, identity, refresh};

/// Marks a SQLite file as a record of this program (`TrmW`).
pub(super) const APPLICATION_ID: i32 = 0x5472_6d57;

/// One step: from the version of its place in [`STEPS`] to the next.
type Step = fn(&Transaction<'_>) -> rusqlite::Result<()>;

/// All steps in order.
const STEPS: [Step; 3] = [jobs, standards, search];

/// The version this program writes: the number of steps.
pub(super) const VERSION: i64 = STEPS.len() as i64;

/// Takes the steps from `from` up to, not beyond, `to`.
pub(super) fn migrate(transaction: &Transaction<'_>, from: i64, to: i64) -> rusqlite::Result<()> {
    for step in STEPS
        .iter()
        .take(to.max(0) as usize)
        .skip(from.max(0) as usize)
    {
        step(transaction)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", to)
}

/// The version a file says it has; 0: nothing has been written yet.
pub(super) fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Jobs with all that is in them. Times are nanoseconds since 1970, UTC. What repeats from reading to reading (the
/// workshop, the limits, how a reading was taken) is kept once, as the JSON text it is exported with.
fn jobs(transaction: &Transaction<'_>) -> rusqlite::Result<()> {
    transaction.execute_batch(
        "CREATE TABLE own (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
         CREATE TABLE workshop (id INTEGER PRIMARY KEY, body TEXT NOT NULL UNIQUE) STRICT;
         CREATE TABLE limit_set (id INTEGER PRIMARY KEY, body TEXT NOT NULL UNIQUE) STRICT;
         CREATE TABLE context (id INTEGER PRIMARY KEY, body TEXT NOT NULL UNIQUE) STRICT;
         CREATE TABLE quantity (id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE) STRICT;
         CREATE TABLE deck (
             id INTEGER PRIMARY KEY, model TEXT NOT NULL, serial TEXT NOT NULL, tape_format TEXT NOT NULL,
             mechanism TEXT NOT NULL, UNIQUE (model, serial, tape_format, mechanism)) STRICT;
         CREATE TABLE job (
             id INTEGER PRIMARY KEY, number TEXT NOT NULL UNIQUE COLLATE NOCASE,
             workshop INTEGER NOT NULL REFERENCES workshop, deck INTEGER NOT NULL REFERENCES deck,
             limits INTEGER NOT NULL REFERENCES limit_set, opened INTEGER NOT NULL, closed INTEGER,
             complaint TEXT NOT NULL, environment TEXT NOT NULL) STRICT;
         CREATE TABLE reading (
             id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES job, at INTEGER NOT NULL,
             station TEXT NOT NULL, stage TEXT NOT NULL, words TEXT NOT NULL,
             context INTEGER NOT NULL REFERENCES context, averaged_seconds REAL NOT NULL,
             running_seconds REAL NOT NULL, lost_frames INTEGER NOT NULL, withdrawn INTEGER) STRICT;
         CREATE INDEX reading_of_job ON reading (job);
         CREATE TABLE figure (
             reading INTEGER NOT NULL REFERENCES reading, place INTEGER NOT NULL,
             quantity INTEGER NOT NULL REFERENCES quantity, value REAL NOT NULL, uncertainty REAL,
             PRIMARY KEY (reading, place)) STRICT, WITHOUT ROWID;
         CREATE TABLE series (
             id INTEGER PRIMARY KEY, reading INTEGER NOT NULL REFERENCES reading, kind TEXT NOT NULL,
             step_s REAL NOT NULL, points BLOB NOT NULL) STRICT;
         CREATE INDEX series_of_reading ON series (reading);
         CREATE TABLE gauge_or_seen (
             id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES job, at INTEGER NOT NULL, stage TEXT NOT NULL,
             body TEXT NOT NULL, withdrawn INTEGER) STRICT;
         CREATE INDEX check_of_job ON gauge_or_seen (job);
         CREATE TABLE skip (
             id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES job, at INTEGER NOT NULL,
             station TEXT NOT NULL, stage TEXT NOT NULL, reason TEXT NOT NULL) STRICT;
         CREATE INDEX skip_of_job ON skip (job);
         CREATE TABLE part (
             id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES job, at INTEGER NOT NULL,
             what TEXT NOT NULL) STRICT;
         CREATE INDEX part_of_job ON part (job);
         CREATE TABLE note (
             id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES job, at INTEGER NOT NULL,
             body TEXT NOT NULL, for_owner INTEGER NOT NULL) STRICT;
         CREATE INDEX note_of_job ON note (job);",
    )
}

/// The workshop's calibration tapes: what is known of each, every pass, every check against another.
fn standards(transaction: &Transaction<'_>) -> rusqlite::Result<()> {
    transaction.execute_batch(
        "CREATE TABLE tape (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, body TEXT NOT NULL) STRICT;
         CREATE TABLE tape_pass (
             id INTEGER PRIMARY KEY, tape INTEGER NOT NULL REFERENCES tape, at INTEGER NOT NULL) STRICT;
         CREATE INDEX pass_of_tape ON tape_pass (tape, at);
         CREATE TABLE tape_check (
             id INTEGER PRIMARY KEY, tape INTEGER NOT NULL REFERENCES tape, at INTEGER NOT NULL,
             body TEXT NOT NULL) STRICT;
         CREATE INDEX check_of_tape ON tape_check (tape);",
    )
}

/// The list of jobs and the search through it: how many readings a job has, its words folded into one text, and which
/// jobs are of the same deck.
fn search(transaction: &Transaction<'_>) -> rusqlite::Result<()> {
    transaction.execute_batch(
        "CREATE TABLE job_text (job INTEGER PRIMARY KEY REFERENCES job, folded TEXT NOT NULL) STRICT;
         ALTER TABLE job ADD COLUMN readings INTEGER NOT NULL DEFAULT 0;
         UPDATE job SET readings =
             (SELECT count(*) FROM reading WHERE reading.job = job.id AND withdrawn IS NULL);
         CREATE INDEX job_opened ON job (opened);
         CREATE INDEX job_of_deck ON job (deck);
         ALTER TABLE deck ADD COLUMN identity TEXT NOT NULL DEFAULT '';
         CREATE INDEX deck_identity ON deck (identity);",
    )?;
    search_text::fill(transaction)
}
