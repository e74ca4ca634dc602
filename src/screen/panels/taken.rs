//! The readings taken, newest first.

use super::{heading, hint, sentence};
use crate::screen::{model::format, taken::Taken, theme};
use eframe::egui::{Label, RichText, Ui};

/// Shows the panel; true when the last one is to be dropped.
pub fn show(ui: &mut Ui, taken: &[Taken]) -> bool {
    heading(ui, "Readings taken");
    if taken.is_empty() {
        hint(
            ui,
            "None yet. Space takes the reading of the adjustment in the main view.",
        );
        return false;
    }
    let undo = ui.button("Drop the last one (z)").clicked();
    ui.add_space(4.0);
    for (i, one) in taken.iter().enumerate().rev() {
        ui.separator();
        let title = format!(
            "{}  {}: {}",
            i + 1,
            one.adjustment.name(),
            one.state.words()
        );
        ui.add(Label::new(RichText::new(title).font(theme::strong(16.0))).wrap());
        sentence(ui, &one.words);
        let source = &one.readings.source;
        hint(
            ui,
            &format!(
                "{} into {}",
                format::duration(source.seconds),
                source.description.name
            ),
        );
    }
    undo
}
