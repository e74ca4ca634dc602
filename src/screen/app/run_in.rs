//! The run-in's part of the screen: its log, its picture, and both ends of the tape.

use super::ScreenApp;
use crate::{
    readings::Readings,
    run_in::{
        self, Criteria, EndsTaken, Evaluation, Keeper, KeeperSetup, Kept, Line, LogSummary, Phase,
        Place, WINDOW_CLOSED,
    },
    screen::{
        inputs::InputChoice,
        keys::{Command, Side},
        log_shelf::{LogList, LogShelf},
        model::{run_in as model, tape},
        panels::{
            ends::{self, EndsPanel},
            run_in::{Asked, RunInPanel, started, started_at},
        },
        session::Session,
        strips::notices,
        views::{RunInView, show_run_in},
    },
};
use crossbeam_channel::{Receiver, Sender, unbounded};
use eframe::egui::{self, Ui};
use std::{
    path::{Path, PathBuf},
    sync::Arc,
    thread,
    time::{Duration, SystemTime},
};

/// The length of a run is looked after this often while nothing else moves.
const LOOK_AGAIN: Duration = Duration::from_secs(1);
/// Takes that can be undone.
const MOST_UNDONE: usize = 50;
const ENDED: &str = "ended by the technician";

/// What the screen knows of run-in logs and of both ends of the tape.
pub(super) struct Bench {
    shelf: LogShelf,
    errands: Errands,
    list: LogList,
    keeper: Option<Keeper>,
    /// The input that is open or being opened.
    input: Option<InputChoice>,
    unfinished: Option<LogSummary>,
    shown: Option<Shown>,
    page: Page,
    name: String,
    temperature: String,
    problem: Option<String>,
    taken: EndsTaken,
    taken_before: Vec<EndsTaken>,
    focus: Option<Place>,
    /// Whether the run of this window was going on when it was last looked at.
    went_on: bool,
    /// By how many key presses the words beside the picture are to be moved.
    moved: isize,
    /// Whether the panel has told what was wrong with a log that is over.
    trouble_told: bool,
}

/// The two pages of the panel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Page {
    #[default]
    Log,
    Ends,
}

/// What is in the main view instead of an adjustment.
enum Shown {
    /// The run of this window.
    This,
    /// A log that is being read.
    Reading(PathBuf),
    /// A log that was read.
    Read(PathBuf, Arc<Evaluation>),
}

/// Work with files, off the drawing thread.
struct Errands {
    done_in: Sender<Done>,
    done_out: Receiver<Done>,
}

enum Done {
    Listed(LogList),
    Read(PathBuf, Result<Arc<Evaluation>, String>),
    /// A file was dropped that is no log.
    NoLog(PathBuf),
    Left(Result<(), String>),
}

impl Errands {
    fn new() -> Self {
        let (done_in, done_out) = unbounded();
        Self { done_in, done_out }
    }

    fn run(
        &self,
        ctx: &egui::Context,
        work: impl FnOnce() -> Done + Send + 'static,
    ) -> Result<(), String> {
        let (done, ctx) = (self.done_in.clone(), ctx.clone());
        thread::Builder::new()
            .name("run-in files".into())
            .spawn(move || {
                // The window may be gone by now; then nobody wants it.
                let _gone = done.send(work());
                ctx.request_repaint();
            })
            .map(drop)
            .map_err(|error| format!("cannot start a thread: {error}"))
    }
}

fn read(path: PathBuf) -> Done {
    let shown = run_in::read(&path)
        .map(|history| Arc::new(run_in::evaluate(&history, &Criteria::default())))
        .map_err(|error| error.to_string());
    Done::Read(path, shown)
}

fn name_of(path: &Path) -> String {
    let stem = path.file_stem().unwrap_or_default();
    stem.to_string_lossy().into_owned()
}

