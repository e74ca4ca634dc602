//! Opening the record: a new file gets its tables, an older one the steps it lacks, and everything else is refused
//! before a byte of it is changed.

use super::{Store, StoreError, schema};
use rusqlite::{Connection, OpenFlags, TransactionBehavior, config::DbConfig};
use std::{
    fs,
    path::{Path, PathBuf},
    time::Duration,
};

/// How long a call waits for another copy, unless told otherwise. The window calls from its own thread.
const PATIENCE: Duration = Duration::from_millis(1500);
/// Series of 300 points go well into pages of this size; smaller ones leave a third of each empty.
const PAGE_BYTES: i64 = 8192;

impl Store {
    /// Opens the record, and makes it (with its folder) where there is none. A file that may only be read is opened for
    /// reading: whatever writes then says so.
    ///
    /// # Errors
    /// [`StoreError::NotNow`] when it cannot be opened, [`StoreError::Unusable`] when it is damaged, of a later version or
    /// no record: it is then left untouched.
    pub fn open(path: impl Into<PathBuf>) -> Result<Self, StoreError> {
        let path = path.into();
        if let Some(folder) = path.parent().filter(|_| !path.exists()) {
            fs::create_dir_all(folder).map_err(|error| {
                StoreError::NotNow(format!("{}: cannot be made: {error}", folder.display()))
            })?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        Self::open_with(&path, flags)
    }

    /// Opens a record that is there already.
    ///
    /// # Errors
    /// As [`Self::open`]; [`StoreError::Refused`] when there is no file of that path.
    pub fn open_existing(path: impl Into<PathBuf>) -> Result<Self, StoreError> {
        let path = path.into();
        if !path.exists() {
            return Err(StoreError::refused(format!(
                "{}: there is no record of jobs here yet",
                path.display()
            )));
        }
        Self::open_with(&path, OpenFlags::SQLITE_OPEN_READ_WRITE)
    }

    fn open_with(path: &Path, flags: OpenFlags) -> Result<Self, StoreError> {
        let flags = flags | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)
            .map_err(|error| StoreError::of(path, &error))?;
        match prepare(connection, path) {
            Err(StoreError::NotNow(_)) if is_at_rest(path) => Self::open_unchanging(path),
            prepared => prepared,
        }
    }

    /// Opens a record to be read only; it stays as it is to the last byte.
    ///
    /// # Errors
    /// As [`Self::open_existing`].
    pub(super) fn open_existing_read_only(path: &Path) -> Result<Self, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)
            .map_err(|error| StoreError::of(path, &error))?;
        prepare(connection, path)
    }

    /// A record on a medium that cannot be written, where SQLite cannot keep its books beside the file.
    fn open_unchanging(path: &Path) -> Result<Self, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
            | OpenFlags::SQLITE_OPEN_URI
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(uri(path), flags)
            .map_err(|error| StoreError::of(path, &error))?;
        prepare(connection, path)
    }
}

/// Whether the file is there, cannot be written, and no other copy has anything of it in its own books.
fn is_at_rest(path: &Path) -> bool {
    let beside = |suffix: &str| {
        let mut name = path.as_os_str().to_owned();
        name.push(suffix);
        PathBuf::from(name).exists()
    };
    path.is_file() && !beside("-wal") && !beside("-journal")
}

/// The path as SQLite's own kind of address, for a file that nobody changes.
fn uri(path: &Path) -> String {
    let mut uri = String::from("file:");
    for &byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => {
                uri.push(char::from(byte));
            }
            b'\\' if cfg!(windows) => uri.push('/'),
            _ => uri.push_str(&format!("%{byte:02X}")),
        }
    }
    uri.push_str("?immutable=1");
    uri
}

fn prepare(mut connection: Connection, path: &Path) -> Result<Store, StoreError> {
    let told = |error: rusqlite::Error| StoreError::of(path, &error);
    connection.busy_timeout(PATIENCE).map_err(told)?;
    check_kind(&connection, path)?;
    if !connection.is_readonly("main").map_err(told)? {
        settle(&connection).map_err(told)?;
        bring_up(&mut connection).map_err(told)?;
    }
    check_version(&connection, path)?;
    connection
        .execute_batch("PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;")
        .map_err(told)?;
    let seen = connection
        .pragma_query_value(None, "data_version", |row| row.get(0))
        .map_err(told)?;
    Ok(Store {
        connection,
        path: path.to_owned(),
        seen,
    })
}

/// Refuses a file of a later version, and one that is no record, before anything is written.
fn check_kind(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let asked = || {
        let kind: i32 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
        let version = schema::version(connection)?;
        let tables: i64 =
            connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        Ok((kind, version, tables))
    };
    let (kind, version, tables) = asked().map_err(|error| StoreError::of(path, &error))?;
    let path = path.display();
    let empty = kind == 0 && version == 0 && tables == 0;
    if kind != schema::APPLICATION_ID && !empty {
        return Err(StoreError::Unusable(format!(
            "{path}: is a database, but no record of jobs; name another file"
        )));
    }
    if version > schema::VERSION {
        return Err(StoreError::Unusable(format!(
            "{path}: was written by a later version of the program (record {version}, this one knows {}); use that version",
            schema::VERSION
        )));
    }
    Ok(())
}

/// How the file is written: at once and wholly, readers beside one writer.
fn settle(connection: &Connection) -> rusqlite::Result<()> {
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    connection.pragma_update(None, "page_size", PAGE_BYTES)?;
    // Where the folder does not bear it (some network drives), SQLite keeps to its older way; both are safe.
    connection.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
    connection.pragma_update(None, "synchronous", "FULL")
}

/// Takes the steps the file lacks. Another copy may be doing the same: whoever comes second finds it done.
fn bring_up(connection: &mut Connection) -> rusqlite::Result<()> {
    if schema::version(connection)? == schema::VERSION {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let from = schema::version(&transaction)?;
    if from < schema::VERSION {
        schema::migrate(&transaction, from, schema::VERSION)?;
    }
    transaction.commit()
}

/// A file that cannot be written keeps its version; only that of this program can be read.
fn check_version(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let version = schema::version(connection).map_err(|error| StoreError::of(path, &error))?;
    if version == schema::VERSION {
        return Ok(());
    }
    Err(StoreError::NotNow(format!(
        "{}: was written by an earlier version of the program and must be brought up to date, but it cannot be written",
        path.display()
    )))
}
