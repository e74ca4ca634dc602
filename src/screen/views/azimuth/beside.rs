//! A picture with words beside it, or below where it is narrow.

use crate::screen::{
    paint::words,
    theme::{self, Palette},
};
use eframe::egui::{Align2, Painter, Rect, Stroke, StrokeKind, pos2, vec2};

/// Room between picture and words, points.
const BETWEEN: f32 = 20.0;

/// Places of the picture, `share` of the width at most, and of the words.
pub fn split(rect: Rect, share: f32, square: bool) -> (Rect, Rect) {
    let width = rect.width() * share;
    let width = if square {
        width.min(rect.height())
    } else {
        width
    };
    let picture = Rect::from_min_size(rect.min, vec2(width, rect.height()));
    let words = Rect::from_min_max(pos2(picture.right() + BETWEEN, rect.top()), rect.max);
    (picture, words)
}

/// Ground and edge of a picture.
pub fn frame(painter: &Painter, rect: Rect, palette: &Palette) {
    painter.rect_filled(rect, 0.0, palette.panel);
    let edge = Stroke::new(1.0, palette.line);
    painter.rect_stroke(rect, 0.0, edge, StrokeKind::Inside);
}

/// A heading and lines under it, as many as there is room for.
pub fn tell(painter: &Painter, rect: Rect, heading: &str, lines: &[String], palette: &Palette) {
    let width = rect.width();
    let heading = words::lines(
        painter,
        heading,
        theme::strong(20.0),
        3,
        width,
        palette.text,
    );
    let mut y = words::put(painter, rect.min, Align2::LEFT_TOP, heading).bottom() + 8.0;
    for line in lines {
        let line = words::lines(painter, line, theme::text(16.0), 3, width, palette.quiet);
        if y + line.size().y > rect.bottom() + 1.0 {
            break;
        }
        let at = pos2(rect.left(), y);
        y = words::put(painter, at, Align2::LEFT_TOP, line).bottom() + 5.0;
    }
}
