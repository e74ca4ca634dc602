//! What a screen reader hears of things drawn by hand.

use eframe::egui::{
    Id, Rect, Response, Sense, Ui, WidgetInfo,
    accesskit::{Live, Role},
};

/// Gives a painted rectangle a role, a name and a value.
pub fn reading(ui: &Ui, rect: Rect, id: Id, role: Role, name: &str, value: &str) -> Response {
    let response = ui.interact(rect, id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(role, true, name));
    ui.ctx()
        .accesskit_node_builder(id, |node| node.set_value(value));
    response
}

/// As [`reading`], for a sentence that should be spoken when it changes.
pub fn announced(ui: &Ui, rect: Rect, id: Id, name: &str, value: &str) {
    reading(ui, rect, id, Role::Status, name, value);
    ui.ctx()
        .accesskit_node_builder(id, |node| node.set_live(Live::Polite));
}
