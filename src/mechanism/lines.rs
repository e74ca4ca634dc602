//! The lines of a transform: found, taken out and refined until nothing but the floor is left.
//!
//! What stands out of the floor is taken for a line; its exact shape is taken out of the transform, the floor is
//! looked at anew, and so on, so that small lines beside large ones are seen. Each line's size and rate are refined
//! with all the others taken out (Gauss–Seidel on the joint least-squares problem, whose coupling is the window's
//! shape and falls fast).

use super::{
    floor::Floor,
    transform::{RATE_DEVIATION, Transform},
};
use realfft::num_complex::Complex64;

/// Nothing slower than this many turns in the series is a line.
const LEAST_TURNS: f64 = 3.0;
/// Chance that any of the bins of pure noise is taken for a line (some times more in truth: a peak between two bins is
/// the greatest of many).
const FALSE_ALARM: f64 = 0.002;
/// Chance that noise is taken for a line anywhere it is expected; the ranges share it evenly.
const EXPECTED_FALSE_ALARM: f64 = 0.003;
/// Lines at most.
const MOST_LINES: usize = 80;
/// Rounds of looking for more lines.
const MOST_ROUNDS: usize = 7;
/// Two lines nearer than this many bins (of 1/length) are taken for one.
const MERGE_BINS: f64 = 1.4;
/// Refinements after each round, and in the end.
const SWEEPS: usize = 2;
const LAST_SWEEPS: usize = 4;
/// A line must be this many of its own standard deviations large: what an unsteady neighbour leaves beside it is not.
const LEAST_OVER_DEVIATION: f64 = 3.5;
/// Beside a line its own unsteadiness is looked for from here to here, bins of 1/length.
const SKIRT_BINS: (f64, f64) = (2.0, 6.0);

/// One line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Rate, Hz.
    pub rate_hz: f64,
    /// Size and phase in the middle of the series: the series is Re(size·exp(2πi·rate·t)).
    pub size: Complex64,
    /// Standard deviation of the size (each of its parts).
    pub size_deviation: f64,
    /// Standard deviation of the rate, Hz.
    pub rate_deviation_hz: f64,
    /// Power over that of the floor in a bin.
    pub above_floor: f64,
    /// How fast the rate changes, Hz a second; 0 for a line taken to be steady.
    pub rate_change_hz_per_s: f64,
    /// Standard deviation of that, Hz a second; `None` where it was not looked for.
    pub change_deviation_hz_per_s: Option<f64>,
    /// The fastest change that was looked for, Hz a second.
    pub change_range_hz_per_s: f64,
}

impl Line {
    /// Peak size.
    pub fn peak(&self) -> f64 {
        self.size.norm()
    }

    /// How fast the rate changes and the standard deviation of that, Hz a second, where it was looked for.
    pub fn measured_change(&self) -> Option<(f64, f64)> {
        let deviation = self.change_deviation_hz_per_s?;
        Some((self.rate_change_hz_per_s, deviation))
    }
}

/// Lines and what is left without them.
#[derive(Clone, Debug)]
pub struct Lines {
    /// Largest first.
    pub lines: Vec<Line>,
    /// The transform without them.
    pub rest: Transform,
    /// Its floor.
    pub floor: Floor,
    /// Rates that were looked at, Hz.
    pub band_hz: (f64, f64),
}

/// Finds all lines between `low_hz` and `high_hz`. In the `expected` ranges (from, to, Hz) a smaller line is believed:
/// noise has fewer places there to look like one.
pub fn find(transform: &Transform, low_hz: f64, high_hz: f64, expected: &[(f64, f64)]) -> Lines {
    let low_hz = low_hz.max(LEAST_TURNS * transform.bin_hz());
    let high_hz = high_hz.min(transform.step_hz * (transform.bins.len() as f64 - 4.0));
    let mut search = Search {
        rest: transform.clone(),
        lines: Vec::new(),
        chance: Chance::new(transform, (low_hz, high_hz), expected),
        band_hz: (low_hz, high_hz),
    };
    let mut floor = Floor::of(&search.rest, low_hz, high_hz);
    for _ in 0..MOST_ROUNDS {
        let fresh = search.peaks(&floor);
        if fresh.is_empty() {
            break;
        }
        for rate_hz in fresh {
            search.add(rate_hz);
        }
        for _ in 0..SWEEPS {
            search.refine();
        }
        search.merge();
        floor = Floor::of(&search.rest, low_hz, high_hz);
    }
    for _ in 0..LAST_SWEEPS {
        search.refine();
    }
    search.finish(transform)
}

