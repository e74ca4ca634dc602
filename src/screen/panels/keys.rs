//! All keys, and the two of a foot switch, which can be set.

use super::{heading, hint};
use crate::screen::{
    foot_keys::{FootAction, FootKeys},
    keys::BINDINGS,
    theme::{self, Palette},
};
use eframe::egui::{Button, Label, RichText, Ui};

/// What was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Wait for the key of this.
    Wait(FootAction),
    /// Wait no more.
    Forget,
    /// Back to the usual keys.
    Usual,
}

/// What the panel shows.
pub struct FootPanel<'a> {
    /// The keys that are set.
    pub keys: FootKeys,
    /// The action whose key is waited for.
    pub waiting: Option<FootAction>,
    /// Why the last key was refused.
    pub problem: Option<&'a str>,
}

impl FootPanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Keys");
        ui.spacing_mut().item_spacing.y = 3.0;
        ui.spacing_mut().interact_size.y = 20.0;
        let asked = self.foot_switch(ui);
        ui.separator();
        self.list(ui);
        ui.add_space(6.0);
        hint(
            ui,
            "Ctrl and + or − make everything larger or smaller. In a panel, Tab moves from field to field and the arrow \
             keys move a slider. F1 opens this list too.",
        );
        asked
    }

    fn foot_switch(&self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        for action in FootAction::ALL {
            let set = self.keys.in_words(action);
            ui.label(format!("Foot switch, {}: {set}", action.words()));
            if self.waiting == Some(action) {
                let wait = format!("press the key for {} (Esc: leave it)", action.words());
                ui.add(Label::new(RichText::new(wait).strong()).wrap());
                if let Some(problem) = self.problem {
                    let text = RichText::new(problem).color(Palette::of(ui).bad);
                    ui.add(Label::new(text).wrap());
                }
                if ui.button("Leave it").clicked() {
                    asked = Some(Asked::Forget);
                }
            } else {
                let button = ui.button("Set the key …");
                let heard = format!("Set the key for {}", action.words());
                ui.ctx()
                    .accesskit_node_builder(button.id, |node| node.set_label(heard));
                if button.clicked() {
                    asked = Some(Asked::Wait(action));
                }
            }
        }
        let changed = self.keys != FootKeys::default();
        let usual = ui.add_enabled(changed, Button::new("Back to the usual keys"));
        if usual.clicked() {
            asked = Some(Asked::Usual);
        }
        asked
    }

    fn list(&self, ui: &mut Ui) {
        let palette = Palette::of(ui);
        for binding in BINDINGS.iter().filter(|binding| !binding.long.is_empty()) {
            ui.horizontal(|ui| {
                let cap = RichText::new(format!("{:<6}", binding.cap))
                    .font(theme::strong(16.0))
                    .color(palette.text);
                ui.add(Label::new(cap));
                ui.add(Label::new(binding.long).wrap());
            });
        }
    }
}
