//! The technical page: every figure that stands, with all that another technician needs to check or repeat it.

mod circumstances;
mod figures;

use super::{
    document::{Block, Column, Row, Table},
    owner::main_figure,
    typed::{self, NAME, REMARK},
    words,
};
use crate::bench::{Job, Quantity, Stage, Station};

/// Earlier jobs that are shown.
const EARLIER: usize = 3;

/// Its blocks.
pub fn page(job: &Job, earlier: &[&Job]) -> Vec<Block> {
    let mut blocks = vec![title(job)];
    let sources = figures::sources(job);
    match figures::table(job, &sources) {
        Some(table) => blocks.push(Block::Table(table)),
        None => blocks.push(Block::Paragraph(
            "Nothing was measured or looked at in this job.".into(),
        )),
    }
    if let Some(table) = circumstances::readings(job) {
        blocks.push(Block::Table(table));
    }
    let mut pairs = vec![rule()];
    pairs.extend(limits(job, &sources));
    pairs.extend(method(job));
    pairs.extend(circumstances::pairs(job));
    pairs.extend(skips(job));
    blocks.push(Block::Pairs(pairs));
    if let Some(table) = earlier_jobs(earlier) {
        blocks.push(Block::Table(table));
    }
    blocks
}

fn title(job: &Job) -> Block {
    let model = typed::or(&job.deck.model, NAME, "a deck without a name");
    let serial = typed::text(&job.deck.serial, NAME);
    let serial = if serial.is_empty() {
        String::new()
    } else {
        format!(", serial number {serial}")
    };
    Block::Heading(1, format!("Technical page: {model}{serial}"))
}

fn rule() -> (String, String) {
    (
        "Decision rule".into(),
        "± is the expanded uncertainty, k = 2 (about 95 %). Pass: inside the limit by at least ±. Fail: outside by more \
         than ±. Within uncertainty: nearer to the limit than ±, so that neither is proven. As ISO 14253-1 (from memory). No ±: \
         not known."
            .into(),
    )
}

fn limits(job: &Job, sources: &[&str]) -> Vec<(String, String)> {
    let title = typed::or(&job.limits.title, NAME, &job.limits.name);
    if sources.is_empty() {
        let text = format!("Set ‘{title}’. It has no limit for any of these figures.");
        return vec![("Limits".into(), text)];
    }
    let list: Vec<_> = sources
        .iter()
        .enumerate()
        .map(|(at, source)| {
            format!(
                "[{}] {}",
                at + 1,
                typed::or(source, 2 * REMARK, "no source given")
            )
        })
        .collect();
    vec![(
        "Limits".into(),
        format!("Set ‘{title}’. {}", list.join("; ")),
    )]
}

/// How each station that was measured was measured.
fn method(job: &Job) -> Option<(String, String)> {
    let measured = |station| {
        Stage::ALL
            .iter()
            .any(|&stage| job.standing(station, stage).is_some())
    };
    let methods = [
        (
            Station::Speed,
            "Speed: mean frequency of the tone against that of the tape, positive = fast; least and greatest of its 0.25 s means.",
        ),
        (
            Station::Flutter,
            "Wow and flutter: weighting and quasi-peak indicator of IEC 60386 / AES6; two-sigma is the value exceeded \
             5 % of the time; unweighted is 0.2 to 200 Hz. Limit of DIN 45500 where named.",
        ),
        (
            Station::Azimuth,
            "Azimuth: interchannel delay of the tone, by tape speed and distance of the track centres; positive = right \
             channel later.",
        ),
        (
            Station::Level,
            "Level: dBFS of AES17, a full-scale sine reads 0 dBFS; balance is left less right.",
        ),
    ];
    let words: Vec<_> = methods
        .into_iter()
        .filter_map(|(station, words)| measured(station).then_some(words))
        .collect();
    (!words.is_empty()).then(|| ("Method".into(), words.join(" ")))
}

fn skips(job: &Job) -> Option<(String, String)> {
    let mut lines = Vec::new();
    for station in Station::ALL {
        for stage in Stage::ALL {
            if let Some(skip) = job.skipped(station, stage) {
                let reason = typed::or(&skip.reason, REMARK, "no reason is written down");
                lines.push(format!("{} {}: {reason}", station.words(), stage.words()));
            }
        }
    }
    (!lines.is_empty()).then(|| {
        (
            "Left out".into(),
            typed::sentence(&lines.join("; "), 8 * REMARK),
        )
    })
}

/// What earlier jobs of the deck left.
fn earlier_jobs(earlier: &[&Job]) -> Option<Table> {
    const SHOWN: [(&str, Quantity); 4] = [
        ("speed, %", Quantity::SpeedDeviation),
        ("two-sigma, %", Quantity::WeightedTwoSigma),
        ("azimuth, arcmin", Quantity::Azimuth),
        ("left less right, dB", Quantity::Balance),
    ];
    if earlier.is_empty() {
        return None;
    }
    let mut columns = vec![Column::words("job", 1.2), Column::words("came", 1.2)];
    columns.extend(SHOWN.map(|(title, _)| Column::numbers(title, 1.4)));
    let rows = earlier[earlier.len().saturating_sub(EARLIER)..]
        .iter()
        .map(|job| {
            let mut cells = vec![typed::or(&job.number, NAME, "–"), words::date(job.opened)];
            cells.extend(SHOWN.map(|(_, quantity)| {
                main_figure(job, &[quantity], Stage::AsLeft)
                    .map_or_else(|| "–".into(), words::with_uncertainty)
            }));
            Row::Cells(cells)
        });
    Some(Table {
        caption: "This deck as earlier jobs left it".into(),
        columns,
        rows: rows.collect(),
    })
}
