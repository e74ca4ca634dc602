//! `trimwatch run-in`: what a run-in log shows.

use super::{
    ConsoleError, Outcome,
    arguments::{MeasureFormat, RunInArguments},
    chart::chart,
    deliver, ends,
    figures::{plain, signed},
    json,
    page::Page,
};
use crate::run_in::{self, Criteria, Direction, Evaluation, Line, Pass, Temperature};
use std::{
    io::Write,
    time::{SystemTime, UNIX_EPOCH},
};

/// Passes and events listed; of more, the first and the last ones are.
const LISTED: usize = 20;

/// Adds a temperature if there is one, then says what the log shows.
pub fn run_in(arguments: &RunInArguments, out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    if let Some(celsius) = arguments.temperature {
        run_in::add_line(&arguments.log, &temperature(celsius, arguments.at))?;
    }
    let history = run_in::read(&arguments.log)?;
    let criteria = Criteria {
        steady_within_percent: arguments.steady_within,
    };
    let evaluation = run_in::evaluate(&history, &criteria);
    let text = match arguments.format {
        MeasureFormat::Text => sheet(&evaluation),
        MeasureFormat::Json => json::object(&evaluation)?,
    };
    deliver(out, &text)?;
    Ok(Outcome::of(
        evaluation
            .passes
            .iter()
            .any(|pass| pass.speed_percent.is_some()),
    ))
}

fn temperature(celsius: f64, at_minutes: Option<f64>) -> Line {
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    let now_s = now.map_or(0.0, |since| since.as_secs_f64());
    Line::Temperature(Temperature {
        at_s: at_minutes.map(|minutes| 60.0 * minutes),
        unix_s: at_minutes.is_none().then_some(now_s),
        celsius,
    })
}

/// The evaluation as text, at most 80 columns wide.
fn sheet(shown: &Evaluation) -> String {
    let mut page = Page::default();
    head(&mut page, shown);
    course(&mut page, shown);
    speed(&mut page, shown);
    warm_up(&mut page, shown);
    if !shown.changes.is_empty() {
        page.heading("First to last ten minutes", "");
        rows(&mut page, &shown.change_rows());
    }
    if shown.passes.len() > 1 {
        passes(&mut page, &shown.passes);
    }
    if let Some(of_the_longest) = &shown.ends {
        page.title("Both ends of the tape, of the longest pass");
        ends::table(&mut page, of_the_longest);
    }
    events(&mut page, shown);
    page.into_text()
}

fn head(page: &mut Page, shown: &Evaluation) {
    page.heading("Run-in", &shown.source);
    page.row("read against", &shown.expected);
    page.row("length", &run_in::span_words(shown.seconds));
    page.row("readings", &shown.readings.to_string());
    if shown.sessions > 1 {
        page.row("started", &format!("{} times", shown.sessions));
    }
    if shown.damaged_lines > 0 {
        page.row("damaged lines", &shown.damaged_lines.to_string());
    }
    page.row("end", shown.ending());
}

/// The curve of the speed, with a letter under it where something happened.
fn course(page: &mut Page, shown: &Evaluation) {
    let points: Vec<(f64, f64)> = shown
        .course
        .steps
        .iter()
        .filter_map(|step| Some((step.at_s, step.speed_percent.value()?)))
        .collect();
    let mut marks: Vec<(f64, char)> = shown
        .events
        .iter()
        .filter_map(|event| Some((event.at_s, event.kind.mark()?)))
        .collect();
    marks.extend(shown.steady.since_s.map(|since_s| (since_s, '^')));
    let lines = chart(&points, shown.seconds, &marks);
    if lines.is_empty() {
        return;
    }
    page.title("Speed deviation, %");
    for line in lines {
        page.verbatim(&line);
    }
    if !marks.is_empty() {
        page.title(
            "^ steady since   r reversal   s stop   e tape end   i interruption   d dropouts   m speed moved   n not kept",
        );
    }
}

fn speed(page: &mut Page, shown: &Evaluation) {
    page.heading("Speed", "");
    rows(page, &shown.speed_rows());
}

fn warm_up(page: &mut Page, shown: &Evaluation) {
    let warm_up = shown.warm_up_rows();
    if !warm_up.is_empty() {
        page.heading("Warm-up", "");
        rows(page, &warm_up);
    }
}

fn rows(page: &mut Page, rows: &[(&'static str, String)]) {
    for (label, words) in rows {
        page.row(label, words);
    }
}

fn passes(page: &mut Page, passes: &[Pass]) {
    page.title("Passes of the tape");
    let row = |from: &str,
               to: &str,
               way: &str,
               speed: &str,
               flutter: &str,
               azimuth: &str,
               balance: &str| {
        format!("  {from:>9} {to:>10}  {way:<6}{speed:>10}{flutter:>12}{azimuth:>12}{balance:>11}")
    };
    page.verbatim(&row(
        "from",
        "to",
        "way",
        "speed %",
        "flutter %",
        "azimuth '",
        "L-R dB",
    ));
    listed(page, passes, |page, pass| {
        let way = match pass.direction {
            Direction::First => "first",
            Direction::Other => "other",
        };
        page.verbatim(&row(
            &run_in::span_words(pass.from_s),
            &run_in::span_words(pass.to_s),
            way,
            &signed(pass.speed_percent, 3),
            &plain(pass.weighted_two_sigma_percent, 3),
            &signed(pass.azimuth_arcmin, 2),
            &signed(pass.balance_db, 2),
        ));
    });
}

fn events(page: &mut Page, shown: &Evaluation) {
    if shown.events.is_empty() {
        page.heading("Events", "none");
        return;
    }
    page.heading("Events", &shown.events.len().to_string());
    listed(page, &shown.events, |page, event| {
        page.item(&format!(
            "at {}: {}",
            run_in::span_words(event.at_s),
            event.words
        ));
    });
    if shown.events_not_listed > 0 {
        page.item(&format!(
            "and {} more that were only counted",
            shown.events_not_listed
        ));
    }
}

/// The first and the last of a long list.
fn listed<T>(page: &mut Page, all: &[T], mut show: impl FnMut(&mut Page, &T)) {
    let (first, last) = if all.len() <= LISTED {
        (all, &[][..])
    } else {
        (&all[..LISTED / 2], &all[all.len() - LISTED / 2..])
    };
    first.iter().for_each(|one| show(page, one));
    if !last.is_empty() {
        page.item(&format!("… {} more …", all.len() - LISTED));
    }
    last.iter().for_each(|one| show(page, one));
}
