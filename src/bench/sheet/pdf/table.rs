//! Tables: cells wrapped in their columns, rows kept whole, the head repeated on the next page.

use super::{
    super::document::{Align, Column, Row, Table},
    SIDE,
    flow::Flow,
    placed::{Child, Element, Item, Role, Weight},
};

/// Gap between columns, points.
const GAP: f32 = 6.0;
/// Between rows, points.
const BETWEEN: f32 = 0.6;
/// Lines of one cell at most; no text of the sheet needs more.
const LINES: usize = 8;
const LINE: (u8, u8, u8) = (0xd0, 0xd0, 0xd0);
const BLACK: (u8, u8, u8) = (0x1a, 0x1a, 0x1a);

/// Sets a table.
pub fn set(flow: &mut Flow<'_>, table: &Table) {
    flow.y += flow.style.gap;
    let columns = places(flow, &table.columns);
    let leading = flow.style.table_leading;
    flow.make_room(4.0 * leading);
    let mut rows = Vec::new();
    if !table.caption.is_empty() {
        let leaf = flow.new_leaf();
        let base = flow.y + 0.78 * leading;
        let caption =
            flow.fonts
                .fitting(&table.caption, Weight::Bold, flow.style.table, flow.width());
        flow.put(Item::text(SIDE, base, flow.style.table, Weight::Bold, caption).of(leaf));
        rows.push(Element::leaf(Role::Caption, leaf));
        flow.y += leading + 1.0;
    }
    let titles: Vec<_> = table
        .columns
        .iter()
        .map(|column| column.title.clone())
        .collect();
    rows.push(line(flow, &columns, &titles, Kind::Head));
    for row in &table.rows {
        if flow.make_room(height(flow, &columns, row)) {
            rows.push(line(flow, &columns, &titles, Kind::Head));
        }
        rows.push(match row {
            Row::Group(text) => group(flow, text),
            Row::Cells(cells) => line(flow, &columns, cells, Kind::Cells),
        });
    }
    let rows = rows.into_iter().map(Child::Element).collect();
    flow.note(Element::new(Role::Table(table.caption.clone()), rows));
}

/// A column's left edge, width and alignment.
#[derive(Clone, Copy)]
struct Place {
    x: f32,
    width: f32,
    align: Align,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Head,
    Cells,
}

impl Kind {
    fn weight(self) -> Weight {
        match self {
            Self::Head => Weight::Bold,
            Self::Cells => Weight::Regular,
        }
    }
}

fn places(flow: &Flow<'_>, columns: &[Column]) -> Vec<Place> {
    let all: f32 = columns.iter().map(|column| column.share).sum();
    let room = flow.width() - GAP * columns.len().saturating_sub(1) as f32;
    let mut x = SIDE;
    columns
        .iter()
        .map(|column| {
            let width = room * column.share / all;
            let place = Place {
                x,
                width,
                align: column.align,
            };
            x += width + GAP;
            place
        })
        .collect()
}

fn wrapped(flow: &Flow<'_>, columns: &[Place], cells: &[String], kind: Kind) -> Vec<Vec<String>> {
    let size = flow.style.table;
    cells
        .iter()
        .zip(columns)
        .map(|(cell, column)| {
            let mut lines = flow.fonts.lines(cell, kind.weight(), size, column.width);
            if lines.len() > LINES {
                lines.truncate(LINES);
                if let Some(last) = lines.last_mut() {
                    last.pop();
                    last.push('…');
                }
            }
            lines
        })
        .collect()
}

fn height(flow: &Flow<'_>, columns: &[Place], row: &Row) -> f32 {
    let leading = flow.style.table_leading;
    match row {
        // A group's head does not stay alone.
        Row::Group(_) => 2.5 * leading,
        Row::Cells(cells) => {
            let lines = wrapped(flow, columns, cells, Kind::Cells);
            leading * lines.iter().map(Vec::len).max().unwrap_or(1) as f32 + BETWEEN
        }
    }
}

fn line(flow: &mut Flow<'_>, columns: &[Place], cells: &[String], kind: Kind) -> Element {
    let (size, leading) = (flow.style.table, flow.style.table_leading);
    let wrapped = wrapped(flow, columns, cells, kind);
    let lines = wrapped.iter().map(Vec::len).max().unwrap_or(1);
    let mut elements = Vec::new();
    for (at, (lines, column)) in wrapped.into_iter().zip(columns).enumerate() {
        let leaf = flow.new_leaf();
        let mut base = flow.y + 0.78 * leading;
        for text in lines {
            let x = match column.align {
                Align::Left => column.x,
                Align::Right => {
                    column.x + column.width - flow.fonts.width(&text, kind.weight(), size)
                }
            };
            if !text.is_empty() {
                flow.put(Item::text(x, base, size, kind.weight(), text).of(leaf));
            }
            base += leading;
        }
        let role = match (kind, at) {
            (Kind::Head, _) => Role::ColumnHead,
            (Kind::Cells, 0) => Role::RowHead,
            (Kind::Cells, _) => Role::Cell,
        };
        elements.push(Child::Element(Element::leaf(role, leaf)));
    }
    flow.y += leading * lines as f32;
    let colour = if kind == Kind::Head { BLACK } else { LINE };
    flow.put(Item::rule(SIDE, flow.y, flow.width(), 0.4, colour));
    flow.y += BETWEEN;
    Element::new(Role::Row, elements)
}

fn group(flow: &mut Flow<'_>, text: &str) -> Element {
    let (size, leading) = (flow.style.table, flow.style.table_leading);
    flow.y += 1.0;
    let leaf = flow.new_leaf();
    let base = flow.y + 0.78 * leading;
    let text = flow.fonts.fitting(text, Weight::Bold, size, flow.width());
    flow.put(Item::text(SIDE, base, size, Weight::Bold, text).of(leaf));
    flow.y += leading;
    Element::new(
        Role::Row,
        vec![Child::Element(Element::leaf(Role::RowHead, leaf))],
    )
}
