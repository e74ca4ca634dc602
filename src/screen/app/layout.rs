//! How the parts of the screen share the window.

use super::ScreenApp;
use crate::{
    readings::{NoticeCode, Readings},
    screen::{
        foot_keys::FootAction,
        keys::Side,
        model::{Subject, format, interface, tape},
        panels::{
            cautions,
            inputs::{Asked, InputPanel},
            screwdrivers as screwdriver_panel, taken as taken_panel,
        },
        session::Session,
        strips::{cards, caution, job as job_strip, keys as key_strip, notices, status},
        theme::{self, Palette},
        views::{self, View},
    },
};
use eframe::egui::{CentralPanel, Frame, Margin, Panel, RichText, ScrollArea, Stroke, Ui, vec2};

/// Below this height the cards are low and the notices fewer, points.
const LOW_WINDOW: f32 = 620.0;
/// Room kept for the scroll bar of a side panel, so that it does not lie on the fields, points.
const BESIDE_SCROLL_BAR: f32 = 10.0;
/// Below this height the main view has narrow margins, points.
const LOW_MAIN: f32 = 300.0;

impl ScreenApp {
    /// Strips first, then the side panel, and the main view in what is left.
    pub(super) fn show(&mut self, ui: &mut Ui) {
        let low = ui.available_height() < LOW_WINDOW;
        self.show_strips(ui, low);
        self.show_side(ui);
        self.show_caution(ui, low);
        self.show_main(ui);
    }

    fn show_strips(&mut self, ui: &mut Ui, low: bool) {
        let now_s = ui.ctx().input(|input| input.time);
        let live = self.session.as_ref().and_then(Session::live);
        let stalled = self
            .session
            .as_ref()
            .is_some_and(|session| session.is_stalled(now_s));
        let tape = tape::in_words(&self.setup, &self.tapes);
        let strip = Frame::new()
            .fill(Palette::of(ui).panel)
            .inner_margin(Margin::symmetric(12, 6));
        Panel::top("status").frame(strip).show(ui, |ui| {
            let strip = status::Status {
                readings: live.map(|live| &**live),
                limits: &self.limits.input_level,
                tape: &tape,
                job: self.jobs.sign(),
                corrected: interface::corrected(&self.setup),
                stalled,
                brief: low,
                run_in: self.run_in.sign(low),
                guide: self.guide.status(),
            };
            status::show(ui, &strip);
        });
        let switched = key_strip::Switched {
            hold: self.session.as_ref().is_some_and(Session::is_held),
            side: self.side,
            screwdrivers: self.session.as_ref().is_some_and(Session::has_screwdrivers),
            brief: low,
            mechanism: self.shown == Subject::Mechanism,
            job: self.jobs.switched(),
            foot: self.remembered.foot,
            azimuth: self.is_at_azimuth(),
        };
        let clicked = Panel::bottom("keys")
            .frame(strip)
            .show(ui, |ui| key_strip::show(ui, switched))
            .inner;
        if let Some(command) = clicked {
            self.obey(&ui.ctx().clone(), command);
        }
        if let Some(subject) = self.show_cards(ui, low) {
            self.run_in.hide();
            self.shown = subject;
            self.jobs.hide();
        }
        self.show_left_behind(ui);
        self.show_notices(ui, now_s, low);
        self.show_asked(ui, strip);
    }

    /// What waits for an answer, without being in the way: the first steps above the main view, a question below it.
    fn show_asked(&mut self, ui: &mut Ui, strip: Frame) {
        if self.lead.is_some() {
            Panel::top("first steps")
                .frame(strip)
                .show(ui, |ui| self.show_lead(ui));
        }
        if self.tape_question().is_some() {
            let around = Frame::new().inner_margin(Margin::symmetric(12, 4));
            Panel::bottom("question")
                .frame(around)
                .show_separator_line(false)
                .show(ui, |ui| self.show_question(ui));
        }
    }

