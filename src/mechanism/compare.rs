//! As found against as left: what became better, what worse, and what shows no difference.
//!
//! Each figure has an uncertainty from its number of independent averages. A difference is called one when chance
//! makes it rarely enough: the weighted reading has a chance of its own, all other figures share another (Holm's
//! step-down procedure, Scand. J. Statist. 6, 1979), so that one comparison of twenty figures is as careful as one of
//! two.

use super::LONGEST_SECONDS;
use crate::readings::{
    AttributionRow, Change, Comparison, ComparisonRow, Estimate, MechanismReading, Quantity,
    RowKind, Verdict,
};

/// Chance that the weighted reading is called better (or worse) without a change.
const READING_CHANCE: f64 = 0.02;
/// The same for all other figures together.
const OTHERS_CHANCE: f64 = 0.02;
/// No take repeats better than this, as a part of the figure (one standard deviation; assumed).
const REPEATS: f64 = 0.005;
/// Unnamed lines of two takes are the same line when their rates, relative to the speed, fit this well in bins.
const SAME_BINS: f64 = 1.0;

/// Compares two readings of the same deck. Speed figures are compared in percent of each take's own mean speed.
pub fn compare(found: &MechanismReading, left: &MechanismReading) -> Comparison {
    let mut figures = readings(found, left);
    figures.extend(lines(found, left));
    judge(&mut figures);
    let rows: Vec<ComparisonRow> = figures.into_iter().map(|figure| figure.row).collect();
    Comparison {
        as_found_seconds: found.seconds,
        as_left_seconds: left.seconds,
        words: words(&rows),
        rows,
    }
}

/// The change of a table row, where the comparison has it.
pub fn change_of(row: &AttributionRow, comparison: &Comparison) -> Option<Change> {
    comparison
        .rows
        .iter()
        .find(|other| {
            other.quantity == Quantity::Speed
                && match row.kind {
                    RowKind::Part => other.part == row.part && other.order == row.order,
                    RowKind::Group | RowKind::Open => other.label == line_label(row),
                    RowKind::Unexplained | RowKind::Floor => false,
                }
        })
        .map(|other| other.change)
}

struct Figure {
    row: ComparisonRow,
    /// Difference over its standard deviation, positive = smaller than as found.
    score: f64,
    /// Compared by the ratio (rms readings) or by the difference (lines).
    main: bool,
}

fn figure(
    label: String,
    quantity: Quantity,
    as_found: Estimate,
    as_left: Estimate,
    relative: bool,
) -> Figure {
    let score = if relative {
        let spread = |e: Estimate| 0.5 * e.uncertainty / e.value.max(f64::MIN_POSITIVE);
        (as_found.value / as_left.value.max(f64::MIN_POSITIVE)).ln()
            / spread(as_found).hypot(spread(as_left)).hypot(REPEATS)
    } else {
        let spread = 0.5 * as_found.uncertainty.hypot(as_left.uncertainty);
        let repeats = REPEATS * as_found.value.max(as_left.value);
        (as_found.value - as_left.value) / spread.hypot(repeats).max(1e-12)
    };
    Figure {
        row: ComparisonRow {
            label,
            part: None,
            order: None,
            quantity,
            change: Change {
                as_found,
                as_left,
                change_percent: (as_found.value > 0.0)
                    .then(|| 100.0 * (as_left.value / as_found.value - 1.0)),
                verdict: Verdict::NoDifferenceShown,
            },
            remark: String::new(),
        },
        score: if score.is_finite() { score } else { 0.0 },
        main: false,
    }
}

fn readings(found: &MechanismReading, left: &MechanismReading) -> Vec<Figure> {
    let (a, b) = (&found.whole, &left.whole);
    let mut figures = vec![
        figure(
            "weighted rms".into(),
            Quantity::Speed,
            of_mean_speed(a.weighted_rms_percent, found),
            of_mean_speed(b.weighted_rms_percent, left),
            true,
        ),
        figure(
            "unweighted rms".into(),
            Quantity::Speed,
            of_mean_speed(a.unweighted_rms_percent, found),
            of_mean_speed(b.unweighted_rms_percent, left),
            true,
        ),
    ];
    figures[0].main = true;
    let mut optional = |label: &str, quantity, a: Option<Estimate>, b: Option<Estimate>| {
        if let (Some(a), Some(b)) = (a, b) {
            figures.push(figure(label.into(), quantity, a, b, true));
        }
    };
    optional(
        "phase steadiness, rms",
        Quantity::Phase,
        a.phase_rms_degrees,
        b.phase_rms_degrees,
    );
    for (label, quantity, side) in [
        ("level steadiness, left, rms", Quantity::LevelLeft, 0),
        ("level steadiness, right, rms", Quantity::LevelRight, 1),
    ] {
        optional(label, quantity, a.level_rms_db[side], b.level_rms_db[side]);
    }
    figures
}

