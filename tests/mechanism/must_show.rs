//! Every line of 0.005 % and more is found, named and sized; nothing is named that is not there.
//!
//! `cargo bench --bench mechanism -- --study` does the same on a hundred decks.

use super::{
    decks,
    tally::{Tally, hold},
};
use trimwatch::{
    mechanism::{Analyser, Options},
    readings::RowKind,
};

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
