//! States as shapes: what a colour says is said by a form too.

use crate::screen::{
    model::{Better, State},
    theme::Palette,
};
use eframe::egui::{
    Color32, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2, epaint::PathShape, pos2, vec2,
};

/// The colour that goes with a state.
pub fn color(state: State, palette: &Palette) -> Color32 {
    match state {
        State::NotValid(_) => palette.warn,
        State::FineOnly | State::Settling => palette.moving,
        State::Out => palette.bad,
        State::In { .. } => palette.good,
    }
}

/// Which way a mark points on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To the left.
    Left,
    /// To the right.
    Right,
}

impl Way {
    /// The way in which a value moves on a scale.
    pub fn on_scale(better: Better, mirrored: bool) -> Self {
        if (better == Better::Higher) == mirrored {
            Self::Left
        } else {
            Self::Right
        }
    }

    /// −1 to the left, +1 to the right.
    pub const fn sign(self) -> f32 {
        match self {
            Self::Left => -1.0,
            Self::Right => 1.0,
        }
    }
}

/// In: a disc with a tick. Out: an arrow head that points where the value should go. Settling: a ring with three
/// dots. Fine only: a hollow diamond. No reading: a square with a bar.
pub fn state(painter: &Painter, rect: Rect, state: State, way: Option<Way>, palette: &Palette) {
    let color = color(state, palette);
    let (center, radius) = (rect.center(), rect.width().min(rect.height()) / 2.0);
    let line = (radius / 5.0).max(1.5);
    match state {
        State::In { .. } => {
            painter.circle_filled(center, radius, color);
            let tick = [vec2(-0.45, 0.05), vec2(-0.12, 0.4), vec2(0.48, -0.35)];
            let points = tick.map(|at| center + at * radius).to_vec();
            painter.line(points, Stroke::new(line * 1.3, palette.ground));
        }
        State::Out => match way {
            Some(way) => arrow_head(painter, center, radius, way, color),
            None => painter_triangle(painter, center, radius, color),
        },
        State::Settling => {
            painter.circle_stroke(center, radius - line / 2.0, Stroke::new(line, color));
            for x in [-0.45, 0.0, 0.45] {
                painter.circle_filled(center + vec2(x * radius, 0.0), radius * 0.13, color);
            }
        }
        State::FineOnly => {
            let points = diamond(center, radius - line / 2.0);
            painter.add(PathShape::closed_line(points, Stroke::new(line, color)));
        }
        State::NotValid(_) => {
            let square = Rect::from_center_size(center, Vec2::splat(radius * 1.7));
            painter.rect_stroke(square, 2.0, Stroke::new(line, color), StrokeKind::Inside);
            let half = radius * 0.4;
            painter.hline(
                center.x - half..=center.x + half,
                center.y,
                Stroke::new(line, color),
            );
        }
    }
}

/// A warning: a triangle with a bar and a dot cut out of it.
pub fn warning(painter: &Painter, rect: Rect, palette: &Palette) {
    let (center, radius) = (rect.center(), rect.width().min(rect.height()) / 2.0);
    painter_triangle(painter, center, radius, palette.warn);
    let stroke = Stroke::new((radius / 4.0).max(1.5), palette.ground);
    painter.vline(
        center.x,
        center.y - radius * 0.3..=center.y + radius * 0.25,
        stroke,
    );
    painter.circle_filled(
        center + vec2(0.0, radius * 0.55),
        stroke.width * 0.6,
        palette.ground,
    );
}

/// The corners of a diamond.
pub fn diamond(center: Pos2, radius: f32) -> Vec<Pos2> {
    vec![
        center + vec2(0.0, -radius),
        center + vec2(radius, 0.0),
        center + vec2(0.0, radius),
        center + vec2(-radius, 0.0),
    ]
}

/// A filled arrow head.
pub fn arrow_head(painter: &Painter, center: Pos2, radius: f32, way: Way, color: Color32) {
    let x = way.sign() * radius;
    let points = vec![
        pos2(center.x + x, center.y),
        pos2(center.x - x * 0.7, center.y - radius),
        pos2(center.x - x * 0.7, center.y + radius),
    ];
    painter.add(Shape::convex_polygon(points, color, Stroke::NONE));
}

fn painter_triangle(painter: &Painter, center: Pos2, radius: f32, color: Color32) {
    let points = vec![
        center + vec2(0.0, -radius),
        center + vec2(radius, radius * 0.85),
        center + vec2(-radius, radius * 0.85),
    ];
    painter.add(Shape::convex_polygon(points, color, Stroke::NONE));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mirrored_scale_turns_the_arrow_round() {
        assert_eq!(Way::on_scale(Better::Lower, false), Way::Left);
        assert_eq!(Way::on_scale(Better::Higher, false), Way::Right);
        assert_eq!(Way::on_scale(Better::Lower, true), Way::Right);
        assert_eq!(Way::on_scale(Better::Higher, true), Way::Left);
    }
}
