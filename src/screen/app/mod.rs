//! The screen as a whole: its state, and what each command does.

mod azimuth;
mod foot;
mod guide;
mod interface;
mod job;
mod job_pages;
mod layout;
mod lead;
mod mechanism;
mod run_in;
mod tape;

use super::{
    backstage::{Backstage, Done},
    inputs::{InputChoice, InputList, OpenInput},
    interface::InterfaceDesk,
    job_desk::JobDesk,
    keys::{self, Command, EarlyKeys, Side},
    mailbox::Mailbox,
    memory::{Memory, Remembered},
    model::{Adjustment, Subject, cautions::Cautions, tape::TapeForm},
    panels::{inputs::InputForm, tape::Problem},
    session::Session,
    strips::notices,
    taken::Taken,
    tape_shelf::{TapeList, TapeShelf},
    theme, views,
    window::{ScreenError, ScreenOptions},
};
use crate::{
    meters::MeterSetup,
    source::SourceError,
    tables::{Limits, TapeFormat, tape_formats},
};
use eframe::egui::{self, Theme, Ui};
use std::time::Duration;

/// How long the window's own remarks stay, seconds.
const REMARK_S: f64 = 8.0;
/// While the display is held, the status strip is looked after this often, seconds.
const HELD_LOOK_S: f64 = 1.0;

/// The screen, drawn into any egui context.
pub struct ScreenApp {
    limits: Limits,
    setup: MeterSetup,
    tape_shelf: TapeShelf,
    tapes: TapeList,
    formats: &'static [TapeFormat],
    early: EarlyKeys,
    backstage: Backstage,
    list: Option<InputList>,
    opening: Option<Opening>,
    /// The input that was asked for last.
    input: Option<InputChoice>,
    session: Option<Session>,
    shown: Subject,
    mechanisms: mechanism::Bench,
    jobs: job::Bench,
    interface: InterfaceDesk,
    lead: Option<lead::Walk>,
    stems: views::Stems,
    run_in: run_in::Bench,
    azimuth: views::AzimuthDesk,
    side: Option<Side>,
    side_opened: bool,
    page_opened: bool,
    tape_form: TapeForm,
    tape_problem: Option<Problem>,
    input_form: InputForm,
    taken: Vec<Taken>,
    remark: Option<Remark>,
    cautions: Cautions,
    guide: guide::GuideDesk,
    foot: foot::Setting,
    memory: Option<Memory>,
    remembered: Remembered,
}

struct Opening {
    /// What it is called until it tells its own name.
    name: String,
    mailbox: Mailbox,
    /// What is to be remembered once it has opened.
    remember: Option<InputChoice>,
}

struct Remark {
    line: notices::Line,
    until_s: f64,
}

