//! The mechanism as text: the table of parts, their turns, steadiness, and what changed since as found.

use super::{
    figures::plain,
    page::{Page, columns, fit},
};
use crate::mechanism::LONGEST_SECONDS;
use crate::readings::{
    AttributionRow, Candidate, Change, Comparison, Estimate, MechanismReading, MotionLine,
    PartReading, Quantity, RowKind, Verdict,
};

/// Columns of the table's first cell.
const LABEL: usize = 31;
/// Unexplained lines listed by themselves.
const SHOWN_UNEXPLAINED: usize = 5;
/// A candidate beside the named one that is told of.
const OTHER: f64 = 0.01;

/// Writes the mechanism; nothing where no deck was named and nothing compared.
pub fn mechanism(page: &mut Page, reading: &MechanismReading) {
    let Some(deck) = &reading.mechanism else {
        if let Some(comparison) = &reading.comparison {
            compared(page, comparison);
        }
        return;
    };
    page.heading("Mechanism", deck);
    page.row(
        "read from",
        &format!(
            "the last {:.1} s; lines {:.3} Hz apart stand as two",
            reading.seconds, reading.resolution_hz
        ),
    );
    page.row(
        "rates scaled by",
        &format!("{:.4}, measured over nominal speed", reading.speed_ratio),
    );
    table(page, reading);
    unexplained(page, reading);
    for part in &reading.parts {
        part_words(page, part);
    }
    for hint in &reading.steadiness {
        page.item(&format!("{} {}", hint.suggests, hint.check));
    }
    for remark in &reading.remarks {
        page.item(&format!("Note: {remark}"));
    }
    if let Some(comparison) = &reading.comparison {
        compared(page, comparison);
    }
}

fn table(page: &mut Page, reading: &MechanismReading) {
    let with_change = reading.rows.iter().any(|row| row.change.is_some());
    let last = if with_change { "since found" } else { "" };
    page.title("  Share of the weighted reading, by part");
    page.table_line(&line([
        "part", "rate Hz", "peak %", "share", "surety", last,
    ]));
    for row in &reading.rows {
        let change = row.change.map_or_else(String::new, change_words);
        let mut label = row_label(row);
        if columns(&label) > LABEL {
            page.table_line(&label);
            label.clear();
        }
        page.table_line(&line([
            &label,
            &row.rate_hz
                .map_or_else(String::new, |rate| plain(Some(rate.value), 3)),
            &row.peak_percent
                .map_or_else(String::new, |peak| plain(Some(peak.value), 4)),
            &format!("{:.1} %", 100.0 * row.share),
            row.confidence.map_or("", |confidence| confidence.words()),
            &change,
        ]));
        for more in more_of(row) {
            page.table_line(&format!("  {more}"));
        }
    }
}

fn line(cells: [&str; 6]) -> String {
    let [label, rate, peak, share, surety, change] = cells;
    let label = fit(label, LABEL);
    format!("{label:<LABEL$}{rate:>9}{peak:>8}{share:>8} {surety:<8} {change}")
}

fn row_label(row: &AttributionRow) -> String {
    match row.kind {
        RowKind::Unexplained if row.lines == 1 => "1 unexplained line".into(),
        RowKind::Unexplained => format!("{} unexplained lines", row.lines),
        _ => row.label.clone(),
    }
}

/// What does not fit into the row: the seconds a group needs, and other parts that fit the rate.
fn more_of(row: &AttributionRow) -> Vec<String> {
    if row.kind == RowKind::Group {
        return vec![match row.seconds_to_separate {
            Some(seconds) if seconds > LONGEST_SECONDS => format!(
                "closer than the resolution: {seconds:.0} s would tell them apart, {LONGEST_SECONDS:.0} s are kept"
            ),
            Some(seconds) => {
                format!("closer than the resolution: a take of {seconds:.0} s tells them apart")
            }
            None => "the same rate by the file: not told apart by their rates".into(),
        }];
    }
    let others: Vec<String> = row
        .candidates
        .iter()
        .filter(|c| Some(&c.part) != row.part.as_ref() || Some(c.order) != row.order)
        .filter(|c| c.probability >= OTHER)
        .map(candidate_words)
        .collect();
    if others.is_empty() || row.kind != RowKind::Part {
        return Vec::new();
    }
    vec![format!("its rate also fits: {}", others.join("; "))]
}

