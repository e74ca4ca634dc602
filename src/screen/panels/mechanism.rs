//! The deck's mechanism: one that comes with the program, or one of the technician's own.

use super::{heading, hint};
use crate::{
    screen::{
        deck_shelf::{DeckChoice, DeckEntry, DeckList},
        theme::Palette,
    },
    tables::Mechanism,
};
use eframe::egui::{Button, Label, RichText, Ui};
use std::path::Path;

/// What was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Use this one.
    Use(DeckChoice),
    /// Use none: lines without names.
    None,
    /// Edit the one in use: an own file itself, of a supplied one a copy.
    Edit,
    /// Begin a new one.
    New,
}

/// What the panel shows.
pub struct MechanismPanel<'a> {
    /// What there is.
    pub list: &'a DeckList,
    /// The one in use.
    pub used: Option<&'a Mechanism>,
    /// What it was opened from, where it was chosen here.
    pub choice: Option<&'a DeckChoice>,
    /// Where own files are.
    pub folder: Option<&'a Path>,
    /// Why the last choice cannot be used.
    pub problem: Option<&'a str>,
    /// Whether the panel was just opened; the first entry gets the focus then.
    pub opened: bool,
}

impl MechanismPanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        heading(ui, "Mechanism of the deck");
        match self.used {
            Some(used) => {
                hint(ui, &format!("In use: {}. {}.", used.title, used.source));
            }
            None => hint(
                ui,
                "None is in use: lines of flutter have rates, but no names of parts.",
            ),
        }
        if let Some(problem) = self.problem {
            warning(ui, problem);
        }
        ui.add_space(4.0);
        let mut first = self.opened;
        for (name, entries) in [
            ("Comes with the program", &self.list.supplied),
            ("Your own", &self.list.own),
        ] {
            ui.label(RichText::new(name).strong());
            for entry in entries {
                if self.entry(ui, entry, std::mem::take(&mut first)) {
                    asked = Some(Asked::Use(entry.choice.clone()));
                }
            }
            if entries.is_empty() {
                hint(ui, "None yet.");
            }
            ui.add_space(4.0);
        }
        for problem in &self.list.problems {
            warning(ui, problem);
        }
        if let Some(folder) = self.folder {
            hint(ui, &format!("Own files: {}", folder.display()));
        }
        ui.separator();
        if let Some(pressed) = self.actions(ui) {
            asked = Some(pressed);
        }
        asked
    }

    fn entry(&self, ui: &mut Ui, entry: &DeckEntry, focus: bool) -> bool {
        let stands = self.choice == Some(&entry.choice);
        let mark = if stands { "• " } else { "" };
        let button = ui.add(
            Button::new(format!("{mark}{}", entry.title))
                .wrap()
                .selected(stands),
        );
        let heard = format!("mechanism {}", entry.title);
        ui.ctx()
            .accesskit_node_builder(button.id, |node| node.set_label(heard));
        if focus {
            button.request_focus();
        }
        button.clicked()
    }

    fn actions(&self, ui: &mut Ui) -> Option<Asked> {
        let own = matches!(self.choice, Some(DeckChoice::File(_)));
        let edit = if own { "Edit it" } else { "Edit a copy of it" };
        let mut asked = None;
        let used = self.used.is_some();
        for (name, enabled, what) in [
            (edit, used, Asked::Edit),
            ("Begin a new one", true, Asked::New),
            ("Use none", used, Asked::None),
        ] {
            if ui.add_enabled(enabled, Button::new(name)).clicked() {
                asked = Some(what);
            }
        }
        asked
    }
}

fn warning(ui: &mut Ui, text: &str) {
    let text = RichText::new(text).color(Palette::of(ui).bad);
    ui.add(Label::new(text).wrap());
}
