//! One-line fields of the panels and pages, and what the keyboard does to them.

use eframe::egui::{Align, Key, Response, TextEdit, Ui};

/// A field as wide as there is room, with its name above and a hint while it is empty. Once it gets the focus it is
/// scrolled to, as [`bring_into_sight`] does.
pub fn line(
    ui: &mut Ui,
    name: &str,
    empty: &'static str,
    text: &mut String,
    align: Option<Align>,
) -> Response {
    let label = ui.label(name);
    let edit = TextEdit::singleline(text)
        .hint_text(empty)
        .desired_width(f32::INFINITY);
    let field = ui.add(edit).labelled_by(label.id);
    bring_into_sight(&field, align);
    field
}

/// Scrolls to what has just got the focus: to that place of the visible part, or (`None`) no farther than needed.
pub fn bring_into_sight(response: &Response, align: Option<Align>) {
    if response.gained_focus() {
        response.scroll_to_me(align);
    }
}

/// Whether Enter has just left the field.
pub fn is_entered(field: &Response) -> bool {
    field.lost_focus() && field.ctx.input(|input| input.key_pressed(Key::Enter))
}
