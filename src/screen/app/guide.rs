//! The sound guide's part of the screen: choosing an output, starting it behind its caution, and telling it at each
//! snapshot how far off the reading in hand is.

use super::ScreenApp;
use crate::{
    guide::{Aim, GuideError, GuideOf, OutputName, START_LEVEL_DBFS},
    readings::{InputState, Readings},
    screen::{
        keys::Side,
        model::{Adjustment, Subject, format},
        outputs::{Guide, OutputChoices, Outputs},
        panels::guide::{Asked, GuidePanel, Stage},
        session::Session,
    },
};
use eframe::egui::{self, Ui};
use std::{sync::Arc, thread, time::Instant};

/// What the screen knows of the guide.
pub(super) struct GuideDesk {
    outputs: Arc<dyn Outputs>,
    list: Option<OutputChoices>,
    listing: bool,
    offer_all: bool,
    chosen: Option<OutputName>,
    level_dbfs: f64,
    /// Number of the last start: what an earlier one brings is let go of.
    starts: u64,
    sound: Sound,
    problem: Option<String>,
    /// Stream time of the reading that was told last.
    told_s: Option<f64>,
    heard: Heard,
}

enum Sound {
    Off,
    Asking,
    Starting,
    On(Box<dyn Guide>),
}

/// What is heard of it, as told last.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Heard {
    of: Option<GuideOf>,
    offset: Option<f32>,
    remark: Option<&'static str>,
}

impl GuideDesk {
    pub(super) fn new(outputs: Arc<dyn Outputs>) -> Self {
        Self {
            outputs,
            list: None,
            listing: false,
            offer_all: false,
            chosen: None,
            level_dbfs: START_LEVEL_DBFS,
            starts: 0,
            sound: Sound::Off,
            problem: None,
            told_s: None,
            heard: Heard::default(),
        }
    }

    /// Whether it is heard, or about to be.
    pub(super) fn is_on(&self) -> bool {
        matches!(self.sound, Sound::On(_) | Sound::Starting)
    }

    /// For the status strip, while it is on.
    pub(super) fn status(&self) -> Option<String> {
        self.is_on().then(|| self.in_words())
    }

    /// What has to be known of what is heard at this moment.
    pub(super) fn remark(&self) -> Option<&'static str> {
        self.heard.remark.filter(|_| self.is_on())
    }

    fn in_words(&self) -> String {
        let name = self.chosen.as_ref().map_or("", |output| &output.name);
        match self.sound {
            Sound::Off | Sound::Asking => "off".into(),
            Sound::Starting => format!("starting on {name}"),
            Sound::On(_) => {
                let heard = self.heard.in_words();
                let level = format::plain(self.level_dbfs, 0);
                format!("{heard} · {name} · {level} dBFS")
            }
        }
    }

    fn stage(&self) -> Stage {
        match self.sound {
            Sound::Off => Stage::Off,
            Sound::Asking => Stage::Asking,
            Sound::Starting => Stage::Starting,
            Sound::On(_) => Stage::On,
        }
    }

    /// Fades it out. True when there was something to fade out.
    fn stop(&mut self) -> bool {
        self.starts += 1;
        self.told_s = None;
        self.heard = Heard::default();
        match std::mem::replace(&mut self.sound, Sound::Off) {
            Sound::On(guide) => {
                let_go(guide);
                true
            }
            Sound::Starting => true,
            Sound::Off | Sound::Asking => false,
        }
    }

    /// Takes the list of outputs. One that was chosen and is gone, or is not offered any more, is not chosen any more.
    fn listed(&mut self, list: OutputChoices) {
        self.listing = false;
        self.list = Some(list);
        self.choose_only_what_is_offered();
    }

    fn choose_only_what_is_offered(&mut self) {
        let offered = |output: &OutputName| {
            let mut outputs = self.list.iter().flat_map(|list| &list.outputs);
            outputs.any(|choice| choice.output == *output && (self.offer_all || !choice.leads_back))
        };
        if !self.is_on() && !self.chosen.as_ref().is_some_and(offered) {
            self.chosen = None;
            self.sound = Sound::Off;
        }
    }

    /// Tells how far off the reading is, once a snapshot.
    fn tell(&mut self, aim: Option<Aim>, of: Option<GuideOf>, readings: &Readings) {
        let Sound::On(guide) = &self.sound else {
            return;
        };
        let now_s = readings.source.seconds;
        let is_news = self.told_s != Some(now_s);
        let offset = aim.map_or(f32::NAN, |aim| aim.offset(readings));
        let heard = Heard {
            of,
            offset: offset.is_finite().then_some(offset),
            remark: aim.and_then(|aim| aim.remark(readings)),
        };
        if is_news || heard != self.heard {
            guide.aim(offset);
        }
        self.told_s = Some(now_s);
        self.heard = heard;
    }
}

