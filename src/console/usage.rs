//! The typed words as [`Arguments`], and what is wrong with them in one line.

use super::arguments::Arguments;
use clap::{
    CommandFactory as _, Parser as _,
    error::{ContextKind, ContextValue, ErrorKind},
};
use std::ffi::OsString;

/// Why there are no arguments to act on.
#[derive(Debug)]
pub enum NoArguments {
    /// Help or version was asked for: print it, all is well.
    Answer(clap::Error),
    /// The words are wrong: the one line that says how, with the offending value and what to do.
    Wrong(String),
}

/// Reads the command line; the first word is the program's name.
///
/// # Errors
/// When help was asked for, or something is wrong.
pub fn parse(words: impl IntoIterator<Item = OsString>) -> Result<Arguments, NoArguments> {
    let words: Vec<OsString> = words.into_iter().collect();
    Arguments::try_parse_from(&words).map_err(|error| {
        if error.use_stderr() {
            let (command, steps) = command_words(&words);
            let help = format!("see '{command} --help'");
            NoArguments::Wrong(one_line(&error, &help, &steps))
        } else {
            NoArguments::Answer(error)
        }
    })
}

/// `trimwatch measure`: the program, and the command if it got as far; and the commands there are below it.
fn command_words(words: &[OsString]) -> (String, Vec<String>) {
    let program = Arguments::command();
    let mut said = program.get_name().to_owned();
    let mut within = &program;
    while let Some(command) = command_in(within, words) {
        said = format!("{said} {}", command.get_name());
        within = command;
    }
    let steps = within.get_subcommands().map(|step| step.get_name().into());
    (said, steps.collect())
}

/// The command of `within` that was typed.
fn command_in<'a>(within: &'a clap::Command, words: &[OsString]) -> Option<&'a clap::Command> {
    within
        .get_subcommands()
        .find(|command| words.iter().skip(1).any(|word| word == command.get_name()))
}

fn one_line(error: &clap::Error, help: &str, steps: &[String]) -> String {
    let argument = text(error, ContextKind::InvalidArg);
    let value = text(error, ContextKind::InvalidValue);
    match error.kind() {
        ErrorKind::InvalidValue => invalid_value(error, &name_of(&argument), &value, help),
        ErrorKind::ValueValidation => {
            let why = std::error::Error::source(error).map_or(help.into(), ToString::to_string);
            format!("{} '{value}': {why}", name_of(&argument))
        }
        ErrorKind::UnknownArgument => {
            let suggestion = text(error, ContextKind::SuggestedArg);
            if suggestion.is_empty() {
                format!("'{argument}' is not known here; {help}")
            } else {
                format!("'{argument}' is not known here; is '{suggestion}' meant? Else {help}")
            }
        }
        ErrorKind::InvalidSubcommand => format!(
            "'{}' is not known here; use one of: {}",
            text(error, ContextKind::InvalidSubcommand),
            steps.join(", ")
        ),
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand | ErrorKind::MissingSubcommand => {
            format!("say what to do: {}; {help}", steps.join(", "))
        }
        ErrorKind::ArgumentConflict => conflict(error, &name_of(&argument), help),
        ErrorKind::MissingRequiredArgument => format!("{argument} is missing; {help}"),
        _ => format!("{}; {help}", first_sentence(error)),
    }
}

fn invalid_value(error: &clap::Error, argument: &str, value: &str, help: &str) -> String {
    let allowed = text(error, ContextKind::ValidValue);
    match (value.is_empty(), allowed.is_empty()) {
        (true, true) => format!("{argument} needs a value; {help}"),
        (true, false) => format!("{argument} needs a value; use one of: {allowed}"),
        (false, true) => format!("{argument} '{value}' is not valid; {help}"),
        (false, false) => format!("{argument} '{value}' is not known; use one of: {allowed}"),
    }
}

fn conflict(error: &clap::Error, argument: &str, help: &str) -> String {
    let other = name_of(&text(error, ContextKind::PriorArg));
    if other.is_empty() || other == argument {
        format!("{argument} is given twice or does not go with the rest; {help}")
    } else {
        format!("{argument} does not go with {other}; leave one out")
    }
}

