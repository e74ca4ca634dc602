//! A speed that drifts takes all rates of the drive along and smears their lines. Read against the travel instead of
//! the time, the lines are sharp again; rates are then those at the mean speed.
//!
//! Whether the lines follow the drift is read from the lines themselves, because not everything that makes the tape
//! slower makes the motor slower: each strong line tells how fast its rate changes (least squares on its phase), and
//! what they agree on is followed.

use super::{
    lines::Line,
    transform::{Level, hann},
};
use realfft::num_complex::Complex64;
use std::f64::consts::{PI, TAU};

/// Drifts that turn the phase of a line at this rate by less than this many radians do not matter.
const MATTERS: (f64, f64) = (50.0, 0.1);
/// Lines that are asked: this many, at least so far over the floor (power).
const ASKED: usize = 6;
const LEAST_ABOVE_FLOOR: f64 = 300.0;
/// A line nearer than this to a larger one is not asked, bins of 1/length.
const LEAST_APART_BINS: f64 = 12.0;
/// Values a second that are left of a line brought to zero rate.
const SLOW_RATE_HZ: f64 = 10.0;
/// Refinements of a line's phase.
const REFINEMENTS: usize = 4;
/// Lines that disagree with the others by more than this part of the drift do not follow it.
const AGREEMENT: f64 = 0.25;
/// Interpolation: this many values to each side.
const TAPS: isize = 8;

/// The drift that a speed shows, per second: the speed is 1 + this × time about the middle. `None` where it is too
/// small to matter.
pub fn drift_per_s(speed_percent: &[f64], rate_hz: f64) -> Option<f64> {
    let drift = Level::of(speed_percent).slope() * rate_hz / 100.0;
    matters(drift, speed_percent.len() as f64 / rate_hz).then_some(drift)
}

fn matters(drift_per_s: f64, seconds: f64) -> bool {
    let half_s = 0.5 * seconds;
    PI * MATTERS.0 * drift_per_s.abs() * half_s * half_s > MATTERS.1
}

/// The drift that the lines follow, per second. `shown`: that of the speed, where the search starts.
pub fn drift_of_lines(series: &[f64], rate_hz: f64, lines: &[Line], shown: f64) -> Option<f64> {
    let apart_hz = LEAST_APART_BINS * rate_hz / series.len() as f64;
    // Beside a line that is not steady stand smaller ones that belong to it.
    let alone = |line: &&Line| {
        lines.iter().all(|other| {
            other.peak() <= line.peak() || (other.rate_hz - line.rate_hz).abs() > apart_hz
        })
    };
    let strong = lines
        .iter()
        .filter(|line| line.above_floor > LEAST_ABOVE_FLOOR);
    let mut asked: Vec<&Line> = strong.filter(alone).collect();
    // A fast strong line tells most.
    let weight = |line: &Line| line.rate_hz.powi(2) * line.above_floor;
    asked.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    asked.truncate(ASKED);
    let seconds = series.len() as f64 / rate_hz;
    let told: Vec<(f64, f64)> = asked
        .iter()
        .map(|line| {
            let change = change_of(series, rate_hz, line.rate_hz, shown * line.rate_hz);
            (change / line.rate_hz, weight(line))
        })
        .collect();
    let all: f64 = told.iter().map(|(_, weight)| weight).sum();
    let mean = told
        .iter()
        .map(|(drift, weight)| drift * weight)
        .sum::<f64>()
        / all;
    let agreeing: f64 = told
        .iter()
        .filter(|(drift, _)| (drift - mean).abs() < AGREEMENT * mean.abs())
        .map(|(_, weight)| weight)
        .sum();
    (agreeing > 0.7 * all && matters(mean, seconds)).then_some(mean)
}

/// How fast the rate of a line changes, Hz a second: least squares of a parabola on its phase, from no change and from
/// the `likely` one, whichever fits better.
fn change_of(series: &[f64], rate_hz: f64, line_hz: f64, likely: f64) -> f64 {
    let slow = brought_down(series, rate_hz, line_hz);
    [0.0, likely]
        .into_iter()
        .map(|start| refined(&slow, start))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0.0, |(change, _)| change)
}

/// A windowed series brought down by a rate and thinned out, with its times.
fn brought_down(series: &[f64], rate_hz: f64, line_hz: f64) -> Vec<(f64, Complex64)> {
    let block = (rate_hz / SLOW_RATE_HZ).max(1.0) as usize;
    let count = series.len();
    let centre = (count as f64 - 1.0) / 2.0;
    let level = Level::of(series);
    let step = Complex64::from_polar(1.0, -TAU * line_hz / rate_hz);
    let mut phasor = Complex64::from_polar(1.0, TAU * line_hz / rate_hz * centre);
    let blocks = series.chunks(block).enumerate();
    blocks
        .map(|(b, values)| {
            let mut sum = Complex64::ZERO;
            for (j, x) in values.iter().enumerate() {
                sum += phasor * (x - level.at(b * block + j));
                phasor *= step;
            }
            let middle = (b * block) as f64 + 0.5 * (values.len() as f64 - 1.0);
            let window = hann(middle as usize, count);
            ((middle - centre) / rate_hz, sum * window)
        })
        .collect()
}

