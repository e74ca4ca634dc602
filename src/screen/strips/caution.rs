//! The caution of the moment: over the view, until it is read.

use crate::screen::{
    model::cautions::Moment,
    paint::{heard, marks, words},
    theme::{self, Palette},
};
use eframe::egui::{
    Align2, Button, Id, Rect, Sense, Stroke, StrokeKind, Ui, UiBuilder, Vec2, accesskit::Role,
    pos2, vec2,
};

/// Room for the button, points.
const BUTTON: f32 = 108.0;

/// Shows it; true when it was read.
pub fn show(ui: &mut Ui, moment: Moment) -> bool {
    let palette = Palette::of(ui);
    let width = ui.available_width();
    let galley = words::lines(
        ui.painter(),
        moment.words(),
        theme::text(17.0),
        3,
        width - BUTTON - 56.0,
        palette.text,
    );
    let height = galley.size().y + 12.0;
    let (place, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let painter = ui.painter();
    painter.rect_filled(place, 3.0, palette.raised);
    let edge = Stroke::new(2.0, palette.warn);
    painter.rect_stroke(place, 3.0, edge, StrokeKind::Inside);
    let mark = Rect::from_center_size(
        pos2(place.left() + 22.0, place.center().y),
        Vec2::splat(24.0),
    );
    marks::warning(painter, mark, palette);
    let at = pos2(place.left() + 42.0, place.center().y);
    words::put(painter, at, Align2::LEFT_CENTER, galley);
    let id = Id::unique("caution");
    heard::announced(ui, place, id, "Caution", moment.words());
    let button = Rect::from_center_size(
        pos2(place.right() - BUTTON / 2.0 - 6.0, place.center().y),
        vec2(BUTTON, 30.0),
    );
    let mut beside = ui.new_child(UiBuilder::new().max_rect(button));
    let read = beside.put(button, Button::new("read it (x)"));
    let name = "caution read, not again in this job";
    ui.ctx().accesskit_node_builder(read.id, |node| {
        node.set_label(name);
        node.set_role(Role::Button);
    });
    read.clicked()
}