impl Bench {
    pub(super) fn new(shelf: LogShelf) -> Self {
        Self {
            shelf,
            errands: Errands::new(),
            list: LogList::default(),
            keeper: None,
            input: None,
            unfinished: None,
            shown: None,
            page: Page::default(),
            name: String::new(),
            temperature: String::new(),
            problem: None,
            taken: EndsTaken::default(),
            taken_before: Vec::new(),
            focus: None,
            went_on: false,
            moved: 0,
            trouble_told: false,
        }
    }

    /// Whether a run is in the main view.
    pub(super) fn is_shown(&self) -> bool {
        self.shown.is_some()
    }

    /// Gives the main view back.
    pub(super) fn hide(&mut self) {
        self.shown = None;
    }

    fn is_going_on(&self) -> bool {
        self.keeper.as_ref().is_some_and(Keeper::is_going_on)
    }

    /// Sees to it that the time of a run goes on while nothing else moves.
    pub(super) fn watch(&self, ctx: &egui::Context) {
        if self.is_going_on() {
            ctx.request_repaint_after(LOOK_AGAIN);
        }
    }

    /// What the status strip says of the run of this window, and whether it warns.
    pub(super) fn sign(&self, brief: bool) -> Option<(String, bool)> {
        let keeper = self.keeper.as_ref()?;
        Some(model::sign(&keeper.kept(), brief))
    }

    /// What keeps the log from the disk, and a log that waits for somebody to go on with it.
    pub(super) fn notices(&self) -> Vec<notices::Line> {
        let told = self.trouble_told && !self.is_going_on();
        let keeper = self.keeper.as_ref().filter(|_| !told);
        let trouble = keeper.and_then(|keeper| keeper.kept().trouble);
        let mut lines: Vec<notices::Line> = trouble
            .map(|text| notices::Line { text, warns: true })
            .into_iter()
            .collect();
        if let Some(log) = self.unfinished.as_ref().filter(|_| !self.is_going_on()) {
            lines.push(notices::Line {
                text: format!(
                    "an unfinished run-in log waits: {}, started {}; e goes on with it, or leaves it",
                    log.name(),
                    started(log)
                ),
                warns: false,
            });
        }
        lines
    }

    fn change_taken(&mut self, taken: EndsTaken) {
        let before = std::mem::replace(&mut self.taken, taken);
        if self.taken_before.len() == MOST_UNDONE {
            self.taken_before.remove(0);
        }
        self.taken_before.push(before);
    }
}

impl ScreenApp {
    /// Looks at the folder of logs, off the drawing thread.
    pub(super) fn list_logs(&mut self, ctx: &egui::Context) {
        if self.run_in.shelf.folder().is_none() {
            return;
        }
        let shelf = self.run_in.shelf.clone();
        let listing = self
            .run_in
            .errands
            .run(ctx, move || Done::Listed(shelf.list()));
        if let Err(why) = listing {
            self.warn(ctx, why);
        }
    }

    /// Takes what the errands have brought.
    pub(super) fn take_run_in_news(&mut self, ctx: &egui::Context) {
        while let Ok(done) = self.run_in.errands.done_out.try_recv() {
            match done {
                Done::Listed(list) => {
                    let unfinished = list.logs.iter().find(|log| log.is_unfinished());
                    self.run_in.unfinished = unfinished.cloned();
                    self.run_in.list = list;
                }
                Done::Read(path, Ok(shown)) => {
                    let wanted = matches!(&self.run_in.shown, Some(Shown::Reading(wanted)) if *wanted == path);
                    if wanted {
                        self.run_in.shown = Some(Shown::Read(path, shown));
                    }
                }
                Done::Read(_, Err(why)) => {
                    self.run_in.shown = None;
                    self.warn(ctx, why);
                }
                Done::NoLog(path) => {
                    self.run_in.hide();
                    self.open(ctx, InputChoice::Recording(path), true);
                }
                Done::Left(result) => {
                    if let Err(why) = result {
                        self.warn(ctx, why);
                    }
                    self.list_logs(ctx);
                }
            }
        }
        let goes_on = self.run_in.is_going_on();
        if std::mem::replace(&mut self.run_in.went_on, goes_on) && !goes_on {
            self.list_logs(ctx);
        }
    }

