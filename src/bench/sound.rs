//! Whether a job makes sense: what is typed, and what comes in a file from elsewhere, before either is kept.

use super::{
    Check, CheckDone, Context, Deck, Environment, Figure, Job, LimitSet, Note, PartReplaced,
    Series, Skip, TakenReading, Workshop,
    standards::{TapeCheck, TapeOnHand},
};
use jiff::Timestamp;

/// Characters of a name or a line.
const MOST_IN_A_LINE: usize = 500;
/// Characters of a text of many lines: some pages.
const MOST_IN_A_TEXT: usize = 20_000;
/// Rows of one kind in a job.
const MOST_ROWS: usize = 5_000;
/// Figures and series of a reading, limits of a set, notices, lines of an address.
const MOST_IN_A_LIST: usize = 100;
/// Points of a series.
const MOST_POINTS: usize = 100_000;
/// No figure of a tape deck is greater.
const GREATEST: f64 = 1e12;

type Sound = Result<(), String>;

/// Whether a whole job makes sense; the number is looked at elsewhere.
///
/// # Errors
/// One line that names what does not.
pub fn check_job(job: &Job) -> Sound {
    check_deck(&job.deck)?;
    check_workshop(&job.workshop)?;
    check_complaint(&job.complaint)?;
    check_limits(&job.limits)?;
    check_environment(&job.environment)?;
    date("opened", job.opened)?;
    optional_date("closed", job.closed)?;
    each("reading", &job.readings, check_reading)?;
    each("check", &job.checks, check_check)?;
    each("skip", &job.skips, check_skip)?;
    each("part", &job.parts, check_part)?;
    each("note", &job.notes, check_note)
}

/// Whether a reading makes sense.
///
/// # Errors
/// One line that names what does not.
pub fn check_reading(reading: &TakenReading) -> Sound {
    date("at", reading.at)?;
    optional_date("withdrawn", reading.withdrawn)?;
    text("words", &reading.words)?;
    if reading.figures.is_empty() {
        return Err("a reading without a figure is none".into());
    }
    list("figures", reading.figures.len(), MOST_IN_A_LIST)?;
    reading.figures.iter().try_for_each(check_figure)?;
    check_context(&reading.context)?;
    list("series", reading.series.len(), MOST_IN_A_LIST)?;
    reading.series.iter().try_for_each(check_series)
}

/// Whether a mechanical check makes sense.
///
/// # Errors
/// One line that names what does not.
pub fn check_check(done: &CheckDone) -> Sound {
    date("at", done.at)?;
    optional_date("withdrawn", done.withdrawn)?;
    match &done.check {
        Check::Gauge {
            figure,
            typed,
            typed_unit,
        } => {
            check_figure(figure)?;
            number("typed", *typed)?;
            line("typed_unit", typed_unit)
        }
        Check::Seen { what, found, .. } => {
            needed("what", what)?;
            line("what", what)?;
            text("found", found)
        }
    }
}

/// Whether a deck makes sense.
///
/// # Errors
/// One line that names what does not.
pub fn check_deck(deck: &Deck) -> Sound {
    line("model", &deck.model)?;
    line("serial", &deck.serial)?;
    line("tape_format", &deck.tape_format)?;
    line("mechanism", &deck.mechanism)
}

/// Whether a workshop makes sense.
///
/// # Errors
/// One line that names what does not.
pub fn check_workshop(workshop: &Workshop) -> Sound {
    line("workshop name", &workshop.name)?;
    list("workshop lines", workshop.lines.len(), MOST_IN_A_LIST)?;
    workshop
        .lines
        .iter()
        .try_for_each(|address| line("workshop line", address))
}

/// Whether what the owner said can be kept.
///
/// # Errors
/// When it is too long.
pub fn check_complaint(complaint: &str) -> Sound {
    text("complaint", complaint)
}

/// Whether what surrounds the work makes sense.
///
/// # Errors
/// One line that names what does not.
pub fn check_environment(environment: &Environment) -> Sound {
    within("temperature_c", environment.temperature_c, -60.0, 100.0)?;
    within("mains_volts", environment.mains_volts, 0.0, 1000.0)?;
    // Two months.
    within(
        "warm_up_minutes",
        environment.warm_up_minutes,
        0.0,
        87_840.0,
    )
}

/// Whether limits make sense.
///
/// # Errors
/// One line that names what does not.
pub fn check_limits(limits: &LimitSet) -> Sound {
    line("limits name", &limits.name)?;
    line("limits title", &limits.title)?;
    list("limits", limits.limits.len(), MOST_IN_A_LIST)?;
    limits
        .limits
        .iter()
        .try_for_each(|limit| text("limit source", &limit.source))?;
    limits.check()
}

/// Whether a station left out has a reason.
///
/// # Errors
/// When it has none, or too long a one.
pub fn check_skip(skip: &Skip) -> Sound {
    date("at", skip.at)?;
    needed("reason", &skip.reason)?;
    text("reason", &skip.reason)
}

/// Whether a replaced part is named.
///
/// # Errors
/// When it is not, or at too great length.
pub fn check_part(part: &PartReplaced) -> Sound {
    date("at", part.at)?;
    needed("what", &part.what)?;
    text("what", &part.what)
}

