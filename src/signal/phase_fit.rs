//! A straight line through phases at several frequencies, which are known within a cycle only.
//!
//! Whole cycles are found by trying delays: at the right one the phases, turned back, point the same way. From there
//! weighted least squares (textbook formulas) gives delay and intercept with their uncertainties.

use std::f64::consts::TAU;

/// A phase at a frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WrappedPhase {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Phase, turns, of which whole ones mean nothing.
    pub turns: f64,
    /// Standard uncertainty, turns.
    pub sigma: f64,
}

/// A line: phase = intercept + delay·f.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Delay, seconds.
    pub delay_s: f64,
    /// Its standard uncertainty, seconds.
    pub delay_sigma_s: f64,
    /// Phase at zero frequency, turns, within ±½.
    pub intercept: f64,
    /// Its standard uncertainty, turns.
    pub intercept_sigma: f64,
    /// Sum of the squares of what the points are off, each in its own uncertainty.
    pub chi_squared: f64,
}

impl Line {
    /// How far a point lies above the line, turns, to the nearest whole cycle.
    pub fn off(&self, point: &WrappedPhase) -> f64 {
        let off = point.turns - self.intercept - self.delay_s * point.frequency_hz;
        off - off.round()
    }
}

/// All lines with delays within ±`most_s` that are better than their neighbours, best first; with an intercept in turns,
/// or any.
pub fn lines(points: &[WrappedPhase], most_s: f64, intercept: Option<f64>) -> Vec<Line> {
    let highest_hz = points.iter().map(|p| p.frequency_hz).fold(0.0, f64::max);
    if points.len() < 2 || highest_hz <= 0.0 {
        return Vec::new();
    }
    let step_s = (0.1 / highest_hz).max(most_s / 500.0);
    let steps = (most_s / step_s).ceil() as i32;
    let merits: Vec<(f64, f64)> = (-steps..=steps)
        .map(|i| {
            let delay_s = f64::from(i) * step_s;
            (delay_s, merit(points, delay_s, intercept).0)
        })
        .collect();
    let mut found = Vec::new();
    for (i, &(delay_s, here)) in merits.iter().enumerate() {
        let beside = |j: Option<usize>| {
            j.and_then(|j| merits.get(j))
                .map_or(f64::NEG_INFINITY, |(_, merit)| *merit)
        };
        if here >= beside(i.checked_sub(1)) && here > beside(Some(i + 1)) {
            let line = refined(points, delay_s, intercept);
            found.extend(
                line.filter(|line| line.delay_s.abs() <= most_s + 2.0 * line.delay_sigma_s),
            );
        }
    }
    found.sort_by(|a, b| a.chi_squared.total_cmp(&b.chi_squared));
    found
}

/// How well the phases, turned back by a delay, point the same way (or that of the intercept), and which way, turns.
fn merit(points: &[WrappedPhase], delay_s: f64, intercept: Option<f64>) -> (f64, f64) {
    let (mut x, mut y) = (0.0, 0.0);
    for point in points {
        let angle = TAU * (point.turns - delay_s * point.frequency_hz - intercept.unwrap_or(0.0));
        let (sin, cos) = angle.sin_cos();
        let weight = point.sigma.powi(-2);
        x += weight * cos;
        y += weight * sin;
    }
    match intercept {
        Some(intercept) => (x, intercept),
        None => (x.hypot(y), y.atan2(x) / TAU),
    }
}

/// The line by least squares near a delay.
fn refined(points: &[WrappedPhase], delay_s: f64, intercept: Option<f64>) -> Option<Line> {
    let mut line = Line {
        delay_s,
        delay_sigma_s: 0.0,
        intercept: merit(points, delay_s, intercept).1,
        intercept_sigma: 0.0,
        chi_squared: 0.0,
    };
    for _ in 0..3 {
        line = least_squares(points, &line, intercept.is_none())?;
    }
    line.chi_squared = points
        .iter()
        .map(|point| (line.off(point) / point.sigma).powi(2))
        .sum();
    Some(line)
}

