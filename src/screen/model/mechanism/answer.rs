//! The answer in words: which part it is, and how sure that is.

use super::list::{Item, items};
use crate::{
    readings::{AttributionRow, MechanismReading, Quantity, RowKind},
    screen::model::format,
};

/// Below this share of the weighted reading nothing is to blame; common practice, no source.
const LEAST_SHARE: f64 = 0.1;

/// The answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// In a few words, read from a metre away.
    pub head: String,
    /// One sentence more.
    pub sentence: String,
}

/// Which part is to blame most, by the reading.
pub fn answer(reading: &MechanismReading) -> Answer {
    let sentence = |row: &AttributionRow| sentence(reading, row);
    let Some(row) = most(reading) else {
        return Answer {
            head: "no part stands out".into(),
            sentence: rest(reading),
        };
    };
    match row.kind {
        RowKind::Unexplained if reading.mechanism.is_none() => Answer {
            head: format!("lines make {} of the flutter", share(row)),
            sentence: "Choose the deck's mechanism (m), and they get the names of its parts."
                .into(),
        },
        RowKind::Unexplained => Answer {
            head: format!("no part explains {} of the flutter", share(row)),
            sentence: "Another part turns at these rates, or the mechanism file does not fit."
                .into(),
        },
        _ => Answer {
            head: format!("{}: {} of the flutter", Item::Heard(row).name(), share(row)),
            sentence: sentence(row),
        },
    }
}

/// The answer where there is little room: name and share.
pub fn brief(reading: &MechanismReading) -> String {
    most(reading).map_or_else(
        || "no part stands out".into(),
        |row| {
            let name = match row.kind {
                RowKind::Unexplained if reading.mechanism.is_none() => "lines".into(),
                RowKind::Unexplained => "unexplained".into(),
                _ => Item::Heard(row).name(),
            };
            format!("{name} {}", share(row))
        },
    )
}

/// The row with the greatest share that is not the random floor.
fn most(reading: &MechanismReading) -> Option<&AttributionRow> {
    reading
        .rows
        .iter()
        .filter(|row| row.kind != RowKind::Floor && row.share >= LEAST_SHARE)
        .max_by(|a, b| a.share.total_cmp(&b.share))
}

fn share(row: &AttributionRow) -> String {
    format!("{:.0} %", 100.0 * row.share)
}

fn sentence(reading: &MechanismReading, row: &AttributionRow) -> String {
    let rate = row.rate_hz.map_or_else(String::new, |rate| {
        format!(" at {} Hz", format::plain(rate.value, 2))
    });
    match row.kind {
        RowKind::Group => match row.seconds_to_separate {
            Some(seconds) => format!(
                "Too close to be told apart{rate}; a take of {seconds:.0} s does. {:.0} s are read.",
                reading.seconds
            ),
            None => format!("The same rate by the mechanism file{rate}: stop one and read again."),
        },
        RowKind::Open => format!("Several fit{rate}, none surely: {}.", alternatives(row)),
        _ => {
            let sure = row
                .confidence
                .map_or("named", |confidence| confidence.words());
            let shape = shape_words(reading, row);
            let others = alternatives(row);
            let or = match others.is_empty() {
                true => String::new(),
                false => format!(", or {others}"),
            };
            format!("{}{rate}{or}. {shape}", format::capitalised(sure))
        }
    }
}

/// The shape of the part's turn as a sentence, where it is known.
fn shape_words<'a>(reading: &'a MechanismReading, row: &AttributionRow) -> &'a str {
    let part = reading
        .parts
        .iter()
        .find(|part| row.part.as_deref() == Some(part.part.as_str()));
    part.and_then(|part| {
        part.traces
            .iter()
            .find(|trace| trace.quantity == Quantity::Speed)
    })
    .map_or("", |trace| &trace.words)
}

/// The other parts that fit, with their probabilities.
pub fn alternatives(row: &AttributionRow) -> String {
    row.candidates
        .iter()
        .filter(|one| Some(&one.part) != row.part.as_ref() || Some(one.order) != row.order)
        .filter(|one| one.probability >= 0.01)
        .map(|one| {
            let order = match one.order {
                1 => String::new(),
                order => format!(" ×{order}"),
            };
            format!("{}{order} ({:.0} %)", one.part, 100.0 * one.probability)
        })
        .collect::<Vec<_>>()
        .join(", ")
}

/// What the flutter is made of when no part stands out.
fn rest(reading: &MechanismReading) -> String {
    let floor: f64 = reading
        .rows
        .iter()
        .filter(|row| row.kind == RowKind::Floor)
        .map(|row| row.share)
        .sum();
    let unheard = items(reading)
        .iter()
        .filter(|item| matches!(item, Item::Unheard(_)))
        .count();
    let parts = match unheard {
        0 => String::new(),
        count => format!(
            " {} of the deck {} not seen at all.",
            format::counted(count as u64, "part", "parts"),
            if count == 1 { "is" } else { "are" }
        ),
    };
    format!(
        "{:.0} % of it is random wow and flutter.{parts}",
        100.0 * floor
    )
}
