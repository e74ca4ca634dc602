//! The command line.

mod window;

use std::{
    io::{IsTerminal as _, Write as _},
    process::ExitCode,
};
use trimwatch::console::{self, ConsoleError, NoArguments, Outcome, arguments::Arguments};

/// The signal gave no valid reading; the output is complete.
const NO_READING: u8 = 1;
/// Wrong usage, or an input that cannot be read.
const REFUSED: u8 = 2;

fn main() -> ExitCode {
    let arguments = match console::parse(std::env::args_os()) {
        Ok(arguments) => arguments,
        Err(NoArguments::Answer(answer)) => return answered(&answer),
        Err(NoArguments::Wrong(line)) => return refused(&line),
    };
    match run(arguments) {
        Ok(Outcome::Complete) => ExitCode::SUCCESS,
        Ok(Outcome::NoReading) => ExitCode::from(NO_READING),
        Err(error) => refused(&error.line()),
    }
}

fn run(arguments: Arguments) -> Result<Outcome, ConsoleError> {
    let Some(command) = arguments.command else {
        return window::open(arguments.window).map(|()| Outcome::Complete);
    };
    let stdout = std::io::stdout();
    let terminal = stdout.is_terminal() && console::moves_the_cursor();
    console::run(command, &mut stdout.lock(), terminal)
}

/// Help or version, as asked for. Nobody reading it is no error.
fn answered(answer: &clap::Error) -> ExitCode {
    let _closed = answer.print();
    ExitCode::SUCCESS
}

/// The one place errors are printed.
fn refused(line: &str) -> ExitCode {
    let _closed = writeln!(std::io::stderr(), "trimwatch: {line}");
    ExitCode::from(REFUSED)
}
