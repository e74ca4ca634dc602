//! What the analysis of the mechanism costs, and the studies whose smaller siblings are in `tests/mechanism/`:
//!
//! ```text
//! cargo bench --bench mechanism                 the costs
//! cargo bench --bench mechanism -- --study      the studies: a hundred decks, five hundred pairs of takes
//! ```
#![allow(clippy::unwrap_used, reason = "a bench")]
#![allow(clippy::print_stdout, reason = "a study prints its outcome")]

#[path = "../mechanism/decks.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod decks;
#[path = "../mechanism/tally.rs"]
mod tally;

use divan::Bencher;
use std::time::Instant;
use tally::{Tally, hold};
use trimwatch::{
    mechanism::{Analyser, Options, compare},
    readings::{MechanismReading, Verdict},
};

fn main() {
    if std::env::args().any(|word| word == "--study") {
        hundred_decks();
        without_a_change();
        a_fifth_less();
    } else {
        divan::main();
    }
}

/// One analysis of 65 s, as twice a second live: speed alone; with phase and both levels.
#[divan::bench(args = [false, true], sample_count = 40)]
fn analysis(bencher: Bencher<'_, '_>, all_quantities: bool) {
    let deck = decks::drawn(3, 65.0);
    let mut series = deck.series(65.0, 0);
    if all_quantities {
        let other = |size: f64, take: u64| -> Vec<f64> {
            let speed = deck.series(65.0, take).speed_percent;
            speed.iter().map(|x| size * x).collect()
        };
        series.phase_degrees = Some(other(10.0, 1));
        series.level_db = [Some(other(0.3, 2)), Some(other(0.3, 3))];
    }
    let mut analyser = Analyser::default();
    bencher.bench_local(|| {
        analyser.analyse(
            divan::black_box(&series),
            Some(&deck.mechanism),
            None,
            Options::default(),
        )
    });
}

/// A hundred decks of 3 to 8 parts: every line found, named and sized; at most one false name.
fn hundred_decks() {
    for seconds in [20.0, 60.0] {
        let began = Instant::now();
        let mut analyser = Analyser::default();
        let mut tally = Tally::default();
        for seed in 0..100 {
            let deck = decks::drawn(seed, seconds);
            let series = deck.series(seconds, 0);
            let reading =
                analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
            hold(&deck, &reading, &mut tally);
        }
        let count = |word: &str| {
            tally
                .wrong
                .iter()
                .filter(|what| what.contains(word))
                .count()
        };
        println!(
            "100 decks, {seconds} s: {} lines, {} named rightly, {} offered; off in rate {}, in size {}; false names {}",
            tally.lines,
            tally.named,
            tally.offered,
            count(": rate"),
            count(": size"),
            count("not there"),
        );
        for what in &tally.wrong {
            println!("  {what}");
        }
        println!("  in {:.0} s", began.elapsed().as_secs_f64());
        assert!(count("not there") <= 1);
    }
}

fn read(analyser: &mut Analyser, deck: &decks::Deck, take: u64) -> MechanismReading {
    let series = deck.series(60.0, take);
    let options = Options {
        without_traces: true,
        ..Options::default()
    };
    analyser.analyse(&series, Some(&deck.mechanism), None, options)
}

/// Five hundred pairs of takes without a change: 'better' anywhere in at most 5 %.
fn without_a_change() {
    let mut analyser = Analyser::default();
    let mut better = 0;
    for pair in 0..500 {
        let deck = decks::drawn(pair, 60.0);
        let found = read(&mut analyser, &deck, 1);
        let comparison = compare(&found, &read(&mut analyser, &deck, 2));
        better += usize::from(
            comparison
                .rows
                .iter()
                .any(|row| row.change.verdict == Verdict::Better),
        );
    }
    println!("500 pairs of 60 s without a change: {better} called better somewhere");
    assert!(better <= 25);
}

/// A part with a fifth less of all its lines, in takes of 60 s; and the random wow a fifth less, with nothing else.
fn a_fifth_less() {
    let mut analyser = Analyser::default();
    let (mut seen, mut better) = (0, 0);
    for pair in 0..200 {
        let deck = decks::drawn(1000 + pair, 60.0);
        let part = deck.lines[0].part.clone();
        let mut repaired = deck.clone();
        for line in repaired.lines.iter_mut().filter(|line| line.part == part) {
            line.peak_percent *= 0.8;
        }
        let found = read(&mut analyser, &deck, 1);
        let comparison = compare(&found, &read(&mut analyser, &repaired, 2));
        let mut rows = comparison
            .rows
            .iter()
            .filter(|row| row.part.as_ref() == Some(&part));
        let verdicts: Vec<Verdict> = rows.by_ref().map(|row| row.change.verdict).collect();
        seen += usize::from(!verdicts.is_empty());
        better += usize::from(verdicts.contains(&Verdict::Better));
    }
    println!("a part with a fifth less: {better} of {seen} called better");
    assert!(better * 10 >= seen * 9);
    let mut better = 0;
    for pair in 0..200 {
        let mut deck = decks::drawn(2000 + pair, 60.0);
        deck.lines.clear();
        deck.wow_peak_hz = 2.0;
        let mut quieter = deck.clone();
        quieter.wow_rms_percent *= 0.8;
        let found = read(&mut analyser, &deck, 1);
        let comparison = compare(&found, &read(&mut analyser, &quieter, 2));
        better += usize::from(comparison.rows[0].change.verdict == Verdict::Better);
    }
    println!(
        "random wow (2 Hz) a fifth less: the weighted reading of {better} of 200 called better"
    );
}
