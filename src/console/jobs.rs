//! `trimwatch jobs`: the jobs in the record, or one of them.

mod detail;

use super::{
    ConsoleError, Outcome,
    arguments::{JobsArguments, MeasureFormat, StoreArguments},
    deliver, json,
    page::{Page, fit},
};
use crate::bench::{
    Store,
    store::{Filter, JobRow, State},
};
use jiff::{Timestamp, tz::TimeZone};
use serde::Serialize;
use std::{io::Write, path::PathBuf, time::Duration};

/// How long a command waits for another copy's writing to end: nobody is turning a trimmer meanwhile.
const PATIENCE: Duration = Duration::from_secs(10);

/// Lists them, or shows the one whose number was typed.
pub fn jobs(arguments: &JobsArguments, out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let path = record(&arguments.store)?;
    let filter = Filter {
        search: arguments.search.join(" "),
        state: match (arguments.open, arguments.closed) {
            (true, _) => State::Open,
            (false, true) => State::Closed,
            (false, false) => State::Any,
        },
        most: None,
    };
    // A list makes no record.
    if !path.exists() {
        return list(&[], (0, 0), arguments, out);
    }
    let store = open_existing(path)?;
    let shows_one = arguments.format == MeasureFormat::Text && filter.state == State::Any;
    if shows_one && let Ok(kept) = store.job(&filter.search) {
        deliver(out, &detail::page(&kept.job))?;
        return Ok(Outcome::Complete);
    }
    list(&store.jobs(&filter)?, store.count_jobs()?, arguments, out)
}

/// The record's file: the one that was named, or the user's own.
pub(super) fn record(arguments: &StoreArguments) -> Result<PathBuf, ConsoleError> {
    let named = arguments.store.clone().or_else(Store::path_of_the_user);
    named.ok_or_else(|| {
        ConsoleError::Refused(
            "this system names no folder for your data; say which record: --store FILE".into(),
        )
    })
}

/// Opens a record that is there.
pub(super) fn open_existing(path: PathBuf) -> Result<Store, ConsoleError> {
    let mut store = Store::open_existing(path)?;
    store.set_patience(PATIENCE)?;
    Ok(store)
}

/// Opens a record, and makes it where there is none.
pub(super) fn open(path: PathBuf) -> Result<Store, ConsoleError> {
    let mut store = Store::open(path)?;
    store.set_patience(PATIENCE)?;
    Ok(store)
}

/// A date as a person at this computer has it.
fn day(time: Timestamp) -> String {
    time.to_zoned_datetime(TimeZone::system())
        .date()
        .to_string()
}

#[derive(Serialize)]
struct Listed {
    schema: &'static str,
    jobs: Vec<ListedJob>,
}

#[derive(Serialize)]
struct ListedJob {
    number: String,
    model: String,
    serial: String,
    opened: Timestamp,
    closed: Option<Timestamp>,
    complaint: String,
    readings: u32,
}

fn list(
    rows: &[JobRow],
    (all, open): (u32, u32),
    arguments: &JobsArguments,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    let text = match arguments.format {
        MeasureFormat::Text => table(rows, all, open),
        MeasureFormat::Json => json::object(&Listed {
            schema: "trimwatch.jobs/1",
            jobs: rows.iter().map(listed).collect(),
        })?,
    };
    deliver(out, &text)?;
    Ok(Outcome::of(!rows.is_empty()))
}

fn listed(row: &JobRow) -> ListedJob {
    ListedJob {
        number: row.number.clone(),
        model: row.model.clone(),
        serial: row.serial.clone(),
        opened: row.opened,
        closed: row.closed,
        complaint: row.complaint.clone(),
        readings: row.readings,
    }
}

fn table(rows: &[JobRow], all: u32, open: u32) -> String {
    let mut page = Page::default();
    match (rows.len(), all) {
        (0, 0) => page.heading(
            "No job yet",
            "Open one in the window, or take one in with 'trimwatch import'.",
        ),
        (0, _) => page.heading("No job found", &format!("{all} jobs are in the record")),
        (found, _) => {
            page.heading("Jobs", &format!("{found} of {all}, {open} open"));
            page.table_line(&cells(
                "number", "model", "serial", "came", "left", "readings",
            ));
        }
    }
    for row in rows {
        let left = row.closed.map_or("open".into(), day);
        page.table_line(&cells(
            &row.number,
            &row.model,
            &row.serial,
            &day(row.opened),
            &left,
            &row.readings.to_string(),
        ));
    }
    page.into_text()
}

fn cells(
    number: &str,
    model: &str,
    serial: &str,
    came: &str,
    left: &str,
    readings: &str,
) -> String {
    let cell = |text: &str, width: usize| format!("{:<width$}  ", fit(text, width));
    [
        cell(number, 14),
        cell(model, 16),
        cell(serial, 10),
        cell(came, 10),
        cell(left, 10),
        format!("{:>8}", fit(readings, 8)),
    ]
    .concat()
}

#[cfg(test)]
mod tests {
    use super::{super::page, *};

    #[test]
    fn whatever_was_typed_a_row_is_one_line_of_eighty_columns() {
        let row = JobRow {
            number: "HL-0031".repeat(6),
            model: "\u{1b}[2J\nFinch".repeat(20),
            serial: "x".repeat(500),
            opened: Timestamp::UNIX_EPOCH,
            closed: None,
            complaint: "\u{7}".into(),
            readings: u32::MAX,
        };
        let text = table(&[row.clone(), row], 2, 2);
        assert_eq!(text.lines().count(), 4);
        for line in text.lines() {
            assert!(page::columns(line) <= page::WIDTH, "{line}");
            assert!(!line.chars().any(char::is_control), "{line:?}");
        }
    }

    #[test]
    fn an_empty_record_and_an_empty_search_are_told_apart() {
        assert!(table(&[], 0, 0).contains("No job yet"));
        assert!(table(&[], 7, 2).contains("7 jobs are in the record"));
    }
}
