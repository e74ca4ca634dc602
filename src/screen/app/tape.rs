//! The tape's part of the screen: its panel, the question which tape plays, and what is remembered of it.

use super::ScreenApp;
use crate::{
    meters::MeterSetup,
    readings::TapeQuestion,
    screen::{
        memory::RememberedTape,
        model::{format, level_reference, tape},
        panels::tape::{Asked, TapePanel},
        session::Session,
        strips::question,
    },
};
use eframe::egui::{self, Ui};

impl ScreenApp {
    /// Takes up tape and tape format of the run before, unless the command line names them.
    pub(super) fn recall_tape(&mut self, ctx: &egui::Context, format_is_given: bool) {
        let name = self.remembered.tape_format.as_deref();
        let format = self
            .formats
            .iter()
            .find(|format| Some(&*format.name) == name);
        if let Some(format) = format.filter(|_| !format_is_given) {
            self.setup.tape_format = format.clone();
        }
        let Some(tape) = self.remembered.tape.clone() else {
            return;
        };
        if self.setup.tone_hz.is_some() {
            return;
        }
        match tape.put_into(self.setup.clone(), &self.tapes) {
            Ok(setup) => self.setup = setup,
            Err(why) => self.warn(ctx, why),
        }
    }

    /// Remembers tape and format, as they are now, for the next run.
    pub(super) fn keep_tape(&mut self, ctx: &egui::Context) {
        self.remembered.tape = Some(RememberedTape::of(&self.setup, &self.tapes));
        self.remembered.tape_format = Some(self.setup.tape_format.name.clone());
        self.keep(ctx);
    }

    /// Looks at the folder of own tapes again.
    pub(super) fn list_tapes(&mut self) {
        self.tapes = self.tape_shelf.list();
    }

    /// Uses these settings from now on.
    pub(super) fn use_setup(&mut self, setup: MeterSetup) {
        self.setup = setup;
        self.send_setup();
    }

    pub(super) fn fill_tape(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let mut panel = TapePanel {
            form: &mut self.tape_form,
            problem: &mut self.tape_problem,
            setup: &self.setup,
            tapes: &self.tapes,
            folder: self.tape_shelf.folder(),
            formats: self.formats,
            heard: self
                .session
                .as_ref()
                .and_then(Session::live)
                .map(|readings| &**readings),
            opened,
        };
        let Some(asked) = panel.show(ui) else {
            return;
        };
        let said = match asked {
            Asked::Use(setup) => {
                let tape = tape::in_words(&setup, &self.tapes);
                let said = format!("tape in use: {tape}; {}", setup.tape_format.title);
                self.type_full_scale(&setup);
                self.use_setup(setup);
                self.keep_tape(&ctx);
                self.lead_past_tape(&ctx);
                said
            }
            Asked::AskAgain => {
                self.setup.tape_is_certain = false;
                self.send_setup();
                "which tape plays is asked again where it is not clear".into()
            }
            Asked::Calibrate(setup) => {
                let full_scale = format::with_unit(setup.full_scale_volts_rms, 3, "V rms");
                self.type_full_scale(&setup);
                self.use_setup(setup);
                format!("full scale of the interface: {full_scale}")
            }
            Asked::Refer(setup) => {
                let words = setup
                    .level_reference
                    .as_ref()
                    .map(level_reference::in_words);
                self.type_full_scale(&setup);
                self.use_setup(setup);
                format!("level reference: {}", words.unwrap_or_default())
            }
            Asked::Forget(setup) => {
                self.use_setup(setup);
                "level reference: none".into()
            }
        };
        self.say(&ctx, said);
    }

    /// Notes a full scale that is another than the one in use: it was typed, and goes before the profile's.
    fn type_full_scale(&mut self, setup: &MeterSetup) {
        if setup.full_scale_volts_rms != self.setup.full_scale_volts_rms {
            self.interface.full_scale_is_typed = setup.full_scale_volts_rms.is_some();
        }
    }

    /// The question which tape plays, where it is open.
    pub(super) fn tape_question(&self) -> Option<TapeQuestion> {
        let live = self.session.as_ref().and_then(Session::live)?;
        live.tape_question.filter(|_| !self.setup.tape_is_certain)
    }

    /// Shows it with its answers.
    pub(super) fn show_question(&mut self, ui: &mut Ui) {
        let Some(asked) = self.tape_question() else {
            return;
        };
        let ctx = ui.ctx().clone();
        if let Some(tone_hz) = question::show(ui, &asked) {
            self.answer(&ctx, tone_hz);
        }
    }

    /// Answers by key: the tape it is read as, or the other one.
    pub(super) fn answer_question(&mut self, ctx: &egui::Context, as_read: bool) {
        match self.tape_question() {
            Some(asked) if as_read => self.answer(ctx, asked.taken_hz),
            Some(asked) => self.answer(ctx, asked.other_hz),
            None => self.warn(ctx, "nothing is asked at the moment"),
        }
    }

    fn answer(&mut self, ctx: &egui::Context, tone_hz: f64) {
        let mut setup = self.setup.clone();
        if setup.tone_hz != Some(tone_hz) {
            let listed = self
                .tapes
                .supplied
                .iter()
                .find(|tape| tape.tone_hz == tone_hz);
            setup = match listed {
                Some(tape) => setup.with_tape(tape),
                None => MeterSetup {
                    tone_hz: Some(tone_hz),
                    tone_correction_percent: 0.0,
                    tone_tolerance_percent: None,
                    tape_tones: Vec::new(),
                    ..setup
                },
            };
        }
        setup.tape_is_certain = true;
        self.use_setup(setup);
        self.tape_form = tape::TapeForm::of(&self.setup, self.formats);
        let said = format!(
            "a {} tape plays, by your answer; t changes it",
            format::tone(tone_hz)
        );
        self.say(ctx, said);
    }
}
