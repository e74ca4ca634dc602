//! All keys.

use super::{heading, hint};
use crate::screen::{
    keys::BINDINGS,
    theme::{self, Palette},
};
use eframe::egui::{Label, RichText, Ui};

/// Shows the panel.
pub fn show(ui: &mut Ui) {
    heading(ui, "Keys");
    let palette = Palette::of(ui);
    ui.spacing_mut().item_spacing.y = 3.0;
    ui.spacing_mut().interact_size.y = 20.0;
    for binding in BINDINGS.iter().filter(|binding| !binding.long.is_empty()) {
        ui.horizontal(|ui| {
            let cap = RichText::new(format!("{:<6}", binding.cap))
                .font(theme::strong(16.0))
                .color(palette.text);
            ui.add(Label::new(cap));
            ui.add(Label::new(binding.long).wrap());
        });
    }
    ui.add_space(6.0);
    hint(
        ui,
        "Ctrl and + or − make everything larger or smaller. In a panel, Tab moves from field to field and the arrow \
         keys move a slider. F1 opens this list too.",
    );
}
