//! The interface's own errors: what is known of them, how old it is, and how to measure them.

use super::{heading, hint, sentence};
use crate::{
    meters::MeterSetup,
    profile::{Heard, LevelFigure, ListenFor},
    readings::ClockReading,
    screen::{
        fields,
        interface::{Found, Import, InterfaceDesk, Measuring},
        model::{
            format,
            interface::{self as model, Part, Row},
        },
        paint::heard,
        theme::Palette,
    },
};
use eframe::egui::{
    Align, Button, Id, Label, Layout, Rect, RichText, Ui, UiBuilder, accesskit::Role, vec2,
};
use std::{path::PathBuf, time::SystemTime};

/// What was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Begin to measure this section, or begin anew.
    Measure(Part),
    /// Keep the figure of the clock that runs.
    KeepClock,
    /// Read the volts that are typed.
    ReadVolts,
    /// Keep what was measured.
    Keep,
    /// Keep nothing of it.
    Discard,
    /// Delete a section.
    Delete(Part),
    /// Take back what was done last.
    Undo,
    /// Take a file in; where true, instead of the one there.
    Import(PathBuf, bool),
    /// Leave the profile there as it is.
    LeaveIt,
}

/// What the panel shows.
pub struct InterfacePanel<'a> {
    /// The profile, and what is measured for it.
    pub desk: &'a mut InterfaceDesk,
    /// What the readings are corrected by.
    pub setup: &'a MeterSetup,
    /// Name and rate of the device, in words; `None`: no input.
    pub device: Option<&'a str>,
    /// Channels of the input.
    pub channels: u16,
    /// The clock of the input.
    pub clock: Option<&'a ClockReading>,
    /// Whether the panel was just opened, or shows another page; its first button gets the focus then.
    pub opened: bool,
    /// The time of day, for ages.
    pub now: SystemTime,
}

