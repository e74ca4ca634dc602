//! The question which of the two usual tapes plays, with its two answers. It stands beside the readings and waits.

use crate::{
    readings::TapeQuestion,
    screen::{
        model::format,
        paint::{heard, marks},
        theme::Palette,
    },
};
use eframe::egui::{Button, Frame, Id, Label, Margin, Rect, Sense, Stroke, Ui, Vec2, vec2};

/// The question in a sentence.
pub fn in_words(asked: &TapeQuestion) -> String {
    format!(
        "Which tape plays? The tone is {:.0} Hz: a {} or a {} tape.",
        asked.measured_hz,
        format::tone(asked.taken_hz),
        format::tone(asked.other_hz)
    )
}

/// Shows it; returns the tone of the answer, Hz.
pub fn show(ui: &mut Ui, asked: &TapeQuestion) -> Option<f64> {
    let palette = Palette::of(ui);
    let mut answer = None;
    Frame::new()
        .fill(palette.raised)
        .stroke(Stroke::new(2.0, palette.warn))
        .inner_margin(Margin::symmetric(10, 5))
        .show(ui, |ui| {
            ui.set_min_width(ui.available_width());
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing = vec2(10.0, 4.0);
                let (place, _) = ui.allocate_exact_size(vec2(18.0, 24.0), Sense::hover());
                let mark = Rect::from_center_size(place.center(), Vec2::splat(16.0));
                marks::warning(ui.painter(), mark, palette);
                let text = in_words(asked);
                let place = ui.add(Label::new(&text).wrap()).rect;
                heard::announced(ui, place, Id::unique("tape question"), "Question", &text);
                for (tone_hz, off_percent, key) in [
                    (asked.taken_hz, asked.taken_deviation_percent, "y"),
                    (asked.other_hz, asked.other_deviation_percent, "d"),
                ] {
                    let name = format!(
                        "{}: deck {} % ({key})",
                        format::tone(tone_hz),
                        format::signed(off_percent, 2)
                    );
                    if ui.add(Button::new(name)).clicked() {
                        answer = Some(tone_hz);
                    }
                }
            });
        });
    answer
}
