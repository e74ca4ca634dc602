//! `trimwatch export`, `import`, `backup`: jobs as files, and the whole record as one.

use super::{
    ConsoleError, Outcome,
    arguments::{BackupArguments, ExportArguments, ExportFormat, JobImportArguments},
    deliver,
    jobs::{open, open_existing, record},
    page::printable,
};
use crate::bench::{Job, job_file, readings_csv};
use std::{
    fs,
    io::{self, Write},
    path::Path,
};

/// Writes one job, to a file or to the output.
pub fn export(arguments: &ExportArguments, out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let store = open_existing(record(&arguments.store)?)?;
    let job = store.job(&arguments.job)?.job;
    let text = match arguments.format {
        ExportFormat::Json => job_file::to_text(&job).map_err(ConsoleError::Refused)?,
        ExportFormat::Csv => readings_csv::to_csv(&job),
    };
    match &arguments.out {
        Some(path) => {
            write_new(path, &text)?;
            let line = format!("job {} is in {}", job.number, path.display());
            deliver(out, &format!("{}\n", printable(&line)))?;
        }
        None => {
            deliver(out, &text)?;
        }
    }
    Ok(Outcome::Complete)
}

/// Writes a file that was not there; a half written one does not stay.
fn write_new(path: &Path, text: &str) -> Result<(), ConsoleError> {
    let refuse = |what: &str| ConsoleError::Refused(format!("{}: {what}", path.display()));
    let mut file = fs::File::create_new(path).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => refuse("is there already; give the file another name"),
        _ => refuse(&format!("cannot be written: {error}")),
    })?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(|error| {
            drop(file);
            // What cannot be written to may not be deletable either; the error says enough.
            let _stays = fs::remove_file(path);
            refuse(&format!("cannot be written: {error}"))
        })
}

/// Takes jobs in: all files are read and looked through before the first of them is.
pub fn import(
    arguments: &JobImportArguments,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    if arguments.number.is_some() && arguments.files.len() > 1 {
        return Err(ConsoleError::Refused(
            "--as gives one job its number; import one file at a time with it".into(),
        ));
    }
    let mut jobs: Vec<Job> = arguments
        .files
        .iter()
        .map(|path| job_file::read(path).map_err(ConsoleError::Refused))
        .collect::<Result<_, _>>()?;
    if let (Some(number), Some(job)) = (&arguments.number, jobs.first_mut()) {
        job.number.clone_from(number);
    }
    let mut store = open(record(&arguments.store)?)?;
    for job in &jobs {
        let line = if store.import(job)? {
            format!(
                "job {} is taken in: {} readings",
                job.number,
                job.readings.len()
            )
        } else {
            format!("job {} is there already, the very same", job.number)
        };
        deliver(out, &format!("{}\n", printable(&line)))?;
    }
    Ok(Outcome::Complete)
}

/// Copies the whole record into one file.
pub fn backup(arguments: &BackupArguments, out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let store = open_existing(record(&arguments.store)?)?;
    let made = store.backup(&arguments.file)?;
    let line = format!(
        "{} jobs, {:.1} MB, are in {}; the copy was read through and is sound",
        made.jobs,
        made.bytes as f64 / 1e6,
        arguments.file.display()
    );
    deliver(out, &format!("{}\n", printable(&line)))?;
    Ok(Outcome::Complete)
}