/// An option without the name of its value: `--tone` of `--tone <HZ>`.
fn name_of(argument: &str) -> String {
    argument.split([' ', '=']).next().unwrap_or_default().into()
}

fn text(error: &clap::Error, kind: ContextKind) -> String {
    match error.get(kind) {
        Some(ContextValue::String(text)) => text.clone(),
        Some(ContextValue::Strings(texts)) => texts.join(", "),
        Some(ContextValue::StyledStr(text)) => text.to_string(),
        _ => String::new(),
    }
}

fn first_sentence(error: &clap::Error) -> String {
    let text = error.to_string();
    let line = text.lines().next().unwrap_or_default();
    line.strip_prefix("error: ").unwrap_or(line).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(words: &str) -> String {
        match parse(words.split(' ').map(OsString::from)) {
            Err(NoArguments::Wrong(line)) => line,
            other => panic!("'{words}' should be refused: {other:?}"),
        }
    }

    #[test]
    fn help_is_an_answer_and_not_an_error() {
        for words in ["--help", "--version", "measure --help"] {
            let words = ["trimwatch"].into_iter().chain(words.split(' '));
            let answer = parse(words.map(OsString::from));
            assert!(matches!(answer, Err(NoArguments::Answer(_))));
        }
    }

    #[test]
    fn each_mistake_is_named_with_its_value_and_the_remedy() {
        for (words, expected) in [
            (
                "trimwatch measure take.wav --format xml",
                "--format 'xml' is not known; use one of: text, json",
            ),
            (
                "trimwatch watch --format",
                "--format needs a value; use one of: text, jsonl",
            ),
            (
                "trimwatch watch --input",
                "--input needs a value; see 'trimwatch watch --help'",
            ),
            (
                "trimwatch measure take.wav --tone abc",
                "--tone 'abc': give a number from 20 to 100000 (Hz)",
            ),
            (
                "trimwatch measure",
                "<RECORDING> is missing; see 'trimwatch measure --help'",
            ),
            (
                "trimwatch virtual deck.toml",
                "--out <TAKE.wav> is missing; see 'trimwatch virtual --help'",
            ),
            (
                "trimwatch listen",
                "'listen' is not known here; use one of: inputs, outputs, watch, measure, virtual, profile, run-in, jobs, export, import, backup, sheet",
            ),
            (
                "trimwatch profile",
                "say what to do: clock, y-lead, level, noise, crosstalk, show, import, delete; \
                 see 'trimwatch profile --help'",
            ),
            (
                "trimwatch profile gain",
                "'gain' is not known here; use one of: clock, y-lead, level, noise, crosstalk, show, import, delete",
            ),
            (
                "trimwatch profile level --volts 0 --frequency 400",
                "--volts '0': give a number from 0.001 to 100 (V rms)",
            ),
            (
                "trimwatch profile level --frequency 400",
                "--volts <V> is missing; see 'trimwatch profile level --help'",
            ),
            (
                "trimwatch watch --input a --recording b.wav",
                "--input does not go with --recording; leave one out",
            ),
            (
                "trimwatch watch --virtual-deck a --channels 1,2",
                "--virtual-deck does not go with --channels; leave one out",
            ),
            (
                "trimwatch measure a.wav --tape x --tone 3000",
                "--tape does not go with --tone; leave one out",
            ),
            (
                "trimwatch measure a.wav b.wav",
                "'b.wav' is not known here; see 'trimwatch measure --help'",
            ),
            (
                "trimwatch watch --tone 3000 --tone 3150",
                "--tone is given twice or does not go with the rest; see 'trimwatch watch --help'",
            ),
        ] {
            assert_eq!(said(words), expected, "{words}");
        }
    }

    #[test]
    fn whatever_is_wrong_it_is_one_line() {
        for words in [
            "trimwatch --wat",
            "trimwatch --input x watch",
            "trimwatch watch --seconds -5",
            "trimwatch watch --secnds 5",
            "trimwatch inputs now",
            "trimwatch virtual --bits 8 a --out b",
        ] {
            let line = said(words);
            assert_eq!(line.lines().count(), 1, "{line}");
            assert!(line.len() < 160, "{line}");
        }
    }
}
