//! Phase and level steadiness by part: what wander at a part's rate suggests, and the usual mechanical check.
//!
//! What suggests what is common practice, no source; the figure for a capstan's end play is a common rule that deck
//! manuals overrule.

use super::{attribution::Attribution, lines::Lines, parts::PartModel, table::twice};
use crate::{
    readings::{Quantity, SteadinessHint},
    tables::PartKind,
};

/// Wander slower than this is slow, Hz.
const SLOW_HZ: f64 = 0.3;
/// Shares of the variation's power that are worth a hint: of one line, of the slow wander.
const LINE_SHARE: f64 = 0.03;
const SLOW_SHARE: f64 = 0.5;
/// Sizes below these are no matter: degrees, dB (peak; half of it for the slow wander's rms).
const LEAST_DEGREES: f64 = 0.2;
const LEAST_DB: f64 = 0.02;
/// A line is a part's when its rate fits within so many standard deviations.
const FIT: f64 = 3.5;

/// Hints of one quantity, largest first.
pub fn hints(
    quantity: Quantity,
    found: &Lines,
    speed: &Attribution,
    parts: &[PartModel],
) -> Vec<SteadinessHint> {
    let least = match quantity {
        Quantity::Phase => LEAST_DEGREES,
        _ => LEAST_DB,
    };
    let rest = power_between(found, 0.0, f64::INFINITY);
    let all = rest
        + found
            .lines
            .iter()
            .map(|l| 0.5 * l.peak().powi(2))
            .sum::<f64>();
    let mut hints: Vec<SteadinessHint> = Vec::new();
    for line in &found.lines {
        let share = 0.5 * line.peak().powi(2) / all.max(f64::MIN_POSITIVE);
        if share < LINE_SHARE || line.peak() < least {
            continue;
        }
        let owners = owners(line.rate_hz, line.rate_deviation_hz, speed, parts);
        let Some(&first) = owners.first() else {
            continue;
        };
        let names: Vec<&str> = owners
            .iter()
            .map(|&part| parts[part].name.as_str())
            .collect();
        let (suggests, check) = meaning(quantity, parts[first].kind);
        hints.push(SteadinessHint {
            quantity,
            part: Some(names.join(" or ")),
            rate_hz: Some(line.rate_hz),
            size: twice(line.peak(), line.size_deviation),
            is_rms: false,
            share,
            suggests: format!(
                "The {} moves by {:.2} {} peak at the rate of the {} ({:.2} Hz): suggests {suggests}.",
                quantity.words(),
                line.peak(),
                quantity.unit(),
                names.join(" or of the "),
                line.rate_hz,
            ),
            check: check.into(),
        });
    }
    hints.sort_by(|a, b| b.share.total_cmp(&a.share));
    hints.extend(slow_wander(quantity, found, least, all));
    hints
}

/// The parts at whose once-round rate a line lies: where they were found, else where the file has them.
fn owners(rate_hz: f64, deviation_hz: f64, speed: &Attribution, parts: &[PartModel]) -> Vec<usize> {
    let fits = |part: usize| match &speed.standing[part] {
        Some(standing) => {
            let spread = deviation_hz
                .hypot(standing.uncertainty_hz)
                .hypot(3e-4 * rate_hz);
            (rate_hz - standing.once_round_hz).abs() < FIT * spread
        }
        None => parts[part].density(rate_hz, deviation_hz) > 0.0,
    };
    let all: Vec<usize> = (0..parts.len()).filter(|&part| fits(part)).collect();
    let seen: Vec<usize> = all
        .iter()
        .copied()
        .filter(|&part| speed.standing[part].is_some())
        .collect();
    // A part that turns at just this rate in the speed goes before those that might.
    if seen.is_empty() { all } else { seen }
}

