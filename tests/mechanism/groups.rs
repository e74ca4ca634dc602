//! Parts closer than the resolution: one group, with the seconds that tell them apart; then they are told apart.

use super::decks::{self, Deck, TrueLine};
use trimwatch::{
    mechanism::{Analyser, Options},
    readings::{MechanismReading, RowKind},
    tables::PartKind,
};

/// Two capstans whose rates are `apart_hz` apart, both out of round by half of each other.
fn capstans(apart_hz: f64) -> Deck {
    let mechanism = decks::mechanism(vec![
        decks::turning("take-up capstan", PartKind::Capstan, 6.06),
        decks::turning("supply capstan", PartKind::Capstan, 6.06 + apart_hz),
    ]);
    let line = |part: &str, rate_hz: f64, peak_percent: f64| TrueLine {
        part: part.into(),
        order: 1,
        rate_hz,
        peak_percent,
    };
    Deck {
        mechanism,
        lines: vec![
            line("take-up capstan", 6.06, 0.04),
            line("supply capstan", 6.06 + apart_hz, 0.02),
        ],
        wow_rms_percent: 0.02,
        wow_peak_hz: 1.0,
        speed_ratio: 1.0,
        seed: 5,
    }
}

fn read(deck: &Deck, seconds: f64, take: u64) -> MechanismReading {
    let series = deck.series(seconds, take);
    Analyser::default().analyse(&series, Some(&deck.mechanism), None, Options::default())
}

#[test]
fn two_capstans_are_one_group_until_there_is_time_enough_and_then_two() {
    let deck = capstans(0.15);
    for take in 0..6 {
        let short = read(&deck, 10.0, take);
        let groups: Vec<_> = short
            .rows
            .iter()
            .filter(|row| row.kind == RowKind::Group)
            .collect();
        assert_eq!(groups.len(), 1, "{:?}", short.rows);
        assert!(
            groups[0].label.contains("take-up capstan")
                && groups[0].label.contains("supply capstan")
        );
        let seconds = groups[0]
            .seconds_to_separate
            .expect("they can be told apart");
        assert!((10.0..=20.0).contains(&seconds), "{seconds}");
        assert!(
            short.rows.iter().all(|row| row.kind != RowKind::Part),
            "{:?}",
            short.rows
        );

        let long = read(&deck, 20.0, take);
        for line in &deck.lines {
            let row = long
                .rows
                .iter()
                .find(|row| row.part.as_ref() == Some(&line.part))
                .unwrap_or_else(|| panic!("{} is told: {:?}", line.part, long.rows));
            let (rate, peak) = (row.rate_hz.unwrap(), row.peak_percent.unwrap());
            assert!(
                (rate.value / line.rate_hz - 1.0).abs() < 1e-3,
                "{rate:?} {line:?}"
            );
            assert!(
                (peak.value / line.peak_percent - 1.0).abs() < 0.05,
                "{peak:?} {line:?}"
            );
        }
    }
}

#[test]
fn parts_of_the_same_rate_are_never_told_apart() {
    let deck = capstans(0.0);
    let reading = read(&deck, 60.0, 1);
    let row = reading
        .rows
        .iter()
        .find(|row| row.kind == RowKind::Group)
        .expect("a group");
    assert_eq!(row.seconds_to_separate, None);
    assert!(reading.rows.iter().all(|row| row.kind != RowKind::Part));
}
