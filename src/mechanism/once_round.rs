//! The once-round trace: a quantity folded at a part's tracked period (synchronous average).
//!
//! All lines are taken out of the series first and the part's own are put back in closed form, so that the lines of
//! other parts do not scatter into the fold; what is left is averaged turn by turn.

use super::{
    lines::{Line, Lines},
    shape::{self, Shape},
    table::twice,
};
use crate::readings::{Harmonic, LEAST_TURNS, OnceRoundTrace, Quantity};
use realfft::num_complex::Complex64;
use std::{
    f64::consts::{PI, TAU},
    sync::Arc,
};

/// Values of a trace: 3 degrees apart.
const VALUES: usize = 120;
/// Harmonics listed at most.
const MOST_HARMONICS: u32 = 24;
/// Harmonics that are listed in any case.
const LEAST_LISTED: usize = 4;

/// The turning of a part.
#[derive(Clone, Copy, Debug)]
pub struct Turning {
    /// Rate in the middle of the series, Hz.
    pub rate_hz: f64,
    /// How it changes, Hz a second.
    pub change_hz_per_s: f64,
}

/// A series without any line, at even times about its middle.
pub struct Bare {
    values: Vec<f64>,
    rate_hz: f64,
}

impl Bare {
    /// Takes all lines out of a series.
    pub fn new(series: &[f64], rate_hz: f64, lines: &[Line]) -> Self {
        let level = super::transform::Level::of(series);
        let mut values: Vec<f64> = series
            .iter()
            .enumerate()
            .map(|(i, x)| x - level.at(i))
            .collect();
        let centre = (series.len() as f64 - 1.0) / 2.0;
        for line in lines {
            // A phasor whose step itself turns follows a changing rate.
            let first_s = -centre / rate_hz;
            let change = line.rate_change_hz_per_s;
            let start = TAU * line.rate_hz * first_s + PI * change * first_s * first_s;
            let mut phasor = line.size * Complex64::from_polar(1.0, start);
            let dt = 1.0 / rate_hz;
            let advance = TAU * line.rate_hz * dt + PI * change * (2.0 * first_s * dt + dt * dt);
            let mut step = Complex64::from_polar(1.0, advance);
            let bend = Complex64::from_polar(1.0, TAU * change * dt * dt);
            for value in &mut values {
                *value -= phasor.re;
                phasor *= step;
                if change != 0.0 {
                    step *= bend;
                }
            }
        }
        Self { values, rate_hz }
    }

    /// Mean and scatter over the turns at each angle; the scatter is of what is quicker than a turn.
    fn fold(&self, turning: Turning) -> (Vec<f64>, Vec<f64>) {
        let centre = (self.values.len() as f64 - 1.0) / 2.0;
        let turns_at = |i: usize| {
            let t = (i as f64 - centre) / self.rate_hz;
            turning.rate_hz * t + 0.5 * turning.change_hz_per_s * t * t
        };
        let mut sums = vec![0.0; VALUES];
        let mut squares = vec![0.0; VALUES];
        let mut counts = vec![0.0_f64; VALUES];
        let mut start = 0;
        while start < self.values.len() {
            let turn = turns_at(start).floor();
            let mut end = start + 1;
            while end < self.values.len() && turns_at(end) < turn + 1.0 {
                end += 1;
            }
            let values = &self.values[start..end];
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            for (j, value) in values.iter().enumerate() {
                let part = turns_at(start + j) - turn;
                let bin = ((part * VALUES as f64) as usize).min(VALUES - 1);
                let x = value - mean;
                sums[bin] += x;
                squares[bin] += x * x;
                counts[bin] += 1.0;
            }
            start = end;
        }
        let means: Vec<f64> = sums
            .iter()
            .zip(&counts)
            .map(|(s, n)| s / n.max(1.0))
            .collect();
        let scatter = squares
            .iter()
            .zip(&means)
            .zip(&counts)
            .map(|((q, m), n)| (q / n.max(1.0) - m * m).max(0.0).sqrt())
            .collect();
        (means, scatter)
    }
}

