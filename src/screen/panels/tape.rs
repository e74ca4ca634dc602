//! The tape in use: chosen from the supplied ones or typed in from its certificate. And what levels refer to.

use super::{heading, hint};
use crate::{
    meters::MeterSetup,
    readings::Readings,
    screen::{
        fields,
        model::{
            format, level_reference,
            tape::{self, TapeForm},
        },
        tape_shelf::TapeList,
        theme::Palette,
    },
    tables::{TapeFormat, TestTape},
};
use eframe::egui::{Align, Button, ComboBox, Label, RichText, Ui};
use std::path::Path;

/// What the panel works on.
pub struct TapePanel<'a> {
    /// What is typed in.
    pub form: &'a mut TapeForm,
    /// Why the form cannot be used.
    pub problem: &'a mut Option<Problem>,
    /// The settings in use.
    pub setup: &'a MeterSetup,
    /// The tapes there are.
    pub tapes: &'a TapeList,
    /// Where own tapes are.
    pub folder: Option<&'a Path>,
    /// The tape formats.
    pub formats: &'a [TapeFormat],
    /// What is heard now.
    pub heard: Option<&'a Readings>,
    /// Whether the panel was just opened; the first field gets the focus then.
    pub opened: bool,
}

/// Why what is typed in cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    section: Section,
    text: String,
}

/// The two halves of the panel; a problem is told in the half in which it arose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Section {
    Tape,
    Level,
}

/// Settings that were asked for, and why.
#[derive(Debug, PartialEq)]
pub enum Asked {
    /// Use this tape.
    Use(MeterSetup),
    /// Ask again which of the two usual tapes plays.
    AskAgain,
    /// Use this full scale.
    Calibrate(MeterSetup),
    /// Refer levels to the one heard now.
    Refer(MeterSetup),
    /// Refer levels to nothing any more.
    Forget(MeterSetup),
}

