//! The trail of the last half minute: one line through the extremes of each stretch of time, cheap enough to be drawn
//! anew thirty times a second.

use crate::{
    readings::Trail,
    screen::model::bins::{bins, lines},
};
use eframe::egui::{Color32, Painter, Rect, Stroke, pos2};

/// How much of a trail is shown, seconds.
pub const SPAN_S: f64 = 30.0;
/// Height (or width) of one stretch of time, points: about what the eye separates.
const STRETCH: f32 = 2.0;
/// Thickness of the line, points.
const THICKNESS: f32 = 1.8;

/// Time runs down, the newest at the top of `rect`; `x` places a value.
pub fn down(
    painter: &Painter,
    rect: Rect,
    trail: &Trail,
    now_s: f64,
    color: Color32,
    x: impl Fn(f64) -> f32,
) {
    let per_second = rect.height() / SPAN_S as f32;
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    draw(&painter, per_second, trail, now_s, color, |value, age_s| {
        pos2(x(value), rect.top() + age_s * per_second)
    });
}

/// Time runs to the right, the newest at the right edge of `rect`; `y` places a value.
pub fn across(
    painter: &Painter,
    rect: Rect,
    trail: &Trail,
    now_s: f64,
    color: Color32,
    y: impl Fn(f64) -> f32,
) {
    let per_second = rect.width() / SPAN_S as f32;
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    draw(&painter, per_second, trail, now_s, color, |value, age_s| {
        pos2(rect.right() - age_s * per_second, y(value))
    });
}

fn draw(
    painter: &Painter,
    per_second: f32,
    trail: &Trail,
    now_s: f64,
    color: Color32,
    place: impl Fn(f64, f32) -> eframe::egui::Pos2,
) {
    let stretch_s = f64::from(STRETCH / per_second.max(1e-3));
    let cut = bins(trail, now_s, SPAN_S, stretch_s);
    for line in lines(&cut) {
        let points: Vec<_> = line
            .into_iter()
            .map(|(value, age_s)| place(f64::from(value), age_s as f32))
            .collect();
        match points.as_slice() {
            [alone] => {
                painter.circle_filled(*alone, THICKNESS / 2.0, color);
            }
            _ => {
                painter.line(points, Stroke::new(THICKNESS, color));
            }
        }
    }
}