/// Folds a quantity. `own`: the part's lines in that quantity with their orders; `found`: all of them, with the floor.
pub fn trace(
    quantity: Quantity,
    bare: &Bare,
    found: &Lines,
    turning: Turning,
    own: &[(usize, u32)],
) -> Option<OnceRoundTrace> {
    let seconds = found.rest.seconds;
    let turns = turning.rate_hz * seconds;
    if turns < LEAST_TURNS {
        return None;
    }
    let (folded, scatter) = bare.fold(turning);
    let highest = ((found.band_hz.1 / turning.rate_hz) as u32).clamp(1, MOST_HARMONICS);
    // Size and phase of each harmonic: the line found, and what is left in the fold.
    let harmonics: Vec<(Complex64, f64)> = (1..=highest)
        .zip(components(&folded, highest))
        .map(|(order, left)| {
            let line = own
                .iter()
                .find(|(_, its)| *its == order)
                .map(|(i, _)| found.lines[*i]);
            let size = line.map_or(Complex64::ZERO, |line| line.size);
            let at_hz = f64::from(order) * turning.rate_hz;
            let noise = (found.floor.density(at_hz) / seconds).sqrt();
            let deviation = line.map_or(noise, |line| line.size_deviation.max(noise));
            (size + left, deviation)
        })
        .collect();
    let first = harmonics
        .iter()
        .find(|(size, deviation)| size.norm() > 3.0 * deviation)
        .or(harmonics.first())?;
    let order = harmonics.iter().position(|h| h.0 == first.0).unwrap_or(0) as f64 + 1.0;
    // Angle 0 where the first order (that stands out) is greatest.
    let zero_turns = -first.0.arg() / TAU / order;
    let offset = (zero_turns * VALUES as f64).round();
    let zero_turns = offset / VALUES as f64;
    let offset = offset.rem_euclid(VALUES as f64) as usize;
    let turned = |order: usize, size: Complex64| {
        size * Complex64::from_polar(1.0, TAU * zero_turns * (order + 1) as f64)
    };
    let own_size = |order: u32| {
        let line = own
            .iter()
            .find(|(_, its)| *its == order)
            .map(|(i, _)| found.lines[*i].size);
        line.map(|size| turned(order as usize - 1, size))
    };
    let mut mean: Vec<f64> = (0..VALUES).map(|i| folded[(i + offset) % VALUES]).collect();
    for (i, value) in mean.iter_mut().enumerate() {
        let angle = TAU * (i as f64 + 0.5) / VALUES as f64;
        for &(_, order) in own {
            if let Some(size) = own_size(order) {
                *value += (size * Complex64::from_polar(1.0, f64::from(order) * angle)).re;
            }
        }
    }
    let mut listed: Vec<Harmonic> = harmonics
        .iter()
        .enumerate()
        .map(|(index, (size, deviation))| {
            let turned = turned(index, *size);
            let order = index as f64 + 1.0;
            Harmonic {
                order: index as u32 + 1,
                peak: twice(size.norm(), *deviation),
                maximum_at_degrees: (-turned.arg().to_degrees()).rem_euclid(360.0) / order,
            }
        })
        .collect();
    let uncertainty = 2.0 * harmonics.iter().map(|(_, d)| d * d).sum::<f64>().sqrt();
    let Shape {
        shape,
        words,
        evidence,
    } = shape::judge(quantity, &listed, turns);
    // Beyond the last that stands out there is only noise to list.
    let last = listed
        .iter()
        .rposition(|h| h.peak.value > 2.0 * h.peak.uncertainty);
    listed.truncate(last.map_or(LEAST_LISTED, |last| LEAST_LISTED.max(last + 1)));
    let half_s = 0.5 * seconds;
    let single = |values: &[f64]| values.iter().map(|x| *x as f32).collect::<Arc<[f32]>>();
    Some(OnceRoundTrace {
        quantity,
        turns,
        rate_at_start_hz: turning.rate_hz - turning.change_hz_per_s * half_s,
        rate_at_end_hz: turning.rate_hz + turning.change_hz_per_s * half_s,
        step_degrees: 360.0 / VALUES as f64,
        mean: single(&mean),
        scatter: (0..VALUES)
            .map(|i| scatter[(i + offset) % VALUES] as f32)
            .collect(),
        mean_uncertainty: vec![uncertainty as f32; VALUES].into(),
        harmonics: listed,
        shape,
        words,
        evidence,
    })
}

/// The harmonics of a folded turn from the first to the `highest`, as complex sizes of cosines.
fn components(folded: &[f64], highest: u32) -> Vec<Complex64> {
    let count = folded.len();
    // Angles at the middle of each value, in half steps of the turn.
    let roots: Vec<Complex64> = (0..2 * count)
        .map(|k| Complex64::from_polar(2.0 / count as f64, -PI * k as f64 / count as f64))
        .collect();
    (1..=highest as usize)
        .map(|order| {
            let values = folded.iter().enumerate();
            values
                .map(|(i, x)| roots[order * (2 * i + 1) % (2 * count)] * *x)
                .sum()
        })
        .collect()
}
