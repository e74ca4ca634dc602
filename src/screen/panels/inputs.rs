//! What to listen to: a sound input, a recording, or a virtual deck to practise on.

use super::{heading, hint};
use crate::screen::{
    inputs::{InputChoice, InputEntry, InputList},
    theme::Palette,
};
use eframe::egui::{Button, Key, Label, RichText, TextEdit, Ui};
use std::path::PathBuf;

/// What is typed into the panel.
#[derive(Clone, Debug, Default)]
pub struct InputForm {
    /// Path of a recording.
    pub path: String,
    /// Channels of a sound input, counted from 1, as typed: `3,4`; empty: the first two.
    pub channels: String,
    /// Why the form cannot be used.
    pub problem: Option<String>,
}

/// What was asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Asked {
    /// Open this.
    Open(InputChoice),
    /// List the inputs again.
    List,
}

/// From this width on the three kinds of input stand side by side, points.
const WIDE: f32 = 860.0;

/// What there is to choose from, and what is known about it.
pub struct InputPanel<'a> {
    /// What is typed in.
    pub form: &'a mut InputForm,
    /// The inputs, once they are listed.
    pub list: Option<&'a InputList>,
    /// Whether they are being listed.
    pub listing: bool,
    /// Whether the panel was just opened; the first entry gets the focus then.
    pub opened: bool,
}

impl InputPanel<'_> {
    /// Shows the panel, or the page where there is room; returns what was asked for.
    pub fn show(&mut self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        if ui.available_width() >= WIDE {
            ui.spacing_mut().item_spacing.x = 28.0;
            ui.columns(3, |columns| {
                for (column, ui) in columns.iter_mut().enumerate() {
                    ui.spacing_mut().item_spacing.x = 8.0;
                    let kind = ui.vertical(|ui| self.kind(ui, column));
                    asked = kind.inner.or(asked.take());
                }
            });
        } else {
            for kind in 0..3 {
                asked = self.kind(ui, kind).or(asked);
                ui.add_space(10.0);
            }
        }
        if let Some(problem) = &self.form.problem {
            ui.add_space(6.0);
            warning(ui, problem);
        }
        if matches!(asked, Some(Asked::Open(_))) {
            self.form.problem = None;
        }
        asked
    }

    fn kind(&mut self, ui: &mut Ui, kind: usize) -> Option<Asked> {
        match kind {
            0 => self.sound_cards(ui),
            1 => recording(ui, self.form),
            _ => self.virtual_decks(ui),
        }
    }

    fn sound_cards(&mut self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        heading(ui, "Sound input");
        hint(
            ui,
            "The deck's line output, never its loudspeaker terminals; turn off every sound enhancement of the system.",
        );
        let cards = self.list.map_or(&[][..], |list| &list.sound_cards);
        for card in cards {
            if entry(ui, card, std::mem::take(&mut self.opened)) {
                asked = sound_card(self.form, card);
            }
        }
        if self.listing {
            hint(ui, "looking for sound inputs …");
        } else if self.list.is_some() && cards.is_empty() {
            hint(ui, "No sound input was found.");
        }
        if let Some(problem) = self.list.and_then(|list| list.problem.as_deref()) {
            warning(ui, problem);
        }
        if !cards.is_empty() {
            let label = ui.label("Channels (empty: the first two)");
            ui.add(
                TextEdit::singleline(&mut self.form.channels)
                    .hint_text("1,2")
                    .desired_width(120.0),
            )
            .labelled_by(label.id);
        }
        let again = ui.add_enabled(!self.listing, Button::new("Look again"));
        if again.clicked() {
            asked = Some(Asked::List);
        }
        asked
    }

    fn virtual_decks(&mut self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Virtual deck");
        hint(
            ui,
            "To practise on: a simulated deck with its faults, and screwdrivers to put them right.",
        );
        let mut asked = None;
        for deck in self.list.map_or(&[][..], |list| &list.virtual_decks) {
            if entry(ui, deck, std::mem::take(&mut self.opened)) {
                asked = Some(Asked::Open(InputChoice::VirtualDeck(deck.id.clone())));
            }
        }
        asked
    }
}

fn recording(ui: &mut Ui, form: &mut InputForm) -> Option<Asked> {
    heading(ui, "Recording");
    hint(
        ui,
        "WAV or FLAC; played in real time. A file may also be dropped on the window.",
    );
    let label = ui.label("Path of the file");
    let field = ui
        .add(TextEdit::singleline(&mut form.path).desired_width(f32::INFINITY))
        .labelled_by(label.id);
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    let clicked = ui.button("Open the recording").clicked();
    if !(entered || clicked) {
        return None;
    }
    let path = form.path.trim();
    if path.is_empty() {
        form.problem = Some("recording: type the path of a WAV or FLAC file".into());
        return None;
    }
    let choice = InputChoice::Recording(PathBuf::from(path));
    Some(Asked::Open(choice))
}

fn sound_card(form: &mut InputForm, card: &InputEntry) -> Option<Asked> {
    match channels(&form.channels) {
        Ok(channels) => Some(Asked::Open(InputChoice::SoundCard {
            id: card.id.clone(),
            channels,
            rate_hz: None,
        })),
        Err(problem) => {
            form.problem = Some(problem);
            None
        }
    }
}

/// One or two channels, counted from 1.
fn channels(text: &str) -> Result<Vec<u16>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(Vec::new());
    }
    let refused = || format!("channels: '{text}' is not one or two numbers from 1, like 3,4");
    let channels: Vec<u16> = text
        .split([',', ' '])
        .filter(|part| !part.is_empty())
        .map(|part| part.parse().map_err(|_| refused()))
        .collect::<Result<_, _>>()?;
    let repeated = channels.len() == 2 && channels[0] == channels[1];
    if channels.is_empty() || channels.len() > 2 || channels.contains(&0) || repeated {
        return Err(refused());
    }
    Ok(channels)
}

fn entry(ui: &mut Ui, entry: &InputEntry, focus: bool) -> bool {
    let response = ui.add(
        Button::new(&entry.title)
            .wrap()
            .min_size(eframe::egui::vec2(ui.available_width().min(460.0), 0.0)),
    );
    if focus {
        response.request_focus();
    }
    if !entry.detail.is_empty() {
        hint(ui, &entry.detail);
    }
    response.clicked()
}

fn warning(ui: &mut Ui, text: &str) {
    let text = RichText::new(text).color(Palette::of(ui).bad);
    ui.add(Label::new(text).wrap());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_are_one_or_two_different_numbers() {
        assert_eq!(channels(" "), Ok(vec![]));
        assert_eq!(channels("3,4"), Ok(vec![3, 4]));
        assert_eq!(channels("2 , 1"), Ok(vec![2, 1]));
        assert_eq!(channels("5"), Ok(vec![5]));
        for wrong in ["0", "1,1", "1,2,3", "left", ",", "-1"] {
            assert!(channels(wrong).is_err(), "{wrong}");
        }
    }
}