/// A speed figure in percent of the reference speed as one in percent of the mean speed.
fn of_mean_speed(figure: Estimate, reading: &MechanismReading) -> Estimate {
    let ratio = reading.speed_ratio.max(0.1);
    Estimate {
        value: figure.value / ratio,
        uncertainty: figure.uncertainty / ratio,
    }
}

/// Lines of both, largest as found first; where one is missing, the size that would just have been seen there.
fn lines(found: &MechanismReading, left: &MechanismReading) -> Vec<Figure> {
    let with_line = |reading: &MechanismReading| -> Vec<AttributionRow> {
        let rows = reading.rows.iter().filter(|row| row.peak_percent.is_some());
        rows.cloned().collect()
    };
    let (before, after) = (with_line(found), with_line(left));
    let mut taken = vec![false; after.len()];
    let mut figures = Vec::new();
    for row in &before {
        let same = (0..after.len()).find(|&i| !taken[i] && is_same(row, &after[i], found, left));
        if let Some(i) = same {
            taken[i] = true;
        }
        let now = same.map(|i| &after[i]);
        figures.push(line_figure(row, Some(row), now, found, left));
    }
    for (row, _) in after.iter().zip(&taken).filter(|(_, taken)| !**taken) {
        figures.push(line_figure(row, None, Some(row), found, left));
    }
    figures
}

fn is_same(
    a: &AttributionRow,
    b: &AttributionRow,
    found: &MechanismReading,
    left: &MechanismReading,
) -> bool {
    if let (RowKind::Part, RowKind::Part) = (a.kind, b.kind) {
        return a.part == b.part && a.order == b.order;
    }
    if a.kind == RowKind::Group || b.kind == RowKind::Group {
        return a.label == b.label;
    }
    let (Some(rate_a), Some(rate_b)) = (a.rate_hz, b.rate_hz) else {
        return false;
    };
    let at_nominal = |rate: f64, reading: &MechanismReading| rate / reading.speed_ratio.max(0.1);
    let bin_hz = 1.0 / found.seconds.min(left.seconds).max(0.1);
    (at_nominal(rate_a.value, found) - at_nominal(rate_b.value, left)).abs() < SAME_BINS * bin_hz
}

fn line_figure(
    row: &AttributionRow,
    before: Option<&AttributionRow>,
    after: Option<&AttributionRow>,
    found: &MechanismReading,
    left: &MechanismReading,
) -> Figure {
    let size =
        |line: Option<&AttributionRow>, reading: &MechanismReading, other: &MechanismReading| {
            line.and_then(|line| line.peak_percent)
                .map(|peak| of_mean_speed(peak, reading))
                .unwrap_or_else(|| Estimate {
                    value: 0.0,
                    uncertainty: least_visible(row, reading, other),
                })
        };
    let mut figure = figure(
        line_label(row),
        Quantity::Speed,
        size(before, found, left),
        size(after, left, found),
        false,
    );
    figure.row.part = row.part.clone();
    figure.row.order = row.order;
    if row.kind == RowKind::Group {
        // The size of an unresolved group beats with the parts' angles.
        figure.score = 0.0;
        figure.row.remark = match row.seconds_to_separate {
            Some(seconds) if seconds > LONGEST_SECONDS => {
                "these parts beat with each other, too slowly to be told apart".into()
            }
            Some(seconds) => format!(
                "these parts beat with each other; takes of {seconds:.0} s and more tell them apart"
            ),
            None => "these parts beat with each other".into(),
        };
    } else if before.is_none() {
        figure.row.remark = "not seen as found".into();
    } else if after.is_none() {
        figure.row.remark = "not seen as left".into();
    }
    figure
}

/// What a line is called in a comparison.
fn line_label(row: &AttributionRow) -> String {
    match (row.kind, row.rate_hz) {
        (RowKind::Part | RowKind::Group, _) | (_, None) => row.label.clone(),
        (_, Some(rate)) => format!("line at {:.2} Hz", rate.value),
    }
}

