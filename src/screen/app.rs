//! The screen as a whole: its state, the commands, and how its parts share the window.

use super::{
    backstage::{Backstage, Done},
    inputs::{InputChoice, InputList},
    keys::{self, Command, EarlyKeys, Side},
    mailbox::Mailbox,
    model::{
        Adjustment, format,
        tape::{self, TapeForm},
    },
    panels::{
        cautions,
        inputs::{self as input_panel, Asked, InputForm},
        keys as key_panel, screwdrivers as screwdriver_panel, taken as taken_panel,
        tape::TapePanel,
    },
    session::Session,
    strips::{cards, keys as key_strip, notices, status},
    taken::Taken,
    theme::{self, Palette},
    views::{self, View},
    window::{ScreenError, ScreenOptions},
};
use crate::{
    meters::MeterSetup,
    readings::{NoticeCode, Readings},
    tables::{Limits, TapeFormat, TestTape, tape_formats, test_tapes},
};
use eframe::egui::{self, CentralPanel, Frame, Margin, Panel, ScrollArea, Theme, Ui, vec2};
use std::time::Duration;

/// How long the window's own remarks stay, seconds.
const REMARK_S: f64 = 8.0;
/// Below this height the cards are low and the notices fewer, points.
const LOW_WINDOW: f32 = 620.0;

/// The screen, drawn into any egui context.
pub struct ScreenApp {
    limits: Limits,
    setup: MeterSetup,
    tapes: &'static [TestTape],
    formats: &'static [TapeFormat],
    early: EarlyKeys,
    backstage: Backstage,
    list: Option<InputList>,
    opening: Option<(String, Mailbox)>,
    session: Option<Session>,
    shown: Adjustment,
    stems: views::Stems,
    side: Option<Side>,
    side_opened: bool,
    page_opened: bool,
    tape_form: TapeForm,
    tape_problem: Option<String>,
    input_form: InputForm,
    taken: Vec<Taken>,
    remark: Option<Remark>,
    cautions_seen: bool,
}

struct Remark {
    line: notices::Line,
    until_s: f64,
}

