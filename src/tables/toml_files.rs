//! The user's own tables: TOML files in folders of the data folder, and the guards that each is read through.

use super::TableError;
use std::path::{Path, PathBuf};

/// The `.toml` files of a folder, by name. No folder is no file.
pub(crate) fn toml_files_in(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut files: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    files.sort();
    files
}

/// The text of a TOML file that somebody wrote; `what` it should be (`a test tape's TOML file`), and how long at most.
///
/// # Errors
/// Names the file: it cannot be read, is no file or too long, or is no text.
pub(crate) fn text_of(path: &Path, what: &str, most_bytes: u64) -> Result<String, TableError> {
    let refuse = |why: &str| TableError(format!("{}: {why}", path.display()));
    let unreadable = |error: std::io::Error| refuse(&format!("cannot be read: {error}"));
    let metadata = std::fs::metadata(path).map_err(unreadable)?;
    if !metadata.is_file() || metadata.len() > most_bytes {
        return Err(refuse(&format!("this is not {what}")));
    }
    let bytes = std::fs::read(path).map_err(unreadable)?;
    String::from_utf8(bytes).map_err(|_| refuse(&format!("this is not text; give {what}")))
}

/// What has that name in the user's data folder; `None` where the system has no such folder.
pub(crate) fn user_data(name: &str) -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "trimwatch")?;
    Some(folders.data_dir().join(name))
}
