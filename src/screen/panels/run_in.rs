//! The run-in log: begun, watched, ended, gone on with; and the logs there are.

use super::{heading, hint, sentence};
use crate::{
    run_in::{Kept, LogSummary, Phase},
    screen::{
        fields,
        log_shelf::{LogList, date_and_time},
        model::format,
        theme::{self, Palette},
    },
};
use eframe::egui::{Align, Button, Label, RichText, TextEdit, Ui};
use std::{
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};

/// Logs in the list.
const LISTED: usize = 20;

/// What was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Begin a log.
    Start,
    /// Go on with one that is unfinished.
    GoOn(PathBuf),
    /// Leave an unfinished one as it is.
    Leave(PathBuf),
    /// End the log.
    Stop,
    /// Note the temperature that is typed.
    Note,
    /// Show the log of this window in the main view.
    ShowThis,
    /// Show another one.
    Show(PathBuf),
}

/// What the panel shows.
pub struct RunInPanel<'a> {
    /// The log of this window and its file.
    pub kept: Option<(&'a Kept, &'a Path)>,
    /// Whether an input is open.
    pub has_input: bool,
    /// The name that is typed.
    pub name: &'a mut String,
    /// The temperature that is typed.
    pub temperature: &'a mut String,
    /// Why what was typed cannot be used.
    pub problem: Option<&'a str>,
    /// A log that was broken off.
    pub unfinished: Option<&'a LogSummary>,
    /// The logs there are.
    pub list: &'a LogList,
    /// Where they are; `None` where the system has no such folder.
    pub folder: Option<&'a Path>,
    /// Seconds from one reading to the next.
    pub every_s: f64,
    /// Whether the panel was just opened; the first button gets the focus then.
    pub opened: bool,
}

