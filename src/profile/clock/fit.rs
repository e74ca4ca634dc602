//! The line through the edge, and how far it can be trusted.
//!
//! Least squares over all stretches with a common slope. What must not be believed is the residuals' own word for it:
//! they are not independent (a beat between block and wake-up, a load that comes and goes), and a computer's clock that
//! is being slewed bends the line without leaving a residual. So the time is cut into parts and each part's slope is
//! taken by itself. Parts that stand apart, no more than a quarter of the time, are set aside: a clock that was off and
//! is being put right runs at a wrong rate for a while and at the right one otherwise. The scatter that then remains
//! between quarters, beyond what the noise inside them explains, goes into the uncertainty whole: it does not average
//! out, because the true rate may be that of any of them.

use super::{Point, WINDOW_S, stretches, windows};
use crate::signal::regression::Slope;

/// Parts the time is cut into to find the ones that stand apart.
const PARTS: usize = 12;
/// Of them at most this many are set aside.
const MOST_SET_ASIDE: usize = PARTS / 4;
/// Coarser parts, whose scatter tells what the clock did in the long run.
const QUARTERS: usize = 4;
/// Points needed: two in each part.
const LEAST_POINTS: usize = 2 * PARTS;
/// A part stands apart if its slope is this many of its standard deviations off the middle one.
const APART: f64 = 5.0;
/// The least delay itself may change by this between begin and end (another processor state, another path through the
/// sound system) without a trace in the scatter. Common practice, no source.
const PATH_CHANGE_S: f64 = 1e-4;
/// Student's t, 97.5 %, for 1, 2 and 3 degrees of freedom (any table).
const STUDENT: [f64; QUARTERS - 1] = [12.71, 4.30, 3.18];

/// The line. Slopes are seconds a second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit {
    /// Card's rate / nominal rate − 1.
    pub(super) slope: f64,
    /// Expanded uncertainty (k = 2) of `slope`.
    pub(super) uncertainty: f64,
    /// Windows in the parts that were set aside.
    pub(super) set_aside_windows: f64,
}

/// Fits the line; `None` while there is too little.
pub(super) fn fit(points: &[Point]) -> Option<Fit> {
    if points.len() < LEAST_POINTS {
        return None;
    }
    let parts: [&[Point]; PARTS] = cut(points);
    let variance = variance_within(&parts);
    let kept = kept(&parts, variance);
    let all = line(runs(&parts, kept))?;
    let quarters: Vec<(f64, f64)> = (0..QUARTERS)
        .filter_map(|quarter| {
            let mine = std::array::from_fn(|part| kept[part] && part * QUARTERS / PARTS == quarter);
            line(runs(&parts, mine)).map(|line| (line.slope, variance / line.sxx))
        })
        .collect();
    let scatter = excess(&quarters)?;
    let set_aside = parts.iter().zip(kept).filter(|(_, kept)| !kept);
    let set_aside_windows = set_aside.fold(0.0, |sum, (part, _)| sum + windows(part));
    let seconds = WINDOW_S * (windows(points) - set_aside_windows);
    let by_noise = 2.0 * (variance / all.sxx).sqrt();
    Some(Fit {
        slope: all.slope,
        uncertainty: by_noise.hypot(scatter).hypot(PATH_CHANGE_S / seconds),
        set_aside_windows,
    })
}

/// `COUNT` parts of as nearly as possible the same number of points.
fn cut<const COUNT: usize>(points: &[Point]) -> [&[Point]; COUNT] {
    std::array::from_fn(|part| {
        let place = |part: usize| part * points.len() / COUNT;
        &points[place(part)..place(part + 1)]
    })
}

