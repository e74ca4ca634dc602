//! A row of options of which one stands: clickable, and marked by a dot as well.

use eframe::egui::{Button, Layout, Rect, RichText, Ui, UiBuilder, vec2};

/// Height of the row, points.
pub const HEIGHT: f32 = 28.0;
/// Size of its type, points.
const TYPE: f32 = 14.0;

/// Shows the options at the left of `rect`; returns the one that was pressed. `name` is heard before each.
pub fn show<'a>(
    ui: &mut Ui,
    rect: Rect,
    name: &str,
    options: impl Iterator<Item = &'a str>,
    stands: Option<usize>,
) -> Option<usize> {
    let mut pressed = None;
    row(ui, rect, |ui| {
        for (index, option) in options.enumerate() {
            if one(ui, name, option, stands == Some(index)) {
                pressed = Some(index);
            }
        }
    });
    pressed
}

/// Lays what `fill` adds in a row from the left of `rect`.
pub fn row(ui: &mut Ui, rect: Rect, fill: impl FnOnce(&mut Ui)) {
    let builder = UiBuilder::new()
        .max_rect(rect)
        .layout(Layout::left_to_right(eframe::egui::Align::Center));
    ui.scope_builder(builder, |ui| {
        ui.set_clip_rect(ui.clip_rect().intersect(rect.expand(2.0)));
        ui.spacing_mut().item_spacing.x = 5.0;
        ui.spacing_mut().button_padding = vec2(7.0, 1.0);
        ui.spacing_mut().interact_size.y = HEIGHT - 6.0;
        fill(ui);
    });
}

/// Adds one option; true when it was pressed.
pub fn one(ui: &mut Ui, name: &str, option: &str, stands: bool) -> bool {
    let mark = if stands { "• " } else { "" };
    let text = RichText::new(format!("{mark}{option}")).size(TYPE);
    let button = ui.add(Button::new(text).selected(stands));
    let heard = format!("{name}: {option}");
    ui.ctx()
        .accesskit_node_builder(button.id, |node| node.set_label(heard));
    button.clicked()
}