struct Search {
    rest: Transform,
    lines: Vec<(f64, Complex64)>,
    chance: Chance,
    band_hz: (f64, f64),
}

/// Chance of a false alarm in one bin (of 1/length), by rate.
struct Chance {
    anywhere: f64,
    /// From, to, Hz, and the chance there; by their start.
    expected: Vec<(f64, f64, f64)>,
    /// The greatest of all.
    greatest: f64,
}

impl Chance {
    fn new(transform: &Transform, band_hz: (f64, f64), expected: &[(f64, f64)]) -> Self {
        let bin_hz = transform.bin_hz();
        let bins = |from: f64, to: f64| ((to - from) / bin_hz).max(1.0);
        let anywhere = FALSE_ALARM / bins(band_hz.0, band_hz.1);
        let each = EXPECTED_FALSE_ALARM / expected.len().max(1) as f64;
        let expected: Vec<(f64, f64, f64)> = expected
            .iter()
            .map(|&(from, to)| {
                let (from, to) = (from - 0.5 * bin_hz, to + 0.5 * bin_hz);
                (from, to, (each / bins(from, to)).max(anywhere))
            })
            .collect();
        let greatest = expected.iter().map(|e| e.2).fold(anywhere, f64::max);
        Self {
            anywhere,
            expected,
            greatest,
        }
    }

    fn at(&self, rate_hz: f64) -> f64 {
        let ranges = self.expected.iter();
        ranges
            .filter(|(from, to, _)| (*from..=*to).contains(&rate_hz))
            .map(|(_, _, chance)| *chance)
            .fold(self.anywhere, f64::max)
    }
}

impl Search {
    /// Rates of what stands out of the floor, largest first, each apart from the others.
    fn peaks(&self, floor: &Floor) -> Vec<f64> {
        let rest = &self.rest;
        let bin_hz = rest.bin_hz();
        let rate_of = |i: usize| i as f64 * rest.step_hz;
        let (low, high) = (
            rest.index_from(self.band_hz.0).max(1),
            rest.index_from(self.band_hz.1).min(rest.bins.len() - 2),
        );
        let powers: Vec<f64> = rest.bins[..=high + 1]
            .iter()
            .map(|z| z.norm_sqr())
            .collect();
        let floors = floor.powers(rest.step_hz, high + 1);
        // A first look with the least threshold there can be; only what passes is looked at closely.
        let least = -self.chance.greatest.ln();
        let mut peaks: Vec<usize> = (low..=high)
            .filter(|&i| {
                powers[i] > least * floors[i]
                    && powers[i] > powers[i - 1]
                    && powers[i] >= powers[i + 1]
                    && powers[i]
                        > threshold(self.chance.at(rate_of(i)), floor.values(rate_of(i)))
                            * floors[i]
            })
            .collect();
        peaks.sort_by(|&a, &b| powers[b].total_cmp(&powers[a]));
        let mut rates: Vec<f64> = Vec::new();
        for peak in peaks {
            let rate_hz = rest.step_hz * (peak as f64 + vertex(&powers, peak));
            // The side lobes of a large line look like peaks until it is taken out: nearby, one at a time.
            let is_own = |other: &f64| {
                let apart = (rate_hz - other).abs() / bin_hz;
                let lobe = super::transform::kernel(apart.max(1.5).floor() + 0.5);
                apart < 2.5 || powers[peak] < 4.0 * lobe * lobe * rest.at(*other).norm_sqr()
            };
            if !rates.iter().any(is_own) {
                rates.push(rate_hz);
                if rates.len() + self.lines.len() >= MOST_LINES {
                    break;
                }
            }
        }
        rates
    }

    /// Takes a new line out.
    fn add(&mut self, rate_hz: f64) {
        let size = self.rest.at(rate_hz);
        self.rest.add_line(rate_hz, -size);
        self.lines.push((rate_hz, size));
    }

    /// Refines each line once, with all others taken out.
    fn refine(&mut self) {
        let bin_hz = self.rest.bin_hz();
        for (rate_hz, size) in &mut self.lines {
            self.rest.add_line(*rate_hz, *size);
            let moved =
                peak_near(&self.rest, *rate_hz, 0.5 * bin_hz).clamp(self.band_hz.0, self.band_hz.1);
            *rate_hz = moved;
            *size = without_image(&self.rest, moved);
            self.rest.add_line(moved, -*size);
        }
    }

