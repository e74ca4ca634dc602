//! The first steps, where nothing is remembered: which one is in hand, and what a choice does.

use super::ScreenApp;
use crate::{
    meters::MeterSetup,
    screen::{
        inputs::InputChoice,
        memory::Remembered,
        model::{level_check, tape},
        session::Session,
        strips::lead::{self, Asked, Step},
    },
    tables::TestTape,
};
use eframe::egui::{self, Ui};

/// The way through the first steps.
pub(super) struct Walk {
    step: Step,
    /// Whether the step has just begun.
    begun: bool,
}

impl Walk {
    /// From the first step on; `None` where the window has been used before, or is told what to open.
    pub(super) fn of(remembered: &Remembered, start: Option<&InputChoice>) -> Option<Self> {
        let is_new = remembered.input.is_none()
            && remembered.tape.is_none()
            && remembered.tape_format.is_none()
            && !remembered.was_led;
        (is_new && start.is_none()).then_some(Self {
            step: Step::Input,
            // The list of inputs takes the focus itself.
            begun: false,
        })
    }
}

impl ScreenApp {
    /// The strip above the main view.
    pub(super) fn show_lead(&mut self, ui: &mut Ui) {
        let Some(walk) = &self.lead else {
            return;
        };
        let live = self.session.as_ref().and_then(Session::live);
        let (choices, stands) = match walk.step {
            Step::Input | Step::Level => (Vec::new(), None),
            Step::Format => (
                self.formats.iter().map(|format| &*format.title).collect(),
                self.formats
                    .iter()
                    .position(|format| *format == self.setup.tape_format),
            ),
            Step::Tape => {
                let mut titles: Vec<&str> = self.tapes.all().map(|tape| &*tape.title).collect();
                let chosen = tape::chosen(&self.setup, &self.tapes);
                let stands = self.tapes.all().position(|tape| Some(tape) == chosen);
                titles.push("No test tape");
                (titles, stands)
            }
        };
        let mut strip = lead::Lead {
            step: walk.step,
            choices,
            stands,
            level: level_check::check(live.map(|live| &**live)),
            begun: walk.begun,
        };
        let asked = lead::show(ui, &mut strip);
        let begun = strip.begun;
        if let Some(walk) = &mut self.lead {
            walk.begun = begun;
        }
        if let Some(asked) = asked {
            self.follow_lead(&ui.ctx().clone(), asked);
        }
    }

    fn follow_lead(&mut self, ctx: &egui::Context, asked: Asked) {
        let Some(step) = self.lead.as_ref().map(|walk| walk.step) else {
            return;
        };
        match (asked, step) {
            (Asked::Choose(index), Step::Format) => {
                if let Some(format) = self.formats.get(index) {
                    let mut setup = self.setup.clone();
                    setup.tape_format = format.clone();
                    self.use_setup(setup);
                    self.remembered.tape_format = Some(format.name.clone());
                    self.keep(ctx);
                }
                self.begin_step(ctx, step.next());
            }
            (Asked::Choose(index), Step::Tape) => {
                let tape = self.tapes.all().nth(index).cloned();
                let setup = self.with_tape_or_none(tape.as_ref());
                self.use_setup(setup);
                self.keep_tape(ctx);
                self.begin_step(ctx, step.next());
            }
            (Asked::SkipAll, _) => self.begin_step(ctx, None),
            _ => self.begin_step(ctx, step.next()),
        }
    }

    /// The settings with a tape of the list, or with no tape.
    fn with_tape_or_none(&self, tape: Option<&TestTape>) -> MeterSetup {
        let setup = MeterSetup {
            tape_is_certain: false,
            ..self.setup.clone()
        };
        match tape {
            Some(tape) => {
                let its_format = |format: &&crate::tables::TapeFormat| {
                    tape.tape_format.as_deref() == Some(&*format.name)
                };
                let mut setup = setup.with_tape(tape);
                if let Some(format) = self.formats.iter().find(its_format) {
                    setup.tape_format = format.clone();
                }
                setup
            }
            None => MeterSetup {
                tone_hz: None,
                tone_correction_percent: 0.0,
                tone_tolerance_percent: None,
                tape_tones: Vec::new(),
                ..setup
            },
        }
    }

    /// Leaves the step in hand out, by key.
    pub(super) fn skip_step(&mut self, ctx: &egui::Context) {
        match &self.lead {
            Some(_) => self.follow_lead(ctx, Asked::Skip),
            None => self.warn(ctx, "there is no step to skip"),
        }
    }

    /// An input has opened; `brings_format` where it knows its tape format.
    pub(super) fn lead_past_input(&mut self, ctx: &egui::Context, brings_format: bool) {
        let step = self.lead.as_ref().map(|walk| walk.step);
        if step == Some(Step::Input) {
            let next = if brings_format {
                Step::Tape
            } else {
                Step::Format
            };
            self.begin_step(ctx, Some(next));
        }
    }

    /// Tape and format have been chosen elsewhere.
    pub(super) fn lead_past_tape(&mut self, ctx: &egui::Context) {
        let step = self.lead.as_ref().map(|walk| walk.step);
        if matches!(step, Some(Step::Format | Step::Tape)) {
            self.begin_step(ctx, Some(Step::Level));
        }
    }

    fn begin_step(&mut self, ctx: &egui::Context, step: Option<Step>) {
        self.lead = step.map(|step| Walk { step, begun: true });
        if self.lead.is_none() {
            self.remembered.was_led = true;
            self.keep(ctx);
            self.say(
                ctx,
                "ready. ? lists the keys, t and i change tape and input",
            );
        }
    }
}
