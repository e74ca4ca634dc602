//! `trimwatch sheet`: a job's sheet as a file. A file that is there is replaced only when it is such a sheet.

use super::{
    ConsoleError, Outcome,
    arguments::{PaperChoice, SheetArguments},
    deliver,
};
use crate::bench::{
    Job, Store, job_file,
    job_number::check_number,
    sheet::{self, Paper, Sheet},
};
use std::{
    io::Write,
    path::{Path, PathBuf},
};

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
    let paper = match arguments.paper {
        PaperChoice::A4 => Paper::A4,
        PaperChoice::Letter => Paper::Letter,
    };
    let of = sheet::write(&Sheet::of(&job, &earlier), &to, paper).map_err(ConsoleError::Refused)?;
    let told = format!("{}: sheet of job {} ({of})\n", to.display(), job.number);
    deliver(out, &told)?;
    Ok(Outcome::Complete)
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
