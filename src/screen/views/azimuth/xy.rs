//! The X–Y figure: left to the right, right upwards, each channel to its own size.

use super::beside;
use crate::{
    readings::PhaseReading,
    screen::{
        model::format,
        paint::{heard, words},
        theme::{self, Palette},
        views::View,
    },
};
use eframe::egui::{
    Align2, Id, Mesh, Painter, Rect, Stroke, Ui, Vec2, accesskit::Role, pos2, vec2,
};

/// Side of a dot, points.
const DOT: f32 = 2.5;
/// Room around the figure, points.
const MARGIN: f32 = 30.0;

/// Shows the figure in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let (picture, text) = beside::split(rect, 0.5, true);
    beside::frame(&painter, picture, palette);
    let phase = &view.readings.phase;
    paint_guides(&painter, picture, palette);
    if let Some(figure) = &phase.figure {
        let reach = 0.5 * picture.width().min(picture.height()) - MARGIN;
        let mut dots = Mesh::default();
        for [x, y] in &figure.points {
            let at = picture.center() + reach * vec2(*x, -*y);
            let dot = Rect::from_center_size(at, Vec2::splat(DOT));
            dots.add_colored_rect(dot, palette.trail);
        }
        painter.add(dots);
    }
    let heading = heading(phase);
    let lines = [
        "a line up to the right: the channels are together".to_owned(),
        "a circle: a quarter of a cycle apart".into(),
        "a line down to the right: half a cycle apart, or one channel reversed".into(),
        "whole cycles do not show in it; each channel is drawn to its own size".into(),
    ];
    beside::tell(&painter, text, &heading, &lines, palette);
    let id = Id::unique("azimuth x-y");
    heard::reading(ui, rect, id, Role::Status, "X–Y figure", &heading);
}

/// In phase and reversed, as faint diagonals with their names.
fn paint_guides(painter: &Painter, picture: Rect, palette: &Palette) {
    let inner = Rect::from_center_size(
        picture.center(),
        Vec2::splat(picture.width().min(picture.height()) - 2.0 * MARGIN),
    );
    let thin = Stroke::new(1.0, palette.line);
    painter.line_segment([inner.left_bottom(), inner.right_top()], thin);
    painter.line_segment([inner.left_top(), inner.right_bottom()], thin);
    for (name, at, align) in [
        (
            "right",
            pos2(picture.center().x, picture.top() + 2.0),
            Align2::CENTER_TOP,
        ),
        (
            "left",
            pos2(picture.right() - 3.0, picture.center().y),
            Align2::RIGHT_CENTER,
        ),
    ] {
        let name = painter.layout_no_wrap(name.into(), theme::text(14.0), palette.quiet);
        words::put(painter, at, align, name);
    }
}

fn heading(phase: &PhaseReading) -> String {
    if phase.figure.is_none() {
        return "waiting for both channels".into();
    }
    match (phase.quick_degrees.or(phase.degrees), phase.tone_hz) {
        (Some(degrees), Some(tone_hz)) => format!(
            "{}° at {}",
            format::signed(degrees, 1),
            format::tone(tone_hz.round())
        ),
        _ => "programme".into(),
    }
}
