//! Keys of the job: its pages, stages and stations.

use super::{super::ScreenApp, *};
use crate::{
    bench::{Stage, Station},
    screen::{
        keys::Command,
        model::{
            Subject,
            job_table::{self},
        },
    },
};
use eframe::egui::{self};

impl ScreenApp {
    /// Whether the command is one of the job's, and obeys it.
    pub(in crate::screen::app) fn job_hears(
        &mut self,
        ctx: &egui::Context,
        command: Command,
    ) -> bool {
        let page = self.jobs.page;
        let on_page = page == Some(Page::Job);
        match (command, page) {
            (Command::Part(by), Some(Page::List)) => self.jobs.pages.step(by),
            (Command::Next, Some(Page::List)) if self.jobs.pages.is_empty() => self.new_job(ctx),
            (
                Command::Next | Command::Previous,
                Some(page @ (Page::List | Page::New | Page::Checks)),
            ) => {
                self.jobs.pages.focus(page);
            }
            (Command::Close, Some(Page::New)) if self.side.is_none() => self.show_job_list(),
            (Command::Close, Some(Page::Checks)) if self.side.is_none() => {
                self.jobs.show(Page::Job);
            }
            (Command::Take, Some(Page::Checks)) => self.warn(ctx, TYPED),
            _ => return self.job_obeys(ctx, command, on_page),
        }
        true
    }

    pub(super) fn job_obeys(
        &mut self,
        ctx: &egui::Context,
        command: Command,
        on_page: bool,
    ) -> bool {
        match command {
            Command::Job => self.toggle_job_page(ctx),
            Command::Jobs => self.toggle_job_list(ctx),
            Command::Stage => {
                let stage = match self.jobs.stage {
                    Stage::AsFound => Stage::AsLeft,
                    Stage::AsLeft => Stage::AsFound,
                };
                self.go_on_with(ctx, stage);
            }
            Command::AnswerAsRead if self.tape_question().is_none() => {
                if self.left_behind() > 0 {
                    self.put_in(ctx);
                } else {
                    self.redo(ctx);
                }
            }
            Command::AnswerOther if self.left_behind() > 0 && self.tape_question().is_none() => {
                self.jobs.left_out = true;
            }
            Command::Part(by) if on_page => self.move_station(by),
            Command::Next if on_page => self.move_station(1),
            Command::Previous if on_page => self.move_station(-1),
            Command::Close if self.jobs.is_shown() && self.side.is_none() => self.jobs.hide(),
            Command::Take if on_page && self.jobs.station == Station::Mechanical => {
                self.warn(ctx, TYPED);
            }
            Command::Undo if self.jobs.is_open() => self.undo_in_job(ctx),
            Command::Show(_) => {
                self.jobs.hide();
                return false;
            }
            _ => return false,
        }
        true
    }

    pub(super) fn toggle_job_page(&mut self, ctx: &egui::Context) {
        if !self.jobs.is_open() {
            self.no_job(ctx);
            return;
        }
        let shown = self.jobs.page == Some(Page::Job);
        self.jobs.page = (!shown).then_some(Page::Job);
        if let (false, Some(station)) = (shown, job_table::station_of(self.shown)) {
            self.jobs.station = station;
        }
    }

    pub(in crate::screen::app) fn no_job(&mut self, ctx: &egui::Context) {
        let words = match (&self.jobs.desk, &self.jobs.opening) {
            (None, _) => "jobs are not kept in this window".to_owned(),
            (_, Some(number)) => format!("job {number} is being opened"),
            _ => "no job open: o opens one".into(),
        };
        self.warn(ctx, words);
    }

    /// What is said besides when a reading is taken without a job; nothing where no jobs are kept.
    pub(in crate::screen::app) fn no_job_words(&self) -> &'static str {
        match (&self.jobs.desk, &self.jobs.opening) {
            (Some(_), None) => "; no job open: o opens one",
            _ => "",
        }
    }

    pub(super) fn move_station(&mut self, by: isize) {
        let count = Station::ALL.len() as isize;
        let at = (self.jobs.station as isize + by).rem_euclid(count);
        self.jobs.station = Station::ALL[at as usize];
        self.show_station();
    }

    /// The adjustment of the station in hand comes into the main view behind the page.
    pub(super) fn show_station(&mut self) {
        if let Some(adjustment) = job_table::adjustment_of(self.jobs.station) {
            self.shown = Subject::Adjusting(adjustment);
        }
    }

    pub(super) fn go_on_with(&mut self, ctx: &egui::Context, stage: Stage) {
        if !self.jobs.is_open() {
            self.no_job(ctx);
            return;
        }
        self.jobs.stage = stage;
        let lacks: Vec<_> = self
            .jobs
            .rows
            .iter()
            .filter(|row| !row.stages[0].done)
            .map(|row| row.station.words())
            .collect();
        let also = if stage == Stage::AsFound || lacks.is_empty() {
            String::new()
        } else {
            format!(" (as found lacks {})", lacks.join(", "))
        };
        self.say(ctx, format!("readings now count {}{also}", stage.words()));
    }
}
