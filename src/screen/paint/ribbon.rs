//! The trail of the last half minute: one line through the extremes of each stretch of time, cheap enough to be drawn
//! anew thirty times a second.

use crate::{
    readings::Trail,
    screen::model::bins::{bins, lines},
};
use eframe::egui::{Color32, Painter, Rect, Shape, Stroke, pos2};

/// How much of a trail is shown, seconds.
pub const SPAN_S: f64 = 30.0;
/// Height (or width) of one stretch of time, points: about what the eye separates.
const STRETCH: f32 = 2.0;
/// Thickness of the line, points.
const THICKNESS: f32 = 1.8;
/// Length of a dash and of the room after it, points.
const DASH: f32 = 5.0;
const GAP: f32 = 4.0;

/// How a trail is told from another beside it, not by colour alone.
#[derive(Clone, Copy, Debug)]
pub struct Pen {
    /// Its colour.
    pub color: Color32,
    /// Whether it is broken into dashes.
    pub dashed: bool,
}

impl Pen {
    /// An unbroken line.
    pub const fn solid(color: Color32) -> Self {
        Self {
            color,
            dashed: false,
        }
    }

    /// A line of dashes.
    pub const fn dashed(color: Color32) -> Self {
        Self {
            color,
            dashed: true,
        }
    }
}

/// Time runs down, the newest at the top of `rect`; `x` places a value.
pub fn down(
    painter: &Painter,
    rect: Rect,
    trail: &Trail,
    now_s: f64,
    pen: Pen,
    x: impl Fn(f64) -> f32,
) {
    let per_second = rect.height() / SPAN_S as f32;
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    draw(&painter, per_second, trail, now_s, pen, |value, age_s| {
        pos2(x(value), rect.top() + age_s * per_second)
    });
}

/// Time runs to the right, the newest at the right edge of `rect`; `y` places a value.
pub fn across(
    painter: &Painter,
    rect: Rect,
    trail: &Trail,
    now_s: f64,
    pen: Pen,
    y: impl Fn(f64) -> f32,
) {
    let per_second = rect.width() / SPAN_S as f32;
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    draw(&painter, per_second, trail, now_s, pen, |value, age_s| {
        pos2(rect.right() - age_s * per_second, y(value))
    });
}

fn draw(
    painter: &Painter,
    per_second: f32,
    trail: &Trail,
    now_s: f64,
    pen: Pen,
    place: impl Fn(f64, f32) -> eframe::egui::Pos2,
) {
    let stretch_s = f64::from(STRETCH / per_second.max(1e-3));
    let cut = bins(trail, now_s, SPAN_S, stretch_s);
    let stroke = Stroke::new(THICKNESS, pen.color);
    for line in lines(&cut) {
        let points: Vec<_> = line
            .into_iter()
            .map(|(value, age_s)| place(f64::from(value), age_s as f32))
            .collect();
        match points.as_slice() {
            [alone] => {
                painter.circle_filled(*alone, THICKNESS / 2.0, pen.color);
            }
            _ if pen.dashed => {
                painter.extend(Shape::dashed_line(&points, stroke, DASH, GAP));
            }
            _ => {
                painter.line(points, stroke);
            }
        }
    }
}
