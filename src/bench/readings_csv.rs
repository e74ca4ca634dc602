//! The readings of a job as CSV (RFC 4180), a figure a row, for a spreadsheet. Gauges' figures are among them; series are
//! not: they are in the job file.

use super::{Check, Figure, Job, LimitSet, Stage, Station, Verdict};
use jiff::Timestamp;

/// The first row: what the columns hold.
pub const COLUMNS: [&str; 21] = [
    "job",
    "model",
    "serial",
    "at",
    "station",
    "stage",
    "quantity",
    "value",
    "uncertainty_k2",
    "unit",
    "limit_least",
    "limit_greatest",
    "verdict",
    "counts",
    "words",
    "averaged_s",
    "input",
    "interface",
    "tape",
    "tone_hz",
    "program",
];

/// All figures of a job, the first row with the columns' names. Numbers are the stored ones to the last digit.
pub fn to_csv(job: &Job) -> String {
    let mut csv = String::new();
    line(&mut csv, &COLUMNS.map(Into::into));
    for done in &job.checks {
        if let Check::Gauge { figure, .. } = &done.check {
            let of = Of {
                at: done.at,
                station: Station::Mechanical,
                stage: done.stage,
                counts: counts(
                    done.withdrawn,
                    job.standing_gauge(figure.quantity, done.stage)
                        .is_some_and(|standing| std::ptr::eq(standing, done)),
                ),
                words: super::checks::gauge_words(figure),
            };
            row(&mut csv, job, &of, figure, &Default::default());
        }
    }
    for reading in &job.readings {
        let of = Of {
            at: reading.at,
            station: reading.station,
            stage: reading.stage,
            counts: counts(
                reading.withdrawn,
                job.standing(reading.station, reading.stage)
                    .is_some_and(|standing| std::ptr::eq(standing, reading)),
            ),
            words: reading.words.clone(),
        };
        let context = &reading.context;
        let how = [
            number(context.averaged_seconds),
            text(&context.input),
            text(&context.profile),
            text(if context.tape.name.is_empty() {
                &context.tape.title
            } else {
                &context.tape.name
            }),
            context.tape.tone_hz.map_or(String::new(), number),
            text(&context.program),
        ];
        for figure in &reading.figures {
            row(&mut csv, job, &of, figure, &how);
        }
    }
    csv
}

/// What all figures of one reading share.
struct Of {
    at: Timestamp,
    station: Station,
    stage: Stage,
    counts: &'static str,
    words: String,
}

/// Whether a reading is the one that counts, an earlier try, or withdrawn.
fn counts(withdrawn: Option<Timestamp>, standing: bool) -> &'static str {
    match (withdrawn, standing) {
        (Some(_), _) => "withdrawn",
        (None, true) => "yes",
        (None, false) => "earlier try",
    }
}

fn row(csv: &mut String, job: &Job, of: &Of, figure: &Figure, how: &[String; 6]) {
    let [least, greatest, verdict] = judged(&job.limits, figure);
    let [averaged_s, input, interface, tape, tone_hz, program] = how.clone();
    line(
        csv,
        &[
            text(&job.number),
            text(&job.deck.model),
            text(&job.deck.serial),
            of.at.to_string(),
            of.station.words().into(),
            of.stage.words().into(),
            figure.quantity.key().into(),
            number(figure.value),
            figure.uncertainty.map_or(String::new(), number),
            figure.quantity.unit().into(),
            least,
            greatest,
            verdict,
            of.counts.into(),
            text(&of.words),
            averaged_s,
            input,
            interface,
            tape,
            tone_hz,
            program,
        ],
    );
}

/// Least, greatest and verdict of the figure's limit; empty where it has none.
fn judged(limits: &LimitSet, figure: &Figure) -> [String; 3] {
    let Some(limit) = limits.of(figure.quantity) else {
        return Default::default();
    };
    let bound = |value: Option<f64>| value.map_or(String::new(), number);
    [
        bound(limit.least),
        bound(limit.greatest),
        Verdict::of(figure, limit).words().into(),
    ]
}

/// The shortest decimal number that reads back as the same.
fn number(value: f64) -> String {
    format!("{value}")
}

/// A text that no spreadsheet takes for a formula.
fn text(value: &str) -> String {
    if value.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{value}")
    } else {
        value.to_owned()
    }
}

fn line(csv: &mut String, cells: &[String; COLUMNS.len()]) {
    for (place, cell) in cells.iter().enumerate() {
        if place > 0 {
            csv.push(',');
        }
        if cell.contains([',', '"', '\n', '\r']) {
            csv.push('"');
            csv.push_str(&cell.replace('"', "\"\""));
            csv.push('"');
        } else {
            csv.push_str(cell);
        }
    }
    csv.push_str("\r\n");
}