impl Heard {
    fn in_words(self) -> String {
        let Some(of) = self.of else {
            return "silent: nothing to guide in this view".into();
        };
        let of = match of {
            GuideOf::Speed => "speed",
            GuideOf::Azimuth => "azimuth",
            GuideOf::Balance => "balance",
        };
        match self.offset {
            None => format!("{of}: silent, no reading"),
            Some(offset) if offset > 0.0 => format!("{of}: high pips"),
            Some(offset) if offset < 0.0 => format!("{of}: low pips"),
            Some(_) => format!("{of}: silent, in the target"),
        }
    }
}

/// Fading out takes a moment: not where the window is drawn.
fn let_go(guide: Box<dyn Guide>) {
    let fading = thread::Builder::new().name("stop guide".into());
    // Without a thread it is dropped here and now, and the window waits for it.
    let _detached = fading.spawn(move || drop(guide));
}

/// What the guide can be of.
const fn guided(shown: Subject) -> Option<GuideOf> {
    match shown {
        Subject::Adjusting(Adjustment::Speed) => Some(GuideOf::Speed),
        Subject::Adjusting(Adjustment::Azimuth) => Some(GuideOf::Azimuth),
        Subject::Adjusting(Adjustment::Level) => Some(GuideOf::Balance),
        Subject::Adjusting(Adjustment::Flutter) | Subject::Mechanism => None,
    }
}

impl ScreenApp {
    /// At each look at the news: tells the guide, and stops it when there is nothing to guide by any more.
    pub(super) fn guide_follows(&mut self, ctx: &egui::Context) {
        let Sound::On(sounding) = &mut self.guide.sound else {
            return;
        };
        let trouble = sounding.trouble(Instant::now());
        let stop = match self.session.as_ref() {
            _ if trouble.is_some() => trouble,
            None => Some("the sound guide stops: no input is open".into()),
            Some(session) => session
                .live()
                .and_then(|readings| match &readings.source.state {
                    InputState::Lost(_) | InputState::Failed(_) => {
                        Some("the sound guide stops: the input is lost".into())
                    }
                    InputState::Ended => Some("the sound guide stops: the input is over".into()),
                    InputState::Opening | InputState::Running => None,
                }),
        };
        if let Some(why) = stop {
            self.stop_guide(ctx, why);
            return;
        }
        let of = guided(self.shown);
        let aim = of.map(|of| Aim::new(of, &self.limits));
        if let Some(readings) = self.session.as_ref().and_then(Session::live) {
            self.guide.tell(aim, of, readings);
        }
    }

    /// Stops the guide, and says why in the panel and in the notices.
    pub(super) fn stop_guide(&mut self, ctx: &egui::Context, why: String) {
        if self.guide.stop() {
            self.guide.problem = Some(why.clone());
            self.warn(ctx, why);
        }
    }

    /// Another input: what was safe to be heard may be heard in this one.
    pub(super) fn guide_forgets_outputs(&mut self, ctx: &egui::Context) {
        self.stop_guide(ctx, "the sound guide stops: the input is changed".into());
        self.guide.list = None;
        self.guide.chosen = None;
        self.guide.sound = Sound::Off;
        if self.side == Some(Side::Guide) {
            self.side = None;
        }
    }

