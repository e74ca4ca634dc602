//! As found against as left. `cargo bench --bench mechanism` does five hundred pairs.

use super::decks::{self, Deck};
use trimwatch::{
    mechanism::{Analyser, Options, compare},
    readings::{Comparison, MechanismReading, Verdict},
};

const SECONDS: f64 = 60.0;

fn read(analyser: &mut Analyser, deck: &Deck, take: u64) -> MechanismReading {
    let series = deck.series(SECONDS, take);
    let options = Options {
        without_traces: true,
        ..Options::default()
    };
    analyser.analyse(&series, Some(&deck.mechanism), None, options)
}

/// Whether anything is called better.
fn anything_better(comparison: &Comparison) -> bool {
    comparison
        .rows
        .iter()
        .any(|row| row.change.verdict == Verdict::Better)
}

#[test]
fn without_a_change_hardly_ever_better() {
    let mut analyser = Analyser::default();
    let mut better = 0;
    for pair in 0..40 {
        let deck = decks::drawn(pair, SECONDS);
        let found = read(&mut analyser, &deck, 1);
        let left = read(&mut analyser, &deck, 2);
        better += usize::from(anything_better(&compare(&found, &left)));
    }
    // 4 % of 40 is 1.6; more than 5 has a chance of 0.5 %.
    assert!(better <= 5, "{better} of 40");
}

#[test]
fn a_fifth_less_of_a_part_is_found() {
    let mut analyser = Analyser::default();
    let (mut found_it, mut worse, mut changes) = (0, 0, 0);
    for pair in 0..12 {
        let deck = decks::drawn(100 + pair, SECONDS);
        let part = deck.lines[0].part.clone();
        let mut repaired = deck.clone();
        for line in repaired.lines.iter_mut().filter(|line| line.part == part) {
            line.peak_percent *= 0.8;
        }
        let comparison = compare(
            &read(&mut analyser, &deck, 1),
            &read(&mut analyser, &repaired, 2),
        );
        let row = comparison
            .rows
            .iter()
            .find(|row| row.part.as_ref() == Some(&part));
        let Some(row) = row else { continue };
        changes += 1;
        found_it += usize::from(row.change.verdict == Verdict::Better);
        worse += usize::from(
            comparison
                .rows
                .iter()
                .any(|row| row.change.verdict == Verdict::Worse),
        );
    }
    assert!(
        changes >= 8 && found_it * 10 >= changes * 9,
        "{found_it} of {changes}"
    );
    assert!(worse <= 1, "{worse}");
}

#[test]
fn a_part_that_is_quiet_now_is_better_and_one_that_is_new_worse() {
    let mut analyser = Analyser::default();
    let deck = decks::drawn(3, SECONDS);
    let part = deck.lines[0].part.clone();
    let mut quiet = deck.clone();
    quiet.lines.retain(|line| line.part != part);
    let loud = read(&mut analyser, &deck, 1);
    let silent = read(&mut analyser, &quiet, 2);
    let verdict = |comparison: &Comparison| {
        let row = comparison
            .rows
            .iter()
            .find(|row| row.part.as_ref() == Some(&part))
            .unwrap();
        (row.change.verdict, row.remark.clone())
    };
    let (repaired, remark) = verdict(&compare(&loud, &silent));
    assert_eq!(repaired, Verdict::Better);
    assert_eq!(remark, "not seen as left");
    let (broken, remark) = verdict(&compare(&silent, &loud));
    assert_eq!(broken, Verdict::Worse);
    assert_eq!(remark, "not seen as found");
}
