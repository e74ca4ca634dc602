//! What can be wrong with the record, sorted by what is to be done about it.

use rusqlite::ErrorCode;
use std::path::Path;

/// Why the record could not be read or written. One line that says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// Not at this moment: the disk is full or read-only, the folder is missing, another copy is writing. What was to be
    /// kept must be held until it can be.
    #[error("{0}")]
    NotNow(String),
    /// The file is damaged, of a later version, or something else than a record. It is left as it is.
    #[error("{0}")]
    Unusable(String),
    /// What was asked for cannot be: no such job, a number that is taken, a figure that is no number.
    #[error("{0}")]
    Refused(String),
}

impl StoreError {
    /// Whether the same may succeed later, when the disk or the file has been seen to.
    pub fn may_pass(&self) -> bool {
        !matches!(self, Self::Refused(_))
    }

    /// A refusal in words.
    pub(crate) fn refused(words: impl Into<String>) -> Self {
        Self::Refused(words.into())
    }

    /// What SQLite says of the file at `path`, in the words of a person at a bench.
    pub(super) fn of(path: &Path, error: &rusqlite::Error) -> Self {
        let path = path.display();
        let rusqlite::Error::SqliteFailure(failure, _) = error else {
            return Self::Unusable(format!(
                "{path}: holds what this version cannot read ({error}); it is left as it is"
            ));
        };
        match failure.code {
            ErrorCode::DiskFull => Self::NotNow(format!(
                "{path}: the disk is full; make room, then it can be saved"
            )),
            ErrorCode::ReadOnly | ErrorCode::PermissionDenied => Self::NotNow(format!(
                "{path}: cannot be written; the file or its folder is read-only"
            )),
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::NotNow(format!(
                "{path}: another copy of the program is writing; try again"
            )),
            ErrorCode::CannotOpen => Self::NotNow(format!(
                "{path}: cannot be opened; look whether the folder is there and may be written"
            )),
            ErrorCode::SystemIoFailure | ErrorCode::FileLockingProtocolFailed => {
                Self::NotNow(format!("{path}: the disk does not do its work ({error})"))
            }
            ErrorCode::NotADatabase => Self::Unusable(format!(
                "{path}: is no record of jobs, or a damaged one; it is left as it is: put a backup in its place, or name another file"
            )),
            ErrorCode::DatabaseCorrupt => Self::Unusable(format!(
                "{path}: is damaged; it is left as it is: put a backup in its place, or name another file"
            )),
            _ => Self::Unusable(format!(
                "{path}: cannot be used ({error}); it is left as it is"
            )),
        }
    }
}