/// The chosen parts, neighbours in one run: what was set aside parts the offsets of what lies before and after.
fn runs<'a>(
    parts: &'a [&'a [Point]; PARTS],
    chosen: [bool; PARTS],
) -> impl Iterator<Item = (bool, &'a Point)> {
    parts.iter().zip(chosen).flat_map(move |(part, chosen)| {
        let chosen_points = part.iter().filter(move |_| chosen);
        let gap = part.first().filter(|_| !chosen);
        gap.into_iter()
            .map(|point| (false, point))
            .chain(chosen_points.map(|point| (true, point)))
    })
}

/// One slope through the points, and for each stretch an offset of its own; `None` where no stretch has two points. A
/// pair with `false` only parts what lies before and after.
fn line<'a>(points: impl Iterator<Item = (bool, &'a Point)>) -> Option<Line> {
    let mut leads = Slope::default();
    let mut stretch = None;
    for (counts, point) in points {
        if !counts || stretch != Some(point.stretch) {
            leads.break_here();
        }
        stretch = counts.then_some(point.stretch);
        if counts {
            leads.push(point.time_s, point.lead_s);
        }
    }
    let sxx = leads.spread();
    leads.slope().map(|slope| Line { slope, sxx })
}

/// A slope, and what its variance is: that of a point / `sxx`.
#[derive(Clone, Copy, Debug)]
struct Line {
    slope: f64,
    sxx: f64,
}

fn line_of(part: &[Point]) -> Option<Line> {
    line(part.iter().map(|point| (true, point)))
}

/// Variance of the points about the lines of their own parts.
fn variance_within(parts: &[&[Point]; PARTS]) -> f64 {
    let (mut squares, mut freedom) = (0.0, 0.0);
    for part in parts {
        let slope = line_of(part).map_or(0.0, |line| line.slope);
        for stretch in stretches(part) {
            let levels = stretch.iter().map(|p| p.lead_s - slope * p.time_s);
            let count = stretch.len() as f64;
            let mean = levels.clone().sum::<f64>() / count;
            squares += levels.map(|level| (level - mean).powi(2)).sum::<f64>();
            freedom += count - 1.0;
        }
        freedom -= 1.0;
    }
    squares / f64::max(freedom, 1.0)
}

/// Which parts are kept.
fn kept(parts: &[&[Point]; PARTS], variance: f64) -> [bool; PARTS] {
    let lines = parts.map(line_of);
    let mut kept = lines.map(|line| line.is_some());
    let mut slopes: Vec<f64> = lines.iter().flatten().map(|line| line.slope).collect();
    let Some(middle) = median(&mut slopes) else {
        return kept;
    };
    let mut off: Vec<f64> = slopes.iter().map(|slope| (slope - middle).abs()).collect();
    // 1.4826: standard deviation of a normal distribution by its median absolute deviation.
    let usual = 1.4826 * median(&mut off).unwrap_or(0.0);
    let mut apart: Vec<(usize, f64)> = lines
        .iter()
        .enumerate()
        .filter_map(|(part, line)| {
            let line = line.as_ref()?;
            let sigma = (variance / line.sxx).sqrt().max(usual);
            let off = (line.slope - middle).abs();
            (off > APART * sigma).then_some((part, off))
        })
        .collect();
    apart.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (part, _) in apart.into_iter().take(MOST_SET_ASIDE) {
        kept[part] = false;
    }
    kept
}

/// The middle value (the upper of two); sorts.
fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Scatter between slopes beyond what their own noise (variance beside each) explains, expanded; `None` for fewer than
/// two.
fn excess(slopes: &[(f64, f64)]) -> Option<f64> {
    let count = slopes.len() as f64;
    let student = STUDENT.get(slopes.len().checked_sub(2)?)?;
    let mean = slopes.iter().map(|(slope, _)| slope).sum::<f64>() / count;
    let squares: f64 = slopes.iter().map(|(slope, _)| (slope - mean).powi(2)).sum();
    let explained = slopes.iter().map(|(_, variance)| variance).sum::<f64>() / count;
    Some(student * (squares / (count - 1.0) - explained).max(0.0).sqrt())
}