/// Follows the phase φ + a·t + b·t² of a line; returns the change of its rate and the height of the sum.
fn refined(slow: &[(f64, Complex64)], start: f64) -> (f64, f64) {
    let (mut a, mut b) = (0.0, PI * start);
    let half_s = slow.last().map_or(1.0, |(t, _)| t.abs().max(1e-9));
    let mut height = 0.0;
    for _ in 0..REFINEMENTS {
        let turned: Vec<(f64, Complex64)> = slow
            .iter()
            .map(|(t, z)| (*t, z * Complex64::from_polar(1.0, -(a + b * t) * t)))
            .collect();
        let sum: Complex64 = turned.iter().map(|(_, z)| z).sum();
        height = sum.norm();
        let unit = sum.conj() / height.max(f64::MIN_POSITIVE);
        // Normal equations of 1, u, u² with u = t / half; the weights are what the line has there.
        let mut m = [0.0; 5];
        let mut r = [0.0; 3];
        for (t, z) in &turned {
            let u = t / half_s;
            let along = z * unit;
            let weight = along.re.max(0.0);
            let mut power = 1.0;
            for (k, moment) in m.iter_mut().enumerate() {
                *moment += weight * power;
                if k < 3 {
                    r[k] += along.im * power;
                }
                power *= u;
            }
        }
        // Odd moments of a symmetric window nearly vanish: solved as if they did, and repeated.
        let determinant = m[0] * m[4] - m[2] * m[2];
        if determinant <= 0.0 || m[2] <= 0.0 {
            break;
        }
        a += r[1] / m[2] / half_s;
        b += (m[0] * r[2] - m[2] * r[0]) / determinant / (half_s * half_s);
    }
    (b / PI, height)
}

/// The series at even steps of travel instead of time. Both ends keep what they had where the travel is shorter.
pub fn by_travel(series: &[f64], rate_hz: f64, drift_per_s: f64) -> Vec<f64> {
    let centre = (series.len() as f64 - 1.0) / 2.0;
    (0..series.len())
        .map(|i| {
            // travel = t + drift·t²/2, solved for t.
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
    // Raised cosine: the sinc's own zero crossings do the rest for what is band-limited well below half.
    let first = 1 - TAPS;
    let spread = PI / (TAPS as f64 + 1.0);
    let step = Complex64::from_polar(1.0, -spread);
    let mut taper = Complex64::from_polar(1.0, spread * (fraction - first as f64));
    let mut sum = 0.0;
    for tap in first..=TAPS {
        let sign = if tap % 2 == 0 { sin } else { -sin };
        let weight = sign / (fraction - tap as f64) * (0.5 + 0.5 * taper.re);
        sum += value(below as isize + tap) * weight;
        taper *= step;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::{
        super::{lines, transform::Transformer},
        *,
    };

    const RATE_HZ: f64 = 500.0;

    /// Two lines, each by its own course of time.
    fn two(count: usize, course: impl Fn(f64) -> [f64; 2]) -> Vec<f64> {
        let centre = (count as f64 - 1.0) / 2.0;
        let values = (0..count).map(|i| {
            let [a, b] = course((i as f64 - centre) / RATE_HZ);
            (TAU * 33.0 * a).sin() + 0.5 * (TAU * 6.06 * b).sin()
        });
        values.collect()
    }

    fn told(series: &[f64], shown: f64) -> Option<f64> {
        let transform = Transformer::default().transform(series, RATE_HZ);
        let lines = lines::find(&transform, 0.05, 200.0, &[]).lines;
        drift_of_lines(series, RATE_HZ, &lines, shown)
    }

    #[test]
    fn lines_that_follow_a_drift_tell_it_exactly_and_become_steady() {
        for drift in [5e-6, -5e-5, 2e-4] {
            let count = 20_000;
            let followed = |t: f64| t + 0.5 * drift * t * t;
            let series = two(count, |t| [followed(t); 2]);
            let found = told(&series, 1.2 * drift).expect("it matters");
            assert!((found / drift - 1.0).abs() < 0.03, "{drift} {found}");
            let steady = two(count, |t| [t; 2]);
            let travelled = by_travel(&series, RATE_HZ, drift);
            for (i, (a, b)) in travelled
                .iter()
                .zip(&steady)
                .enumerate()
                .skip(200)
                .take(19_600)
            {
                assert!((a - b).abs() < 4e-3, "{i}: {a} {b}");
            }
        }
    }

    /// The tape's speed drifts, the parts' rates do not (a synchronous motor, a slipping tape).
    #[test]
    fn lines_that_do_not_follow_are_left_alone() {
        let steady = two(20_000, |t| [t; 2]);
        assert_eq!(told(&steady, 5e-5), None);
    }

    #[test]
    fn a_steady_speed_has_no_drift_that_matters() {
        assert!(drift_per_s(&vec![1.4; 10_000], RATE_HZ).is_none());
        let values = (0..30_000).map(|i| 0.3 / 60.0 * f64::from(i) / RATE_HZ);
        let drift =
            drift_per_s(&values.collect::<Vec<_>>(), RATE_HZ).expect("0.3 % a minute matters");
        assert!((drift - 0.003 / 60.0).abs() < 1e-9);
    }
}