fn candidate_words(candidate: &Candidate) -> String {
    let percent = 100.0 * candidate.probability;
    match candidate.order {
        1 => format!("{} ({percent:.0} %)", candidate.part),
        order => format!("{}, order {order} ({percent:.0} %)", candidate.part),
    }
}

/// Lines that no row stands for alone.
fn unexplained(page: &mut Page, reading: &MechanismReading) {
    let named = |line: &&MotionLine| {
        let rows = reading.rows.iter();
        rows.filter_map(|row| row.rate_hz)
            .any(|rate| (rate.value - line.rate_hz.value).abs() < 1e-9)
    };
    let grouped = reading
        .rows
        .iter()
        .any(|row| row.kind == RowKind::Group && row.lines > 1);
    let has = reading
        .rows
        .iter()
        .any(|row| row.kind == RowKind::Unexplained);
    if grouped || !has {
        return;
    }
    let lines: Vec<String> = reading
        .speed_lines
        .iter()
        .filter(|line| !named(line))
        .take(SHOWN_UNEXPLAINED)
        .map(|line| format!("{:.3} Hz {:.4} %", line.rate_hz.value, line.peak.value))
        .collect();
    if !lines.is_empty() {
        page.item(&format!("Largest unexplained: {}", lines.join("; ")));
    }
}

fn part_words(page: &mut Page, part: &PartReading) {
    let mut words = format!("{}: {}", part.part, part.words);
    if let Some(trace) = part
        .traces
        .iter()
        .find(|trace| trace.quantity == Quantity::Speed)
    {
        words = format!("{words} {} ({})", trace.words, trace.evidence);
    }
    page.item(&words);
}

fn change_words(change: Change) -> String {
    match change.change_percent {
        Some(percent)
            if change.as_left.value > 0.0 && change.verdict != Verdict::NoDifferenceShown =>
        {
            format!("{} {percent:+.0} %", change.verdict.words())
        }
        _ => verdict(change.verdict).into(),
    }
}

/// A verdict in a table: short.
fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::NoDifferenceShown => "not shown",
        other => other.words(),
    }
}

fn compared(page: &mut Page, comparison: &Comparison) {
    page.heading("Compared", "with the take as found");
    page.row(
        "seconds",
        &format!(
            "{:.1} as found, {:.1} now",
            comparison.as_found_seconds, comparison.as_left_seconds
        ),
    );
    page.row("in short", &comparison.words);
    let head = |cells: [&str; 4]| {
        let [label, found, left, verdict] = cells;
        format!("{:<28}{found:>17}{left:>17}  {verdict}", fit(label, 28))
    };
    page.table_line(&head(["figure", "as found", "now", "change"]));
    for row in &comparison.rows {
        let decimals = match row.quantity {
            Quantity::Speed => 4,
            Quantity::Phase => 3,
            _ => 4,
        };
        let size = |estimate: Estimate| match estimate.value {
            0.0 => format!("< {}", plain(Some(estimate.uncertainty), decimals)),
            value => format!(
                "{} ±{}",
                plain(Some(value), decimals),
                plain(Some(estimate.uncertainty), decimals)
            ),
        };
        page.table_line(&head([
            &row.label,
            &size(row.change.as_found),
            &size(row.change.as_left),
            &change_words(row.change),
        ]));
        if !row.remark.is_empty() {
            page.table_line(&format!("  {}", row.remark));
        }
    }
    page.item(
        "Speed in percent of each take's mean speed; ± is k = 2, from the number of independent averages. 'Not shown': \
         the difference is within what chance does.",
    );
}
