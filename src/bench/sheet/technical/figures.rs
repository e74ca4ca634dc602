//! The table of all figures that stand.

use super::super::{
    document::{Column, Row, Table},
    owner::looks,
    typed::{self, NAME, REMARK},
    words,
};
use crate::bench::{Check, Figure, Job, Quantity, Stage, Station};

/// Looks that are shown.
const LOOKS: usize = 10;

/// Where the limits in use come from, each once, in the order of the table.
pub fn sources(job: &Job) -> Vec<&str> {
    let mut sources = Vec::new();
    for &quantity in Quantity::ALL {
        let shown = Stage::ALL
            .iter()
            .any(|&stage| figure(job, quantity, stage).is_some());
        if let Some(limit) = job.limits.of(quantity).filter(|_| shown)
            && !sources.contains(&limit.source.as_str())
        {
            sources.push(&limit.source);
        }
    }
    sources
}

/// The figure of a quantity that counts at a stage.
pub fn figure(job: &Job, quantity: Quantity, stage: Stage) -> Option<&Figure> {
    let station = quantity.station();
    if station == Station::Mechanical {
        return match &job.standing_gauge(quantity, stage)?.check {
            Check::Gauge { figure, .. } => Some(figure),
            Check::Seen { .. } => None,
        };
    }
    if job.skipped(station, stage).is_some() {
        return None;
    }
    job.standing(station, stage)?.figure(quantity)
}

/// All of them; nothing where there is none.
pub fn table(job: &Job, sources: &[&str]) -> Option<Table> {
    let mut rows = Vec::new();
    for station in Station::ALL {
        let mut of_station: Vec<_> = Quantity::ALL
            .iter()
            .filter(|quantity| quantity.station() == station)
            .filter_map(|&quantity| row(job, quantity, sources))
            .collect();
        if station == Station::Mechanical {
            of_station.extend(seen(job));
        }
        if !of_station.is_empty() {
            rows.push(Row::Group(words::capital(station.words())));
            rows.append(&mut of_station);
        }
    }
    (!rows.is_empty()).then(|| Table {
        caption: "Every figure, with its expanded uncertainty (k = 2)".into(),
        columns: vec![
            Column::words("", 1.34),
            Column::numbers("as found", 0.92),
            Column::words("", 0.5),
            Column::numbers("as left", 0.92),
            Column::words("", 0.5),
            Column::words("limit [source]", 0.78),
        ],
        rows,
    })
}

fn row(job: &Job, quantity: Quantity, sources: &[&str]) -> Option<Row> {
    let figures = Stage::ALL.map(|stage| figure(job, quantity, stage));
    if figures == [None, None] {
        return None;
    }
    let limit = job.limits.of(quantity);
    let unit = match quantity.unit() {
        "" => String::new(),
        unit => format!(", {unit}"),
    };
    let mut cells = vec![format!("{}{unit}", quantity.name())];
    for (stage, figure) in Stage::ALL.into_iter().zip(figures) {
        match figure {
            Some(figure) => {
                cells.push(words::with_uncertainty(figure) + &as_typed(job, quantity, stage));
                cells.push(words::verdict(figure, limit));
            }
            None => cells.extend(["–".into(), String::new()]),
        }
    }
    cells.push(limit.map_or_else(String::new, |limit| {
        let source = sources.iter().position(|source| *source == limit.source);
        let source = source.map_or_else(String::new, |at| format!("\u{a0}[{}]", at + 1));
        words::limit(limit) + &source
    }));
    Some(Row::Cells(cells))
}

/// A gauge's number as it was typed, where its unit is another.
fn as_typed(job: &Job, quantity: Quantity, stage: Stage) -> String {
    match job.standing_gauge(quantity, stage).map(|done| &done.check) {
        Some(Check::Gauge {
            typed, typed_unit, ..
        }) if typed_unit != quantity.unit() && typed.is_finite() => {
            format!(" ({typed}\u{a0}{})", typed::text(typed_unit, 12))
        }
        _ => String::new(),
    }
}

/// What was looked at.
fn seen(job: &Job) -> Vec<Row> {
    let stages = Stage::ALL.map(|stage| looks(job, stage));
    let mut names: Vec<&String> = Vec::new();
    for (what, ..) in stages.iter().flatten() {
        if !names.contains(&what) {
            names.push(what);
        }
    }
    let more = names.len().saturating_sub(LOOKS);
    let mut rows: Vec<_> = names
        .into_iter()
        .take(LOOKS)
        .map(|name| {
            let mut cells = vec![name.clone()];
            for looks in &stages {
                match looks.iter().find(|(what, ..)| what == name) {
                    Some((_, found, good)) => {
                        cells.push(typed::text(found, REMARK.min(NAME)));
                        cells.push(match good {
                            Some(true) => "✔\u{a0}good".into(),
                            Some(false) => "✘\u{a0}not good".into(),
                            None => String::new(),
                        });
                    }
                    None => cells.extend(["–".into(), String::new()]),
                }
            }
            cells.push(String::new());
            Row::Cells(cells)
        })
        .collect();
    if more > 0 {
        rows.push(Row::Group(format!("and {more} more that were looked at")));
    }
    rows
}
