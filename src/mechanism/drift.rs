//! A speed that drifts takes all rates of the drive along and smears their lines. Read against the travel instead of
//! the time, the lines are sharp again; rates are then those at the mean speed.

use super::{
    floor::Floor,
    transform::{Level, Transform},
};
use std::f64::consts::PI;

/// Drifts that turn the phase of a line at this rate by less than this many radians do not matter.
const MATTERS: (f64, f64) = (50.0, 0.1);
/// Interpolation: this many values to each side.
const TAPS: isize = 8;

/// A steady drift of the speed, per second: the speed is 1 + this × time about the middle.
pub fn drift_per_s(speed_percent: &[f64], rate_hz: f64) -> Option<f64> {
    let drift = Level::of(speed_percent).slope() * rate_hz / 100.0;
    let half_s = 0.5 * speed_percent.len() as f64 / rate_hz;
    let turned = PI * MATTERS.0 * drift.abs() * half_s * half_s;
    (turned > MATTERS.1).then_some(drift)
}

/// The series at even steps of travel instead of time. Both ends keep what they had where the travel is shorter.
pub fn by_travel(series: &[f64], rate_hz: f64, drift_per_s: f64) -> Vec<f64> {
    let centre = (series.len() as f64 - 1.0) / 2.0;
    (0..series.len())
        .map(|i| {
            // travel = t + drift·t²/2, solved for t to second order in a drift that is a small part of 1.
            let travel_s = (i as f64 - centre) / rate_hz;
            let root = (1.0 + 2.0 * drift_per_s * travel_s).max(0.0).sqrt();
            let time_s = 2.0 * travel_s / (1.0 + root);
            between(series, centre + time_s * rate_hz)
        })
        .collect()
}

/// A value between two, by a windowed sinc; the ends are held.
fn between(series: &[f64], place: f64) -> f64 {
    let last = series.len() as isize - 1;
    let below = place.floor();
    let fraction = place - below;
    let value = |k: isize| series[k.clamp(0, last) as usize];
    if fraction < 1e-9 {
        return value(below as isize);
    }
    let sin = (PI * fraction).sin() / PI;
    (1 - TAPS..=TAPS)
        .map(|tap| {
            let x = fraction - tap as f64;
            let sign = if tap % 2 == 0 { 1.0 } else { -1.0 };
            // Raised cosine: the sinc's own zero crossings do the rest for what is band-limited well below half.
            let window = 0.5 + 0.5 * (PI * x / (TAPS as f64 + 1.0)).cos();
            value(below as isize + tap) * sign * sin / x * window
        })
        .sum()
}

/// How sharp the lines of a transform stand: the mean square of its power over the floor. Of two transforms of the
/// same motion the one with the greater figure has the sharper lines.
pub fn sharpness(transform: &Transform, floor: &Floor, low_hz: f64, high_hz: f64) -> f64 {
    let floors = floor.powers(transform.step_hz, transform.index_from(high_hz));
    let first = transform.index_from(low_hz);
    let bins = transform.bins.iter().zip(&floors).skip(first);
    bins.filter(|(_, floor)| **floor > 0.0)
        .map(|(bin, floor)| (bin.norm_sqr() / floor).powi(2))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_line_that_follows_the_drift_becomes_steady() {
        let (rate_hz, drift, count) = (500.0, 2e-4, 20_000);
        let centre = (f64::from(count) - 1.0) / 2.0;
        let wave = |s: f64| (TAU * 33.0 * s).sin();
        let series: Vec<f64> = (0..count)
            .map(|i| {
                let t = (f64::from(i) - centre) / rate_hz;
                wave(t + 0.5 * drift * t * t)
            })
            .collect();
        let travelled = by_travel(&series, rate_hz, drift);
        for (i, x) in travelled.iter().enumerate().skip(200).take(19_600) {
            let s = (i as f64 - centre) / rate_hz;
            assert!((x - wave(s)).abs() < 2e-3, "{i}: {x} {}", wave(s));
        }
    }

    #[test]
    fn a_steady_speed_has_no_drift_that_matters() {
        let series = vec![1.4; 10_000];
        assert!(drift_per_s(&series, 500.0).is_none());
        let drifting: Vec<f64> = (0..30_000)
            .map(|i| 0.3 / 60.0 * f64::from(i) / 500.0)
            .collect();
        let drift = drift_per_s(&drifting, 500.0).expect("0.3 % a minute matters");
        assert!((drift - 0.003 / 60.0).abs() < 1e-9);
    }
}
