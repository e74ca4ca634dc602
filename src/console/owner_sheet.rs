//! `trimwatch sheet`: a job's sheet as a file. A file that is there is replaced only when it is such a sheet.

use super::{
    ConsoleError, Outcome,
    arguments::{PaperChoice, SheetArguments},
    deliver,
};
use crate::bench::{
    Job, Store, job_file,
    job_number::check_number,
    sheet::{GENERATOR, Paper, Sheet, html, pdf},
};
use std::{
    fs,
    io::{Read as _, Write},
    path::{Path, PathBuf},
};

/// Of a file that may be a sheet, so much is looked at, bytes.
const MOST_BYTES: u64 = 64 << 20;

/// How the sheet is written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Pdf,
    Html,
}

/// Makes the sheet and says where it is.
pub fn write_sheet(
    arguments: &SheetArguments,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    let path = Path::new(&arguments.job);
    let is_file = path.is_file() || check_number(&arguments.job).is_err();
    let (job, earlier) = if is_file {
        let earlier: Result<Vec<_>, _> = arguments.earlier.iter().map(|path| read(path)).collect();
        (read(path)?, earlier?)
    } else {
        kept(arguments)?
    };
    let to = match &arguments.out {
        Some(path) => path.clone(),
        None => PathBuf::from(format!("{}.pdf", job.number)),
    };
    let form = form(&to)?;
    may_be_written(&to)?;
    let sheet = Sheet::of(&job, &earlier);
    let (bytes, of) = match (form, arguments.paper) {
        (Form::Html, _) => (html(&sheet).into_bytes(), "HTML"),
        (Form::Pdf, PaperChoice::A4) => (made(&sheet, Paper::A4)?, "PDF, A4"),
        (Form::Pdf, PaperChoice::Letter) => (made(&sheet, Paper::Letter)?, "PDF, Letter"),
    };
    replace(&to, &bytes)?;
    let told = format!("{}: sheet of job {} ({of})\n", to.display(), job.number);
    deliver(out, &told)?;
    Ok(Outcome::Complete)
}

fn made(sheet: &Sheet, paper: Paper) -> Result<Vec<u8>, ConsoleError> {
    pdf(sheet, paper).map_err(|error| ConsoleError::Refused(error.0))
}

fn refused<T>(words: String) -> Result<T, ConsoleError> {
    Err(ConsoleError::Refused(words))
}

/// A job of a file, looked through as any that comes from elsewhere.
fn read(path: &Path) -> Result<Job, ConsoleError> {
    job_file::read(path).map_err(ConsoleError::Refused)
}

/// A job of the record, with the others of its deck.
fn kept(arguments: &SheetArguments) -> Result<(Job, Vec<Job>), ConsoleError> {
    if !arguments.earlier.is_empty() {
        return refused(
            "--earlier goes with a job file; the record knows the deck's earlier jobs".into(),
        );
    }
    let path = match arguments.store.clone().or_else(Store::path_of_the_user) {
        Some(path) => path,
        None => {
            return refused(
                "there is no folder for the record here: name its file with --store".into(),
            );
        }
    };
    let told = |error: crate::bench::StoreError| ConsoleError::Refused(error.to_string());
    let store = Store::open_existing(path).map_err(told)?;
    let job = store.job(&arguments.job).map_err(told)?.job;
    let earlier = store.earlier_jobs(&job.number).map_err(told)?;
    Ok((job, earlier))
}

fn form(path: &Path) -> Result<Form, ConsoleError> {
    let ending = path.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("pdf") => Ok(Form::Pdf),
        Some("html" | "htm") => Ok(Form::Html),
        _ => refused(format!(
            "--out {}: name a file that ends in .pdf or .html",
            path.display()
        )),
    }
}

/// A file that is no sheet of ours is somebody's work.
fn may_be_written(path: &Path) -> Result<(), ConsoleError> {
    let there = match fs::symlink_metadata(path) {
        Ok(there) => there,
        Err(_) => return Ok(()),
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
    refused(format!(
        "{} is there already and is no sheet of trimwatch: name another file with --out",
        path.display()
    ))
}

/// Writes beside and puts in place: a sheet is whole or not there.
fn replace(path: &Path, bytes: &[u8]) -> Result<(), ConsoleError> {
    let mut unfinished = path.as_os_str().to_owned();
    unfinished.push(".unfinished");
    let unfinished = PathBuf::from(unfinished);
    let written = fs::write(&unfinished, bytes).and_then(|()| fs::rename(&unfinished, path));
    written.or_else(|error| {
        // Nothing is left lying about; that it cannot be removed says nothing new.
        let _gone = fs::remove_file(&unfinished);
        refused(format!("{}: cannot be written: {error}", path.display()))
    })
}
