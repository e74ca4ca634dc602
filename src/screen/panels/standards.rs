//! The workshop's own standards: its calibration tapes and whether they are due, the age of the interface's own figures,
//! a backup of the record, and the workshop's name and address.

use super::{heading, hint};
use crate::{
    bench::{
        Workshop,
        standards::{TapeCheck, TapeOnHand, TapeRecord, profile_due},
        store::BackedUp,
    },
    screen::{
        fields,
        model::{
            harmless,
            standards_form::{Section, StandardsForm, Task, ago, backup_words, last_check},
        },
        paint::marks,
        theme::Palette,
    },
};
use eframe::egui::{
    Align, Button, Id, Label, Response, RichText, Sense, TextEdit, Ui, Vec2,
    accesskit::{Live, Role},
};
use jiff::{Timestamp, tz::TimeZone};
use std::path::{Path, PathBuf};

/// Letters of a text from the record that are shown at most.
const LONG: usize = 200;

/// The interface's own figures in use.
#[derive(Clone, Copy, Debug)]
pub struct ProfileInUse<'a> {
    /// What they are called.
    pub name: &'a str,
    /// When they were measured.
    pub measured: Timestamp,
}

/// How a backup goes.
#[derive(Clone, Copy, Debug)]
pub enum BackupState<'a> {
    /// It is being made.
    Running,
    /// It is there.
    Done(&'a Path, BackedUp),
    /// It could not be made, in words.
    Failed(&'a str),
}

/// What the panel shows.
#[derive(Clone, Copy, Debug)]
pub struct StandardsPanel<'a> {
    /// The calibration tapes; `None`: not read yet.
    pub tapes: Option<&'a [TapeRecord]>,
    /// The interface's own figures; `None`: none are in use.
    pub profile: Option<ProfileInUse<'a>>,
    /// The workshop as the record has it.
    pub workshop: &'a Workshop,
    /// How the last backup went.
    pub backup: Option<BackupState<'a>>,
    /// A file that a backup could go to.
    pub proposed_backup: Option<&'a Path>,
    /// What is wrong with the record, in words.
    pub problem: Option<&'a str>,
    /// The time at which ages are told.
    pub now: Timestamp,
    /// Whose dates are shown.
    pub zone: &'a TimeZone,
    /// Whether the panel was just opened; its first button or field gets the focus then.
    pub opened: bool,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum StandardsWish {
    /// Write down that this tape was checked.
    CheckTape(String, TapeCheck),
    /// Keep this of a tape.
    SetTape(Box<TapeOnHand>),
    /// Back the record up into this file.
    Backup(PathBuf),
    /// Keep the workshop's name and address.
    SetWorkshop(Workshop),
}

impl StandardsPanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&self, ui: &mut Ui, form: &mut StandardsForm) -> Option<StandardsWish> {
        form.propose_backup(self.proposed_backup);
        form.show_workshop(self.workshop);
        let mut first = self.opened;
        heading(ui, "The workshop's standards");
        if let Some(problem) = self.problem {
            warning(ui, problem);
        }
        let mut wish = self.tapes(ui, form, &mut first);
        self.profile(ui);
        let backup = self.backup(ui, form, &mut first);
        wish = wish.or(backup);
        let workshop = self.workshop(ui, form);
        wish.or(workshop)
    }

    fn tapes(
        &self,
        ui: &mut Ui,
        form: &mut StandardsForm,
        first: &mut bool,
    ) -> Option<StandardsWish> {
        title(ui, "Calibration tapes");
        let Some(tapes) = self.tapes else {
            hint(ui, "looking in the record …");
            return None;
        };
        if tapes.is_empty() {
            hint(
                ui,
                "None yet: a tape is written down here when a reading from it is taken.",
            );
        }
        let mut wish = None;
        for record in tapes {
            wish = wish.or(self.tape(ui, form, record, first));
            ui.add_space(6.0);
        }
        wish
    }

    fn tape(
        &self,
        ui: &mut Ui,
        form: &mut StandardsForm,
        record: &TapeRecord,
        first: &mut bool,
    ) -> Option<StandardsWish> {
        let tape = &record.tape;
        let name = harmless::line(&tape.title, LONG);
        ui.add(Label::new(RichText::new(&name).strong()).wrap());
        hint(ui, &harmless::line(&record.words(self.now), 2 * LONG));
        if let Some(check) = last_check(record, self.zone) {
            hint(ui, &check);
        }
        match (record.due(self.now), tape.retired) {
            (Some(due), _) => warning(ui, &due),
            (None, Some(since)) => hint(ui, &format!("No longer used since {since}.")),
            (None, None) => hint(ui, "Not due."),
        }
        let mut wish = None;
        ui.horizontal_wrapped(|ui| {
            for (text, task) in [
                ("Checked against another", Task::Check),
                ("Certificate", Task::Certificate),
            ] {
                let open = form.task(&tape.name) == Some(task);
                let mark = if open { "• " } else { "" };
                let button = action(ui, &format!("{mark}{text} …"), &format!("{text}: {name}"));
                if std::mem::take(first) {
                    button.request_focus();
                }
                if button.clicked() {
                    form.toggle(tape, task);
                }
            }
        });
        let task = form.task(&tape.name)?;
        ui.indent(("open tape", &tape.name), |ui| {
            wish = match task {
                Task::Check => self.check(ui, form, &tape.name),
                Task::Certificate => self.certificate(ui, form, tape),
            };
            problem(ui, form, Section::Tape);
        });
        wish
    }

    /// What was found when the tape was checked against another.
    fn check(&self, ui: &mut Ui, form: &mut StandardsForm, tape: &str) -> Option<StandardsWish> {
        let focus = std::mem::take(&mut form.focus);
        let against = fields::line(
            ui,
            "Against which tape",
            "",
            &mut form.check.against,
            Some(Align::Center),
        );
        if focus {
            against.request_focus();
        }
        let found = fields::line(
            ui,
            "What was found",
            "0.01 % apart",
            &mut form.check.found,
            Some(Align::Center),
        );
        if against.changed() || found.changed() {
            form.forget_problem(Section::Tape);
        }
        if fields::is_entered(&against) {
            found.request_focus();
        }
        let mut good = None;
        ui.horizontal_wrapped(|ui| {
            let still = action(ui, "Still good", "tape is still good");
            if fields::is_entered(&found) {
                still.request_focus();
            }
            if still.clicked() {
                good = Some(true);
            }
            if action(ui, "Not good any more", "tape is not good any more").clicked() {
                good = Some(false);
            }
        });
        let check = form.checked(self.now, good?)?;
        Some(StandardsWish::CheckTape(tape.to_owned(), check))
    }

    /// Certificate, date, passes before, and when it is due.
    fn certificate(
        &self,
        ui: &mut Ui,
        form: &mut StandardsForm,
        tape: &TapeOnHand,
    ) -> Option<StandardsWish> {
        let focus = std::mem::take(&mut form.focus);
        let entry = &mut form.tape;
        let fields = [
            ("Certificate, who gave it", "none", &mut entry.certificate),
            ("Its date", "2024-11-30", &mut entry.certified),
            ("Called", "", &mut entry.title),
            (
                "Passes before it was counted",
                "0",
                &mut entry.passes_before,
            ),
            ("Due after passes", "100", &mut entry.due_after_passes),
            ("Due after months", "24", &mut entry.due_after_months),
        ];
        let fields = fields
            .map(|(name, empty, text)| fields::line(ui, name, empty, text, Some(Align::Center)));
        if focus {
            fields[0].request_focus();
        }
        if fields.iter().any(Response::changed) {
            form.forget_problem(Section::Tape);
        }
        let mut keep = fields.iter().any(fields::is_entered);
        let mut wish = None;
        let used = tape.retired.is_none();
        let (text, retired) = if used {
            let today = self.now.to_zoned_datetime(self.zone.clone()).date();
            ("No longer used", Some(today))
        } else {
            ("Used again", None)
        };
        ui.horizontal_wrapped(|ui| {
            keep |= action(ui, "Keep this", "keep the certificate").clicked();
            if action(ui, text, &format!("tape: {text}")).clicked() {
                wish = Some(StandardsWish::SetTape(Box::new(TapeOnHand {
                    retired,
                    ..tape.clone()
                })));
            }
        });
        if keep {
            let tape = form.certified(tape)?;
            return Some(StandardsWish::SetTape(Box::new(tape)));
        }
        wish
    }

    fn profile(&self, ui: &mut Ui) {
        title(ui, "The interface's own errors");
        let Some(profile) = self.profile else {
            hint(
                ui,
                "Not measured, or not in use: they are part of every reading.",
            );
            return;
        };
        let words = format!(
            "{}, measured {}",
            harmless::line(profile.name, LONG),
            ago(profile.measured, self.now)
        );
        ui.add(Label::new(words).wrap());
        if let Some(due) = profile_due(profile.measured, self.now) {
            warning(ui, &due);
        }
    }

    fn backup(
        &self,
        ui: &mut Ui,
        form: &mut StandardsForm,
        first: &mut bool,
    ) -> Option<StandardsWish> {
        title(ui, "Backup of the record");
        let path = fields::line(
            ui,
            "Into this new file",
            "whole path",
            &mut form.backup,
            Some(Align::Center),
        );
        if std::mem::take(first) {
            path.request_focus();
        }
        if path.changed() {
            form.backup_edited();
        }
        let running = matches!(self.backup, Some(BackupState::Running));
        let button = ui.add_enabled(!running, Button::new("Back up now"));
        fields::bring_into_sight(&button, Some(Align::Center));
        problem(ui, form, Section::Backup);
        let (words, bad) = match self.backup {
            None => (String::new(), false),
            Some(BackupState::Running) => ("copying …".into(), false),
            Some(BackupState::Done(path, held)) => (backup_words(path, held), false),
            Some(BackupState::Failed(why)) => (harmless::line(why, 2 * LONG), true),
        };
        if !words.is_empty() {
            outcome(ui, button.id.with("outcome"), &words, bad);
        }
        let wanted = button.clicked() || fields::is_entered(&path);
        if !wanted || running {
            return None;
        }
        form.backup_path().map(StandardsWish::Backup)
    }

    fn workshop(&self, ui: &mut Ui, form: &mut StandardsForm) -> Option<StandardsWish> {
        title(ui, "The workshop");
        hint(
            ui,
            "It stands at the head of the owner's sheet of new jobs.",
        );
        let name = fields::line(ui, "Name", "", &mut form.name, Some(Align::Center));
        let label = ui.label("Address and how to reach it");
        let address = TextEdit::multiline(&mut form.address)
            .desired_rows(3)
            .desired_width(f32::INFINITY);
        let address = ui.add(address).labelled_by(label.id);
        fields::bring_into_sight(&address, Some(Align::Center));
        if name.changed() || address.changed() {
            form.workshop_edited();
        }
        let differs = form.differs(self.workshop);
        let mut keep = fields::is_entered(&name) && differs;
        ui.horizontal_wrapped(|ui| {
            let button = ui.add_enabled(differs, Button::new("Keep name and address"));
            fields::bring_into_sight(&button, Some(Align::Center));
            keep |= button.clicked();
            let button = ui.add_enabled(differs, Button::new("As it was"));
            fields::bring_into_sight(&button, Some(Align::Center));
            if button.clicked() {
                form.forget_workshop();
            }
        });
        problem(ui, form, Section::Workshop);
        if !keep {
            return None;
        }
        form.kept_workshop().map(StandardsWish::SetWorkshop)
    }
}