impl TapePanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&mut self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Tape in use");
        let mut again = false;
        if let Some(tone_hz) = self.setup.tone_hz.filter(|_| self.setup.tape_is_certain) {
            hint(
                ui,
                &format!("You answered that a {} tape plays.", format::tone(tone_hz)),
            );
            again = action(ui, "Ask me again".into());
        }
        self.choose_listed(ui);
        self.certificate(ui);
        ui.add_space(6.0);
        let opened = std::mem::take(&mut self.opened);
        let tone = fields::line(
            ui,
            "Nominal tone, Hz",
            "not stated",
            &mut self.form.tone_hz,
            Some(Align::Center),
        );
        if opened {
            tone.request_focus();
        }
        let correction = &mut self.form.correction_percent;
        let correction = fields::line(
            ui,
            "Certificate's correction, %",
            "none",
            correction,
            Some(Align::Center),
        );
        let tolerance = &mut self.form.tolerance_percent;
        let tolerance = fields::line(
            ui,
            "Certificate's tolerance, ± %",
            "not known",
            tolerance,
            Some(Align::Center),
        );
        self.choose_format(ui);
        ui.add_space(8.0);
        let clicked = ui.button("Use this tape").clicked();
        hint(
            ui,
            "Enter in a field uses it too. Without a tone the nearest of 3000 and 3150 Hz is taken, with a notice.",
        );
        let used = clicked || [tone, correction, tolerance].iter().any(fields::is_entered);
        self.problem(ui, Section::Tape);
        ui.add_space(10.0);
        let level = self.level(ui);
        if used {
            return self.accept(Section::Tape, |panel| {
                panel.form.setup(panel.setup, panel.formats).map(Asked::Use)
            });
        }
        level.or(again.then_some(Asked::AskAgain))
    }

    /// What the chosen tape's certificate says of each of its tones.
    fn certificate(&self, ui: &mut Ui) {
        ui.scope(|ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            for tone in &self.form.tones {
                let line = format!(
                    "{}: {}",
                    format::tone(tone.nominal_hz),
                    tape::certificate(tone)
                );
                hint(ui, &line);
            }
            let chosen = self.tapes.all().find(|tape| self.form.is_of(tape));
            if let Some(equalisation) = chosen.and_then(|tape| tape.equalisation) {
                let bass = equalisation
                    .bass_us
                    .map_or_else(String::new, |bass_us| format!(" and {bass_us}"));
                let line = format!("replay equalisation: {}{bass} µs", equalisation.treble_us);
                hint(ui, &line);
            }
        });
    }

    /// What turns dBFS into volts, and into dB to the fluxivity of a level tape.
    fn level(&mut self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Level");
        let volts = &mut self.form.full_scale_volts_rms;
        let volts = fields::line(
            ui,
            "Full scale of the interface, V rms",
            "not calibrated",
            volts,
            Some(Align::Center),
        );
        hint(
            ui,
            "The sine at its input that just reaches 0 dBFS. Enter uses it: levels are then given in dBV and dBu too.",
        );
        let fluxivity = &mut self.form.fluxivity_nwb_per_m;
        let fluxivity = fields::line(
            ui,
            "Level tape's fluxivity, nWb/m",
            "as on its label",
            fluxivity,
            Some(Align::Center),
        );
        let refer = format!(
            "Use this level as the reference of {} nWb/m",
            match self.form.fluxivity_nwb_per_m.trim() {
                "" => "…",
                typed => typed,
            }
        );
        let clicked = action(ui, refer);
        self.problem(ui, Section::Level);
        let mut asked = None;
        match &self.setup.level_reference {
            Some(reference) => {
                let words = level_reference::in_words(reference);
                hint(ui, &format!("Reference: {words}."));
                if action(ui, "Forget the reference".into()) {
                    let mut setup = self.setup.clone();
                    setup.level_reference = None;
                    asked = Some(Asked::Forget(setup));
                }
            }
            None => hint(
                ui,
                "No reference yet: play the level tape, then press this.",
            ),
        }
        if fields::is_entered(&volts) {
            return self.accept(Section::Level, |panel| {
                panel
                    .form
                    .setup(panel.setup, panel.formats)
                    .map(Asked::Calibrate)
            });
        }
        if clicked || fields::is_entered(&fluxivity) {
            let heard = self.heard;
            return self.accept(Section::Level, |panel| {
                let referred = panel.form.referred(panel.setup, panel.formats, heard);
                referred.map(Asked::Refer)
            });
        }
        asked
    }

    fn accept(
        &mut self,
        section: Section,
        asked: impl FnOnce(&Self) -> Result<Asked, String>,
    ) -> Option<Asked> {
        let result = asked(self);
        let problem = result.as_ref().err().cloned();
        *self.problem = problem.map(|text| Problem { section, text });
        result.ok()
    }

    fn problem(&self, ui: &mut Ui, section: Section) {
        if let Some(problem) = self.problem.as_ref().filter(|it| it.section == section) {
            let text = RichText::new(&problem.text).color(Palette::of(ui).bad);
            ui.add(Label::new(text).wrap());
        }
    }

    fn choose_listed(&mut self, ui: &mut Ui) {
        let label = ui.label("Take from a listed tape");
        let width = ui.available_width();
        let mut taken = None;
        let tapes = self.tapes;
        let box_ = ComboBox::from_id_salt("listed tapes")
            .width(width)
            .selected_text("choose …")
            .show_ui(ui, |ui| {
                for (name, tapes) in [
                    ("Your own", &tapes.own),
                    ("Come with the program", &tapes.supplied),
                ] {
                    if !tapes.is_empty() {
                        hint(ui, name);
                    }
                    for tape in tapes {
                        if ui.selectable_label(false, &tape.title).clicked() {
                            taken = Some(tape);
                        }
                    }
                }
            });
        box_.response.labelled_by(label.id);
        if let Some(tape) = taken {
            self.take(tape);
        }
        if let Some(problem) = &tapes.problem {
            let text = RichText::new(problem).color(Palette::of(ui).bad);
            ui.add(Label::new(text).wrap());
        }
        if let Some(folder) = self.folder.filter(|_| tapes.own.is_empty()) {
            hint(
                ui,
                &format!("Own tapes with their certificates: {}", folder.display()),
            );
        }
    }

    fn take(&mut self, tape: &TestTape) {
        self.form.take(tape, self.formats);
        *self.problem = None;
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

/// A button that comes into sight when Tab reaches it; true when it is pressed.
fn action(ui: &mut Ui, name: String) -> bool {
    let button = ui.add(Button::new(name).wrap());
    fields::bring_into_sight(&button, Some(Align::Center));
    button.clicked()
}

fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