/// Whether a note says something.
///
/// # Errors
/// When it does not, or at too great length.
pub fn check_note(note: &Note) -> Sound {
    date("at", note.at)?;
    needed("text", &note.text)?;
    text("text", &note.text)
}

/// Whether a calibration tape has a name, and texts that can be kept.
///
/// # Errors
/// One line that names what does not.
pub fn check_tape(tape: &TapeOnHand) -> Sound {
    needed("tape name", &tape.name)?;
    line("tape name", &tape.name)?;
    line("tape title", &tape.title)?;
    line("certificate", &tape.certificate)
}

/// Whether a check of a tape says against what it was made.
///
/// # Errors
/// One line that names what is missing.
pub fn check_tape_check(check: &TapeCheck) -> Sound {
    date("at", check.at)?;
    needed("against", &check.against)?;
    line("against", &check.against)?;
    text("found", &check.found)
}

fn check_figure(figure: &Figure) -> Sound {
    let key = figure.quantity.key();
    number(key, figure.value)?;
    figure.uncertainty.map_or(Ok(()), |uncertainty| {
        number(key, uncertainty)?;
        if uncertainty < 0.0 {
            return Err(format!("{key}: an uncertainty is not below 0"));
        }
        Ok(())
    })
}

fn check_context(context: &Context) -> Sound {
    line("program", &context.program)?;
    line("input", &context.input)?;
    text("profile", &context.profile)?;
    line("tape name", &context.tape.name)?;
    line("tape title", &context.tape.title)?;
    line("tape_format", &context.tape_format)?;
    let tape = &context.tape;
    for (name, value) in [
        ("clock_error_ppm", Some(context.clock_error_ppm)),
        ("clock_tolerance_ppm", Some(context.clock_tolerance_ppm)),
        ("averaged_seconds", Some(context.averaged_seconds)),
        ("running_seconds", Some(context.running_seconds)),
        ("tone_hz", tape.tone_hz),
        (
            "frequency_correction_percent",
            Some(tape.frequency_correction_percent),
        ),
        (
            "frequency_tolerance_percent",
            tape.frequency_tolerance_percent,
        ),
    ] {
        value.map_or(Ok(()), |value| number(name, value))?;
    }
    if i64::try_from(context.lost_frames).is_err() {
        return Err("lost_frames: no such number of frames".into());
    }
    list("notices", context.notices.len(), MOST_IN_A_LIST)?;
    context
        .notices
        .iter()
        .try_for_each(|notice| text("notice", notice))
}

fn check_series(series: &Series) -> Sound {
    list("series values", series.values.len(), MOST_POINTS)?;
    if !(series.step_s > 0.0 && series.step_s <= GREATEST) {
        return Err("step_s: the time between two points must be above 0".into());
    }
    if series
        .values
        .iter()
        .flatten()
        .any(|value| !value.is_finite())
    {
        return Err("series values: every value must be a finite number or null".into());
    }
    Ok(())
}

fn each<T>(name: &str, rows: &[T], check: impl Fn(&T) -> Sound) -> Sound {
    list(&format!("{name}s"), rows.len(), MOST_ROWS)?;
    rows.iter()
        .enumerate()
        .try_for_each(|(at, row)| check(row).map_err(|what| format!("{name} {}: {what}", at + 1)))
}

fn list(name: &str, there: usize, most: usize) -> Sound {
    if there > most {
        return Err(format!(
            "{name}: there are {there}, at most {most} are kept"
        ));
    }
    Ok(())
}

fn line(name: &str, value: &str) -> Sound {
    length(name, value, MOST_IN_A_LINE)
}

fn text(name: &str, value: &str) -> Sound {
    length(name, value, MOST_IN_A_TEXT)
}

fn length(name: &str, value: &str, most: usize) -> Sound {
    let letters = value.chars().count();
    if letters > most {
        return Err(format!(
            "{name}: {letters} characters are too many, at most {most} are kept"
        ));
    }
    Ok(())
}

fn needed(name: &str, value: &str) -> Sound {
    if value.trim().is_empty() {
        return Err(format!("{name}: say something here"));
    }
    Ok(())
}

fn number(name: &str, value: f64) -> Sound {
    if value.abs() <= GREATEST {
        return Ok(());
    }
    Err(format!("{name}: {value} is no figure of a tape deck"))
}

fn within(name: &str, value: Option<f64>, least: f64, most: f64) -> Sound {
    match value {
        Some(value) if !(least..=most).contains(&value) => {
            Err(format!("{name}: {value} is not from {least} to {most}"))
        }
        _ => Ok(()),
    }
}

fn date(name: &str, time: Timestamp) -> Sound {
    /// The years 1970 to 2200: others are a slip, or no date of a tape deck's service.
    const LATEST_S: i64 = 7_258_118_400;
    if (0..LATEST_S).contains(&time.as_second()) {
        return Ok(());
    }
    Err(format!("{name}: {time} is not a date from 1970 to 2199"))
}

fn optional_date(name: &str, time: Option<Timestamp>) -> Sound {
    time.map_or(Ok(()), |time| date(name, time))
}