impl InterfacePanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&mut self, ui: &mut Ui) -> Option<Asked> {
        ui.spacing_mut().item_spacing.y = 4.0;
        match self.desk.measuring.take() {
            Some(mut measuring) => {
                let asked = self.page(ui, &mut measuring);
                self.desk.measuring = Some(measuring);
                asked
            }
            None => self.overview(ui),
        }
    }

    fn overview(&mut self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Interface");
        if let Some(device) = self.device {
            sentence(ui, device);
        }
        let words = self.applies();
        announced(ui, "profile in use", &words);
        announced(ui, "corrections", &model::corrections(self.setup));
        let mut asked = None;
        if let Some(undo) = &self.desk.undo
            && button(ui, &format!("Take back: {}", undo.what))
        {
            asked = Some(Asked::Undo);
        }
        for part in Part::ALL {
            asked = self.section(ui, part).or(asked);
        }
        ui.separator();
        asked.or_else(|| import(ui, &mut self.desk.import))
    }

    /// Which profile applies, as a sentence.
    fn applies(&self) -> String {
        match &self.desk.found {
            Found::Nothing => "No input is open: i opens one.".into(),
            Found::NoInterface => {
                "A recording or a simulated deck has no interface of its own to measure.".into()
            }
            Found::NoPlace => {
                "This computer names no data folder for you, so no profile can be kept.".into()
            }
            Found::Looking => "Looking for its profile …".into(),
            Found::None => "No profile of it yet.".into(),
            Found::Profile(name, profile) => match profile.age_in_words(self.now) {
                Some(age) => format!("Profile in use: {name}; its oldest figure: {age}."),
                None => format!("Profile in use: {name}; nothing in it is measured."),
            },
            Found::Unusable(why) => format!("Its profile cannot be used: {why}"),
        }
    }

    /// Whether there is something to measure.
    fn can_measure(&self) -> bool {
        matches!(self.desk.found, Found::None | Found::Profile(..))
    }

    fn section(&mut self, ui: &mut Ui, part: Part) -> Option<Asked> {
        ui.separator();
        let section = model::section(part, self.desk.profile(), self.now);
        let age = section.as_ref().map_or("", |section| &section.age);
        let place = title(ui, part.title(), age);
        let mut spoken = Vec::new();
        match &section {
            Some(section) => {
                rows(ui, &section.rows);
                spoken.extend(
                    section
                        .rows
                        .iter()
                        .map(|(name, words)| format!("{name} {words}")),
                );
                spoken.push(section.age.clone());
            }
            None => {
                hint(ui, part.how());
                spoken.push("not measured".into());
            }
        }
        let id = Id::unique(("interface section", part));
        let spoken = spoken.join(", ");
        heard::reading(ui, place, id, Role::Status, part.title(), &spoken);
        if part == Part::Clock && self.device.is_some() {
            rows(ui, &model::live_clock(self.clock));
            if let Some(caution) = model::clock_caution(self.clock) {
                hint(ui, caution);
            }
        }
        let mut asked = None;
        let ready = self.can_measure()
            && match part {
                Part::Clock => self.clock.is_some_and(|clock| clock.error_ppm.is_some()),
                Part::Level => true,
                _ => self.channels == 2,
            };
        ui.horizontal_wrapped(|ui| {
            let again = section.is_some() && part != Part::Clock;
            let name = if again {
                "Measure again"
            } else {
                part.action()
            };
            let measure = ui.add_enabled(ready, Button::new(name));
            if again {
                let heard = format!("Measure again: {}", part.title());
                ui.ctx()
                    .accesskit_node_builder(measure.id, |node| node.set_label(heard));
            }
            if ready && std::mem::take(&mut self.opened) {
                measure.request_focus();
            }
            fields::bring_into_sight(&measure, None);
            if measure.clicked() {
                asked = Some(if part == Part::Clock {
                    Asked::KeepClock
                } else {
                    Asked::Measure(part)
                });
            }
            if section.is_some() {
                let delete = ui.add(Button::new("Delete"));
                let name = format!("Delete: {}", part.title());
                ui.ctx()
                    .accesskit_node_builder(delete.id, |node| node.set_label(name));
                fields::bring_into_sight(&delete, None);
                if delete.clicked() {
                    asked = Some(Asked::Delete(part));
                }
            }
        });
        if self.channels == 1 && self.can_measure() && part.listens_for().is_some() {
            hint(
                ui,
                "This takes both inputs: open the input with two channels (i).",
            );
        }
        asked
    }

    /// The measurement under way, alone in the panel.
    fn page(&mut self, ui: &mut Ui, measuring: &mut Measuring) -> Option<Asked> {
        match measuring {
            Measuring::Listening {
                part, heard, ended, ..
            } => {
                let to = part.listens_for()?;
                self.listening(ui, *part, to, heard.as_ref(), *ended)
            }
            Measuring::Volts {
                form,
                found,
                problem,
            } => {
                let opened = std::mem::take(&mut self.opened);
                heading(ui, Part::Level.title());
                hint(
                    ui,
                    "A sine of at most a few volts, from a generator, into the line input. Measure it with the multimeter \
                     at the plug while it is connected. Mains and loudspeaker outputs never come near this input.",
                );
                let volts = fields::line(
                    ui,
                    "Multimeter's reading, V rms",
                    "0.775",
                    &mut form.volts,
                    None,
                );
                if opened {
                    volts.request_focus();
                }
                let hz = fields::line(ui, "Sine's frequency, Hz", "400", &mut form.hz, None);
                let tolerance = fields::line(
                    ui,
                    "Multimeter's tolerance, ± %",
                    "1",
                    &mut form.tolerance_percent,
                    None,
                );
                let entered = [volts, hz, tolerance].iter().any(fields::is_entered);
                let mut asked =
                    (button(ui, "Read the level now") || entered).then_some(Asked::ReadVolts);
                asked = self.decide(ui, Part::Level, found.is_some()).or(asked);
                if let Some(problem) = problem {
                    warning(ui, problem);
                }
                if let Some((full_scale, sine)) = found {
                    let figure = LevelFigure::of(full_scale, sine, self.now);
                    rows(ui, &model::level_rows(&figure));
                }
                asked
            }
        }
    }

    fn listening(
        &mut self,
        ui: &mut Ui,
        part: Part,
        to: ListenFor,
        heard: Option<&Heard>,
        ended: bool,
    ) -> Option<Asked> {
        heading(ui, part.title());
        for (index, step) in model::steps(to, heard).into_iter().enumerate() {
            let came = if step.came.is_empty() { "" } else { "  ·  " };
            let text = format!("{}  {}{came}{}", index + 1, step.text, step.came);
            if step.came.is_empty() {
                sentence(ui, &text);
            } else {
                hint(ui, &text);
            }
        }
        ui.separator();
        let state = match (ended, heard) {
            (true, _) => "The input changed or ended: begin anew.".to_owned(),
            (false, Some(heard)) => format::capitalised(&heard.words()),
            (false, None) => "Listening …".to_owned(),
        };
        announced(ui, "measurement", &state);
        let asked = self.decide(ui, part, !ended && heard.is_some_and(Heard::is_done));
        if let Some(heard) = heard {
            if let Some(objection) = model::objection(heard) {
                warning(ui, objection);
            }
            rows(ui, &model::heard_rows(heard, self.now));
        }
        asked
    }

    /// Keep, begin anew, discard.
    fn decide(&mut self, ui: &mut Ui, part: Part, stands: bool) -> Option<Asked> {
        ui.add_space(4.0);
        let mut asked = None;
        // egui counts the widgets above to tell these from others; here their number changes.
        let own = UiBuilder::new().scope_id(Id::unique("what becomes of the measurement"));
        let discard = ui
            .scope_builder(own, |ui| {
                ui.horizontal_wrapped(|ui| {
                    if ui.add_enabled(stands, Button::new("Keep it")).clicked() {
                        asked = Some(Asked::Keep);
                    }
                    if ui.button("Begin anew").clicked() {
                        asked = Some(Asked::Measure(part));
                    }
                    ui.button("Discard")
                })
                .inner
            })
            .inner;
        ui.add_space(4.0);
        if std::mem::take(&mut self.opened) {
            discard.request_focus();
        }
        if discard.clicked() {
            asked = Some(Asked::Discard);
        }
        asked
    }
}