    /// Lists the outputs, off the drawing thread.
    pub(super) fn list_outputs(&mut self, ctx: &egui::Context) {
        if self.guide.listing {
            return;
        }
        let (outputs, input) = (self.guide.outputs.clone(), self.input.clone());
        let listing = self
            .backstage
            .list_outputs(move || outputs.list(input.as_ref()));
        match listing {
            Ok(()) => self.guide.listing = true,
            Err(error) => self.warn(ctx, error.to_string()),
        }
    }

    /// The list of outputs is there.
    pub(super) fn outputs_listed(&mut self, list: OutputChoices) {
        self.guide.listed(list);
    }

    /// The guide's output is open, or cannot be opened.
    pub(super) fn guide_started(
        &mut self,
        ctx: &egui::Context,
        number: u64,
        result: Result<Box<dyn Guide>, GuideError>,
    ) {
        let wanted = number == self.guide.starts && matches!(self.guide.sound, Sound::Starting);
        match result {
            Ok(guide) if wanted => {
                guide.set_level_dbfs(self.guide.level_dbfs);
                self.guide.sound = Sound::On(guide);
                self.side_opened = true;
            }
            Ok(guide) => let_go(guide),
            Err(error) if wanted => {
                self.guide.sound = Sound::Off;
                self.guide.problem = Some(error.to_string());
                self.warn(ctx, error.to_string());
            }
            Err(_) => {}
        }
    }

    pub(super) fn fill_guide(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let desk = &self.guide;
        let state = format!("The guide: {}", desk.in_words());
        // The first output takes the focus as soon as there is one.
        let waits = desk.stage() == Stage::Off && desk.list.is_none();
        let mut panel = GuidePanel {
            list: desk.list.as_ref(),
            listing: desk.listing,
            chosen: desk.chosen.as_ref(),
            offer_all: desk.offer_all,
            stage: desk.stage(),
            state: &state,
            problem: desk.problem.as_deref(),
            level_dbfs: desk.level_dbfs,
            opened: opened && !waits,
        };
        let asked = panel.show(ui);
        self.side_opened |= opened && waits;
        match asked {
            Some(Asked::Choose(output)) => self.guide.chosen = Some(output),
            Some(Asked::OfferAll(all)) => {
                self.guide.offer_all = all;
                self.guide.choose_only_what_is_offered();
            }
            Some(Asked::Level(level_dbfs)) => {
                self.guide.level_dbfs = level_dbfs;
                if let Sound::On(guide) = &self.guide.sound {
                    guide.set_level_dbfs(level_dbfs);
                }
            }
            Some(Asked::Start) => self.ask_to_start(&ctx),
            Some(Asked::Confirm) => {
                if let Some(output) = &self.guide.chosen {
                    self.cautions.confirm(&output.id);
                }
                self.start_guide(&ctx);
            }
            Some(Asked::Refrain) => {
                self.guide.sound = Sound::Off;
                self.side_opened = true;
            }
            Some(Asked::Stop) => {
                self.guide.stop();
                self.side_opened = true;
                self.say(&ctx, "the sound guide is off");
            }
            Some(Asked::List) => self.list_outputs(&ctx),
            None => {}
        }
    }

    /// The caution comes first, once a job for each output.
    fn ask_to_start(&mut self, ctx: &egui::Context) {
        self.side_opened = true;
        let Some(output) = &self.guide.chosen else {
            return;
        };
        if self.cautions.is_confirmed(&output.id) {
            self.start_guide(ctx);
        } else {
            self.guide.sound = Sound::Asking;
        }
    }

    fn start_guide(&mut self, ctx: &egui::Context) {
        let Some(output) = self.guide.chosen.clone() else {
            return;
        };
        if self.session.is_none() {
            self.guide.sound = Sound::Off;
            self.warn(ctx, "nothing to guide by: no input is open");
            return;
        }
        self.guide.stop();
        self.guide.problem = None;
        let (outputs, level_dbfs) = (self.guide.outputs.clone(), self.guide.level_dbfs);
        let number = self.guide.starts;
        let starting = self
            .backstage
            .start_guide(number, move || outputs.start(&output, level_dbfs));
        match starting {
            Ok(()) => self.guide.sound = Sound::Starting,
            Err(error) => self.warn(ctx, error.to_string()),
        }
    }
}
