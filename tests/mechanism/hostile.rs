//! Series that hold nothing, or no numbers.

use super::decks::{self, RATE_HZ};
use trimwatch::{
    mechanism::{Analyser, MotionSeries, Options},
    readings::{MechanismReading, RowKind},
    tables::mechanism,
};

fn read(speed_percent: Vec<f64>) -> MechanismReading {
    let series = MotionSeries {
        rate_hz: RATE_HZ,
        flat_to_hz: 250.0,
        speed_percent,
        ..MotionSeries::default()
    };
    let deck = mechanism("dual-capstan-cassette").unwrap();
    Analyser::default().analyse(&series, Some(&deck), None, Options::default())
}

#[test]
fn no_series_and_no_numbers_give_no_reading() {
    for bad in [vec![], vec![0.1; 100], vec![f64::NAN; 20_000], {
        let mut one = vec![0.0; 20_000];
        one[77] = f64::INFINITY;
        one
    }] {
        let reading = read(bad);
        assert!(!reading.status.is_ok() && reading.rows.is_empty());
    }
}

/// Still, a step, a lone pulse, one enormous wave: nothing panics, every number is one, the shares add up.
#[test]
fn odd_series_give_numbers() {
    let count = 20_000;
    let wave: Vec<f64> = (0..count)
        .map(|i| 1e6 * (f64::from(i) * 0.3).sin())
        .collect();
    let step: Vec<f64> = (0..count)
        .map(|i| if i < count / 2 { 0.0 } else { 3.0 })
        .collect();
    let mut pulse = vec![0.0; 20_000];
    pulse[5_000] = 100.0;
    for series in [vec![0.0; 20_000], vec![2.0; 20_000], wave, step, pulse] {
        let reading = read(series);
        assert!(reading.status.is_ok());
        let shares: f64 = reading.rows.iter().map(|row| row.share).sum();
        assert!(
            (shares - 1.0).abs() < 1e-6 || shares.abs() < 1e-6,
            "{shares}"
        );
        let json = serde_json::to_string(&reading).unwrap();
        assert!(!json.contains("null,\"uncertainty\""), "{json}");
    }
}

/// The same series give the same reading to the last bit, also from an analyser that did other work before.
#[test]
fn an_analysis_leaves_nothing_behind() {
    let deck = decks::drawn(2, 20.0);
    let series = deck.series(20.0, 0);
    let other = decks::drawn(7, 33.0).series(33.0, 0);
    let read = |analyser: &mut Analyser| {
        let reading = analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
        serde_json::to_string(&reading).unwrap()
    };
    let mut used = Analyser::default();
    let _ = used.analyse(&other, None, None, Options::default());
    assert_eq!(read(&mut used), read(&mut Analyser::default()));
}

/// A mechanism of another speed, twice as fast: its parts are not forced onto lines that are not theirs.
#[test]
fn a_mechanism_that_does_not_fit_names_little() {
    let deck = decks::drawn(4, 30.0);
    let mut other = deck.mechanism.clone();
    other.tape_speed_m_per_s *= 1.37;
    for part in &mut other.part {
        part.rate_hz = part.rate_hz.map(|hz| 1.37 * hz);
    }
    let series = deck.series(30.0, 0);
    let reading = Analyser::default().analyse(&series, Some(&other), None, Options::default());
    let named = reading
        .rows
        .iter()
        .filter(|row| row.kind == RowKind::Part)
        .count();
    assert!(named <= 1, "{:?}", reading.rows);
}
