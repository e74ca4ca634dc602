//! The random floor under the lines: its power density along the rates.
//!
//! The median of the power in a neighbourhood, over ln 2 (the median of an exponential distribution, which the power
//! of noise in a bin has). The neighbourhood grows with the rate: wide where the floor is smooth, and narrow at the
//! slow end where random wow has its hump.

use super::transform::{NOISE_BINS, Transform};

/// Half-width of the neighbourhood in bins of 1/length, at least and at most.
const LEAST_BINS: f64 = 8.0;
/// ... at least this many Hz, within which even random wow is smooth ...
const LEAST_HZ: f64 = 0.25;
const MOST_BINS: f64 = 100.0;
/// ... and as part of the rate between these.
const PART_OF_RATE: f64 = 0.12;
/// Neighbourhoods follow each other by this part of their half-width.
const STEP: f64 = 0.7;
/// Neighbouring bins of a Hann transform are alike: so many of 1/length make one independent value.
const BINS_A_VALUE: f64 = 1.5;

/// Power of the floor in a bin, along the rates.
#[derive(Clone, Debug, Default)]
pub struct Floor {
    points: Vec<Point>,
    seconds: f64,
}

#[derive(Clone, Copy, Debug)]
struct Point {
    rate_hz: f64,
    /// Mean squared height of a bin.
    power: f64,
    /// Independent values it is the median of.
    values: f64,
}

impl Floor {
    /// The floor of a transform that lines have been taken out of, from `low_hz` to `high_hz`.
    pub fn of(transform: &Transform, low_hz: f64, high_hz: f64) -> Self {
        let bin_hz = transform.bin_hz();
        let least_hz = (LEAST_BINS * bin_hz).max(LEAST_HZ);
        // Between two bins of 1/length the padded transform tells nothing new.
        let every = ((bin_hz / transform.step_hz) as usize).max(1);
        let first = transform.index_from(low_hz.max(2.0 * bin_hz));
        let last = transform.index_from(high_hz);
        let mut points = Vec::new();
        let mut powers = Vec::new();
        let mut rate_hz = low_hz;
        while rate_hz < high_hz + 4.0 * bin_hz && last > first {
            let half_hz = (PART_OF_RATE * rate_hz).clamp(least_hz, MOST_BINS * bin_hz);
            // Near the slow end the neighbourhood keeps its width and stands to one side.
            let from = transform.index_from(rate_hz - half_hz).max(first);
            let to = transform.index_from(rate_hz + half_hz).min(last);
            if to > from {
                powers.clear();
                let bins = transform.bins[from..=to].iter().step_by(every);
                powers.extend(bins.map(|z| z.norm_sqr()));
                let middle = powers.len() / 2;
                let (_, median, _) = powers.select_nth_unstable_by(middle, f64::total_cmp);
                let width_hz = (to - from) as f64 * transform.step_hz;
                points.push(Point {
                    rate_hz,
                    power: (*median / std::f64::consts::LN_2).max(f64::MIN_POSITIVE),
                    values: (width_hz / bin_hz / BINS_A_VALUE).max(1.0),
                });
            }
            rate_hz += STEP * half_hz;
        }
        Self {
            points,
            seconds: transform.seconds,
        }
    }

    /// Mean squared height of a bin at a rate.
    pub fn power(&self, rate_hz: f64) -> f64 {
        self.between(rate_hz)
            .map_or(0.0, |(a, b, t)| a.power.powf(1.0 - t) * b.power.powf(t))
    }

    /// One-sided power density at a rate, unit squared per Hz: height²/2 over the noise bandwidth.
    pub fn density(&self, rate_hz: f64) -> f64 {
        0.5 * self.power(rate_hz) * self.seconds / NOISE_BINS
    }

    /// Mean squared height of a bin at evenly spaced rates from 0 on.
    pub fn powers(&self, step_hz: f64, count: usize) -> Vec<f64> {
        let mut powers = vec![0.0; count];
        let index = |rate_hz: f64| ((rate_hz / step_hz).ceil() as usize).min(count);
        for pair in self.points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let steps = (b.rate_hz - a.rate_hz) / step_hz;
            let factor = (b.power / a.power).powf(1.0 / steps.max(1e-9));
            let from = index(a.rate_hz);
            let mut power = a.power * factor.powf(from as f64 - a.rate_hz / step_hz);
            for value in &mut powers[from..index(b.rate_hz)] {
                *value = power;
                power *= factor;
            }
        }
        powers
    }

    /// Independent values behind the floor at a rate.
    pub fn values(&self, rate_hz: f64) -> f64 {
        self.between(rate_hz)
            .map_or(1.0, |(a, b, _)| a.values.min(b.values))
    }

    fn between(&self, rate_hz: f64) -> Option<(Point, Point, f64)> {
        let above = self.points.partition_point(|point| point.rate_hz < rate_hz);
        let b = *self.points.get(above).or(self.points.last())?;
        let a = *self.points.get(above.saturating_sub(1))?;
        let width_hz = b.rate_hz - a.rate_hz;
        let t = if width_hz > 0.0 {
            ((rate_hz - a.rate_hz) / width_hz).clamp(0.0, 1.0)
        } else {
            0.0
        };
        Some((a, b, t))
    }
}
