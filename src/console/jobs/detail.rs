//! One job on a page: as found and as left at each station, with limits and verdicts.

use super::{super::page::Page, day};
use crate::bench::{
    Check, CheckDone, Figure, Job, Stage, Station, TakenReading, Verdict, checks::gauge_words,
};

/// The page.
pub fn page(job: &Job) -> String {
    let mut page = Page::default();
    page.heading("Job", &job.number);
    page.row("deck", &job.deck.model);
    optional(&mut page, "serial number", &job.deck.serial);
    page.row("came", &day(job.opened));
    page.row("left", &job.closed.map_or("it is here".into(), day));
    optional(&mut page, "complaint", &job.complaint);
    page.row("limits", &job.limits.title);
    for station in Station::ALL {
        of_station(&mut page, job, station);
    }
    section(
        &mut page,
        "Parts replaced",
        job.parts.iter().map(|part| &*part.what),
    );
    section(&mut page, "Notes", job.notes.iter().map(|note| &*note.text));
    page.into_text()
}

fn optional(page: &mut Page, label: &str, value: &str) {
    if !value.trim().is_empty() {
        page.row(label, value);
    }
}

fn section<'a>(page: &mut Page, label: &str, lines: impl Iterator<Item = &'a str>) {
    for (place, line) in lines.enumerate() {
        if place == 0 {
            page.heading(label, "");
        }
        page.item(line);
    }
}

fn of_station(page: &mut Page, job: &Job, station: Station) {
    page.heading(&capital(station.words()), "");
    let mut any = false;
    for stage in Stage::ALL {
        if station == Station::Mechanical {
            any |= checks(page, job, stage);
        } else if let Some(reading) = job.standing(station, stage) {
            taken(page, job, stage, reading);
            any = true;
        }
        if let Some(skip) = job.skipped(station, stage) {
            page.row(stage.words(), &format!("left out: {}", skip.reason));
            any = true;
        }
    }
    if !any {
        page.row("nothing taken", "");
    }
}

fn taken(page: &mut Page, job: &Job, stage: Stage, reading: &TakenReading) {
    let tries = job.tries(reading.station, stage).count();
    let tries = if tries > 1 {
        format!(" (of {tries} tries)")
    } else {
        String::new()
    };
    page.row(stage.words(), &format!("{}{tries}", day(reading.at)));
    for figure in &reading.figures {
        let verdict = judged(job, figure);
        if verdict.is_some() || figure.quantity == reading.figures[0].quantity {
            let verdict = verdict.map_or(String::new(), |words| format!("; {words}"));
            page.row(
                &format!("  {}", figure.quantity.name()),
                &format!("{}{verdict}", words(figure)),
            );
        }
    }
}

fn checks(page: &mut Page, job: &Job, stage: Stage) -> bool {
    let standing = |done: &&CheckDone| {
        done.stage == stage
            && match (&done.check, done.withdrawn) {
                (_, Some(_)) => false,
                (Check::Gauge { figure, .. }, None) => job
                    .standing_gauge(figure.quantity, stage)
                    .is_some_and(|other| std::ptr::eq(other, *done)),
                (Check::Seen { .. }, None) => true,
            }
    };
    let mut any = false;
    for done in job.checks.iter().filter(standing) {
        if !any {
            page.row(stage.words(), "");
        }
        any = true;
        match &done.check {
            Check::Gauge { figure, .. } => {
                let verdict =
                    judged(job, figure).map_or(String::new(), |words| format!("; {words}"));
                page.row(
                    &format!("  {}", figure.quantity.name()),
                    &format!("{}{verdict}", gauge_words(figure)),
                );
            }
            Check::Seen { what, found, good } => {
                let verdict = match good {
                    Some(true) => "; good",
                    Some(false) => "; not good",
                    None => "",
                };
                page.row(&format!("  {what}"), &format!("{found}{verdict}"));
            }
        }
    }
    any
}

/// Verdict and limit; `None` where the figure has no limit.
fn judged(job: &Job, figure: &Figure) -> Option<String> {
    let limit = job.limits.of(figure.quantity)?;
    let verdict = Verdict::of(figure, limit);
    Some(format!("{} ({})", verdict.words(), limit.words()))
}

fn words(figure: &Figure) -> String {
    let (quantity, decimals) = (figure.quantity, figure.quantity.decimals());
    let value = if quantity.is_signed() {
        format!("{:+.decimals$}", figure.value).replace('-', "−")
    } else {
        format!("{:.decimals$}", figure.value)
    };
    let uncertainty = figure.uncertainty.map_or(String::new(), |uncertainty| {
        format!(" ±{uncertainty:.decimals$}")
    });
    format!("{value}{uncertainty} {}", quantity.unit())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
