//! Figures and entries of a job in words.

use crate::{
    bench::{Check, Figure, Quantity, checks, keeping::Entry},
    screen::model::{format, harmless},
};

/// `+0.834 % ±0.012 %`; without its uncertainty where that is not known.
pub fn figure(figure: &Figure) -> String {
    let quantity = figure.quantity;
    let (unit, decimals) = (quantity.unit(), quantity.decimals());
    let number = if quantity.is_signed() {
        format::signed(figure.value, decimals)
    } else {
        format::plain(figure.value, decimals)
    };
    let number = with_unit(number, unit);
    match figure.uncertainty {
        Some(uncertainty) if uncertainty > 0.0 => {
            let digits = format::plain(uncertainty, decimals);
            format!("{number} ±{}", with_unit(digits, unit))
        }
        _ => number,
    }
}

/// The first of a reading's figures; with its name where it is not what the station is about.
pub fn main(figures: &[Figure]) -> String {
    let Some(first) = figures.first() else {
        return format::NOTHING.into();
    };
    let usual = matches!(
        first.quantity,
        Quantity::SpeedDeviation
            | Quantity::WeightedTwoSigma
            | Quantity::Azimuth
            | Quantity::Balance
    );
    if usual {
        figure(first)
    } else {
        format!("{} {}", first.quantity.name(), figure(first))
    }
}

fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() {
        number
    } else {
        format!("{number} {unit}")
    }
}

/// What was typed, as one line that harms no other.
fn line(typed: &str) -> String {
    harmless::line(typed, 120)
}

/// What a mechanical check says.
pub fn check(check: &Check) -> String {
    match check {
        Check::Gauge { figure, .. } => {
            format!("{} {}", figure.quantity.name(), checks::gauge_words(figure))
        }
        Check::Seen { what, found, good } => {
            let judged = match good {
                Some(true) => " (good)",
                Some(false) => " (not good)",
                None => "",
            };
            format!("{what}: {}{judged}", line(found))
        }
    }
}

/// An entry with its stage: `speed, as found: +0.834 % ±0.012 %`.
pub fn entry(entry: &Entry) -> String {
    match entry {
        Entry::Reading(reading) => {
            let main = main(&reading.figures);
            let (station, stage) = (reading.station.words(), reading.stage.words());
            format!("{station}, {stage}: {main}")
        }
        Entry::Check(done) => format!("check, {}: {}", done.stage.words(), check(&done.check)),
        Entry::Skip(skip) => format!(
            "{}, {}, left out: {}",
            skip.station.words(),
            skip.stage.words(),
            line(&skip.reason)
        ),
        Entry::Part(part) => format!("part replaced: {}", line(&part.what)),
        Entry::Note(note) => format!("note: {}", line(&note.text)),
    }
}

/// That an entry was taken back.
pub fn taken_back(taken: &Entry) -> String {
    let kept = matches!(taken, Entry::Reading(_) | Entry::Check(_));
    let how = if kept { "withdrawn" } else { "taken back" };
    format!("{how}: {} (y brings it back)", entry(taken))
}