    /// Before another command is obeyed: what gives the main view back to the adjustments, and what moves the words
    /// of a run. True when there is nothing else to obey.
    pub(super) fn run_in_hears(&mut self, command: Command) -> bool {
        if !self.run_in.is_shown() {
            return false;
        }
        match command {
            Command::Part(by) => {
                self.run_in.moved += by;
                true
            }
            Command::Show(_) | Command::Next | Command::Previous => {
                self.run_in.hide();
                false
            }
            Command::Close if self.side.is_none() => {
                self.run_in.hide();
                true
            }
            _ => false,
        }
    }

    /// The key opens the log, then both ends of the tape, then closes the panel.
    pub(super) fn toggle_run_in(&mut self, ctx: &egui::Context) {
        let (side, page) = match (self.side, self.run_in.page) {
            (Some(Side::RunIn), Page::Log) => (Some(Side::RunIn), Page::Ends),
            (Some(Side::RunIn), Page::Ends) => (None, Page::Log),
            _ => (Some(Side::RunIn), Page::Log),
        };
        self.side = side;
        self.side_opened = side.is_some();
        self.open_page(ctx, page);
    }

    fn open_page(&mut self, ctx: &egui::Context, page: Page) {
        self.run_in.page = page;
        self.run_in.problem = None;
        match page {
            Page::Log => {
                self.run_in.trouble_told = !self.run_in.is_going_on();
                if self.run_in.name.is_empty() {
                    self.run_in.name = self.deck_name();
                }
                self.list_logs(ctx);
            }
            Page::Ends => self.run_in.focus = self.next_place().or(Some(Place::Start)),
        }
    }

    /// The mechanism in use, or else what is listened to.
    fn deck_name(&self) -> String {
        let live = self.session.as_ref().and_then(Session::live);
        match &self.setup.mechanism {
            Some(mechanism) => mechanism.name.clone(),
            None => live.map_or_else(String::new, |live| live.source.description.name.clone()),
        }
    }

    /// Before an input is opened. Another one is another deck: its readings have no place in the same log.
    pub(super) fn run_in_changes_input(&mut self, ctx: &egui::Context, choice: &InputChoice) {
        if self.run_in.input.as_ref() != Some(choice) {
            if let Some(keeper) = self
                .run_in
                .keeper
                .as_ref()
                .filter(|keeper| keeper.is_going_on())
            {
                keeper.finish("another input was opened");
                self.say(ctx, "the run-in log is ended: another input was opened");
            }
            self.run_in.input = Some(choice.clone());
            self.run_in.name.clear();
        }
        self.run_in.taken = EndsTaken::default();
        self.run_in.taken_before.clear();
    }

    /// Lets the run take what the input that is open now brings.
    pub(super) fn feed_run_in(&self) {
        if let (Some(session), Some(keeper)) = (&self.session, &self.run_in.keeper)
            && keeper.is_going_on()
        {
            session.feed(keeper.feed());
        }
    }

    fn begin_log(&mut self, ctx: &egui::Context, path: PathBuf) {
        let live = self.session.as_ref().and_then(Session::live);
        let Some(source) = live.map(|live| live.source.description.name.clone()) else {
            self.warn(ctx, "no log is begun: first open an input (i)");
            return;
        };
        let mut expected = format!(
            "{}; {}",
            tape::in_words(&self.setup, &self.tapes),
            self.setup.tape_format.title
        );
        if let Some(mechanism) = &self.setup.mechanism {
            expected += &format!("; mechanism '{}'", mechanism.title);
        }
        let setup = KeeperSetup {
            every_s: self.run_in.shelf.every_s(),
            path,
            source,
            expected,
        };
        let said = format!("run-in log: {}", name_of(&setup.path));
        let woken = ctx.clone();
        match Keeper::start(setup, Box::new(move || woken.request_repaint())) {
            Ok(keeper) => {
                self.run_in.unfinished = None;
                self.run_in.trouble_told = false;
                self.run_in.keeper = Some(keeper);
                self.feed_run_in();
                self.say(ctx, said);
            }
            Err(error) => self.warn(ctx, error.to_string()),
        }
        self.side_opened = true;
    }

