//! A curve drawn in characters, for the course of a run.

use super::figures::signed;

/// Columns of the curve; with the labels before it and the frame, a line of 80.
const COLUMNS: usize = 64;
/// Rows of the curve.
const ROWS: usize = 9;
/// Columns of the labels.
const LABELS: usize = 11;

/// Draws points of time in seconds and value; a mark stands under each of the `marks`' times. No point, no lines.
pub fn chart(points: &[(f64, f64)], end_s: f64, marks: &[(f64, char)]) -> Vec<String> {
    let columns = columns(points, end_s);
    let Some((least, greatest)) = range(&columns) else {
        return Vec::new();
    };
    // A curve that does not move is drawn in the middle and not as noise over the whole height.
    let room = (0.05 * (greatest - least)).max(0.0005);
    let (bottom, top) = (least - room, greatest + room);
    let row_of = |value: f64| {
        let share = (top - value) / (top - bottom);
        ((share * ROWS as f64) as usize).min(ROWS - 1)
    };
    let mut grid = vec![vec![' '; COLUMNS]; ROWS];
    for (column, span) in columns.iter().enumerate() {
        if let Some((low, high)) = span {
            for row in &mut grid[row_of(*high)..=row_of(*low)] {
                row[column] = '*';
            }
        }
    }
    let mut lines: Vec<String> = grid
        .iter()
        .enumerate()
        .map(|(row, cells)| {
            let label = match row {
                0 => signed(Some(top), 3),
                row if row == ROWS - 1 => signed(Some(bottom), 3),
                row if row == ROWS / 2 => signed(Some(f64::midpoint(top, bottom)), 3),
                _ => String::new(),
            };
            let cells: String = cells.iter().collect();
            format!("{label:>LABELS$} |{cells}").trim_end().to_owned()
        })
        .collect();
    lines.push(format!("{:>LABELS$} +{}", "", "-".repeat(COLUMNS)));
    lines.extend(mark_line(marks, end_s));
    lines.push(time_line(end_s));
    lines
}

/// Least and greatest value in each column.
fn columns(points: &[(f64, f64)], end_s: f64) -> Vec<Option<(f64, f64)>> {
    let mut columns: Vec<Option<(f64, f64)>> = vec![None; COLUMNS];
    for &(at_s, value) in points.iter().filter(|(_, value)| value.is_finite()) {
        let span = &mut columns[column_of(at_s, end_s)];
        *span = Some(span.map_or((value, value), |(low, high)| {
            (low.min(value), high.max(value))
        }));
    }
    columns
}

fn column_of(at_s: f64, end_s: f64) -> usize {
    let share = if end_s > 0.0 { at_s / end_s } else { 0.0 };
    ((share.clamp(0.0, 1.0) * COLUMNS as f64) as usize).min(COLUMNS - 1)
}

fn range(columns: &[Option<(f64, f64)>]) -> Option<(f64, f64)> {
    columns
        .iter()
        .flatten()
        .copied()
        .reduce(|(least, greatest), (low, high)| (least.min(low), greatest.max(high)))
}

fn mark_line(marks: &[(f64, char)], end_s: f64) -> Option<String> {
    let mut cells = vec![' '; COLUMNS];
    for &(at_s, mark) in marks {
        cells[column_of(at_s, end_s)] = mark;
    }
    let cells: String = cells.into_iter().collect();
    let line = format!("{:>LABELS$}  {cells}", "");
    (!marks.is_empty()).then(|| line.trim_end().to_owned())
}

fn time_line(end_s: f64) -> String {
    let (unit, unit_s) = match end_s {
        ..120.0 => ("s", 1.0),
        ..7200.0 => ("min", 60.0),
        _ => ("h", 3600.0),
    };
    let end = format!("{:.1} {unit}", end_s / unit_s);
    let middle = format!("{:.1}", end_s / unit_s / 2.0);
    let (to_middle, to_end) = (COLUMNS / 2, COLUMNS / 2);
    format!("{:>LABELS$} 0{middle:>to_middle$}{end:>to_end$}", "")
}

#[cfg(test)]
mod tests {
    use super::{super::page, *};

    #[test]
    fn a_ramp_goes_from_one_corner_to_the_other_within_the_page() {
        let points: Vec<_> = (0..1000)
            .map(|i| (f64::from(i) * 10.0, f64::from(i) * 1e-3))
            .collect();
        let lines = chart(&points, 10_000.0, &[(5000.0, 'r')]);
        assert!(
            lines.iter().all(|line| page::columns(line) <= page::WIDTH),
            "{lines:#?}"
        );
        assert!(
            lines[0].ends_with('*') && lines[0].contains("+1.0"),
            "{lines:#?}"
        );
        assert!(lines[ROWS - 1].contains("|*"), "{lines:#?}");
        assert_eq!(lines[ROWS + 1].find('r'), Some(LABELS + 2 + COLUMNS / 2));
        assert!(
            lines[ROWS + 2].contains("1.4") && lines[ROWS + 2].ends_with("2.8 h"),
            "{lines:#?}"
        );
    }

    #[test]
    fn a_curve_that_does_not_move_is_one_row() {
        let points: Vec<_> = (0..100).map(|i| (f64::from(i), 0.25)).collect();
        let lines = chart(&points, 100.0, &[]);
        assert_eq!(
            lines.iter().filter(|line| line.contains('*')).count(),
            1,
            "{lines:#?}"
        );
    }

    #[test]
    fn nothing_and_what_is_no_number_draw_nothing() {
        assert!(chart(&[], 100.0, &[]).is_empty());
        assert!(chart(&[(1.0, f64::NAN)], 100.0, &[]).is_empty());
        assert!(!chart(&[(1.0, 0.0)], 0.0, &[(f64::NAN, 'x')]).is_empty());
    }
}