    /// Nothing is adjusted in the mechanism's view, which needs its height.
    fn has_room_for_a_caution(&self, low: bool) -> bool {
        !low && self.shown != Subject::Mechanism
    }

    /// The caution of the moment, over the view; where room is short it stands among the notices.
    fn show_caution(&mut self, ui: &mut Ui, low: bool) {
        let Some(moment) = self.caution().filter(|_| self.has_room_for_a_caution(low)) else {
            return;
        };
        let around = Frame::new().inner_margin(Margin {
            left: 12,
            right: 12,
            top: 8,
            bottom: 0,
        });
        let read = Panel::top("caution")
            .frame(around)
            .show_separator_line(false)
            .show(ui, |ui| caution::show(ui, moment))
            .inner;
        if read {
            self.cautions.was_read(moment);
        }
    }

    fn show_cards(&self, ui: &mut Ui, low: bool) -> Option<Subject> {
        let around = Frame::new().inner_margin(Margin::symmetric(12, if low { 4 } else { 8 }));
        let session = self
            .session
            .as_ref()
            .filter(|session| session.live().is_some());
        let readings = session.and_then(Session::shown);
        Panel::bottom("cards")
            .frame(around)
            .show_separator_line(false)
            .show(ui, |ui| {
                let height = if low { cards::LOW } else { cards::HEIGHT };
                cards::show(ui, height, self.shown, |subject| cards::Card {
                    glance: match subject {
                        Subject::Adjusting(adjustment) => {
                            session.map(|session| session.glance(adjustment))
                        }
                        Subject::Mechanism => None,
                    },
                    words: readings.map_or_else(
                        || "no input".to_owned(),
                        |readings| views::short_answer(readings),
                    ),
                    second: readings.map_or_else(String::new, |readings| {
                        views::second_line(subject, readings)
                    }),
                })
            })
            .inner
    }

    fn show_notices(&self, ui: &mut Ui, now_s: f64, low: bool) {
        let mut lines = self.notices(now_s);
        if !self.has_room_for_a_caution(low) {
            lines.extend(self.caution().map(|moment| notices::Line {
                text: moment.brief().into(),
                warns: true,
            }));
        }
        if low {
            lines.retain(|line| line.warns || self.is_remark(line));
            lines.truncate(1);
        }
        if lines.is_empty() {
            return;
        }
        let around = Frame::new().inner_margin(Margin {
            left: 12,
            right: 12,
            top: 6,
            bottom: 0,
        });
        Panel::bottom("notices")
            .frame(around)
            .show_separator_line(false)
            .show(ui, |ui| notices::show(ui, &lines, if low { 1 } else { 2 }));
    }

    fn is_remark(&self, line: &notices::Line) -> bool {
        self.remark
            .as_ref()
            .is_some_and(|remark| remark.line == *line)
    }