    /// A dropped file is a log to be shown, or a recording to be played; which, is seen off the drawing thread.
    pub(super) fn take_dropped(&mut self, ctx: &egui::Context, path: PathBuf) {
        self.run_in.shown = Some(Shown::Reading(path.clone()));
        let looking = self.run_in.errands.run(ctx, move || {
            if run_in::summary(&path).is_ok() {
                read(path)
            } else {
                Done::NoLog(path)
            }
        });
        if let Err(why) = looking {
            self.run_in.hide();
            self.warn(ctx, why);
        }
    }

    fn show_log(&mut self, ctx: &egui::Context, path: PathBuf) {
        self.run_in.shown = Some(Shown::Reading(path.clone()));
        if let Err(why) = self.run_in.errands.run(ctx, move || read(path)) {
            self.run_in.hide();
            self.warn(ctx, why);
        } else {
            self.side = None;
        }
    }

    pub(super) fn fill_run_in_side(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let mut page = self.run_in.page;
        ui.horizontal_wrapped(|ui| {
            ui.selectable_value(&mut page, Page::Log, "Run-in log");
            ui.selectable_value(&mut page, Page::Ends, "Both ends");
        });
        ui.separator();
        if page != self.run_in.page {
            self.open_page(&ctx, page);
        }
        match page {
            Page::Log => self.fill_log_page(ui, opened),
            Page::Ends => self.fill_ends_page(ui),
        }
    }

    fn fill_log_page(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let kept: Option<(Kept, PathBuf)> = self
            .run_in
            .keeper
            .as_ref()
            .map(|keeper| (keeper.kept(), keeper.path().to_path_buf()));
        let has_input = self.session.as_ref().and_then(Session::live).is_some();
        let bench = &mut self.run_in;
        let mut panel = RunInPanel {
            kept: kept.as_ref().map(|(kept, path)| (kept, path.as_path())),
            has_input,
            name: &mut bench.name,
            temperature: &mut bench.temperature,
            problem: bench.problem.as_deref(),
            unfinished: bench.unfinished.as_ref(),
            list: &bench.list,
            folder: bench.shelf.folder(),
            every_s: bench.shelf.every_s(),
            opened,
        };
        if let Some(asked) = panel.show(ui) {
            self.do_for_the_log(&ctx, asked);
        }
    }

    fn do_for_the_log(&mut self, ctx: &egui::Context, asked: Asked) {
        match asked {
            Asked::Start => {
                let file = self.run_in.shelf.file(&self.run_in.name, SystemTime::now());
                match file {
                    Some(file) => self.begin_log(ctx, file),
                    None => self.warn(ctx, "no log is begun: there is no folder for it"),
                }
            }
            Asked::GoOn(path) => self.begin_log(ctx, path),
            Asked::Leave(path) => self.leave_log(ctx, path),
            Asked::Stop => {
                if let Some(keeper) = &self.run_in.keeper {
                    keeper.finish(ENDED);
                    let name = name_of(keeper.path());
                    self.say(ctx, format!("run-in log ended: {name}"));
                }
            }
            Asked::Note => self.note_temperature(ctx),
            Asked::ShowThis => {
                self.run_in.shown = Some(Shown::This);
                self.side = None;
            }
            Asked::Show(path) => self.show_log(ctx, path),
        }
    }

    /// The end that nobody wrote is written now, so that the log is not offered again.
    fn leave_log(&mut self, ctx: &egui::Context, path: PathBuf) {
        self.run_in.unfinished = None;
        let leaving = self.run_in.errands.run(ctx, move || {
            let why = format!("{WINDOW_CLOSED}, and the run was left as it is");
            let end = Line::End(run_in::End { at_s: 0.0, why });
            Done::Left(run_in::add_line(&path, &end).map_err(|error| error.to_string()))
        });
        if let Err(why) = leaving {
            self.warn(ctx, why);
        }
    }

