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

/// Shows the panel or the page. `opened` puts the focus on the first entry.
pub fn show(
    ui: &mut Ui,
    form: &mut InputForm,
    list: Option<&InputList>,
    listing: bool,
    opened: bool,
) -> Option<Asked> {
    let mut asked = None;
    let mut focus = opened;
    heading(ui, "Sound inputs");
    hint(
        ui,
        "The deck's line output, never its loudspeaker terminals; turn off every sound enhancement of the system.",
    );
    let sound_cards = list.map_or(&[][..], |list| &list.sound_cards);
    for card in sound_cards {
        if entry(ui, card, std::mem::take(&mut focus)) {
            asked = sound_card(form, card);
        }
    }
    if listing {
        hint(ui, "looking for sound inputs …");
    } else if list.is_some() && sound_cards.is_empty() {
        hint(ui, "No sound input was found.");
    }
    if let Some(problem) = list.and_then(|list| list.problem.as_deref()) {
        warning(ui, problem);
    }
    if !sound_cards.is_empty() {
        let label = ui.label("Channels (empty: the first two)");
        ui.add(
            TextEdit::singleline(&mut form.channels)
                .hint_text("1,2")
                .desired_width(120.0),
        )
        .labelled_by(label.id);
    }
    let again = ui.add_enabled(!listing, Button::new("Look again"));
    if again.clicked() {
        asked = Some(Asked::List);
    }
    ui.add_space(10.0);
    recording(ui, form, &mut asked);
    ui.add_space(10.0);
    heading(ui, "Practise on a virtual deck");
    for deck in list.map_or(&[][..], |list| &list.virtual_decks) {
        if entry(ui, deck, std::mem::take(&mut focus)) {
            asked = Some(Asked::Open(InputChoice::VirtualDeck(deck.id.clone())));
        }
    }
    if let Some(problem) = &form.problem {
        warning(ui, problem);
    }
    if matches!(asked, Some(Asked::Open(_))) {
        form.problem = None;
    }
    asked
}

fn recording(ui: &mut Ui, form: &mut InputForm, asked: &mut Option<Asked>) {
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
        return;
    }
    let path = form.path.trim();
    if path.is_empty() {
        form.problem = Some("recording: type the path of a WAV or FLAC file".into());
    } else {
        let choice = InputChoice::Recording(PathBuf::from(path));
        *asked = Some(Asked::Open(choice));
    }
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
