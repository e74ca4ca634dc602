//! Rows of small named figures.

use super::{heard, words};
use crate::screen::theme::{self, Palette};
use eframe::egui::{Align2, Id, Rect, Stroke, Ui, accesskit::Role, pos2, vec2};

/// Height of one row of figures, points.
pub const ROW: f32 = 54.0;
/// Narrowest useful figure, points.
const NARROWEST: f32 = 148.0;

/// A named figure.
pub struct Cell {
    /// Its name.
    pub name: &'static str,
    /// The number with its unit, or a dash.
    pub value: String,
}

/// Makes a cell.
pub fn cell(name: &'static str, value: String) -> Cell {
    Cell { name, value }
}

/// Rows that `count` figures need in `width`.
pub fn rows(count: usize, width: f32) -> usize {
    count.div_ceil(columns(count, width)).max(1)
}

fn columns(count: usize, width: f32) -> usize {
    let fitting = ((width / NARROWEST) as usize).max(1);
    let rows = count.div_ceil(fitting).max(1);
    // Rows of the same length rather than a full one and a stump.
    count.div_ceil(rows).max(1)
}

/// Shows the figures in `rect`, the first ones first; rows that do not fit are left out.
pub fn show(ui: &Ui, rect: Rect, id: Id, cells: &[Cell]) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let columns = columns(cells.len(), rect.width());
    let width = rect.width() / columns as f32;
    for (i, cell) in cells.iter().enumerate() {
        let (row, column) = (i / columns, i % columns);
        let corner = rect.min + vec2(column as f32 * width, row as f32 * ROW);
        let place = Rect::from_min_size(corner, vec2(width - 8.0, ROW - 4.0));
        if place.bottom() > rect.bottom() + 1.0 {
            break;
        }
        let edge = Stroke::new(2.0, palette.line);
        painter.vline(place.left(), place.y_range(), edge);
        let inner = place.width() - 12.0;
        let name = words::line(
            &painter,
            cell.name,
            theme::text,
            theme::LABEL,
            12.0,
            inner,
            palette.quiet,
        );
        words::put(
            &painter,
            pos2(place.left() + 9.0, place.top()),
            Align2::LEFT_TOP,
            name,
        );
        let value = words::line(
            &painter,
            &cell.value,
            theme::strong,
            theme::FIGURE,
            13.0,
            inner,
            palette.text,
        );
        let at = pos2(place.left() + 9.0, place.bottom() - 2.0);
        words::put(&painter, at, Align2::LEFT_BOTTOM, value);
        heard::reading(
            ui,
            place,
            id.with(cell.name),
            Role::Meter,
            cell.name,
            &cell.value,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_of_one_length() {
        assert_eq!((columns(8, 1260.0), rows(8, 1260.0)), (8, 1));
        assert_eq!((columns(8, 900.0), rows(8, 900.0)), (4, 2));
        assert_eq!((columns(5, 100.0), rows(5, 100.0)), (1, 5));
        assert_eq!(rows(0, 100.0), 1);
    }
}
