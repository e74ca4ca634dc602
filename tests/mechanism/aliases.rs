//! A rate that fits more than one part is offered with all of them.

use super::decks::{self, Deck, TrueLine};
use trimwatch::{
    mechanism::{Analyser, Options},
    readings::{MechanismReading, RowKind},
    tables::{Mechanism, Part, PartKind},
};

fn reel(kind: PartKind) -> Part {
    let mut reel = Part::new(kind.words(), kind);
    reel.hub_radius_mm = Some(11.0);
    reel.full_radius_mm = Some(25.5);
    reel.tape_thickness_um = Some(18.0);
    reel
}

fn read(mechanism: Mechanism, rate_hz: f64, seconds: f64) -> MechanismReading {
    let deck = Deck {
        mechanism,
        lines: vec![TrueLine {
            part: "it".into(),
            order: 1,
            rate_hz,
            peak_percent: 0.08,
        }],
        wow_rms_percent: 0.01,
        wow_peak_hz: 1.5,
        speed_ratio: 1.0,
        seed: 11,
    };
    let series = deck.series(seconds, 0);
    Analyser::default().analyse(&series, Some(&deck.mechanism), None, Options::default())
}

#[test]
fn a_belt_at_a_reels_rate_is_offered_with_the_reels() {
    let mechanism = decks::mechanism(vec![
        decks::turning("belt", PartKind::Belt, 0.52),
        reel(PartKind::TakeUpReel),
        reel(PartKind::SupplyReel),
    ]);
    let reading = read(mechanism, 0.521, 20.0);
    let row = &reading.rows[0];
    let offered: Vec<&str> = row.candidates.iter().map(|c| c.part.as_str()).collect();
    assert_eq!(offered[0], "belt", "{row:?}");
    assert!(
        offered.contains(&"take-up reel") && offered.contains(&"supply reel"),
        "{row:?}"
    );
    assert!(
        row.probability.unwrap() < 0.95,
        "never without doubt: {row:?}"
    );
}

#[test]
fn two_reels_alone_are_left_open() {
    let mechanism = decks::mechanism(vec![reel(PartKind::TakeUpReel), reel(PartKind::SupplyReel)]);
    let reading = read(mechanism, 0.47, 15.0);
    let row = &reading.rows[0];
    assert_eq!(row.kind, RowKind::Open, "{row:?}");
    assert_eq!(row.part, None);
    assert!(
        row.label.contains("supply reel") && row.label.contains("take-up reel"),
        "{row:?}"
    );
    assert!(reading.parts.iter().all(|part| part.found_hz.is_none()));
}

#[test]
fn two_parts_within_their_tolerances_are_left_open_though_the_take_is_long() {
    let mechanism = decks::mechanism(vec![
        decks::turning("idler", PartKind::Idler, 3.00),
        decks::turning("belt", PartKind::Belt, 3.04),
    ]);
    // 0.04 Hz are 2.4 bins of 60 s: told apart only where both are heard.
    let reading = read(mechanism, 3.02, 65.0);
    let row = &reading.rows[0];
    assert!(
        matches!(row.kind, RowKind::Open | RowKind::Group),
        "{row:?}"
    );
    assert_eq!(row.part, None);
}

#[test]
fn a_line_that_fits_nothing_is_unexplained() {
    let mechanism = decks::mechanism(vec![decks::on_tape("capstan", PartKind::Capstan, 2.5)]);
    let reading = read(mechanism, 7.9, 30.0);
    assert_eq!(
        reading.rows[0].kind,
        RowKind::Unexplained,
        "{:?}",
        reading.rows
    );
    assert!(reading.rows[0].share > 0.9);
}
