//! The list of the mechanism view: what was heard, by its share, then what was not heard of the deck's parts.

use crate::{
    readings::{AttributionRow, MechanismReading, MotionLine, PartReading, RowKind},
    screen::model::format,
};

/// Unexplained lines that are listed one by one.
const MOST_LINES: usize = 6;
/// A row has a line's rate when they differ by less than this, Hz.
const SAME_HZ: f64 = 1e-9;

/// One line of the list.
#[derive(Clone, Copy, Debug)]
pub enum Item<'a> {
    /// Something heard.
    Heard(&'a AttributionRow),
    /// One of the lines that the row of the unexplained stands for.
    Line(&'a MotionLine),
    /// A part of the deck that was not heard: a part that runs true is as good to know.
    Unheard(&'a PartReading),
}

/// What an item is known by from one reading to the next, though its place changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ItemKey {
    name: String,
    order: Option<u32>,
}

impl<'a> Item<'a> {
    /// What it is known by.
    pub fn key(&self) -> ItemKey {
        match self {
            Self::Heard(row) => ItemKey {
                name: row.part.clone().unwrap_or_else(|| row.label.clone()),
                order: row.order,
            },
            Self::Line(_) => ItemKey {
                name: self.name(),
                order: None,
            },
            Self::Unheard(part) => ItemKey {
                name: part.part.clone(),
                order: None,
            },
        }
    }

    /// The part whose turn and rates belong to it: the named one, else the most probable.
    pub fn part_name(&self) -> Option<&'a str> {
        match self {
            Self::Heard(row) => row
                .part
                .as_deref()
                .or_else(|| row.candidates.first().map(|first| first.part.as_str())),
            Self::Line(_) => None,
            Self::Unheard(part) => Some(&part.part),
        }
    }

    /// Its name with the order: `belt ×2`.
    pub fn name(&self) -> String {
        match self {
            Self::Heard(row) => match (row.kind, &row.part, row.order) {
                (RowKind::Part, Some(part), Some(order)) if order > 1 => {
                    format!("{part} ×{order}")
                }
                (RowKind::Part, Some(part), _) => part.clone(),
                (RowKind::Unexplained, ..) if row.lines == 1 => "1 unexplained line".into(),
                (RowKind::Unexplained, ..) => format!("{} unexplained lines", row.lines),
                _ => row.label.clone(),
            },
            Self::Line(line) => format!("line at {} Hz", format::plain(line.rate_hz.value, 1)),
            Self::Unheard(part) => part.part.clone(),
        }
    }

    /// How sure it is, in words.
    pub fn sureness(&self) -> String {
        match self {
            Self::Heard(row) => match (row.kind, row.seconds_to_separate) {
                (RowKind::Group, Some(seconds)) => format!("told apart in {seconds:.0} s"),
                (RowKind::Group, None) => "same rate".into(),
                _ => row
                    .confidence
                    .map_or_else(String::new, |confidence| confidence.words().into()),
            },
            Self::Line(_) => String::new(),
            Self::Unheard(_) => "not seen".into(),
        }
    }
}

/// All lines of the list.
pub fn items(reading: &MechanismReading) -> Vec<Item<'_>> {
    let is_heard = |part: &PartReading| {
        reading.rows.iter().any(|row| {
            row.part.as_deref() == Some(part.part.as_str())
                || row
                    .candidates
                    .iter()
                    .any(|candidate| candidate.part == part.part)
        })
    };
    let mut items = Vec::new();
    for row in &reading.rows {
        items.push(Item::Heard(row));
        if row.kind == RowKind::Unexplained {
            items.extend(unexplained(reading).map(Item::Line));
        }
    }
    let unheard = reading.parts.iter().filter(|part| !is_heard(part));
    items.extend(unheard.map(Item::Unheard));
    items
}

/// The largest of the lines that have no row of their own; none where a group stands for several, because it is not
/// known then which they are.
fn unexplained(reading: &MechanismReading) -> impl Iterator<Item = &MotionLine> {
    let joined = |row: &AttributionRow| row.kind == RowKind::Group && row.lines > 1;
    let most = if reading.rows.iter().any(joined) {
        0
    } else {
        MOST_LINES
    };
    let has_a_row = |line: &MotionLine| {
        let rates = reading.rows.iter().filter_map(|row| row.rate_hz);
        rates
            .into_iter()
            .any(|rate| (rate.value - line.rate_hz.value).abs() < SAME_HZ)
    };
    reading
        .speed_lines
        .iter()
        .filter(move |line| !has_a_row(line))
        .take(most)
}

