//! The interface's own part of the screen: its profile is looked for, applied, measured and kept.

use super::ScreenApp;
use crate::{
    profile::{ClockFigure, InterfaceProfile, device_of, level::full_scale},
    readings::{Readings, SourceDescription},
    screen::{
        backstage::Looked,
        interface::{Found, Measuring},
        keys::Side,
        model::{
            format,
            interface::{Part, SineForm},
            tape::TapeForm,
        },
        panels::interface::{Asked, InterfacePanel},
        session::Session,
    },
};
use eframe::egui::{self, Ui};
use std::{path::PathBuf, sync::Arc, time::SystemTime};

/// Readings of a measurement that may wait for the next frame.
const WAITING: usize = 2;

impl ScreenApp {
    /// Looks for the profile of what runs, once for each device and rate, and takes what a measurement has heard.
    pub(super) fn follow_interface(&mut self, ctx: &egui::Context) {
        self.interface.listen();
        let live = self.session.as_ref().and_then(Session::live);
        let Some(description) = live.map(|live| &live.source.description) else {
            return;
        };
        if !self.interface.is_news(description) {
            return;
        }
        let description = description.clone();
        self.apply_profile();
        let Some(store) = self.interface.store.clone().filter(|_| {
            self.interface.found == Found::Looking || self.interface.profile().is_some()
        }) else {
            return;
        };
        if let Err(error) = self.backstage.look_for_profile(store, description) {
            self.warn(ctx, error.to_string());
        }
    }

    /// Takes what a look for a profile came to.
    pub(super) fn take_profile(&mut self, ctx: &egui::Context, looked: Looked) {
        if !self.interface.take(&looked.description, looked.found) {
            return;
        }
        self.apply_profile();
        if let Found::Unusable(why) = &self.interface.found {
            let why =
                format!("the interface's profile cannot be used, readings are uncorrected: {why}");
            self.warn(ctx, why);
        }
    }

    /// Another input is being opened: nothing is known of its interface yet.
    pub(super) fn forget_interface(&mut self) {
        self.interface.forget();
        self.setup = self.setup.clone().without_profile();
        self.show_full_scale();
    }

    /// Has the tape panel show the full scale in use: what stands there is used with the next tape.
    fn show_full_scale(&mut self) {
        self.tape_form.full_scale_volts_rms =
            TapeForm::of(&self.setup, self.formats).full_scale_volts_rms;
    }

    /// Reads through the profile that applies, or through none. What is the same as before is not sent: the averages
    /// would begin anew.
    fn apply_profile(&mut self) {
        let typed = self
            .setup
            .full_scale_volts_rms
            .filter(|_| self.interface.full_scale_is_typed);
        let mut setup = self.setup.clone().without_profile();
        if let Some(profile) = self.interface.profile() {
            setup = setup.with_profile(profile);
        }
        setup.full_scale_volts_rms = typed.or(setup.full_scale_volts_rms);
        if setup != self.setup {
            self.setup = setup;
            self.send_setup();
            self.show_full_scale();
        }
    }

    /// The panel.
    pub(super) fn fill_interface(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let live = self.session.as_ref().and_then(Session::live).cloned();
        let description = live.as_ref().map(|live| &live.source.description);
        let device = description.map(|description| {
            let buffer = description
                .buffer_frames
                .map_or_else(String::new, |frames| format!(", {frames} frames a block"));
            format!(
                "{} at {}{buffer}",
                device_of(description),
                format::sample_rate(description.sample_rate_hz)
            )
        });
        let mut panel = InterfacePanel {
            desk: &mut self.interface,
            setup: &self.setup,
            device: device.as_deref(),
            channels: description.map_or(0, |description| description.channels),
            clock: live.as_ref().and_then(|live| live.source.clock.as_ref()),
            opened,
            now: SystemTime::now(),
        };
        if let Some(asked) = panel.show(ui) {
            self.do_for_interface(&ctx, live.as_ref(), asked);
        }
    }

