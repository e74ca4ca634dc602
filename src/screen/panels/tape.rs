//! The tape in use: chosen from the supplied ones or typed in from its certificate.

use super::{heading, hint};
use crate::{
    meters::MeterSetup,
    screen::{model::tape::TapeForm, theme::Palette},
    tables::{TapeFormat, TestTape},
};
use eframe::egui::{ComboBox, Key, Label, Response, RichText, TextEdit, Ui};

/// What the panel works on.
pub struct TapePanel<'a> {
    /// What is typed in.
    pub form: &'a mut TapeForm,
    /// Why the form cannot be used.
    pub problem: &'a mut Option<String>,
    /// The settings in use.
    pub setup: &'a MeterSetup,
    /// The supplied tapes.
    pub tapes: &'a [TestTape],
    /// The tape formats.
    pub formats: &'a [TapeFormat],
    /// Whether the panel was just opened; the first field gets the focus then.
    pub opened: bool,
}

impl TapePanel<'_> {
    /// Shows the panel; returns the new settings when they are to be used.
    pub fn show(&mut self, ui: &mut Ui) -> Option<MeterSetup> {
        heading(ui, "Tape in use");
        self.choose_supplied(ui);
        ui.add_space(6.0);
        let mut entered = false;
        let opened = self.opened;
        let fields: [(&str, &str, &mut String); 3] = [
            ("Nominal tone, Hz", "not stated", &mut self.form.tone_hz),
            (
                "Certificate's correction, %",
                "none",
                &mut self.form.correction_percent,
            ),
            (
                "Certificate's tolerance, ± %",
                "not known",
                &mut self.form.tolerance_percent,
            ),
        ];
        for (index, (name, empty, text)) in fields.into_iter().enumerate() {
            let response = field(ui, name, empty, text);
            if opened && index == 0 {
                response.request_focus();
            }
            entered |= response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        }
        self.choose_format(ui);
        ui.add_space(8.0);
        let used = ui.button("Use this tape").clicked() || entered;
        hint(
            ui,
            "Enter in a field uses it too. Without a tone the nearest of 3000 and 3150 Hz is taken, with a notice.",
        );
        let setup = if used { self.accept() } else { None };
        if let Some(problem) = self.problem {
            let text = RichText::new(problem.as_str()).color(Palette::of(ui).bad);
            ui.add(Label::new(text).wrap());
        }
        setup
    }

    fn accept(&mut self) -> Option<MeterSetup> {
        match self.form.setup(self.setup, self.formats) {
            Ok(setup) => {
                *self.problem = None;
                Some(setup)
            }
            Err(problem) => {
                *self.problem = Some(problem);
                None
            }
        }
    }

    fn choose_supplied(&mut self, ui: &mut Ui) {
        let label = ui.label("Take from a supplied tape");
        let width = ui.available_width();
        let box_ = ComboBox::from_id_salt("supplied tapes")
            .width(width)
            .selected_text("choose …")
            .show_ui(ui, |ui| {
                for tape in self.tapes {
                    if ui.selectable_label(false, &tape.title).clicked() {
                        self.form.take(tape);
                        *self.problem = None;
                    }
                }
            });
        box_.response.labelled_by(label.id);
    }

    fn choose_format(&mut self, ui: &mut Ui) {
        let label = ui.label("Tape format");
        let width = ui.available_width();
        let chosen = self.formats.get(self.form.format);
        let box_ = ComboBox::from_id_salt("tape formats")
            .width(width)
            .selected_text(chosen.map_or("choose …", |format| format.title.as_str()))
            .show_ui(ui, |ui| {
                for (index, format) in self.formats.iter().enumerate() {
                    ui.selectable_value(&mut self.form.format, index, &format.title);
                }
            });
        box_.response.labelled_by(label.id);
        if let Some(format) = chosen {
            hint(
                ui,
                &format!(
                    "{} cm/s, track centres {} mm apart",
                    rounded(format.tape_speed_m_per_s * 100.0),
                    rounded(format.track_spacing_m * 1000.0)
                ),
            );
        }
    }
}

fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

fn field(ui: &mut Ui, name: &str, empty: &'static str, text: &mut String) -> Response {
    let label = ui.label(name);
    ui.add(
        TextEdit::singleline(text)
            .hint_text(empty)
            .desired_width(f32::INFINITY),
    )
    .labelled_by(label.id)
}
