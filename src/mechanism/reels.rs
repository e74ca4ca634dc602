//! Lines of reels: their rate changes while the pack grows or shrinks, so they are looked for with their change.
//!
//! A line in a reel's range is brought down to zero rate and thinned out; there its change of rate is searched for
//! together with the rest of its rate, by the greatest height of the windowed sum (matched filter). A line that
//! changes is taken out of the series itself, because its shape in the transform is not that of a steady one.

use super::{
    lines::{Line, Lines},
    parts::PartModel,
    transform::{RATE_DEVIATION, hann},
};
use realfft::num_complex::Complex64;
use std::f64::consts::{PI, TAU};

/// Values a second that are left of a line brought to zero rate.
const SLOW_RATE_HZ: f64 = 10.0;
/// The change is searched for up to so many times what the reel's pack gives.
const CHANGES: f64 = 1.6;
/// Steps of the search, to each side.
const CHANGE_STEPS: i32 = 16;
const RATE_STEPS: i32 = 12;
/// Rates are searched this many bins (of 1/length) to each side.
const RATE_BINS: f64 = 2.5;
/// Radians the pack must turn the phase at the ends of the series by before a search says anything.
const LEAST_TURNED: f64 = 0.25;
/// Standard deviation of the change over (size's deviation / size / length²), for this window; found by simulation
/// and held by a test.
const CHANGE_DEVIATION: f64 = 8.0;
/// A changing line is believed from this gain of the logarithm of the likelihood on.
const LEAST_GAIN: f64 = 8.0;
/// Lines nearer than this to one that changes are part of it, bins of 1/length.
const APART_BINS: f64 = 5.0;
/// Orders of a changing line that are taken out with it.
const ORDERS: u32 = 4;

/// A line whose rate changes.
#[derive(Clone, Copy, Debug)]
struct Changing {
    rate_hz: f64,
    change_hz_per_s: f64,
    size: Complex64,
    /// Size with the change left out.
    steady_size: f64,
}

/// Looks at all lines in the reels' ranges: notes their change of rate, and returns those that are better taken out
/// of the series with it (their harmonics included).
pub fn changing_lines(
    series: &[f64],
    rate_hz: f64,
    found: &mut Lines,
    parts: &[PartModel],
) -> Vec<Line> {
    let seconds = series.len() as f64 / rate_hz;
    let mut changing: Vec<Line> = Vec::new();
    for line in &mut found.lines {
        // A line that changes much looks like several; the largest of them has stood for all.
        let known = |other: &Line| (other.rate_hz - line.rate_hz).abs() * seconds < APART_BINS;
        if changing.iter().any(known) {
            continue;
        }
        let reels = parts.iter().filter(|part| {
            part.pack.is_some() && part.density(line.rate_hz, line.rate_deviation_hz) > 0.0
        });
        let most = reels
            .map(|part| part.rate_change_hz_per_s(line.rate_hz).abs())
            .fold(0.0, f64::max);
        if PI * most * (0.5 * seconds).powi(2) < LEAST_TURNED {
            continue;
        }
        let slow = Slow::of(series, rate_hz, line.rate_hz);
        let best = slow.search(most);
        // The floor's alone: what the change has left beside the line is no noise of it.
        let noise = (0.5 * found.floor.power(line.rate_hz)).sqrt().max(1e-12);
        line.change_deviation_hz_per_s = Some(change_deviation(noise / best.size.norm(), seconds));
        line.change_range_hz_per_s = CHANGES * most;
        line.rate_change_hz_per_s = best.change_hz_per_s;
        let gain = (best.size.norm_sqr() - best.steady_size.powi(2)) / (2.0 * noise * noise);
        if gain > LEAST_GAIN {
            let line = Line {
                size_deviation: noise,
                ..*line
            };
            changing.extend(with_harmonics(series, rate_hz, best, &line));
        }
    }
    changing
}

fn change_deviation(relative_noise: f64, seconds: f64) -> f64 {
    CHANGE_DEVIATION * relative_noise / (seconds * seconds)
}