    fn do_for_interface(
        &mut self,
        ctx: &egui::Context,
        live: Option<&Arc<Readings>>,
        asked: Asked,
    ) {
        match asked {
            Asked::Measure(part) => self.measure_interface(ctx, part),
            Asked::Discard => self.end_measuring(),
            Asked::ReadVolts => self.read_volts(live),
            Asked::Keep => {
                let result = self.interface.result(SystemTime::now());
                if let (Some((part, change)), Some(live)) = (result, live) {
                    let title = part.title();
                    if part == Part::Level {
                        self.interface.full_scale_is_typed = false;
                    }
                    if self.change_profile(ctx, &live.source.description, title, "kept", change) {
                        self.end_measuring();
                    }
                }
            }
            Asked::KeepClock => {
                let figure = live.and_then(|live| {
                    let clock = live.source.clock.as_ref()?;
                    Some((ClockFigure::of(clock, SystemTime::now())?, live))
                });
                if let Some((figure, live)) = figure {
                    let title = Part::Clock.title();
                    self.change_profile(ctx, &live.source.description, title, "kept", |profile| {
                        profile.clock = Some(figure);
                    });
                }
            }
            Asked::Delete(part) => {
                if let Some(live) = live {
                    let title = part.title();
                    self.change_profile(
                        ctx,
                        &live.source.description,
                        title,
                        "deleted",
                        |profile| {
                            part.delete_from(profile);
                        },
                    );
                }
            }
            Asked::Undo => {
                match self.interface.take_back() {
                    Ok(what) => self.say(ctx, format!("taken back: {what}")),
                    Err(why) => self.warn(ctx, why),
                }
                self.apply_profile();
            }
            Asked::Import(path, replace) => self.import_profile(ctx, path, replace),
            Asked::LeaveIt => {
                self.interface.import.in_the_way = None;
                self.interface.import.problem = None;
            }
        }
    }

    fn change_profile(
        &mut self,
        ctx: &egui::Context,
        description: &SourceDescription,
        title: &str,
        done: &str,
        change: impl FnOnce(&mut InterfaceProfile),
    ) -> bool {
        let what = format!("{done}: {title}");
        match self.interface.change(description, what.clone(), change) {
            Ok(()) => {
                self.apply_profile();
                self.side_opened = true;
                self.say(
                    ctx,
                    format!("{what}. It can be taken back in the panel (p)"),
                );
                true
            }
            Err(why) => {
                self.warn(ctx, why);
                false
            }
        }
    }

    fn measure_interface(&mut self, ctx: &egui::Context, part: Part) {
        self.side_opened = true;
        let Some(to) = part.listens_for() else {
            let form = match self.interface.measuring.take() {
                Some(Measuring::Volts { form, .. }) => form,
                _ => SineForm::default(),
            };
            self.interface.measuring = Some(Measuring::Volts {
                form,
                found: None,
                problem: None,
            });
            return;
        };
        let (into, told) = crossbeam_channel::bounded(WAITING);
        let begun = self
            .session
            .as_ref()
            .is_some_and(|session| session.listen(to, into));
        if !begun {
            self.warn(
                ctx,
                "the meters have ended: press i and open the input again",
            );
            return;
        }
        self.interface.measuring = Some(Measuring::Listening {
            part,
            told,
            heard: None,
            ended: false,
        });
    }

    fn end_measuring(&mut self) {
        if let Some(session) = &self.session {
            session.stop_listening();
        }
        self.interface.measuring = None;
        self.side_opened = true;
    }

    fn read_volts(&mut self, live: Option<&Arc<Readings>>) {
        let Some(Measuring::Volts {
            form,
            found,
            problem,
        }) = &mut self.interface.measuring
        else {
            return;
        };
        let read = form.sine().and_then(|sine| {
            let readings = live.ok_or("no input is open: press i")?;
            Ok((full_scale(readings, &sine)?, sine))
        });
        (*found, *problem) = match read {
            Ok(read) => (Some(read), None),
            Err(why) => (None, Some(why)),
        };
    }

    /// Takes the file of a profile in, and applies it where it is of what runs.
    pub(super) fn import_profile(&mut self, ctx: &egui::Context, path: PathBuf, replace: bool) {
        self.side = Some(Side::Interface);
        self.interface.measuring = None;
        match self.interface.take_in(path, replace) {
            Ok(name) => {
                self.interface.look_again();
                self.say(ctx, format!("profile imported as '{name}'"));
            }
            Err(why) => self.warn(ctx, why),
        }
    }
}
