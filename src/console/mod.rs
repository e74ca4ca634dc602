//! The console faces: readings as text and as JSON, the list of inputs, and takes of the virtual deck.
//!
//! The way of a command: raw `arguments`, resolved `settings`, then one file a command. Everything is written to a
//! `Write` that is handed in; errors are returned and printed in one place, by the program.

pub mod arguments;
mod beside;
mod chart;
mod ends;
#[cfg(test)]
mod example;
mod figures;
mod inputs;
mod job_files;
mod jobs;
mod json;
mod measure;
mod mechanism_sheet;
mod outputs;
mod owner_sheet;
mod page;
mod pictures;
mod profile;
mod readout;
mod run_in;
pub mod settings;
mod sheet;
mod usage;
mod virtual_take;
mod watch;

pub use usage::{NoArguments, parse};

use crate::{
    bench::StoreError, guide::GuideError, run_in::RunInError, source::SourceError,
    tables::TableError,
};
use arguments::Command;
use std::io::{self, Write};

/// How a command ended that could do its work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// What was asked for is there.
    Complete,
    /// The output is complete, but no reading in it stands.
    NoReading,
}

impl Outcome {
    fn of(any_valid: bool) -> Self {
        if any_valid {
            Self::Complete
        } else {
            Self::NoReading
        }
    }
}

/// Why a command could not do its work. One line that says what to do.
#[derive(Debug, thiserror::Error)]
pub enum ConsoleError {
    /// An input that cannot be read or settings that do not fit.
    #[error("{0}")]
    Refused(String),
    /// The output cannot be written.
    #[error("cannot write the output: {0}")]
    Output(io::Error),
}

impl ConsoleError {
    /// The error as exactly one line, whatever a file's name may hold.
    pub fn line(&self) -> String {
        page::printable(&self.to_string())
    }
}

impl From<SourceError> for ConsoleError {
    fn from(error: SourceError) -> Self {
        Self::Refused(error.0)
    }
}

impl From<TableError> for ConsoleError {
    fn from(error: TableError) -> Self {
        Self::Refused(error.0)
    }
}

impl From<GuideError> for ConsoleError {
    fn from(error: GuideError) -> Self {
        Self::Refused(error.0)
    }
}

impl From<StoreError> for ConsoleError {
    fn from(error: StoreError) -> Self {
        Self::Refused(error.to_string())
    }
}

impl From<RunInError> for ConsoleError {
    fn from(error: RunInError) -> Self {
        Self::Refused(error.0)
    }
}

/// Runs one command. `terminal`: whether `out` is a terminal that understands cursor movements.
///
/// # Errors
/// When an input cannot be read or the output cannot be written; a closed output is no error.
pub fn run(command: Command, out: &mut dyn Write, terminal: bool) -> Result<Outcome, ConsoleError> {
    match command {
        Command::Inputs => inputs::inputs(out),
        Command::Outputs => outputs::outputs(out),
        Command::Watch(arguments) => watch::watch(arguments.try_into()?, out, terminal),
        Command::Measure(arguments) => measure::measure(arguments.try_into()?, out),
        Command::RunIn(arguments) => run_in::run_in(&arguments, out),
        Command::Virtual(arguments) => virtual_take::write_take(arguments.try_into()?, out),
        Command::Jobs(arguments) => jobs::jobs(&arguments, out),
        Command::Export(arguments) => job_files::export(&arguments, out),
        Command::Import(arguments) => job_files::import(&arguments, out),
        Command::Backup(arguments) => job_files::backup(&arguments, out),
        Command::Sheet(arguments) => owner_sheet::write_sheet(&arguments, out),
        Command::Profile(arguments) => profile::profile(arguments.try_into()?, out),
    }
}

/// Whether a terminal on the standard output obeys cursor movements; asks an old Windows console to.
pub fn moves_the_cursor() -> bool {
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    !dumb && anstyle_query::windows::enable_ansi_colors() != Some(false)
}

/// Whether anybody still reads the output.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reader {
    There,
    Gone,
}

/// Writes `text` at once. A reader that has closed its end has seen enough: that is no error.
fn deliver(out: &mut dyn Write, text: &str) -> Result<Reader, ConsoleError> {
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(Reader::There),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(Reader::Gone),
        Err(error) => Err(ConsoleError::Output(error)),
    }
}
