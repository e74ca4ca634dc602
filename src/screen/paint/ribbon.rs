//! The trail of the last half minute as one mesh: cheap enough to be drawn anew thirty times a second.

use crate::{
    readings::Trail,
    screen::model::bins::{Bin, bins, joined},
};
use eframe::egui::{Color32, Mesh, Painter, Rect, pos2};

/// How much of a trail is shown, seconds.
pub const SPAN_S: f64 = 30.0;
/// Height (or width) of one stretch of time, points: about what the eye separates.
const STRETCH: f32 = 2.0;
/// Least thickness of the line, points.
const THICKNESS: f32 = 2.5;

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
    let stretch_s = f64::from(STRETCH / per_second);
    let mut mesh = Mesh::default();
    for bin in cut(trail, now_s, stretch_s) {
        let newer = (age_s(now_s, bin.index + 1, stretch_s) * per_second).max(0.0);
        let older = age_s(now_s, bin.index, stretch_s) * per_second;
        let (low, high) = thick(x(f64::from(bin.low)), x(f64::from(bin.high)));
        let slab = Rect::from_min_max(
            pos2(low, rect.top() + newer),
            pos2(high, rect.top() + older),
        );
        add(&mut mesh, slab.intersect(rect), color);
    }
    painter.add(mesh);
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
    let stretch_s = f64::from(STRETCH / per_second);
    let mut mesh = Mesh::default();
    for bin in cut(trail, now_s, stretch_s) {
        let newer = (age_s(now_s, bin.index + 1, stretch_s) * per_second).max(0.0);
        let older = age_s(now_s, bin.index, stretch_s) * per_second;
        let (low, high) = thick(y(f64::from(bin.low)), y(f64::from(bin.high)));
        let slab = Rect::from_min_max(
            pos2(rect.right() - older, low),
            pos2(rect.right() - newer, high),
        );
        add(&mut mesh, slab.intersect(rect), color);
    }
    painter.add(mesh);
}

fn cut(trail: &Trail, now_s: f64, stretch_s: f64) -> Vec<Bin> {
    joined(&bins(trail, now_s, SPAN_S, stretch_s))
}

fn age_s(now_s: f64, index: i64, stretch_s: f64) -> f32 {
    (now_s - index as f64 * stretch_s) as f32
}

fn thick(a: f32, b: f32) -> (f32, f32) {
    let (low, high) = (a.min(b), a.max(b));
    let missing = (THICKNESS - (high - low)).max(0.0) / 2.0;
    (low - missing, high + missing)
}

fn add(mesh: &mut Mesh, slab: Rect, color: Color32) {
    if slab.is_positive() {
        mesh.add_colored_rect(slab, color);
    }
}