/// The line through the points with whole cycles as they are nearest to `near`; through its intercept unless `free`.
pub fn least_squares(points: &[WrappedPhase], near: &Line, free: bool) -> Option<Line> {
    let [mut s, mut sx, mut sy, mut sxx, mut sxy] = [0.0; 5];
    for point in points {
        let (x, y) = (point.frequency_hz, near.off(point));
        let weight = point.sigma.powi(-2);
        s += weight;
        sx += weight * x;
        sy += weight * y;
        sxx += weight * x * x;
        sxy += weight * x * y;
    }
    let (slope, offset, slope_sigma, offset_sigma) = if free {
        let determinant = s * sxx - sx * sx;
        // All at one frequency: no line.
        if determinant <= 1e-9 * s * sxx {
            return None;
        }
        (
            (s * sxy - sx * sy) / determinant,
            (sxx * sy - sx * sxy) / determinant,
            (s / determinant).sqrt(),
            (sxx / determinant).sqrt(),
        )
    } else {
        (sxy / sxx, 0.0, sxx.sqrt().recip(), 0.0)
    };
    let intercept = near.intercept + offset;
    let line = Line {
        delay_s: near.delay_s + slope,
        delay_sigma_s: slope_sigma,
        intercept: intercept - intercept.round(),
        intercept_sigma: offset_sigma,
        chi_squared: near.chi_squared,
    };
    line.delay_s.is_finite().then_some(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(frequency_hz: f64, turns: f64, sigma: f64) -> WrappedPhase {
        WrappedPhase {
            frequency_hz,
            turns: turns - turns.round(),
            sigma,
        }
    }

    /// Worked out by hand: points (1, 0.1), (2, 0.18), (4, 0.32) of kHz and turns, weights 1, 1, ¼ (sigma 0.01, 0.01,
    /// 0.02): S = 2.25, Sx = 4, Sy = 0.36, Sxx = 9, Sxy = 0.78; slope (2.25·0.78 − 4·0.36)/(2.25·9 − 16) = 0.315/4.25,
    /// intercept (9·0.36 − 4·0.78)/4.25 = 0.12/4.25, sigmas 0.01·√(2.25/4.25) and 0.01·√(9/4.25).
    #[test]
    fn the_weighted_line_is_the_textbook_one() {
        let points = [
            point(1e3, 0.1, 0.01),
            point(2e3, 0.18, 0.01),
            point(4e3, 0.32, 0.02),
        ];
        let line = lines(&points, 0.2e-3, None)[0];
        for (read, expected) in [
            (line.delay_s * 1e3, 0.315 / 4.25),
            (line.intercept, 0.12 / 4.25),
            (line.delay_sigma_s * 1e3, 0.01 * (2.25_f64 / 4.25).sqrt()),
            (line.intercept_sigma, 0.01 * (9.0_f64 / 4.25).sqrt()),
        ] {
            assert!((read - expected).abs() < 1e-9, "{read} {expected}");
        }
    }

    #[test]
    fn whole_cycles_are_found_at_any_delay_and_offset() {
        for delay_us in [-219.0, -73.3, 0.0, 12.0, 161.0] {
            for offset in [0.0, 0.5, 0.07] {
                let points: Vec<_> = [315.0, 1e3, 3150.0, 6300.0, 10e3, 12.5e3]
                    .iter()
                    .map(|hz| point(*hz, offset + delay_us * 1e-6 * hz, 0.003))
                    .collect();
                let best = lines(&points, 230e-6, None)[0];
                assert!((best.delay_s * 1e6 - delay_us).abs() < 1e-6, "{best:?}");
                let off = best.intercept - offset;
                assert!((off - off.round()).abs() < 1e-9, "{best:?}");
            }
        }
    }

    #[test]
    fn one_point_or_one_frequency_is_no_line() {
        assert!(lines(&[point(1e3, 0.1, 0.01)], 1e-3, None).is_empty());
        let twice = [point(1e3, 0.1, 0.01), point(1e3, 0.12, 0.01)];
        assert!(lines(&twice, 1e-3, None).is_empty());
    }
}
