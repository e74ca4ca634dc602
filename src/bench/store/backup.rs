//! A copy of the whole record in one file, made while others go on writing, and looked through before it is called one.

use super::{Store, StoreError};
use rusqlite::{Connection, OpenFlags, backup::Backup};
use std::{
    fs, io,
    path::{Path, PathBuf},
    time::Duration,
};

/// What a backup holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BackedUp {
    /// Jobs in it.
    pub jobs: u32,
    /// Its size, bytes.
    pub bytes: u64,
}

/// Pages at a time: the whole file, so that one state of it is copied whatever is written meanwhile.
const ALL_PAGES: i32 = i32::MAX;
/// Between two tries when another copy holds the file.
const PAUSE: Duration = Duration::from_millis(50);

impl Store {
    /// Copies the whole record into a new file, and looks through the copy.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when something is at that path already; otherwise when the record cannot be read, the copy
    /// cannot be written, or it is not sound. No half copy stays behind.
    pub fn backup(&self, to: &Path) -> Result<BackedUp, StoreError> {
        if fs::symlink_metadata(to).is_ok() {
            return Err(StoreError::refused(format!(
                "{}: is there already; give a backup a name of its own",
                to.display()
            )));
        }
        let fresh = beside(to)?;
        let made = self.copy(&fresh).and_then(|backed_up| {
            publish(&fresh, to).map_err(|error| cannot_write(to, &error))?;
            Ok(backed_up)
        });
        // Gone already when all went well.
        let _gone = fs::remove_file(&fresh);
        made
    }

    fn copy(&self, fresh: &Path) -> Result<BackedUp, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let told = |error: rusqlite::Error| StoreError::of(fresh, &error);
        let mut copy = Connection::open_with_flags(fresh, flags).map_err(told)?;
        Backup::new(&self.connection, &mut copy)
            .and_then(|backup| backup.run_to_completion(ALL_PAGES, PAUSE, None))
            .map_err(|error| self.or_of(fresh, &error))?;
        // One file with nothing beside it, for any medium.
        copy.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(()))
            .map_err(told)?;
        drop(copy);
        let copy = Self::open_existing_read_only(fresh)?;
        copy.verify()?;
        let (jobs, _) = copy.count_jobs()?;
        drop(copy);
        let synced = fs::File::open(fresh).and_then(|file| {
            file.sync_all()?;
            file.metadata()
        });
        let bytes = synced.map_err(|error| cannot_write(fresh, &error))?.len();
        Ok(BackedUp { jobs, bytes })
    }

    /// A copying error is the copy's when the record itself still answers.
    fn or_of(&self, copy: &Path, error: &rusqlite::Error) -> StoreError {
        match self.count_jobs() {
            Ok(_) => StoreError::of(copy, error),
            Err(own) => own,
        }
    }
}

/// A name in the same folder, so that the finished copy only needs renaming.
fn beside(to: &Path) -> Result<PathBuf, StoreError> {
    let Some(name) = to.file_name() else {
        return Err(StoreError::refused(format!(
            "{}: is no name for a file",
            to.display()
        )));
    };
    let mut fresh = std::ffi::OsString::from(".");
    fresh.push(name);
    fresh.push(format!(".{}.new", std::process::id()));
    Ok(to.with_file_name(fresh))
}

/// Gives the copy its name, unless something has come to be there meanwhile.
fn publish(fresh: &Path, to: &Path) -> io::Result<()> {
    match fs::hard_link(fresh, to) {
        Ok(()) => fs::remove_file(fresh),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
        // Some media know no hard links.
        Err(_) if to.exists() => Err(io::ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(fresh, to),
    }
}

fn cannot_write(path: &Path, error: &io::Error) -> StoreError {
    StoreError::NotNow(format!("{}: cannot be written: {error}", path.display()))
}