fn import(ui: &mut Ui, import: &mut Import) -> Option<Asked> {
    title(ui, "Profile from a file", "");
    let path = fields::line(
        ui,
        "Path of the profile",
        "or drop the file here",
        &mut import.path,
        None,
    );
    let mut asked = None;
    if button(ui, "Import the profile") || fields::is_entered(&path) {
        let typed = import.path.trim();
        if typed.is_empty() {
            import.problem = Some("type the path of a profile's TOML file".into());
        } else {
            asked = Some(Asked::Import(PathBuf::from(typed), false));
        }
    }
    if let Some(problem) = &import.problem {
        warning(ui, problem);
    }
    if let Some((path, _)) = &import.in_the_way {
        ui.horizontal_wrapped(|ui| {
            if ui.button("Replace it").clicked() {
                asked = Some(Asked::Import(path.clone(), true));
            }
            if ui.button("Leave it").clicked() {
                asked = Some(Asked::LeaveIt);
            }
        });
    }
    asked
}

/// A title with something quiet at its right.
fn title(ui: &mut Ui, text: &str, right: &str) -> Rect {
    let line = ui.horizontal(|ui| {
        ui.label(RichText::new(text).underline());
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.label(RichText::new(right).weak());
        });
    });
    line.response.rect
}

/// Names and figures, a line each.
fn rows(ui: &mut Ui, rows: &[Row]) {
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing = vec2(8.0, 1.0);
        ui.spacing_mut().interact_size.y = 20.0;
        for (name, words) in rows {
            ui.horizontal(|ui| {
                ui.label(RichText::new(name).weak());
                ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                    ui.add(Label::new(words).truncate());
                });
            });
        }
    });
}

/// A sentence that is spoken when it changes.
fn announced(ui: &mut Ui, name: &'static str, text: &str) {
    let place = ui.add(Label::new(text).wrap()).rect;
    heard::announced(ui, place, Id::unique(("interface", name)), name, text);
}

fn warning(ui: &mut Ui, text: &str) {
    let text = RichText::new(text).color(Palette::of(ui).bad);
    ui.add(Label::new(text).wrap());
}

fn button(ui: &mut Ui, name: &str) -> bool {
    let button = ui.add(Button::new(name).wrap());
    fields::bring_into_sight(&button, None);
    button.clicked()
}
