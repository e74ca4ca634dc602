//! Holds a reading of a simulated deck against what the deck was made of.

use super::decks::Deck;
use trimwatch::readings::{AttributionRow, MechanismReading, RowKind};

/// What one deck showed.
#[derive(Debug, Default)]
pub struct Tally {
    pub lines: usize,
    pub named: usize,
    /// Open or in a group, with the right part among the candidates.
    pub offered: usize,
    pub wrong: Vec<String>,
}

/// Holds a reading against a deck.
pub fn hold(deck: &Deck, reading: &MechanismReading, tally: &mut Tally) {
    let seed = deck.seed;
    let rows = |rate_hz: f64| -> Option<&AttributionRow> {
        let near = reading.rows.iter().filter(|row| row.rate_hz.is_some());
        near.min_by(|a, b| {
            let off = |row: &AttributionRow| (row.rate_hz.unwrap().value - rate_hz).abs();
            off(a).total_cmp(&off(b))
        })
    };
    for line in deck.lone_lines(reading.resolution_hz) {
        tally.lines += 1;
        let Some(row) = rows(line.rate_hz) else {
            tally.wrong.push(format!("{seed}: no lines at all"));
            continue;
        };
        let (rate, peak) = (row.rate_hz.unwrap(), row.peak_percent.unwrap());
        if (rate.value / line.rate_hz - 1.0).abs() > 1e-3 {
            tally
                .wrong
                .push(format!("{seed}: rate {rate:?} of {line:?}"));
        } else if (peak.value / line.peak_percent - 1.0).abs() > 0.05 {
            tally
                .wrong
                .push(format!("{seed}: size {peak:?} of {line:?}"));
        }
        let offered = row
            .candidates
            .iter()
            .any(|c| c.part == line.part && c.order == line.order);
        match row.kind {
            RowKind::Part if row.part.as_ref() == Some(&line.part) => tally.named += 1,
            RowKind::Group | RowKind::Open if offered => tally.offered += 1,
            _ => tally
                .wrong
                .push(format!("{seed}: {} for {line:?}", row.label)),
        }
    }
    for row in reading.rows.iter().filter(|row| row.kind == RowKind::Part) {
        let rate_hz = row.rate_hz.unwrap().value;
        let true_one = deck.lines.iter().any(|line| {
            row.part.as_ref() == Some(&line.part)
                && row.order == Some(line.order)
                && (line.rate_hz - rate_hz).abs() < 0.5 * reading.resolution_hz
        });
        if !true_one {
            let label = &row.label;
            tally.wrong.push(format!(
                "{seed}: {label} named at {rate_hz:.4} Hz, not there"
            ));
        }
    }
}
