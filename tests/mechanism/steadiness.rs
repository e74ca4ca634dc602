//! Phase and level that move at a part's rate: what is suggested, with figures and the usual check.

use super::decks::{self, Deck, RATE_HZ, TrueLine};
use rand::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};
use std::f64::consts::TAU;
use trimwatch::{
    mechanism::{Analyser, MotionSeries, Options},
    readings::{Quantity, SteadinessHint},
    tables::PartKind,
};

fn deck() -> Deck {
    Deck {
        mechanism: decks::mechanism(vec![
            decks::on_tape("capstan", PartKind::Capstan, 2.5),
            decks::on_tape("pinch roller", PartKind::PinchRoller, 13.0),
        ]),
        lines: vec![TrueLine {
            part: "capstan".into(),
            order: 1,
            rate_hz: 6.0638,
            peak_percent: 0.05,
        }],
        wow_rms_percent: 0.01,
        wow_peak_hz: 0.8,
        speed_ratio: 1.0,
        seed: 31,
    }
}

fn hints(phase: impl Fn(f64) -> f64, level: impl Fn(f64) -> f64) -> Vec<SteadinessHint> {
    let deck = deck();
    let mut chance = rand_pcg::Pcg64::seed_from_u64(9);
    let mut noisy = |size: f64, of: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let values = (0..(40.0 * RATE_HZ) as usize).map(|i| {
            let normal: f64 = StandardNormal.sample(&mut chance);
            of(i as f64 / RATE_HZ) + size * normal
        });
        values.collect()
    };
    let series = MotionSeries {
        phase_degrees: Some(noisy(0.3, &phase)),
        level_db: [Some(noisy(0.01, &level)), Some(noisy(0.01, &|_| -3.0))],
        ..deck.series(40.0, 0)
    };
    let reading =
        Analyser::default().analyse(&series, Some(&deck.mechanism), None, Options::default());
    reading.steadiness
}

#[test]
fn wander_at_the_capstans_rate_suggests_end_play() {
    let hints = hints(|t| 30.0 + 1.2 * (TAU * 6.0638 * t).sin(), |_| -10.0);
    assert_eq!(hints.len(), 1, "{hints:?}");
    let hint = &hints[0];
    assert_eq!(hint.part.as_deref(), Some("capstan"));
    assert!((hint.size.value - 1.2).abs() < 0.06, "{hint:?}");
    assert!(
        hint.suggests.contains("suggests axial play"),
        "{}",
        hint.suggests
    );
    assert!(hint.check.contains("0.1 to 0.3 mm") && hint.check.contains("manual comes first"));
}

/// The roller shows nothing in the speed; its rate by the file will do.
#[test]
fn wander_at_the_rollers_rate_suggests_a_roller_out_of_square() {
    let hints = hints(
        |t| 2.0 * (TAU * 1.1661 * t).sin(),
        |t| -10.0 + 0.1 * (TAU * 1.1661 * t).cos(),
    );
    let phase = hints
        .iter()
        .find(|hint| hint.quantity == Quantity::Phase)
        .unwrap();
    assert!(
        phase.suggests.contains("out of square"),
        "{}",
        phase.suggests
    );
    let level = hints
        .iter()
        .find(|hint| hint.quantity == Quantity::LevelLeft)
        .unwrap();
    assert_eq!(level.part.as_deref(), Some("pinch roller"));
    assert!((level.size.value - 0.1).abs() < 0.01, "{level:?}");
}

#[test]
fn slow_wander_suggests_guides_or_pack() {
    let hints = hints(
        |t| 3.0 * (TAU * 0.11 * t).sin() + 2.0 * (TAU * 0.17 * t).sin(),
        |_| -10.0,
    );
    let hint = hints
        .iter()
        .find(|hint| hint.part.is_none())
        .expect("a slow wander");
    assert!(
        hint.is_rms && hint.suggests.contains("suggests the guides"),
        "{hint:?}"
    );
    // √((3² + 2²)/2) = 2.55 degrees; the window reads a little less or more of so few turns.
    assert!((1.9..3.2).contains(&hint.size.value), "{hint:?}");
}

#[test]
fn a_steady_phase_suggests_nothing() {
    assert!(hints(|_| 12.0, |_| -10.0).is_empty());
}
