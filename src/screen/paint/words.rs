//! Text that fits its place.

use eframe::egui::{
    Align2, Color32, FontId, Galley, Painter, Pos2, Rect,
    text::{LayoutJob, TextWrapping},
};
use std::sync::Arc;

/// A font of a given size.
pub type Type = fn(f32) -> FontId;

/// One line, shrunk down to `least` points and then cut with an ellipsis so that it is no wider than `width`.
pub fn line(
    painter: &Painter,
    text: &str,
    font: Type,
    size: f32,
    least: f32,
    width: f32,
    color: Color32,
) -> Arc<Galley> {
    let natural = painter.layout_no_wrap(text.to_owned(), font(size), color);
    if natural.size().x <= width {
        return natural;
    }
    let shrunk = (size * width / natural.size().x * 0.99).max(least);
    let mut job = LayoutJob::simple_singleline(text.to_owned(), font(shrunk), color);
    job.wrap = TextWrapping::truncate_at_width(width.max(1.0));
    painter.layout_job(job)
}

/// Up to `rows` lines within `width`, the last one cut with an ellipsis.
pub fn lines(
    painter: &Painter,
    text: &str,
    font: FontId,
    rows: usize,
    width: f32,
    color: Color32,
) -> Arc<Galley> {
    let mut job = LayoutJob::simple(text.to_owned(), font, color, width.max(1.0));
    job.wrap.max_rows = rows;
    painter.layout_job(job)
}

/// Paints a galley with `align` of it at `at`; returns the rectangle it covers.
pub fn put(painter: &Painter, at: Pos2, align: Align2, galley: Arc<Galley>) -> Rect {
    let rect = align.anchor_size(at, galley.size());
    painter.galley(rect.min, galley, Color32::PLACEHOLDER);
    rect
}