impl ScreenApp {
    /// Prepares the screen in `ctx` (fonts, colours, keys), and opens the first input or lists what there is.
    ///
    /// # Errors
    /// When a built-in table is damaged.
    pub fn new(ctx: &egui::Context, options: ScreenOptions) -> Result<Self, ScreenError> {
        theme::install(ctx);
        let (remembered, forgotten) = recall(options.memory.as_ref());
        if let Some(theme) = options.theme.or(remembered.theme) {
            ctx.set_theme(theme);
        }
        let early = EarlyKeys::default();
        ctx.add_plugin(early.clone());
        let formats = tape_formats()?;
        let (desk, no_desk) = match options.jobs.map(|record| JobDesk::start(record, ctx)) {
            Some(Ok(desk)) => (Some(desk), None),
            Some(Err(error)) => (None, Some(error)),
            None => (None, None),
        };
        let mut app = Self {
            lead: lead::Walk::of(&remembered, options.start.as_ref()),
            interface: InterfaceDesk::new(options.profiles),
            tape_form: TapeForm::of(&options.setup, formats),
            jobs: job::Bench::new(desk, &options.limits, options.zone),
            limits: options.limits,
            setup: options.setup,
            tapes: options.tapes.list(),
            tape_shelf: options.tapes,
            formats,
            early,
            backstage: Backstage::new(options.inputs, ctx),
            list: None,
            opening: None,
            input: None,
            session: None,
            shown: Subject::Adjusting(Adjustment::Speed),
            mechanisms: mechanism::Bench::new(options.decks),
            stems: views::Stems::default(),
            run_in: run_in::Bench::new(options.logs),
            azimuth: views::AzimuthDesk::default(),
            side: None,
            side_opened: false,
            page_opened: true,
            tape_problem: None,
            input_form: InputForm::default(),
            taken: Vec::new(),
            remark: None,
            cautions: Cautions::default(),
            guide: guide::GuideDesk::new(options.outputs),
            foot: foot::Setting::default(),
            memory: options.memory,
            remembered,
        };
        if let Some(why) = forgotten {
            app.warn(ctx, why);
        }
        if let Some(error) = no_desk {
            app.warn(
                ctx,
                format!("jobs are not kept: cannot start a thread: {error}"),
            );
        }
        app.recall_mechanism(ctx);
        app.recall_job(ctx);
        app.list_logs(ctx);
        app.recall_foot_keys(ctx);
        app.recall_tape(ctx, options.format_is_given);
        // A deck or a recording from the command line is for this run; a sound input is the one at the bench.
        let remember = matches!(options.start, Some(InputChoice::SoundCard { .. }));
        // Listing probes the devices, which might be in the way of the one that is being opened.
        match options.start.or_else(|| app.remembered.input.clone()) {
            Some(choice) => app.open(ctx, choice, remember),
            None => app.list_inputs(ctx),
        }
        Ok(app)
    }

    /// Takes what the worker and the threads backstage have brought. Cheap; draws nothing.
    pub fn take_news(&mut self, ctx: &egui::Context) {
        let now_s = ctx.input(|input| input.time);
        while let Some(done) = self.backstage.take() {
            match done {
                Done::Listed(list) => self.list = Some(list),
                Done::Opened(result) => self.opened(ctx, result, now_s),
                Done::OutputsListed(list) => self.outputs_listed(list),
                Done::GuideStarted(number, result) => self.guide_started(ctx, number, result),
                Done::Looked(looked) => self.take_profile(ctx, *looked),
            }
        }
        if let Some(session) = &mut self.session {
            session.take_news(&self.limits, now_s);
        }
        self.take_job_news(ctx);
        self.take_run_in_news(ctx);
        self.guide_follows(ctx);
        self.follow_interface(ctx);
    }

    /// Tells that the window is hidden: snapshots no longer wake it.
    pub fn be_hidden(&self) {
        if let Some(session) = &self.session {
            session.be_hidden();
        }
    }

    /// Another deck is on the bench: every caution is due again.
    pub fn start_job(&mut self) {
        self.cautions.start_job();
    }

    /// Draws one frame.
    pub fn ui(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.take_news(&ctx);
        self.watch(&ctx);
        if self.foot.is_waiting() {
            self.catch_key(&ctx);
        } else {
            for command in keys::pressed(&ctx, &self.early, self.remembered.foot) {
                self.obey(&ctx, command);
            }
        }
        self.take_dropped_file(&ctx);
        self.ask_for_xy();
        self.show(ui);
    }

    /// Looks again after a while where nobody might wake the window: hanging meters, and remarks that end.
    fn watch(&mut self, ctx: &egui::Context) {
        let now_s = ctx.input(|input| input.time);
        if let Some(session) = &self.session {
            session.be_seen();
            if self.guide.is_on() {
                // It is told by the newest readings even while older ones are held on the screen.
                session.be_heard();
            }
            if let Some(stalled_after_s) = session.look_again_after_s() {
                let seconds = if session.is_held() {
                    HELD_LOOK_S
                } else {
                    stalled_after_s
                };
                ctx.request_repaint_after(Duration::from_secs_f64(seconds));
            }
        }
        self.run_in.watch(ctx);
        match &self.remark {
            Some(remark) if now_s >= remark.until_s => self.remark = None,
            Some(remark) => {
                ctx.request_repaint_after(Duration::from_secs_f64(remark.until_s - now_s));
            }
            None => {}
        }
    }