    fn note_temperature(&mut self, ctx: &egui::Context) {
        let Some(keeper) = &self.run_in.keeper else {
            return;
        };
        if keeper.kept().phase != Phase::Running {
            self.run_in.problem = Some("not noted: the log is not being kept yet".into());
            return;
        }
        match model::celsius(&self.run_in.temperature) {
            Ok(celsius) => {
                keeper.note_temperature(celsius);
                self.run_in.problem = None;
                self.run_in.temperature.clear();
                let celsius = crate::screen::model::format::plain(celsius, 1);
                self.say(ctx, format!("temperature noted: {celsius} °C"));
            }
            Err(why) => self.run_in.problem = Some(why),
        }
    }

    /// A run in the main view.
    pub(super) fn fill_run_in(&mut self, ui: &mut Ui) {
        let (path, state, shown) = match &self.run_in.shown {
            None => return,
            Some(Shown::Reading(path)) => {
                ui.heading(format!("reading {} …", name_of(path)));
                return;
            }
            Some(Shown::Read(path, shown)) => (
                path.clone(),
                format!("End: {}", shown.ending()),
                shown.clone(),
            ),
            Some(Shown::This) => {
                let Some(keeper) = &self.run_in.keeper else {
                    self.run_in.hide();
                    return;
                };
                let kept = keeper.kept();
                let state = kept_in_words(&kept);
                let Some(shown) = kept.evaluation else {
                    ui.heading(format!("{}: {state}", name_of(keeper.path())));
                    return;
                };
                (keeper.path().to_path_buf(), state, shown)
            }
        };
        let view = RunInView {
            name: &name_of(&path),
            state: &state,
            started: &started_at(shown.started_unix_s),
            shown: &shown,
            moved: std::mem::take(&mut self.run_in.moved),
        };
        if show_run_in(ui, &view) {
            self.run_in.hide();
        }
    }

    /// The first place that is not taken; none when all are, lest a key that is pressed twice takes one anew.
    fn next_place(&self) -> Option<Place> {
        Place::ALL
            .into_iter()
            .find(|place| self.run_in.taken.at(*place).is_none())
    }

    fn fill_ends_page(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let readings: Option<Arc<Readings>> =
            self.session.as_ref().and_then(Session::shown).cloned();
        let panel = EndsPanel {
            taken: &self.run_in.taken,
            readings: readings.as_deref(),
            can_undo: !self.run_in.taken_before.is_empty(),
            focus: self.run_in.focus.take(),
        };
        match panel.show(ui) {
            Some(ends::Asked::Take(place)) => self.take_end(&ctx, place, readings.as_deref()),
            Some(ends::Asked::Undo) => {
                if let Some(before) = self.run_in.taken_before.pop() {
                    self.run_in.taken = before;
                    self.say(&ctx, "the last take is undone");
                }
            }
            Some(ends::Asked::Clear) => {
                self.run_in.change_taken(EndsTaken::default());
                self.run_in.focus = Some(Place::Start);
                self.say(&ctx, "both ends begin anew");
            }
            None => {}
        }
    }

    fn take_end(&mut self, ctx: &egui::Context, place: Place, readings: Option<&Readings>) {
        let Some(readings) = readings else {
            self.warn(ctx, "nothing to take: no input is open");
            return;
        };
        let mut taken = self.run_in.taken.clone();
        match taken.take(place, readings) {
            Ok(()) => {
                self.run_in.change_taken(taken);
                self.run_in.focus = self.next_place();
                self.say(ctx, format!("taken: the {} of the tape", place.name()));
            }
            Err(why) => self.warn(ctx, why),
        }
    }
}

fn kept_in_words(kept: &Kept) -> String {
    match (kept.phase, &kept.evaluation) {
        (Phase::Over, Some(shown)) => format!("End: {}", shown.ending()),
        (Phase::Over, None) => "nothing was kept".into(),
        (Phase::Starting, _) => "starting".into(),
        (Phase::Refused, _) => "NOT KEPT, tried again every few seconds".into(),
        (Phase::Running, None) => "the first reading comes after some seconds".into(),
        (Phase::Running, Some(_)) => "The run goes on".into(),
    }
}