impl ScreenApp {
    /// Prepares the screen in `ctx` (fonts, colours, keys), starts listing the inputs and opening the first one.
    ///
    /// # Errors
    /// When a built-in table is damaged.
    pub fn new(ctx: &egui::Context, options: ScreenOptions) -> Result<Self, ScreenError> {
        theme::install(ctx);
        if let Some(theme) = options.theme {
            ctx.set_theme(theme);
        }
        let early = EarlyKeys::default();
        ctx.add_plugin(early.clone());
        let formats = tape_formats()?;
        let mut app = Self {
            tape_form: TapeForm::of(&options.setup, formats),
            limits: options.limits,
            setup: options.setup,
            tapes: test_tapes()?,
            formats,
            early,
            backstage: Backstage::new(options.inputs, ctx),
            list: None,
            opening: None,
            session: None,
            shown: Adjustment::Speed,
            stems: views::Stems::default(),
            side: None,
            side_opened: false,
            page_opened: true,
            tape_problem: None,
            input_form: InputForm::default(),
            taken: Vec::new(),
            remark: None,
            cautions_seen: false,
        };
        app.list_inputs(ctx);
        if let Some(choice) = options.start {
            app.open(ctx, choice);
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
            }
        }
        if let Some(session) = &mut self.session {
            session.take_news(&self.limits, now_s);
        }
    }

    /// Tells that the window is hidden: snapshots no longer wake it.
    pub fn be_hidden(&self) {
        if let Some(session) = &self.session {
            session.be_hidden();
        }
    }

    /// Draws one frame.
    pub fn ui(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.take_news(&ctx);
        self.watch(&ctx);
        for command in keys::pressed(&ctx, &self.early) {
            self.obey(&ctx, command);
        }
        self.take_dropped_file(&ctx);
        let low = ui.available_height() < LOW_WINDOW;
        self.show_strips(ui, low);
        self.show_side(ui);
        self.show_main(ui);
    }

    /// Looks again after a while where nobody might wake the window: hanging meters, and remarks that end.
    fn watch(&mut self, ctx: &egui::Context) {
        let now_s = ctx.input(|input| input.time);
        if let Some(session) = &self.session {
            session.be_seen();
            if let Some(seconds) = session.look_again_after_s() {
                ctx.request_repaint_after(Duration::from_secs_f64(seconds));
            }
        }
        match &self.remark {
            Some(remark) if now_s >= remark.until_s => self.remark = None,
            Some(remark) => {
                ctx.request_repaint_after(Duration::from_secs_f64(remark.until_s - now_s));
            }
            None => {}
        }
    }

    fn obey(&mut self, ctx: &egui::Context, command: Command) {
        match command {
            Command::Show(adjustment) => self.shown = adjustment,
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
                ctx.set_theme(if dark { Theme::Light } else { Theme::Dark });
            }
            Command::Close => self.side = None,
        }
    }

    fn toggle(&mut self, ctx: &egui::Context, side: Side) {
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
        match side {
            Side::Cautions => self.cautions_seen = true,
            Side::Inputs if self.side.is_some() => self.list_inputs(ctx),
            Side::Tape => {
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
        let state = session.glance(self.shown).state;
        match Taken::take(self.shown, readings, state) {
            Ok(taken) => {
                let number = self.taken.len() + 1;
                self.say(
                    ctx,
                    format!(
                        "taken as {number}: {} {} (z drops it, k lists all)",
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

    /// Closes the input that runs and opens another.
    fn open(&mut self, ctx: &egui::Context, choice: InputChoice) {
        self.session = None;
        self.stems = views::Stems::default();
        let mailbox = Mailbox::new(ctx);
        self.opening = Some((choice.name(), mailbox.clone()));
        let opening = self
            .backstage
            .open(choice, self.setup.clone(), mailbox.wake());
        if let Err(error) = opening {
            self.opening = None;
            self.input_form.problem = Some(error.to_string());
        }
    }

    fn opened(
        &mut self,
        ctx: &egui::Context,
        result: Result<super::inputs::OpenInput, crate::source::SourceError>,
        now_s: f64,
    ) {
        let Some((_, mailbox)) = self.opening.take() else {
            return;
        };
        match result {
            Ok(input) => {
                let session = Session::new(input, mailbox, &self.limits, now_s);
                self.side = session.has_screwdrivers().then_some(Side::Screwdrivers);
                // The tape may have been changed while the input was being opened.
                session.change_setup(&self.setup);
                self.session = Some(session);
            }
            Err(error) => {
                self.page_opened = true;
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
        if let Some(path) = dropped {
            self.open(ctx, InputChoice::Recording(path));
        }
    }

    fn show_strips(&mut self, ui: &mut Ui, low: bool) {
        let now_s = ui.ctx().input(|input| input.time);
        let live = self.session.as_ref().and_then(Session::live);
        let stalled = self
            .session
            .as_ref()
            .is_some_and(|session| session.is_stalled(now_s));
        let tape = tape::in_words(&self.setup, self.tapes);
        let strip = Frame::new()
            .fill(Palette::of(ui).panel)
            .inner_margin(Margin::symmetric(12, 6));
        Panel::top("status").frame(strip).show(ui, |ui| {
            let live = live.map(|live| &**live);
            status::show(ui, live, &self.limits.input_level, &tape, stalled);
        });
        let switched = key_strip::Switched {
            hold: self.session.as_ref().is_some_and(Session::is_held),
            side: self.side,
            screwdrivers: self.session.as_ref().is_some_and(Session::has_screwdrivers),
        };
        let clicked = Panel::bottom("keys")
            .frame(strip)
            .show(ui, |ui| key_strip::show(ui, switched))
            .inner;
        if let Some(command) = clicked {
            self.obey(&ui.ctx().clone(), command);
        }
        if let Some(adjustment) = self.show_cards(ui, low) {
            self.shown = adjustment;
        }
        self.show_notices(ui, low);
    }

    fn show_cards(&self, ui: &mut Ui, low: bool) -> Option<Adjustment> {
        let ground = Frame::new()
            .fill(Palette::of(ui).ground)
            .inner_margin(Margin::symmetric(12, 8));
        let session = self
            .session
            .as_ref()
            .filter(|session| session.live().is_some());
        let readings = session.and_then(Session::shown);
        Panel::bottom("cards")
            .frame(ground)
            .show_separator_line(false)
            .show(ui, |ui| {
                cards::show(
                    ui,
                    if low { cards::LOW } else { cards::HEIGHT },
                    self.shown,
                    |adjustment| session.map(|session| session.glance(adjustment)),
                    |adjustment| {
                        readings.map_or_else(String::new, |readings| {
                            views::second_line(adjustment, readings)
                        })
                    },
                )
            })
            .inner
    }

    fn show_notices(&self, ui: &mut Ui, low: bool) {
        let mut lines = self.notices();
        if low {
            lines.truncate(1);
        }
        if lines.is_empty() {
            return;
        }
        let ground = Frame::new()
            .fill(Palette::of(ui).ground)
            .inner_margin(Margin {
                left: 12,
                right: 12,
                top: 6,
                bottom: 0,
            });
        Panel::bottom("notices")
            .frame(ground)
            .show_separator_line(false)
            .show(ui, |ui| notices::show(ui, &lines));
    }

    /// The window's own remark, then what the meters say, then the first caution.
    fn notices(&self) -> Vec<notices::Line> {
        let mut lines = Vec::new();
        lines.extend(self.remark.as_ref().map(|remark| remark.line.clone()));
        let live = self.session.as_ref().and_then(Session::live);
        if let Some(readings) = live {
            lines.extend(readings.notices.iter().map(|notice| notices::Line {
                text: notice.message.clone(),
                warns: warns(notice.code),
            }));
        }
        if !self.cautions_seen {
            lines.push(notices::Line {
                text: cautions::FIRST.into(),
                warns: true,
            });
        }
        lines
    }

    fn show_side(&mut self, ui: &mut Ui) {
        let Some(side) = self.side else {
            return;
        };
        let width = (ui.available_width() * 0.45).min(340.0);
        let frame = Frame::new()
            .fill(Palette::of(ui).panel)
            .inner_margin(Margin::same(12));
        let opened = std::mem::take(&mut self.side_opened);
        Panel::right("side")
            .frame(frame)
            .exact_size(width)
            .resizable(false)
            .show(ui, |ui| {
                ScrollArea::vertical()
                    .id_salt(side)
                    .auto_shrink(false)
                    .show(ui, |ui| self.fill_side(ui, side, opened));
            });
    }

    fn fill_side(&mut self, ui: &mut Ui, side: Side, opened: bool) {
        match side {
            Side::Tape => self.fill_tape(ui, opened),
            Side::Inputs => self.fill_inputs(ui, opened),
            Side::Screwdrivers => match self.session.as_mut().and_then(Session::screwdrivers) {
                Some(screwdrivers) => screwdriver_panel::show(ui, screwdrivers, opened),
                None => self.side = None,
            },
            Side::Taken => {
                if taken_panel::show(ui, &self.taken) {
                    self.undo(&ui.ctx().clone());
                }
            }
            Side::Keys => key_panel::show(ui),
            Side::Cautions => cautions::show(ui),
        }
    }

    fn fill_tape(&mut self, ui: &mut Ui, opened: bool) {
        let mut panel = TapePanel {
            form: &mut self.tape_form,
            problem: &mut self.tape_problem,
            setup: &self.setup,
            tapes: self.tapes,
            formats: self.formats,
            opened,
        };
        let Some(setup) = panel.show(ui) else {
            return;
        };
        self.setup = setup;
        if let Some(session) = &self.session {
            session.change_setup(&self.setup);
        }
        let tape = tape::in_words(&self.setup, self.tapes);
        let format = &self.setup.tape_format.title;
        let said = format!("tape in use: {tape}; {format}");
        self.say(&ui.ctx().clone(), said);
    }

    fn fill_inputs(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let asked = input_panel::show(
            ui,
            &mut self.input_form,
            self.list.as_ref(),
            self.backstage.is_listing(),
            opened,
        );
        match asked {
            Some(Asked::Open(choice)) => self.open(&ctx, choice),
            Some(Asked::List) => self.list_inputs(&ctx),
            None => {}
        }
    }

    fn show_main(&mut self, ui: &mut Ui) {
        let frame = Frame::new()
            .fill(Palette::of(ui).ground)
            .inner_margin(Margin::symmetric(16, 12));
        CentralPanel::default().frame(frame).show(ui, |ui| {
            ScrollArea::vertical()
                .id_salt("main")
                .auto_shrink(false)
                .show(ui, |ui| self.fill_main(ui));
        });
    }

    fn fill_main(&mut self, ui: &mut Ui) {
        if let Some((name, _)) = &self.opening {
            ui.heading(format!("opening {name} …"));
            return;
        }
        let Some(session) = &self.session else {
            self.fill_first_page(ui);
            return;
        };
        let Some(readings) = session.shown() else {
            ui.heading("waiting for samples …");
            return;
        };
        if session.is_held() {
            held_banner(ui, readings, session.live().map(|live| &**live));
        }
        let view = View {
            glance: session.glance(self.shown),
            readings,
            setup: &self.setup,
            limits: &self.limits,
        };
        views::show(ui, &view, &mut self.stems);
    }

    fn fill_first_page(&mut self, ui: &mut Ui) {
        ui.set_max_width(640.0);
        ui.heading("What shall be listened to?");
        ui.add_space(8.0);
        let opened = self.page_opened && self.list.is_some() && self.side.is_none();
        if opened {
            self.page_opened = false;
        }
        if self.side != Some(Side::Inputs) {
            self.fill_inputs(ui, opened);
        }
    }
}

/// Says across the view that what is shown does not move, and how old it is.
fn held_banner(ui: &mut Ui, held: &Readings, live: Option<&Readings>) {
    let palette = Palette::of(ui);
    let age_s = live.map_or(0.0, |live| live.source.seconds - held.source.seconds);
    let text = format!(
        "HELD at {}: {} ago. h lets it go on",
        format::duration(held.source.seconds),
        format::duration(age_s)
    );
    Frame::new()
        .fill(palette.raised)
        .stroke(egui::Stroke::new(3.0, palette.moving))
        .inner_margin(Margin::symmetric(12, 4))
        .show(ui, |ui| {
            ui.set_min_size(vec2(ui.available_width(), 0.0));
            let text = egui::RichText::new(text).font(theme::strong(20.0));
            ui.label(text.color(palette.text));
        });
    ui.add_space(4.0);
}

/// Whether a notice is a warning rather than an explanation.
fn warns(code: NoticeCode) -> bool {
    match code {
        NoticeCode::Clipping
        | NoticeCode::OtherStandardTone
        | NoticeCode::LostSamples
        | NoticeCode::Dropouts
        | NoticeCode::BadSamples
        | NoticeCode::DigitalSilence
        | NoticeCode::OneChannel
        | NoticeCode::OppositePolarity
        | NoticeCode::DamagedRecording => true,
        NoticeCode::ToneAssumed
        | NoticeCode::ToneChanged
        | NoticeCode::SpeedMoved
        | NoticeCode::PhaseAmbiguous
        | NoticeCode::Uncorrected
        | NoticeCode::RateLimits => false,
    }
}