    fn obey(&mut self, ctx: &egui::Context, command: Command) {
        if self.job_hears(ctx, command) || self.run_in_hears(command) {
            return;
        }
        match command {
            Command::Show(subject) => self.shown = subject,
            Command::Next => self.shown = self.shown.next(),
            Command::Previous => self.shown = self.shown.previous(),
            Command::Take => self.take(ctx),
            Command::Undo => self.undo(ctx),
            Command::Reset => self.reset(ctx),
            Command::Hold => {
                if let Some(session) = &mut self.session {
                    session.toggle_hold();
                }
            }
            Command::Toggle(side) => self.toggle(ctx, side),
            Command::Theme => {
                let dark = ctx.theme() == Theme::Dark;
                let theme = if dark { Theme::Light } else { Theme::Dark };
                ctx.set_theme(theme);
                self.remembered.theme = Some(theme);
                self.keep(ctx);
            }
            Command::Close => self.side = None,
            Command::PutAway if self.lead.is_some() => self.skip_step(ctx),
            Command::PutAway => self.caution_read(ctx),
            Command::AnswerAsRead => self.answer_question(ctx, true),
            Command::AnswerOther => self.answer_question(ctx, false),
            of_azimuth if self.is_at_azimuth() => self.obey_azimuth(ctx, of_azimuth),
            of_the_mechanism => self.obey_mechanism(ctx, of_the_mechanism),
        }
    }

    fn toggle(&mut self, ctx: &egui::Context, side: Side) {
        if side == Side::RunIn {
            self.jobs.hide();
            self.toggle_run_in(ctx);
            return;
        }
        let has_screwdrivers = self.session.as_ref().is_some_and(Session::has_screwdrivers);
        if side == Side::Screwdrivers && !has_screwdrivers {
            self.warn(
                ctx,
                "only a virtual deck has screwdrivers: press i to open one",
            );
            return;
        }
        self.side = (self.side != Some(side)).then_some(side);
        self.side_opened = self.side.is_some();
        self.foot.forget();
        match side {
            Side::Standards if self.side.is_some() => self.ask_for_standards(ctx),
            Side::Cautions => self.cautions.all_were_read(),
            Side::Guide if self.side.is_some() => self.list_outputs(ctx),
            Side::Inputs if self.side.is_some() => self.list_inputs(ctx),
            Side::Mechanism => self.list_mechanisms(),
            Side::Tape => {
                self.list_tapes();
                self.tape_form = TapeForm::of(&self.setup, self.formats);
                self.tape_problem = None;
            }
            _ => {}
        }
    }

    fn take(&mut self, ctx: &egui::Context) {
        let Some((session, readings)) = self
            .session
            .as_ref()
            .and_then(|session| Some((session, session.shown()?)))
        else {
            self.warn(ctx, "nothing to take: no input is open");
            return;
        };
        let Subject::Adjusting(adjustment) = self.shown else {
            self.warn(
                ctx,
                "the mechanism is not taken as a reading: f keeps it as found",
            );
            return;
        };
        let state = session.glance(adjustment).state;
        let taken = Taken::take(adjustment, readings, state).and_then(|taken| {
            let record = self.for_record(&taken, readings)?.map(Box::new);
            Ok(Taken { record, ..taken })
        });
        match taken {
            Ok(taken) => {
                let Some(taken) = self.take_into_job(ctx, taken) else {
                    return;
                };
                let no_job = self.no_job_words();
                let number = self.taken.len() + 1;
                self.say(
                    ctx,
                    format!(
                        "taken as {number}: {} {} (z drops it, k lists all){no_job}",
                        taken.adjustment.name(),
                        taken.words
                    ),
                );
                self.taken.push(taken);
            }
            Err(why) => self.warn(ctx, why),
        }
    }

    fn undo(&mut self, ctx: &egui::Context) {
        match self.taken.pop() {
            Some(taken) => {
                let name = taken.adjustment.name();
                self.say(ctx, format!("dropped: {name} {}", taken.words));
            }
            None => self.warn(ctx, "nothing to drop: no reading is taken"),
        }
    }