impl RunInPanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&mut self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Run-in log");
        let mut asked = match self.kept {
            Some((kept, path)) if kept.phase != Phase::Over => self.running(ui, kept, path),
            _ => self.idle(ui),
        };
        self.problem(ui);
        ui.separator();
        self.without_the_window(ui);
        ui.separator();
        if let Some(path) = self.logs(ui) {
            asked = Some(Asked::Show(path));
        }
        asked
    }

    fn running(&mut self, ui: &mut Ui, kept: &Kept, path: &Path) -> Option<Asked> {
        let mut asked = None;
        let words = match kept.phase {
            Phase::Starting => "starting".to_owned(),
            Phase::Refused => "NOT KEPT".to_owned(),
            Phase::Running | Phase::Over => {
                format!("keeping, {}", format::duration(kept.elapsed_s()))
            }
        };
        ui.add(Label::new(RichText::new(words).font(theme::strong(18.0))).wrap());
        if self.first(ui, "Show the run", true) {
            asked = Some(Asked::ShowThis);
        }
        let label = ui.label("Temperature at the deck, °C");
        let edit = TextEdit::singleline(self.temperature).desired_width(f32::INFINITY);
        let field = ui
            .add(edit.hint_text("from two on: % per °C"))
            .labelled_by(label.id);
        let noted = ui.button("Note it").clicked();
        if noted || fields::is_entered(&field) {
            asked = Some(Asked::Note);
        }
        if ui.button("End the log").clicked() {
            asked = Some(Asked::Stop);
        }
        ui.add_space(4.0);
        details(ui, kept, path);
        asked
    }

    fn idle(&mut self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        if let Some((kept, path)) = self.kept {
            let name = path.file_stem().unwrap_or_default().to_string_lossy();
            sentence(
                ui,
                &format!("{name}: over after {}.", format::duration(kept.elapsed_s())),
            );
            if let Some(trouble) = &kept.trouble {
                warning(ui, trouble);
            }
            if kept.evaluation.is_some() && ui.button("Show the run").clicked() {
                asked = Some(Asked::ShowThis);
            }
        }
        let can_start = self.has_input && self.folder.is_some();
        if let Some(log) = self.unfinished {
            sentence(
                ui,
                &format!("Unfinished: {}, started {}.", log.name(), started(log)),
            );
            let go_on = self.first(ui, "Go on with it", can_start);
            if go_on {
                asked = Some(Asked::GoOn(log.path.clone()));
            }
            if ui.button("Leave it as it is").clicked() {
                asked = Some(Asked::Leave(log.path.clone()));
            }
            hint(ui, "The time in which nobody listened is shown as such.");
            ui.add_space(6.0);
        }
        hint(
            ui,
            &format!(
                "New belts, rollers and lubricants settle, and a deck warms up. The log keeps a reading each {} s and every event, for hours.",
                format::plain(self.every_s, if self.every_s < 1.0 { 1 } else { 0 })
            ),
        );
        let label = ui.label("Name");
        let edit = TextEdit::singleline(self.name).desired_width(f32::INFINITY);
        ui.add(edit.hint_text("deck, job, what was replaced"))
            .labelled_by(label.id);
        if self.first(ui, "Begin a log", can_start) {
            asked = Some(Asked::Start);
        }
        let said = match self.folder {
            _ if !self.has_input => "First open an input: i.",
            Some(_) => "The file is named by the date and this name.",
            None => "This system has no data folder of the user: use the command below.",
        };
        hint(ui, said);
        asked
    }

    /// A button; the first one that is of use gets the focus when the panel opens.
    fn first(&mut self, ui: &mut Ui, name: &str, enabled: bool) -> bool {
        let button = ui.add_enabled(enabled, Button::new(name));
        if enabled && std::mem::take(&mut self.opened) {
            button.request_focus();
            button.scroll_to_me(None);
        }
        button.clicked()
    }

    fn problem(&self, ui: &mut Ui) {
        if let Some(problem) = self.problem {
            warning(ui, problem);
        }
    }

    fn without_the_window(&self, ui: &mut Ui) {
        ui.label(RichText::new("Without the window").strong());
        hint(
            ui,
            "A window that is closed cannot listen: its log waits, and the window offers to go on with it at the next start. For a run that nothing on the screen can end, close the window and leave this running:",
        );
        let command = RichText::new("trimwatch watch --log FILE").monospace();
        ui.add(Label::new(command).wrap().selectable(true));
    }

    fn logs(&self, ui: &mut Ui) -> Option<PathBuf> {
        let mut asked = None;
        ui.label(RichText::new("Logs").strong());
        if self.list.logs.is_empty() {
            hint(ui, "None yet.");
        }
        for log in self.list.logs.iter().take(LISTED) {
            let button = ui.add(Button::new(log.name()).wrap());
            let heard = format!("log {}", log.name());
            ui.ctx()
                .accesskit_node_builder(button.id, |node| node.set_label(heard));
            if button.gained_focus() {
                button.scroll_to_me(Some(Align::Center));
            }
            if button.clicked() {
                asked = Some(log.path.clone());
            }
            let state = match &log.ended {
                _ if log.in_use => "being kept",
                Some(why) => why,
                None => "broken off",
            };
            hint(ui, &format!("started {}; {state}", started(log)));
        }
        let older = self.list.logs.len().saturating_sub(LISTED);
        if older > 0 {
            hint(
                ui,
                &format!("and {older} older; drop one on the window to see it"),
            );
        } else {
            hint(ui, "A log from elsewhere: drop its file on the window.");
        }
        if let Some(problem) = &self.list.problem {
            warning(ui, problem);
        }
        if let Some(folder) = self.folder {
            hint(ui, &format!("Folder: {}", folder.display()));
        }
        asked
    }
}

/// What comes and goes stands below what is pressed: a button must not move under the pointer.
fn details(ui: &mut Ui, kept: &Kept, path: &Path) {
    sentence(
        ui,
        &format!(
            "{} in all; {} since this start.",
            format::counted(kept.readings, "reading", "readings"),
            format::counted(kept.lines, "line", "lines")
        ),
    );
    if let Some(event) = kept.last_event() {
        let at = format::duration(event.at_s);
        sentence(ui, &format!("Last event: {} at {at}.", event.kind.name()));
    }
    hint(ui, &path.display().to_string());
    if let Some(trouble) = &kept.trouble {
        warning(
            ui,
            &format!("{trouble}. It is tried again every few seconds."),
        );
    }
}

/// When a log started, in words.
pub fn started(log: &LogSummary) -> String {
    started_at(log.session.started_unix_s)
}

/// A time of the computer's clock in words.
pub fn started_at(unix_s: f64) -> String {
    let since = Duration::try_from_secs_f64(unix_s.clamp(0.0, 4e9)).unwrap_or_default();
    date_and_time(SystemTime::UNIX_EPOCH + since)
}

fn warning(ui: &mut Ui, text: &str) {
    let text = RichText::new(text).color(Palette::of(ui).bad);
    ui.add(Label::new(text).wrap());
}
