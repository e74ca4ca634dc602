//! The once-round trace: eccentric, oval, a flat spot; with other parts and random wow around.

use super::decks::{self, Deck, RATE_HZ, TrueLine};
use std::f64::consts::TAU;
use trimwatch::{
    mechanism::{Analyser, MotionSeries, Options},
    readings::{OnceRoundTrace, TraceShape},
    tables::PartKind,
};

const ROLLER_HZ: f64 = 1.1661; // 13 mm: 47.625/(π·13)

/// A deck with a capstan and wow; the roller's own motion is `turn` of its angle in turns.
fn with_roller(turn: impl Fn(f64) -> f64) -> MotionSeries {
    let deck = deck();
    let mut series = deck.series(60.0, 0);
    for (i, x) in series.speed_percent.iter_mut().enumerate() {
        *x += turn(ROLLER_HZ * i as f64 / RATE_HZ);
    }
    series
}

fn deck() -> Deck {
    Deck {
        mechanism: decks::mechanism(vec![
            decks::on_tape("capstan", PartKind::Capstan, 2.5),
            decks::turning("pinch roller", PartKind::PinchRoller, ROLLER_HZ),
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
        seed: 21,
    }
}

fn trace(series: &MotionSeries) -> OnceRoundTrace {
    let reading =
        Analyser::default().analyse(series, Some(&deck().mechanism), None, Options::default());
    let part = reading
        .parts
        .iter()
        .find(|part| part.part == "pinch roller")
        .unwrap();
    part.traces
        .first()
        .unwrap_or_else(|| panic!("{:?}", reading.rows))
        .clone()
}

#[test]
fn an_eccentric_roller_is_told_with_its_size() {
    let trace = trace(&with_roller(|turns| 0.08 * (TAU * turns).sin()));
    assert_eq!(trace.shape, TraceShape::Eccentric, "{}", trace.evidence);
    assert!(
        (trace.harmonics[0].peak.value / 0.08 - 1.0).abs() < 0.06,
        "{:?}",
        trace.harmonics[0]
    );
    assert!(trace.evidence.contains("order 1"), "{}", trace.evidence);
    // Angle 0 is where the first order is greatest.
    let greatest = trace.mean.iter().copied().fold(f32::MIN, f32::max);
    assert!(trace.mean[0] > 0.9 * greatest);
    assert!((60.0..80.0).contains(&trace.turns));
}

#[test]
fn an_oval_roller_is_told() {
    let trace = trace(&with_roller(|turns| {
        0.02 * (TAU * turns).sin() + 0.08 * (2.0 * TAU * turns + 0.4).sin()
    }));
    assert_eq!(trace.shape, TraceShape::Oval, "{}", trace.evidence);
}

/// A slow spot of 25 degrees at half height.
#[test]
fn a_flat_spot_is_told_by_its_narrow_pulse() {
    let trace = trace(&with_roller(|turns| {
        let from_spot = (turns - 0.3).rem_euclid(1.0) - 0.5;
        let sigma = 25.0 / 360.0 / 2.354_82;
        -0.15 * (-0.5 * (from_spot / sigma).powi(2)).exp()
    }));
    assert_eq!(
        trace.shape,
        TraceShape::Pulse,
        "{} {}",
        trace.words,
        trace.evidence
    );
    assert!(
        trace.words.contains("slower") && trace.words.contains("suggests"),
        "{}",
        trace.words
    );
    let width: f64 = trace
        .evidence
        .split_whitespace()
        .nth(1)
        .unwrap()
        .parse()
        .unwrap();
    assert!((20.0..34.0).contains(&width), "{}", trace.evidence);
    let least = trace.mean.iter().copied().fold(f32::MAX, f32::min);
    assert!((-0.165..-0.10).contains(&least), "{least}");
}

/// The scatter band is that of what does not repeat: a sine at no part's rate gives 1/√2 of its size.
#[test]
fn the_scatter_is_that_of_what_does_not_repeat() {
    let mut series = with_roller(|turns| 0.08 * (TAU * turns).sin());
    for (i, x) in series.speed_percent.iter_mut().enumerate() {
        // A line at 17.3 Hz whose phase wanders: no line to be taken out.
        let t = i as f64 / RATE_HZ;
        *x += 0.02 * (TAU * (17.3 * t + 1.5 * (0.9 * t).sin() + 0.8 * (2.3 * t).sin())).sin();
    }
    let trace = trace(&series);
    let mean =
        trace.scatter.iter().map(|x| f64::from(*x)).sum::<f64>() / trace.scatter.len() as f64;
    assert!((0.010..0.020).contains(&mean), "{mean}");
    let left = f64::from(trace.mean_uncertainty[0]);
    assert!(left < 0.3 * mean, "{left} {mean}");
}