fn title(ui: &mut Ui, text: &str) {
    ui.separator();
    ui.label(RichText::new(text).strong());
}

/// A button with a name of its own for those who hear it.
fn action(ui: &mut Ui, text: &str, heard: &str) -> Response {
    let button = ui.add(Button::new(text).wrap());
    ui.ctx()
        .accesskit_node_builder(button.id, |node| node.set_label(heard.to_owned()));
    fields::bring_into_sight(&button, Some(Align::Center));
    button
}

fn problem(ui: &mut Ui, form: &StandardsForm, section: Section) {
    if let Some(words) = form.problem(section) {
        warning(ui, words);
    }
}

/// A sentence with a warning's mark.
fn warning(ui: &mut Ui, text: &str) {
    let palette = Palette::of(ui);
    let text = harmless::line(text, 2 * LONG);
    ui.horizontal_top(|ui| {
        let (place, _) = ui.allocate_exact_size(Vec2::splat(18.0), Sense::hover());
        marks::warning(ui.painter(), place, palette);
        ui.add(Label::new(RichText::new(text).color(palette.warn)).wrap());
    });
}

/// How the backup went, spoken when it changes.
fn outcome(ui: &mut Ui, id: Id, words: &str, bad: bool) {
    if bad {
        warning(ui, words);
    } else {
        ui.add(Label::new(words).wrap());
    }
    let spoken = ui.interact(ui.min_rect(), id, Sense::hover());
    spoken.widget_info(|| eframe::egui::WidgetInfo::labeled(Role::Status, true, "backup"));
    ui.ctx().accesskit_node_builder(id, |node| {
        node.set_value(words.to_owned());
        node.set_live(Live::Polite);
    });
}
