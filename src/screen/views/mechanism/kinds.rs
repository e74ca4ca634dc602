//! A shape for each kind of part, so that a mark on the rate axis is found again in the list without its colour.

use crate::{
    readings::{MechanismReading, RowKind},
    screen::{model::mechanism::Item, paint::marks},
    tables::PartKind,
};
use eframe::egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, Vec2, pos2, vec2};

/// What a mark stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A part of that kind.
    Kind(PartKind),
    /// A line that fits several parts, or none.
    Open,
    /// What is no line.
    Floor,
}

impl Mark {
    /// The mark of a part, by its kind in words.
    pub fn of_words(words: &str) -> Self {
        PartKind::ALL
            .into_iter()
            .find(|kind| kind.words() == words)
            .map_or(Self::Open, Self::Kind)
    }

    /// The mark of a line of the list.
    pub fn of_item(item: &Item<'_>, reading: &MechanismReading) -> Self {
        match item {
            Item::Heard(row) if row.kind == RowKind::Floor => Self::Floor,
            Item::Heard(row) if row.kind != RowKind::Part && row.kind != RowKind::Group => {
                Self::Open
            }
            Item::Line(_) => Self::Open,
            item => reading
                .parts
                .iter()
                .find(|part| item.part_name() == Some(part.part.as_str()))
                .map_or(Self::Open, |part| Self::of_words(&part.kind)),
        }
    }

    /// Paints it; hollow where the part was not heard.
    pub fn paint(self, painter: &Painter, at: Pos2, radius: f32, color: Color32, filled: bool) {
        let line = Stroke::new((radius / 4.0).max(1.2), color);
        let fill = if filled { color } else { Color32::TRANSPARENT };
        let polygon = |points: Vec<Pos2>| {
            painter.add(Shape::convex_polygon(points, fill, line));
        };
        let triangle = |up: f32| {
            vec![
                at + vec2(0.0, -up * radius),
                at + vec2(radius, up * radius * 0.8),
                at + vec2(-radius, up * radius * 0.8),
            ]
        };
        match self {
            Self::Kind(PartKind::Capstan) => {
                painter.circle(at, radius * 0.85, fill, line);
            }
            Self::Kind(PartKind::PinchRoller) => {
                painter.circle(at, radius * 0.85, Color32::TRANSPARENT, line);
                painter.circle_filled(at, radius * if filled { 0.42 } else { 0.2 }, color);
            }
            Self::Kind(PartKind::TapeRoller) => {
                painter.circle(at, radius * 0.6, fill, line);
                painter.hline(at.x - radius..=at.x + radius, at.y + radius, line);
            }
            Self::Kind(PartKind::Motor) => {
                let square = Rect::from_center_size(at, Vec2::splat(1.6 * radius));
                polygon(vec![
                    square.left_top(),
                    square.right_top(),
                    square.right_bottom(),
                    square.left_bottom(),
                ]);
            }
            Self::Kind(PartKind::Belt) => {
                let long = Rect::from_center_size(at, vec2(2.4 * radius, 1.1 * radius));
                painter.rect(
                    long,
                    0.55 * radius,
                    fill,
                    line,
                    eframe::egui::StrokeKind::Middle,
                );
            }
            Self::Kind(PartKind::Idler | PartKind::Pulley) => {
                polygon(marks::diamond(at, radius));
            }
            Self::Kind(PartKind::TakeUpReel) => polygon(triangle(1.0)),
            Self::Kind(PartKind::SupplyReel) => polygon(triangle(-1.0)),
            Self::Kind(PartKind::Other) => {
                let arm = 0.8 * radius;
                painter.line_segment([at - vec2(arm, arm), at + vec2(arm, arm)], line);
                painter.line_segment([at + vec2(-arm, arm), at + vec2(arm, -arm)], line);
            }
            Self::Open => {
                let font = FontId::monospace(radius * 2.6);
                painter.text(at, Align2::CENTER_CENTER, "?", font, color);
            }
            Self::Floor => {
                let points = [-1.0, -0.5, 0.0, 0.5, 1.0].into_iter().enumerate();
                let wave = points.map(|(i, x)| {
                    let y = if i % 2 == 0 { 0.35 } else { -0.35 };
                    pos2(at.x + x * radius, at.y + y * radius)
                });
                painter.line(wave.collect(), line);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_known_by_its_words() {
        for kind in PartKind::ALL {
            assert_eq!(Mark::of_words(kind.words()), Mark::Kind(kind));
        }
        assert_eq!(Mark::of_words("sail"), Mark::Open);
    }
}