fn slow_wander(quantity: Quantity, found: &Lines, least: f64, all: f64) -> Option<SteadinessHint> {
    let lines = found.lines.iter().filter(|line| line.rate_hz < SLOW_HZ);
    let power = power_between(found, 0.0, SLOW_HZ)
        + lines.map(|line| 0.5 * line.peak().powi(2)).sum::<f64>();
    let rms = power.sqrt();
    let share = power / all.max(f64::MIN_POSITIVE);
    if share < SLOW_SHARE || rms < 0.5 * least || found.rest.seconds < 3.0 / SLOW_HZ {
        return None;
    }
    // Values that are independent of each other: two for each 1/length of the band, as far as the window lets them.
    let values = (SLOW_HZ * found.rest.seconds).max(1.0);
    let check = match quantity {
        Quantity::Phase => {
            "Usual check: the tape lies flat in its guides and winds level; try another cassette or reel."
        }
        _ => "Usual check: the tape and its pressure on the head (pad, tension); try another tape.",
    };
    Some(SteadinessHint {
        quantity,
        part: None,
        rate_hz: None,
        size: twice(rms, 0.5 * rms / values.sqrt()),
        is_rms: true,
        share,
        suggests: format!(
            "The {} wanders slowly, {rms:.2} {} rms below {SLOW_HZ} Hz ({:.0} % of all its movement): suggests {}.",
            quantity.words(),
            quantity.unit(),
            100.0 * share,
            match quantity {
                Quantity::Phase => "the guides or an uneven pack",
                _ => "the tape itself or its contact with the head",
            }
        ),
        check: check.into(),
    })
}

/// Power of the transform without lines between two rates.
fn power_between(found: &Lines, low_hz: f64, high_hz: f64) -> f64 {
    let rest = &found.rest;
    // Below, mean and trend have been taken out.
    let first = rest.index_from(low_hz.max(0.8 * rest.bin_hz()));
    let last = rest.index_from(high_hz.min(found.band_hz.1));
    let sum: f64 = rest.bins[first..last.max(first)]
        .iter()
        .map(|z| z.norm_sqr())
        .sum();
    0.5 * sum * rest.step_hz * rest.seconds / super::transform::NOISE_BINS
}

fn meaning(quantity: Quantity, kind: PartKind) -> (&'static str, &'static str) {
    match (quantity, kind) {
        (Quantity::Phase, PartKind::Capstan) => (
            "axial play of its shaft or a bent shaft",
            "Usual check: end play of the capstan, commonly 0.1 to 0.3 mm, and its run-out; the deck's manual comes \
             first.",
        ),
        (Quantity::Phase, PartKind::PinchRoller) => (
            "a roller out of square, conical or hardened",
            "Usual check: the roller's axle square to the tape, rubber even and clean, and the tape not pushed up or \
             down as the roller presses.",
        ),
        (Quantity::Phase, PartKind::SupplyReel | PartKind::TakeUpReel) => (
            "an uneven pack or a reel that wobbles",
            "Usual check: reel height and flatness, level winding; try another cassette or reel.",
        ),
        (Quantity::Phase, PartKind::TapeRoller) => (
            "a roller that wobbles or guides unevenly",
            "Usual check: its axle, bearing and height; the deck's manual comes first.",
        ),
        (Quantity::Phase, _) => (
            "that the drive makes the tape skew",
            "Usual check: that part's seat and the tension of the tape; the deck's manual comes first.",
        ),
        (_, PartKind::Capstan | PartKind::PinchRoller) => (
            "that the tape is moved up and down or off the head once a turn",
            "Usual check: run-out of the shaft, seat and pressure of the roller; the deck's manual comes first.",
        ),
        (_, PartKind::SupplyReel | PartKind::TakeUpReel) => (
            "uneven tape tension",
            "Usual check: back tension and take-up torque through a whole turn, by the deck's manual.",
        ),
        _ => (
            "uneven tape tension or contact with the head",
            "Usual check: that part's run and the tension of the tape; the deck's manual comes first.",
        ),
    }
}