    fn reset(&mut self, ctx: &egui::Context) {
        let Some(session) = &self.session else {
            self.warn(ctx, "nothing to reset: no input is open");
            return;
        };
        if session.reset_averages() {
            self.say(ctx, "averages start anew");
        } else {
            self.warn(
                ctx,
                "the meters have ended: press i and open the input again",
            );
        }
    }

    fn say(&mut self, ctx: &egui::Context, text: impl Into<String>) {
        self.remark(ctx, text.into(), false);
    }

    fn warn(&mut self, ctx: &egui::Context, text: impl Into<String>) {
        self.remark(ctx, text.into(), true);
    }

    fn remark(&mut self, ctx: &egui::Context, text: String, warns: bool) {
        self.remark = Some(Remark {
            line: notices::Line { text, warns },
            until_s: ctx.input(|input| input.time) + REMARK_S,
        });
    }

    fn list_inputs(&mut self, ctx: &egui::Context) {
        if let Err(error) = self.backstage.list() {
            self.warn(ctx, error.to_string());
        }
    }

    /// Remembers input, tape, mechanism and theme for the next run.
    fn keep(&mut self, ctx: &egui::Context) {
        let Some(memory) = &self.memory else {
            return;
        };
        if let Err(why) = memory.keep(&self.remembered) {
            self.warn(ctx, why);
        }
    }

    /// Closes the input that runs and opens another; `remember` for the next run, too.
    fn open(&mut self, ctx: &egui::Context, choice: InputChoice, remember: bool) {
        self.run_in_changes_input(ctx, &choice);
        self.session = None;
        self.input = Some(choice.clone());
        self.guide_forgets_outputs(ctx);
        self.stems = views::Stems::default();
        self.mechanisms.clear();
        self.forget_interface();
        // Another deck: which tape it plays is open again.
        self.setup.tape_is_certain = false;
        let mailbox = Mailbox::new(ctx);
        self.opening = Some(Opening {
            name: choice.name(),
            mailbox: mailbox.clone(),
            remember: remember.then(|| choice.clone().from_anywhere()),
        });
        let opening = self
            .backstage
            .open(choice, self.setup.clone(), mailbox.wake());
        if let Err(error) = opening {
            self.opening = None;
            self.input_form.problem = Some(error.to_string());
        }
    }

    fn opened(&mut self, ctx: &egui::Context, result: Result<OpenInput, SourceError>, now_s: f64) {
        let Some(opening) = self.opening.take() else {
            return;
        };
        match result {
            Ok(mut input) => {
                let tape_format = input.tape_format.take();
                let brings_format = tape_format.is_some();
                if let Some(tape_format) = tape_format {
                    self.setup.tape_format = tape_format;
                }
                self.take_decks_mechanism(ctx, input.mechanism.take());
                let session = Session::new(input, opening.mailbox, &self.limits, now_s);
                self.side = session.has_screwdrivers().then_some(Side::Screwdrivers);
                // The tape may have been changed while the input was being opened.
                session.change_setup(&self.setup);
                self.session = Some(session);
                self.feed_run_in();
                if opening.remember.is_some() {
                    self.remembered.input = opening.remember;
                    self.keep(ctx);
                }
                self.lead_past_input(ctx, brings_format);
            }
            Err(error) => {
                self.page_opened = true;
                self.list_inputs(ctx);
                self.input_form.problem = Some(error.to_string());
                self.warn(ctx, error.to_string());
            }
        }
    }

    fn take_dropped_file(&mut self, ctx: &egui::Context) {
        let dropped = ctx.input(|input| {
            input
                .raw
                .dropped_files
                .first()
                .map(|file| file.path().to_path_buf())
        });
        let Some(path) = dropped else {
            return;
        };
        if path.extension().is_some_and(|ending| ending == "toml") {
            self.import_profile(ctx, path, false);
        } else {
            self.take_dropped(ctx, path);
        }
    }
}

/// What is remembered, and why nothing is where something should be.
fn recall(memory: Option<&Memory>) -> (Remembered, Option<String>) {
    match memory.map(Memory::recall) {
        Some(Ok(remembered)) => (remembered, None),
        Some(Err(why)) => (Remembered::default(), Some(why)),
        None => (Remembered::default(), None),
    }
}
