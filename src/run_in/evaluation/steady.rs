//! When the deck became steady, and how far it drifted until then.

use super::{
    super::history::{Step, Typed},
    Criteria, Steadiness, WarmUp,
    events::span_words,
    statistics::{self, Estimate},
};

/// So long the deck must have kept within the band to be called steady (common practice, no source).
const STEADY_FOR_S: f64 = 600.0;
/// The start of a run is read from this much of it.
const START_S: f64 = 120.0;
/// A temperature is held against the speed this near to it.
const NEAR_S: f64 = 120.0;
/// A typed temperature is trusted so far, °C, at 95 % (common practice, no source).
const TYPED_WITHIN_CELSIUS: f64 = 0.5;
/// Temperatures closer together say nothing about a coefficient.
const LEAST_SPREAD_CELSIUS: f64 = 2.0;

/// The earliest time from which on every minute's mean speed stays within ± the band's half-width of the middle of them all, to
/// the end of the run, for long enough.
pub(super) fn steadiness(steps: &[&Step], criteria: &Criteria) -> Steadiness {
    let within = criteria.steady_within_percent;
    let criterion = format!(
        "from then on each minute's mean speed within ±{within} % of their middle, for {} at least",
        span_words(STEADY_FOR_S)
    );
    let from = first_of_band(steps, 2.0 * within);
    let steady = &steps[from..];
    let lasted_s = match steady {
        [first, .., last] => last.at_s + last.seconds / 2.0 - (first.at_s - first.seconds / 2.0),
        _ => 0.0,
    };
    let values: Vec<f64> = speeds(steady);
    let is_steady = lasted_s >= STEADY_FOR_S;
    let mean = statistics::mean(&values).filter(|_| is_steady);
    Steadiness {
        criterion,
        source: "common practice, no source",
        within_percent: within,
        since_s: steady
            .first()
            .filter(|_| is_steady)
            .map(|step| step.at_s - step.seconds / 2.0),
        mean_percent: mean.map(|mean| mean.value),
        uncertainty_percent: mean.map(|mean| mean.uncertainty),
    }
}

/// Index of the first step of the longest end of the run whose greatest and least mean are no more than `width` apart.
fn first_of_band(steps: &[&Step], width: f64) -> usize {
    let (mut least, mut greatest) = (f64::INFINITY, f64::NEG_INFINITY);
    for (index, step) in steps.iter().enumerate().rev() {
        let mean = step.speed_percent.mean;
        least = least.min(mean);
        greatest = greatest.max(mean);
        if greatest - least > width {
            return index + 1;
        }
    }
    0
}

fn speeds(steps: &[&Step]) -> Vec<f64> {
    steps.iter().map(|step| step.speed_percent.mean).collect()
}

/// The change from the start to the steady stretch, or to the end where there is none.
pub(super) fn warm_up(
    steps: &[&Step],
    steadiness: &Steadiness,
    temperatures: &[Typed],
) -> Option<WarmUp> {
    let first = steps.first()?;
    let starts_s = first.at_s - first.seconds / 2.0;
    let starting = steps
        .iter()
        .take_while(|step| step.at_s <= starts_s + START_S);
    let start = pooled(starting.copied())?;
    let settled_s = steadiness.since_s.unwrap_or_else(|| {
        let end_s = steps.last().map_or(starts_s, |last| last.at_s);
        (end_s - STEADY_FOR_S).max(starts_s + START_S)
    });
    let settled: Vec<f64> = steps
        .iter()
        .filter(|step| step.at_s > settled_s)
        .map(|step| step.speed_percent.mean)
        .collect();
    let settled = statistics::mean(&settled)?;
    let per_celsius = per_celsius(steps, temperatures);
    Some(WarmUp {
        from_percent: start.value,
        to_percent: settled.value,
        to_is_steady: steadiness.since_s.is_some(),
        drift_percent: settled.value - start.value,
        uncertainty_percent: settled.uncertainty.hypot(start.uncertainty),
        temperatures: temperatures.len(),
        percent_per_celsius: per_celsius.map(|estimate| estimate.value),
        percent_per_celsius_uncertainty: per_celsius.map(|estimate| estimate.uncertainty),
    })
}

/// The mean of some steps, its uncertainty from the scatter of the readings in them.
fn pooled<'a>(steps: impl Iterator<Item = &'a Step>) -> Option<Estimate> {
    let mut all = super::super::tally::Tally::default();
    steps.for_each(|step| all.join(&step.speed_percent));
    let (value, uncertainty) = all.mean_with_uncertainty(1.0)?;
    Some(Estimate { value, uncertainty })
}

/// Speed against typed temperatures: least squares over the moments for which both are known.
///
/// The uncertainty holds the scatter of the speed and of the typing; with three temperatures and more, also what
/// keeps them from lying on one line.
fn per_celsius(steps: &[&Step], temperatures: &[Typed]) -> Option<Estimate> {
    let points: Vec<(f64, Estimate)> = temperatures
        .iter()
        .filter_map(|typed| {
            let near = steps
                .iter()
                .filter(|step| (step.at_s - typed.at_s).abs() <= NEAR_S);
            Some((typed.celsius, pooled(near.copied())?))
        })
        .collect();
    let count = points.len() as f64;
    let mean_t = points.iter().map(|(celsius, _)| celsius).sum::<f64>() / count;
    let mean_v = points.iter().map(|(_, speed)| speed.value).sum::<f64>() / count;
    let stt: f64 = points
        .iter()
        .map(|(celsius, _)| (celsius - mean_t).powi(2))
        .sum();
    let spread = points.iter().map(|(celsius, _)| *celsius).fold(
        (f64::INFINITY, f64::NEG_INFINITY),
        |(least, greatest), celsius| (least.min(celsius), greatest.max(celsius)),
    );
    if points.len() < 2 || spread.1 - spread.0 < LEAST_SPREAD_CELSIUS {
        return None;
    }
    let value = points
        .iter()
        .map(|(celsius, speed)| (celsius - mean_t) * (speed.value - mean_v))
        .sum::<f64>()
        / stt;
    let of_points: f64 = points
        .iter()
        .map(|(celsius, speed)| {
            let both = speed.uncertainty.powi(2) + (value * TYPED_WITHIN_CELSIUS).powi(2);
            (celsius - mean_t).powi(2) * both
        })
        .sum::<f64>()
        .sqrt()
        / stt;
    let off_the_line: f64 = points
        .iter()
        .map(|(celsius, speed)| (speed.value - mean_v - value * (celsius - mean_t)).powi(2))
        .sum();
    let of_the_line = if points.len() > 2 {
        statistics::student_t(count - 2.0) * (off_the_line / (count - 2.0) / stt).sqrt()
    } else {
        0.0
    };
    Some(Estimate {
        value,
        uncertainty: of_points.max(of_the_line),
    })
}