fn with_harmonics(series: &[f64], rate_hz: f64, best: Changing, line: &Line) -> Vec<Line> {
    let seconds = series.len() as f64 / rate_hz;
    (1..=ORDERS)
        .filter_map(|order| {
            let n = f64::from(order);
            let (rate, change) = (n * best.rate_hz, n * best.change_hz_per_s);
            let size = if order == 1 {
                best.size
            } else {
                Slow::of(series, rate_hz, rate).size(0.0, change)
            };
            let above_floor = size.norm_sqr() / (2.0 * line.size_deviation.powi(2));
            (order == 1 || above_floor > 20.0).then(|| Line {
                rate_hz: rate,
                size,
                rate_deviation_hz: RATE_DEVIATION * line.size_deviation / size.norm() / seconds,
                above_floor,
                rate_change_hz_per_s: change,
                change_deviation_hz_per_s: Some(change_deviation(
                    line.size_deviation / size.norm(),
                    seconds,
                )),
                change_range_hz_per_s: n * line.change_range_hz_per_s,
                ..*line
            })
        })
        .collect()
}

/// Takes lines out of a series.
pub fn without(series: &[f64], rate_hz: f64, lines: &[Line]) -> Vec<f64> {
    let centre = (series.len() as f64 - 1.0) / 2.0;
    let mut rest = series.to_vec();
    for line in lines {
        for (i, x) in rest.iter_mut().enumerate() {
            let t = (i as f64 - centre) / rate_hz;
            let angle = TAU * line.rate_hz * t + PI * line.rate_change_hz_per_s * t * t;
            *x -= (line.size * Complex64::from_polar(1.0, angle)).re;
        }
    }
    rest
}

/// A series brought down by a rate and thinned out, with its window.
struct Slow {
    values: Vec<(f64, Complex64)>,
    at_hz: f64,
    seconds: f64,
}

impl Slow {
    fn of(series: &[f64], rate_hz: f64, at_hz: f64) -> Self {
        let block = (rate_hz / SLOW_RATE_HZ).max(1.0) as usize;
        let count = series.len();
        let centre = (count as f64 - 1.0) / 2.0;
        let mean = series.iter().sum::<f64>() / count.max(1) as f64;
        let step = Complex64::from_polar(1.0, -TAU * at_hz / rate_hz);
        let mut phasor = Complex64::from_polar(1.0, TAU * at_hz / rate_hz * centre);
        let scale = 4.0 / count as f64;
        let mut values = Vec::with_capacity(count / block + 1);
        for (b, part) in series.chunks(block).enumerate() {
            let mut sum = Complex64::ZERO;
            for (j, x) in part.iter().enumerate() {
                sum += phasor * (scale * hann(b * block + j, count) * (x - mean));
                phasor *= step;
            }
            let middle = (b * block) as f64 + 0.5 * (part.len() as f64 - 1.0);
            values.push(((middle - centre) / rate_hz, sum));
        }
        Self {
            values,
            at_hz,
            seconds: count as f64 / rate_hz,
        }
    }

    /// Size of a line off the rate by `shift_hz` that changes by `change_hz_per_s`.
    fn size(&self, shift_hz: f64, change_hz_per_s: f64) -> Complex64 {
        let values = self.values.iter();
        values
            .map(|(t, z)| {
                let angle = -TAU * shift_hz * t - PI * change_hz_per_s * t * t;
                z * Complex64::from_polar(1.0, angle)
            })
            .sum()
    }

    fn search(&self, most_change: f64) -> Changing {
        let rate_step = RATE_BINS / self.seconds / f64::from(RATE_STEPS);
        let change_step = CHANGES * most_change / f64::from(CHANGE_STEPS);
        let best_over = |changes: &[f64], middle: f64, step: f64| {
            let mut best = (0.0, middle, 0.0);
            for &change in changes {
                for k in -RATE_STEPS..=RATE_STEPS {
                    let shift = middle + f64::from(k) * step;
                    let height = self.size(shift, change).norm_sqr();
                    if height > best.0 {
                        best = (height, shift, change);
                    }
                }
            }
            best
        };
        let changes: Vec<f64> = (-CHANGE_STEPS..=CHANGE_STEPS)
            .map(|k| f64::from(k) * change_step)
            .collect();
        let steady = best_over(&[0.0], 0.0, rate_step);
        let coarse = best_over(&changes, 0.0, rate_step);
        let fine: Vec<f64> = (-6..=6)
            .map(|k| coarse.2 + f64::from(k) * change_step / 6.0)
            .collect();
        let (_, shift, change) = best_over(&fine, coarse.1, rate_step / 8.0);
        Changing {
            rate_hz: self.at_hz + shift,
            change_hz_per_s: change,
            size: self.size(shift, change),
            steady_size: steady.0.sqrt(),
        }
    }
}
