//! Every line of 0.005 % and more is found, named and sized; nothing is named that is not there.
//!
//! `cargo bench --bench mechanism` does the same on a hundred decks.

use super::decks::{self, Deck};
use trimwatch::{
    mechanism::{Analyser, Options},
    readings::{AttributionRow, MechanismReading, RowKind},
};

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

#[test]
fn every_line_is_found_named_and_sized_and_nothing_else() {
    let mut analyser = Analyser::default();
    let mut tally = Tally::default();
    for seed in 0..10 {
        let deck = decks::drawn(seed, 60.0);
        let series = deck.series(60.0, 0);
        let reading = analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
        hold(&deck, &reading, &mut tally);
    }
    assert!(tally.wrong.is_empty(), "{tally:#?}");
    assert!(
        tally.lines > 80 && tally.named * 10 > tally.lines * 9,
        "{tally:?}"
    );
}

/// Short takes: less is found, but what is named is there.
#[test]
fn a_short_take_names_nothing_that_is_not_there() {
    let mut analyser = Analyser::default();
    let mut named = 0;
    for seed in 0..20 {
        let deck = decks::drawn(seed, 60.0);
        let series = deck.series(10.0, 0);
        let reading = analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
        let mut tally = Tally::default();
        hold(&deck, &reading, &mut tally);
        named += tally.named;
        let false_names: Vec<&String> = tally
            .wrong
            .iter()
            .filter(|what| what.contains("not there"))
            .collect();
        assert!(false_names.is_empty(), "{false_names:?}");
    }
    assert!(named > 60, "{named}");
}

/// The silence of a deck: random wow and noise alone.
#[test]
fn a_deck_without_lines_names_no_part() {
    let mut analyser = Analyser::default();
    for seed in 0..15 {
        let mut deck = decks::drawn(seed, 30.0);
        deck.lines.clear();
        let series = deck.series(30.0, 1);
        let reading = analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
        let named: Vec<&String> = reading
            .rows
            .iter()
            .filter(|row| row.kind == RowKind::Part)
            .map(|row| &row.label)
            .collect();
        assert!(named.is_empty(), "{seed}: {named:?}");
        assert!(reading.parts.iter().all(|part| part.found_hz.is_none()));
    }
}

/// Random wow made of many small lines at random rates: one of them that happens to turn like a part is not the part.
#[test]
fn a_forest_of_small_lines_names_no_part() {
    let mut analyser = Analyser::default();
    let mut named: Vec<String> = Vec::new();
    let mut decks_with_names = 0;
    for seed in 0..10 {
        let mut deck = decks::drawn(seed, 60.0);
        deck.lines = decks::forest(60, 0.4, 30.0, 0.03, seed);
        let series = deck.series(60.0, 1);
        let reading = analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
        let rows = reading.rows.iter().filter(|row| row.kind == RowKind::Part);
        let before = named.len();
        named.extend(rows.map(|row| format!("{seed}: {} {:?}", row.label, row.probability)));
        decks_with_names += usize::from(named.len() > before);
    }
    assert!(decks_with_names <= 2, "{named:?}");
}