    /// The window's own remark, then what warns, the first caution among it, then what the meters explain.
    fn notices(&self, now_s: f64) -> Vec<notices::Line> {
        let mut lines = Vec::new();
        lines.extend(self.remark.as_ref().map(|remark| remark.line.clone()));
        let own = lines.len();
        lines.extend(self.jobs.notices(now_s));
        let live = self.session.as_ref().and_then(Session::live);
        if let Some(readings) = live {
            // The question which tape plays has its own place, and is settled where it was answered.
            let said = readings.notices.iter().filter(|notice| {
                notice.code != NoticeCode::OtherStandardTone || readings.tape_question.is_none()
            });
            lines.extend(said.map(|notice| notices::Line {
                text: notice.message.clone(),
                warns: warns(notice.code),
            }));
        }
        lines.extend(self.run_in.notices());
        if let Some(remark) = self.guide.remark() {
            lines.push(notices::Line {
                text: remark.into(),
                warns: true,
            });
        }
        lines[own..].sort_by_key(|line| !line.warns);
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
                    .show(ui, |ui| {
                        ui.set_max_width(ui.available_width() - BESIDE_SCROLL_BAR);
                        self.fill_side(ui, side, opened);
                    });
            });
    }

    fn fill_side(&mut self, ui: &mut Ui, side: Side, opened: bool) {
        match side {
            Side::Tape => self.fill_tape(ui, opened),
            Side::Mechanism => self.fill_mechanisms(ui, opened),
            Side::Interface => self.fill_interface(ui, opened),
            Side::Inputs => {
                // The first entry takes the focus as soon as there is one.
                let listed = self.list.is_some();
                self.side_opened = opened && !listed;
                self.fill_inputs(ui, opened && listed);
            }
            Side::Screwdrivers => match self.session.as_mut().and_then(Session::screwdrivers) {
                Some(screwdrivers) => screwdriver_panel::show(ui, screwdrivers, opened),
                None => self.side = None,
            },
            Side::Taken => {
                if self.fill_job_taken(ui) {
                    return;
                }
                if taken_panel::show(ui, &self.taken) {
                    self.undo(&ui.ctx().clone());
                }
            }
            Side::Keys => self.fill_keys(ui),
            Side::Standards => self.fill_standards(ui, opened),
            Side::Guide => self.fill_guide(ui, opened),
            Side::Cautions => cautions::show(ui),
            Side::RunIn => self.fill_run_in_side(ui, opened),
        }
    }

    fn fill_inputs(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let mut panel = InputPanel {
            form: &mut self.input_form,
            list: self.list.as_ref(),
            listing: self.backstage.is_listing(),
            opened,
        };
        let asked = panel.show(ui);
        match asked {
            Some(Asked::Open(choice)) => self.open(&ctx, choice, true),
            Some(Asked::List) => self.list_inputs(&ctx),
            None => {}
        }
    }

    fn show_main(&mut self, ui: &mut Ui) {
        let low = ui.available_height() < LOW_MAIN;
        let frame = Frame::new().inner_margin(Margin::symmetric(16, if low { 4 } else { 12 }));
        CentralPanel::default().frame(frame).show(ui, |ui| {
            ScrollArea::vertical()
                .id_salt("main")
                .auto_shrink(false)
                .show(ui, |ui| self.fill_main(ui));
        });
    }

    fn fill_main(&mut self, ui: &mut Ui) {
        if let Some(page) = self.jobs.page() {
            self.fill_page(ui, page);
            return;
        }
        if self.run_in.is_shown() {
            self.fill_run_in(ui);
            return;
        }
        if self.is_editing() {
            self.fill_editor(ui);
            return;
        }
        if let Some(opening) = &self.opening {
            ui.heading(format!("opening {} …", opening.name));
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
        let Subject::Adjusting(adjustment) = self.shown else {
            self.fill_mechanism(ui);
            return;
        };
        if let Some(line) = self.jobs.line(adjustment, readings) {
            job_strip::show(ui, adjustment.name(), &line);
        }
        let take_key = self.remembered.foot.in_words(FootAction::Take);
        let view = View {
            take_key: &take_key,
            glance: session.glance(adjustment),
            readings,
            setup: &self.setup,
            limits: &self.limits,
        };
        let wish = views::show(ui, &view, &mut self.stems, &mut self.azimuth);
        if let Some(wish) = wish {
            self.grant_azimuth(&ui.ctx().clone(), wish);
        }
    }

    fn fill_first_page(&mut self, ui: &mut Ui) {
        ui.heading("Choose what to listen to");
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
        "HELD {} ago, at {} of the input. h lets it go on",
        format::duration(age_s),
        format::duration(held.source.seconds)
    );
    Frame::new()
        .fill(palette.raised)
        .stroke(Stroke::new(3.0, palette.moving))
        .inner_margin(Margin::symmetric(12, 4))
        .show(ui, |ui| {
            ui.set_min_size(vec2(ui.available_width(), 0.0));
            let text = RichText::new(text).font(theme::strong(20.0));
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
