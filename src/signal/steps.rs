//! The level of a series that somebody moves: constant between its steps.

/// Means on either side of a place are compared over this long, seconds.
pub const SIDE_S: f64 = 0.32;
/// A step stands out of the usual differences by this many standard deviations.
const SIGMAS: f64 = 6.0;
/// A step spreads this far to either side by the filters before it, seconds.
const SPREAD_S: f64 = 0.032;
/// Median of the magnitude of a Gaussian value, in standard deviations.
pub const MEDIAN_MAGNITUDE: f64 = 0.674_5;

/// What the series is moved about, place by place: the mean between two steps; through a step, or while it is being
/// moved, what the series itself does. Steps below `least_step` are not looked for, nor within [`SIDE_S`] of the ends.
pub fn level(series: &[f64], rate_hz: f64, least_step: f64) -> Vec<f64> {
    let side = ((SIDE_S * rate_hz).round() as usize).max(1);
    let spread = ((SPREAD_S * rate_hz).round() as usize).max(1);
    let mut moving = vec![false; series.len()];
    for (first, last) in moves(series, side, least_step) {
        let end = (last + spread).min(series.len());
        moving[first.saturating_sub(spread)..end].fill(true);
    }
    let mut level = series.to_vec();
    for stretch in stretches(&moving) {
        let mean = series[stretch.clone()].iter().sum::<f64>() / stretch.len() as f64;
        level[stretch].fill(mean);
    }
    level
}

/// First and last place of each move. A step at once is one place.
fn moves(series: &[f64], side: usize, least_step: f64) -> Vec<(usize, usize)> {
    if series.len() < 2 * side + 1 {
        return Vec::new();
    }
    let mut sums = Vec::with_capacity(series.len() + 1);
    sums.push(0.0);
    for x in series {
        sums.push(sums[sums.len() - 1] + x);
    }
    let differences: Vec<f64> = (side..=series.len() - side)
        .map(|at| {
            let after = sums[at + side] - sums[at];
            let before = sums[at] - sums[at - side];
            ((after - before) / side as f64).abs()
        })
        .collect();
    let bound = (SIGMAS * median(&differences) / MEDIAN_MAGNITUDE).max(least_step);
    let mut moves = Vec::new();
    let mut at = 0;
    while at < differences.len() {
        if differences[at] <= bound {
            at += 1;
            continue;
        }
        let length = differences[at..].iter().take_while(|&&x| x > bound).count();
        let run = &differences[at..at + length];
        if length <= 2 * side {
            let top = (0..length)
                .max_by(|&a, &b| run[a].total_cmp(&run[b]))
                .unwrap_or(0);
            moves.push((side + at + top, side + at + top));
        } else {
            moves.push((side + at, side + at + length));
        }
        at += length;
    }
    moves
}

/// Stretches in which nothing moves.
fn stretches(moving: &[bool]) -> Vec<std::ops::Range<usize>> {
    let mut stretches = Vec::new();
    let mut start = 0;
    for end in 0..=moving.len() {
        if end == moving.len() || moving[end] {
            if end > start {
                stretches.push(start..end);
            }
            start = end + 1;
        }
    }
    stretches
}

/// Median; 0 for nothing.
pub fn median(values: &[f64]) -> f64 {
    let mut values = values.to_vec();
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    let (_, median, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    *median
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 62.5;

    fn noise(i: usize) -> f64 {
        ((i * 7919 + 13) % 1000) as f64 / 1000.0 - 0.5
    }

    #[test]
    fn steps_divide_the_series_and_noise_does_not() {
        let truth = |i: usize| match i {
            0..300 => 1.0,
            300..420 => 1.5,
            _ => 1.2,
        };
        let series: Vec<f64> = (0..1000).map(|i| truth(i) + 0.02 * noise(i)).collect();
        let level = level(&series, RATE_HZ, 0.015);
        for (i, x) in level.iter().enumerate() {
            let near = [300usize, 420].iter().any(|step| step.abs_diff(i) <= 3);
            assert!(near || (x - truth(i)).abs() < 0.004, "{i}: {x}");
        }
    }

    #[test]
    fn a_ramp_is_followed() {
        let truth = |i: usize| 0.5 * (i.clamp(300, 500) - 300) as f64 / 200.0;
        let series: Vec<f64> = (0..800).map(|i| truth(i) + 0.001 * noise(i)).collect();
        let level = level(&series, RATE_HZ, 0.015);
        let errors = level.iter().enumerate().map(|(i, x)| (x - truth(i)).abs());
        assert!(errors.fold(0.0, f64::max) < 0.03);
    }

    #[test]
    fn a_short_series_has_one_level() {
        assert_eq!(level(&[1.0, 3.0], RATE_HZ, 0.01), vec![2.0, 2.0]);
        assert!(level(&[], RATE_HZ, 0.01).is_empty());
    }
}
