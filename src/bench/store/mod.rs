//! The record of the jobs: one SQLite file in the user's data folder, or wherever it is told to be.
//!
//! A reading is on disk when [`Store::add_reading`] returns. Several copies of the program may use one file: each waits a
//! moment for the other's writing to end, and [`Store::changed_elsewhere`] says when to look again. Nothing typed by a
//! person ever becomes part of an SQL statement.

mod backup;
mod error;
mod jobs;
mod load;
mod opening;
mod readings;
mod remarks;
mod schema;
mod shared;
mod tapes;
#[cfg(test)]
mod tests;

pub use backup::BackedUp;
pub use error::StoreError;
pub use jobs::{Filter, JobRow, KnownDeck, NewJob, State};
pub use load::KeptJob;

use jiff::Timestamp;
use rusqlite::{Connection, Transaction, TransactionBehavior, types::Type};
use serde::{Serialize, de::DeserializeOwned};
use std::{
    path::{Path, PathBuf},
    time::Duration,
};

macro_rules! ids {
    ($($name:ident, $doc:literal;)+) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub(crate) i64);
    )+};
}

ids! {
    ReadingId, "A reading in one record; another record counts anew.";
    CheckId, "A mechanical check in one record.";
    SkipId, "A station left out, in one record.";
    PartId, "A replaced part in one record.";
    NoteId, "A note in one record.";
}

/// An open record.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    path: PathBuf,
    /// What `data_version` was when last asked.
    seen: i64,
}

impl Store {
    /// The record's file in the user's data folder; `None` where the system has no such folder.
    pub fn path_of_the_user() -> Option<PathBuf> {
        crate::tables::user_data("jobs.db")
    }

    /// The file this record is in.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How long a call waits for another copy's writing to end before it gives up.
    ///
    /// # Errors
    /// Where SQLite refuses.
    pub fn set_patience(&mut self, patience: Duration) -> Result<(), StoreError> {
        self.connection
            .busy_timeout(patience)
            .map_err(|error| self.error(&error))
    }

    /// Whether another copy of the program has written since this was last asked: what was read before may have changed.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn changed_elsewhere(&mut self) -> Result<bool, StoreError> {
        let version = self
            .connection
            .pragma_query_value(None, "data_version", |row| row.get(0))
            .map_err(|error| self.error(&error))?;
        let before = std::mem::replace(&mut self.seen, version);
        Ok(before != version)
    }

    /// Looks through the whole file.
    ///
    /// # Errors
    /// When anything in it is damaged; the words name what.
    pub fn verify(&self) -> Result<(), StoreError> {
        self.read(|transaction| {
            let found: String =
                transaction.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
            if found != "ok" {
                return Ok(Some(found));
            }
            let orphan = transaction
                .prepare("PRAGMA foreign_key_check")?
                .exists([])?;
            Ok(orphan.then(|| "a row belongs to nothing".to_owned()))
        })?
        .map_or(Ok(()), |found| {
            let first = found.lines().next().unwrap_or_default();
            Err(StoreError::Unusable(format!(
                "{}: is damaged ({first}); it is left as it is",
                self.path.display()
            )))
        })
    }

    /// Reads one state of the record, whatever others write meanwhile.
    fn read<T>(
        &self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, rusqlite::Error>,
    ) -> Result<T, StoreError> {
        let run = || {
            let transaction = self.connection.unchecked_transaction()?;
            work(&transaction)
        };
        run().map_err(|error| self.error(&error))
    }

    /// Writes all of `work` or nothing; it is on disk when this returns.
    fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        let run = |connection: &mut Connection| {
            let transaction =
                connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let value = work(&transaction)?;
            transaction.commit()?;
            Ok(value)
        };
        run(&mut self.connection).map_err(|trouble| match trouble {
            Trouble::Refused(words) => StoreError::Refused(words),
            Trouble::Sqlite(error) => self.error(&error),
        })
    }

    fn error(&self, error: &rusqlite::Error) -> StoreError {
        StoreError::of(&self.path, error)
    }
}

/// Why a piece of writing was given up.
enum Trouble {
    Refused(String),
    Sqlite(rusqlite::Error),
}

impl From<rusqlite::Error> for Trouble {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sqlite(error)
    }
}

impl Trouble {
    fn refused(words: impl Into<String>) -> Self {
        Self::Refused(words.into())
    }

    fn no_job(number: &str) -> Self {
        Self::Refused(no_job(number))
    }
}

fn no_job(number: &str) -> String {
    format!("there is no job '{number}'; 'trimwatch jobs' lists those there are")
}

/// A time as the record keeps it: nanoseconds since 1970.
fn nanoseconds(time: Timestamp) -> Result<i64, Trouble> {
    i64::try_from(time.as_nanosecond())
        .map_err(|_| Trouble::refused(format!("{time}: a record keeps no such date")))
}

/// A time out of the record.
fn time(column: usize, nanoseconds: i64) -> rusqlite::Result<Timestamp> {
    Timestamp::from_nanosecond(i128::from(nanoseconds)).map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(column, Type::Integer, Box::new(error))
    })
}

/// A value as JSON text.
fn json<T: Serialize>(value: &T) -> Result<String, Trouble> {
    serde_json::to_string(value).map_err(|error| Trouble::refused(error.to_string()))
}

/// A value out of JSON text in the record.
fn of_json<T: DeserializeOwned>(column: usize, text: &str) -> rusqlite::Result<T> {
    serde_json::from_str(text).map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(column, Type::Text, Box::new(error))
    })
}

/// The word that a variant without contents has in JSON (`as_found`).
fn word<T: Serialize>(value: &T) -> Result<String, Trouble> {
    Ok(json(value)?.trim_matches('"').to_owned())
}

/// The variant of that word.
fn of_word<T: DeserializeOwned>(column: usize, word: String) -> rusqlite::Result<T> {
    serde_json::from_value(serde_json::Value::String(word)).map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(column, Type::Text, Box::new(error))
    })
}