    /// Makes one of two lines that came too near to each other: the smaller goes.
    fn merge(&mut self) {
        let least_hz = MERGE_BINS * self.rest.bin_hz();
        self.lines
            .sort_by(|a, b| b.1.norm_sqr().total_cmp(&a.1.norm_sqr()));
        let mut kept: Vec<(f64, Complex64)> = Vec::with_capacity(self.lines.len());
        for (rate_hz, size) in std::mem::take(&mut self.lines) {
            if kept
                .iter()
                .any(|other| (other.0 - rate_hz).abs() < least_hz)
            {
                self.rest.add_line(rate_hz, size);
            } else {
                kept.push((rate_hz, size));
            }
        }
        if kept.len() < self.lines.len() {
            self.lines = kept;
            self.refine();
        } else {
            self.lines = kept;
        }
    }

    fn finish(mut self, transform: &Transform) -> Lines {
        let (low_hz, high_hz) = self.band_hz;
        let floor = Floor::of(&self.rest, low_hz, high_hz);
        let bin_hz = self.rest.bin_hz();
        let mut lines = Vec::with_capacity(self.lines.len());
        for &(rate_hz, size) in &self.lines {
            let floor_power = floor.power(rate_hz);
            let above_floor = size.norm_sqr() / floor_power.max(f64::MIN_POSITIVE);
            // A line's own unsteadiness stands beside it and makes its size as uncertain as noise does. Rounding
            // errors and the shape's reach bound what can be known.
            let own = size.norm() * 1e-4;
            let deviation = (0.5 * floor_power.max(skirt(&self.rest, rate_hz)) + own * own).sqrt();
            lines.push(Line {
                rate_hz,
                size,
                size_deviation: deviation,
                rate_deviation_hz: RATE_DEVIATION * bin_hz * deviation / size.norm().max(1e-300),
                above_floor,
                rate_change_hz_per_s: 0.0,
                change_deviation_hz_per_s: None,
                change_range_hz_per_s: 0.0,
            });
        }
        lines.retain(|line| {
            let stands = line.above_floor
                > threshold(self.chance.at(line.rate_hz), floor.values(line.rate_hz))
                && line.peak() > LEAST_OVER_DEVIATION * line.size_deviation;
            if !stands {
                self.rest.add_line(line.rate_hz, line.size);
            }
            stands
        });
        lines.sort_by(|a, b| b.peak().total_cmp(&a.peak()));
        debug_assert_eq!(self.rest.bins.len(), transform.bins.len());
        Lines {
            lines,
            rest: self.rest,
            floor,
            band_hz: self.band_hz,
        }
    }
}

/// How far over the floor a bin of noise comes with this chance, when the floor is itself the mean of so many
/// independent values: (1 + k/n)⁻ⁿ = chance, which is exp(−k) for many.
pub fn threshold(chance: f64, values: f64) -> f64 {
    values * (chance.powf(-1.0 / values) - 1.0)
}

/// Mean power beside a line, where its shape is gone and its unsteadiness is not.
fn skirt(rest: &Transform, rate_hz: f64) -> f64 {
    let bin_hz = rest.bin_hz();
    let (near, far) = SKIRT_BINS;
    let mean = |from_hz: f64, to_hz: f64| {
        let bins = &rest.bins[rest.index_from(from_hz)..rest.index_from(to_hz)];
        bins.iter().map(|z| z.norm_sqr()).sum::<f64>() / bins.len().max(1) as f64
    };
    let below = mean(rate_hz - far * bin_hz, rate_hz - near * bin_hz);
    let above = mean(rate_hz + near * bin_hz, rate_hz + far * bin_hz);
    0.5 * (below + above)
}

/// Where the parabola through a peak and its neighbours (of the logarithm) has its top, in bins from the peak.
fn vertex(powers: &[f64], peak: usize) -> f64 {
    let log = |i: usize| powers[i].max(f64::MIN_POSITIVE).ln();
    let curvature = log(peak - 1) - 2.0 * log(peak) + log(peak + 1);
    if curvature < 0.0 {
        (0.5 * (log(peak - 1) - log(peak + 1)) / curvature).clamp(-1.0, 1.0)
    } else {
        0.0
    }
}