/// The place in the list of the item that was chosen: itself, else another of the same name, else the first.
pub fn chosen(items: &[Item<'_>], key: Option<&ItemKey>) -> usize {
    let Some(key) = key else {
        return 0;
    };
    let is = |item: &Item<'_>| item.key() == *key;
    let is_namesake = |item: &Item<'_>| item.key().name == key.name;
    items
        .iter()
        .position(is)
        .or_else(|| items.iter().position(is_namesake))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{Candidate, Estimate};

    fn row(kind: RowKind, label: &str, part: Option<(&str, u32)>) -> AttributionRow {
        AttributionRow {
            kind,
            label: label.into(),
            part: part.map(|(part, _)| part.into()),
            order: part.map(|(_, order)| order),
            rate_hz: None,
            peak_percent: None,
            weighted_rms_percent: 0.01,
            share: 0.3,
            probability: None,
            confidence: None,
            candidates: Vec::new(),
            seconds_to_separate: None,
            lines: 1,
            change: None,
        }
    }

    fn part(name: &str) -> PartReading {
        PartReading {
            part: name.into(),
            kind: "belt".into(),
            expected_hz: 1.0,
            expected_low_hz: 0.9,
            expected_high_hz: 1.1,
            found_hz: None,
            orders: Vec::new(),
            share: 0.0,
            least_visible_percent: Some(0.002),
            words: String::new(),
            traces: Vec::new(),
        }
    }

    fn reading() -> MechanismReading {
        let mut group = row(RowKind::Group, "supply capstan and take-up capstan", None);
        group.seconds_to_separate = Some(19.6);
        group.candidates = vec![Candidate {
            part: "supply capstan".into(),
            order: 1,
            expected_hz: 6.0,
            probability: 0.5,
        }];
        MechanismReading {
            rows: vec![
                row(RowKind::Part, "belt, order 2", Some(("belt", 2))),
                group,
                row(RowKind::Part, "belt", Some(("belt", 1))),
                row(RowKind::Floor, "random floor", None),
            ],
            parts: vec![part("belt"), part("supply capstan"), part("motor")],
            ..MechanismReading::default()
        }
    }

    #[test]
    fn parts_that_were_not_heard_come_last_and_candidates_count_as_heard() {
        let reading = reading();
        let names: Vec<_> = items(&reading).iter().map(Item::name).collect();
        assert_eq!(
            names,
            [
                "belt ×2",
                "supply capstan and take-up capstan",
                "belt",
                "random floor",
                "motor"
            ]
        );
        assert_eq!(items(&reading)[1].sureness(), "told apart in 20 s");
        assert_eq!(items(&reading)[4].sureness(), "not seen");
    }

    #[test]
    fn lines_without_a_row_are_listed_after_the_row_that_counts_them() {
        let line = |rate_hz: f64| MotionLine {
            rate_hz: Estimate {
                value: rate_hz,
                uncertainty: 0.01,
            },
            ..MotionLine::default()
        };
        let mut reading = reading();
        reading.rows[0].rate_hz = Some(line(2.6).rate_hz);
        let unexplained = row(RowKind::Unexplained, "unexplained lines", None);
        reading.rows.insert(3, unexplained);
        reading.speed_lines = vec![line(31.7), line(2.6), line(8.25)];
        let names: Vec<_> = items(&reading)[3..6].iter().map(Item::name).collect();
        assert_eq!(
            names,
            ["1 unexplained line", "line at 31.7 Hz", "line at 8.2 Hz"]
        );
        reading.rows[1].lines = 2;
        let names: Vec<_> = items(&reading).iter().map(Item::name).collect();
        assert!(!names.iter().any(|name| name.starts_with("line at")));
    }

    #[test]
    fn what_was_chosen_stays_chosen_though_its_place_changes() {
        let mut reading = reading();
        let key = items(&reading)[2].key();
        reading.rows.swap(0, 2);
        assert_eq!(chosen(&items(&reading), Some(&key)), 0);
        reading.rows.remove(0);
        assert_eq!(chosen(&items(&reading), Some(&key)), 1, "its second order");
        assert_eq!(chosen(&items(&reading), None), 0);
    }
}
