//! The sheet as a file. A file that is there is replaced only when it is such a sheet.

use super::{GENERATOR, Paper, Sheet, html, pdf};
use std::{
    fs,
    io::Read as _,
    path::{Path, PathBuf},
};

/// Of a file that may be a sheet, so much is looked at, bytes.
const MOST_BYTES: u64 = 64 << 20;

/// Writes the sheet; the file's ending, `.pdf` or `.html`, says how. Returns what it is, in words. The paper is that of a
/// PDF.
///
/// # Errors
/// One line: another ending, a file that is no sheet of ours, or one that cannot be written.
pub fn write(sheet: &Sheet, path: &Path, paper: Paper) -> Result<&'static str, String> {
    let ending = path.extension().and_then(|ending| ending.to_str());
    let ending = ending.map(str::to_ascii_lowercase);
    let is_pdf = match ending.as_deref() {
        Some("pdf") => true,
        Some("html" | "htm") => false,
        _ => {
            return Err(format!(
                "--out {}: name a file that ends in .pdf or .html",
                path.display()
            ));
        }
    };
    may_be_written(path)?;
    let (bytes, what) = if is_pdf {
        let bytes = pdf(sheet, paper).map_err(|error| error.0)?;
        (bytes, paper.words())
    } else {
        (html(sheet).into_bytes(), "HTML")
    };
    replace(path, &bytes)?;
    Ok(what)
}

/// A file that is no sheet of ours is somebody's work.
fn may_be_written(path: &Path) -> Result<(), String> {
    let Ok(there) = fs::symlink_metadata(path) else {
        return Ok(());
    };
    let mut bytes = Vec::new();
    let read = there.is_file()
        && fs::File::open(path)
            .and_then(|file| file.take(MOST_BYTES).read_to_end(&mut bytes))
            .is_ok();
    let begins = bytes.starts_with(b"%PDF-") || bytes.starts_with(b"<!DOCTYPE html>");
    let ours = bytes
        .windows(GENERATOR.len())
        .any(|window| window == GENERATOR.as_bytes());
    if read && begins && ours {
        return Ok(());
    }
    Err(format!(
        "{} is there already and is no sheet of trimwatch: name another file with --out",
        path.display()
    ))
}

/// Writes beside and puts in place: a sheet is whole or not there.
fn replace(path: &Path, bytes: &[u8]) -> Result<(), String> {
    let mut unfinished = path.as_os_str().to_owned();
    unfinished.push(".unfinished");
    let unfinished = PathBuf::from(unfinished);
    let written = fs::write(&unfinished, bytes).and_then(|()| fs::rename(&unfinished, path));
    written.map_err(|error| {
        // Nothing is left lying about; that it cannot be removed says nothing new.
        let _gone = fs::remove_file(&unfinished);
        format!("{}: cannot be written: {error}", path.display())
    })
}