/// The peak size a line would have needed to be seen at the row's rate in a reading that does not have it.
fn least_visible(
    row: &AttributionRow,
    reading: &MechanismReading,
    other: &MechanismReading,
) -> f64 {
    let rate_hz = row.rate_hz.map_or(0.0, |rate| rate.value) * reading.speed_ratio
        / other.speed_ratio.max(0.1);
    let floor = reading.spectrum(Quantity::Speed).and_then(|spectrum| {
        let bin = (rate_hz / spectrum.step_hz.max(1e-9)).round() as usize;
        spectrum.floor.get(bin).map(|floor| f64::from(*floor))
    });
    super::LEAST_VISIBLE_OVER_FLOOR * floor.unwrap_or(f64::INFINITY)
}

/// Holm's procedure in both directions.
fn judge(figures: &mut [Figure]) {
    for better in [true, false] {
        let verdict = if better {
            Verdict::Better
        } else {
            Verdict::Worse
        };
        let side = |score: f64| if better { score } else { -score };
        let mut others: Vec<usize> = Vec::new();
        for (index, figure) in figures.iter_mut().enumerate() {
            if !figure.main {
                others.push(index);
            } else if upper_tail(side(figure.score)) < READING_CHANCE {
                figure.row.change.verdict = verdict;
            }
        }
        others.sort_by(|&a, &b| side(figures[b].score).total_cmp(&side(figures[a].score)));
        for (done, &index) in others.iter().enumerate() {
            let left = (others.len() - done) as f64;
            if upper_tail(side(figures[index].score)) >= OTHERS_CHANCE / left {
                break;
            }
            figures[index].row.change.verdict = verdict;
        }
    }
}

/// Chance that a standard normal value is greater than `z`: Abramowitz & Stegun 26.2.17 (absolute error below 7.5e-8).
fn upper_tail(z: f64) -> f64 {
    if z < 0.0 {
        return 1.0 - upper_tail(-z);
    }
    let t = 1.0 / (1.0 + 0.231_641_9 * z);
    let series = [
        0.319_381_530,
        -0.356_563_782,
        1.781_477_937,
        -1.821_255_978,
        1.330_274_429,
    ];
    let polynomial = series.iter().rev().fold(0.0, |sum, c| t * (c + sum));
    super::parts::gaussian(z, 1.0) * polynomial
}

fn words(rows: &[ComparisonRow]) -> String {
    let named = |verdict: Verdict| {
        let of: Vec<&str> = rows
            .iter()
            .filter(|row| row.change.verdict == verdict)
            .map(|row| row.label.as_str())
            .collect();
        of.join("; ")
    };
    let (better, worse) = (named(Verdict::Better), named(Verdict::Worse));
    let same = rows
        .iter()
        .filter(|row| row.change.verdict == Verdict::NoDifferenceShown)
        .count();
    let rest = match same {
        0 => String::new(),
        1 => " 1 figure shows no difference.".into(),
        _ => format!(" {same} figures show no difference."),
    };
    match (better.is_empty(), worse.is_empty()) {
        (true, true) => "No difference shown.".into(),
        (false, true) => format!("Better: {better}.{rest}"),
        (true, false) => format!("Worse: {worse}.{rest}"),
        (false, false) => format!("Better: {better}. Worse: {worse}.{rest}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_is_that_of_the_normal_distribution() {
        // scipy.stats.norm.sf
        for (z, sf) in [
            (0.0, 0.5),
            (1.644_854, 0.05),
            (2.053_749, 0.02),
            (3.0, 0.001_349_898),
        ] {
            assert!((upper_tail(z) - sf).abs() < 2e-7, "{z}: {}", upper_tail(z));
            assert!((upper_tail(-z) - (1.0 - sf)).abs() < 2e-7);
        }
    }

    fn estimate(value: f64, uncertainty: f64) -> Estimate {
        Estimate { value, uncertainty }
    }

    #[test]
    fn one_of_many_figures_must_differ_by_more_than_one_alone() {
        let make = |left: f64, main: bool| {
            let mut it = figure(
                "x".into(),
                Quantity::Speed,
                estimate(1.0, 0.1),
                estimate(left, 0.1),
                false,
            );
            it.main = main;
            it
        };
        // 2.3 standard deviations of the difference.
        let left = 1.0 - 2.3 * 0.05 * 2.0_f64.sqrt();
        let mut alone = vec![make(left, true)];
        judge(&mut alone);
        assert_eq!(alone[0].row.change.verdict, Verdict::Better);
        let mut many: Vec<Figure> = (0..10)
            .map(|i| make(if i == 0 { left } else { 1.0 }, false))
            .collect();
        judge(&mut many);
        assert_eq!(many[0].row.change.verdict, Verdict::NoDifferenceShown);
        let mut worse = vec![make(2.0, false)];
        judge(&mut worse);
        assert_eq!(worse[0].row.change.verdict, Verdict::Worse);
    }
}