/// The rate of the greatest height within `reach_hz` of a rate: two steps of a three-point search.
fn peak_near(transform: &Transform, rate_hz: f64, reach_hz: f64) -> f64 {
    let mut rate = rate_hz;
    for step_hz in [0.5 * reach_hz, 0.25 * reach_hz] {
        let height = |rate_hz: f64| without_image(transform, rate_hz).norm_sqr();
        let heights = [height(rate - step_hz), height(rate), height(rate + step_hz)];
        let shift = vertex(&heights, 1);
        rate += shift * step_hz;
    }
    rate.clamp(rate_hz - reach_hz, rate_hz + reach_hz)
}

/// The size of a line at a rate: the transform there, without what its own image at the negative rate adds.
fn without_image(transform: &Transform, rate_hz: f64) -> Complex64 {
    let at = transform.at(rate_hz);
    let apart = 2.0 * rate_hz * transform.seconds;
    if apart > super::transform::REACH {
        return at;
    }
    // at = z + k·conj(z), k real.
    let k = super::transform::kernel(apart);
    (at - at.conj() * k) / (1.0 - k * k)
}

#[cfg(test)]
mod tests {
    use super::{super::transform::Transformer, *};
    use rand::{RngExt as _, SeedableRng as _};
    use rand_distr::{Distribution as _, StandardNormal};
    use std::f64::consts::TAU;

    const RATE_HZ: f64 = 500.0;

    fn series(seconds: f64, lines: &[(f64, f64)], noise: f64, seed: u64) -> Vec<f64> {
        let mut chance = rand_pcg::Pcg64::seed_from_u64(seed);
        let phases: Vec<f64> = lines.iter().map(|_| chance.random::<f64>() * TAU).collect();
        (0..(seconds * RATE_HZ) as usize)
            .map(|i| {
                let t = i as f64 / RATE_HZ;
                let normal: f64 = StandardNormal.sample(&mut chance);
                let waves = lines.iter().zip(&phases);
                0.7 + 0.001 * t
                    + noise * normal
                    + waves
                        .map(|((f, a), p)| a * (TAU * f * t + p).sin())
                        .sum::<f64>()
            })
            .collect()
    }

    fn found(series: &[f64]) -> Lines {
        find(
            &Transformer::default().transform(series, RATE_HZ),
            0.05,
            200.0,
            &[],
        )
    }

    #[test]
    fn finds_and_sizes_what_is_there_and_nothing_else() {
        let truth = [
            (0.42, 0.08),
            (1.261, 0.05),
            (2.522, 0.03),
            (6.06, 0.1),
            (6.21, 0.002),
            (12.12, 0.01),
            (33.3, 0.02),
            (99.97, 0.004),
        ];
        for seed in 0..4 {
            let lines = found(&series(65.0, &truth, 0.02, seed)).lines;
            assert_eq!(lines.len(), truth.len(), "{lines:?}");
            for (f, a) in truth {
                let near = lines.iter().find(|line| (line.rate_hz - f).abs() < 0.01);
                let line = near.expect("every line is found");
                assert!(
                    (line.peak() - a).abs() < 4.5 * line.size_deviation,
                    "{f} {line:?}"
                );
                assert!(
                    (line.rate_hz - f).abs() < 4.5 * line.rate_deviation_hz,
                    "{f} {line:?}"
                );
            }
        }
    }

    /// Errors over their stated deviations have the spread 1.
    #[test]
    fn stated_deviations_are_the_real_ones() {
        let mut sums = [0.0; 2];
        let count = 60;
        for seed in 0..count {
            let lines = found(&series(20.0, &[(6.063, 0.015)], 0.05, 100 + seed)).lines;
            let line = lines.first().expect("the line is found");
            sums[0] += ((line.peak() - 0.015) / line.size_deviation).powi(2);
            sums[1] += ((line.rate_hz - 6.063) / line.rate_deviation_hz).powi(2);
        }
        // The square root of a mean of 60 squares scatters by 9 %; the skirt makes the stated one a little large.
        for sum in sums {
            let spread = (sum / count as f64).sqrt();
            assert!((0.65..1.25).contains(&spread), "{spread}");
        }
    }

    #[test]
    fn noise_alone_has_no_lines() {
        let all: usize = (0..40)
            .map(|seed| found(&series(12.0, &[], 0.05, seed)).lines.len())
            .sum();
        // The chance is below 1 % a take.
        assert!(all <= 2, "{all}");
    }
}
