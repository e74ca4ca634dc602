//! A small table: one row a subject, one column a figure.

use super::{heard, words};
use crate::screen::theme::{self, Palette};
use eframe::egui::{Align2, Id, Rect, Stroke, Ui, accesskit::Role, pos2, vec2};

/// Height of the heading, points.
pub const HEADING: f32 = 22.0;
/// Height of one row, points.
pub const ROW: f32 = 24.0;

/// One row: its name and its figures.
pub struct Row {
    /// Its name.
    pub name: String,
    /// The figures, one for each heading.
    pub figures: Vec<String>,
}

/// Height that `rows` rows need.
pub fn height(rows: usize) -> f32 {
    HEADING + ROW * rows as f32
}

/// Shows the rows that fit into `rect`. `name_share` is the part of the width that the names take.
pub fn show(ui: &Ui, rect: Rect, id: Id, name_share: f32, headings: &[&str], rows: &[Row]) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let names = rect.width() * name_share;
    let width = (rect.width() - names) / headings.len().max(1) as f32;
    for (i, heading) in headings.iter().enumerate() {
        let galley = words::line(
            &painter,
            heading,
            theme::text,
            theme::LABEL,
            12.0,
            width - 10.0,
            palette.quiet,
        );
        let at = pos2(rect.left() + names + i as f32 * width, rect.top());
        words::put(&painter, at, Align2::LEFT_TOP, galley);
    }
    for (i, row) in rows.iter().enumerate() {
        let top = rect.top() + HEADING + i as f32 * ROW;
        let place = Rect::from_min_size(pos2(rect.left(), top), vec2(rect.width(), ROW));
        if place.bottom() > rect.bottom() + 1.0 {
            break;
        }
        painter.hline(place.x_range(), top, Stroke::new(1.0, palette.line));
        let y = place.center().y;
        let name = words::line(
            &painter,
            &row.name,
            theme::text,
            17.0,
            12.0,
            names - 8.0,
            palette.text,
        );
        words::put(&painter, pos2(place.left(), y), Align2::LEFT_CENTER, name);
        for (column, figure) in row.figures.iter().enumerate() {
            let galley = words::line(
                &painter,
                figure,
                theme::strong,
                18.0,
                12.0,
                width - 10.0,
                palette.text,
            );
            let at = pos2(place.left() + names + column as f32 * width, y);
            words::put(&painter, at, Align2::LEFT_CENTER, galley);
        }
        heard::reading(
            ui,
            place,
            id.with(i),
            Role::Row,
            &row.name,
            &spoken(headings, row),
        );
    }
}

fn spoken(headings: &[&str], row: &Row) -> String {
    headings
        .iter()
        .zip(&row.figures)
        .map(|(heading, figure)| format!("{heading} {figure}"))
        .collect::<Vec<_>>()
        .join(", ")
}
