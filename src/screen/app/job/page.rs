//! The job's page, and what was asked for on it.

use super::{super::ScreenApp, *};
use crate::{
    bench::{Note, PartReplaced, Skip, keeping::Entry},
    screen::{
        job_desk::{Change, Errand},
        views::{JobPage, JobWish, show_job_page, show_job_taken},
    },
};
use eframe::egui::{self, Ui};
use jiff::Timestamp;

impl ScreenApp {
    /// The readings of the job in hand in the side panel; false without a job.
    pub(in crate::screen::app) fn fill_job_taken(&mut self, ui: &mut Ui) -> bool {
        let Some(in_hand) = &self.jobs.in_hand else {
            return false;
        };
        let wish = show_job_taken(ui, in_hand, &self.jobs.zone);
        if let Some(wish) = wish {
            self.grant(&ui.ctx().clone(), wish);
        }
        true
    }

    /// The page that fills the main view.
    pub(in crate::screen::app) fn fill_page(&mut self, ui: &mut Ui, page: Page) {
        match page {
            Page::Job => self.fill_job_page(ui),
            Page::List => self.fill_job_list(ui),
            Page::New => self.fill_new_job(ui),
            Page::Checks => self.fill_checks(ui),
        }
    }

    /// The page of the job in hand.
    pub(super) fn fill_job_page(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let Some(in_hand) = &self.jobs.in_hand else {
            self.jobs.hide();
            return;
        };
        let page = JobPage {
            in_hand,
            rows: &self.jobs.rows,
            stage: self.jobs.stage,
            station: self.jobs.station,
            limits: &self.jobs.pages.prepared.limits,
            limits_problem: self.jobs.pages.prepared.problem.as_deref(),
            redo: self.jobs.redo.last().map(|(_, entry)| entry),
            zone: &self.jobs.zone,
        };
        if let Some(wish) = show_job_page(ui, &page, &mut self.jobs.form) {
            self.grant(&ctx, wish);
        }
    }

    pub(super) fn grant(&mut self, ctx: &egui::Context, wish: JobWish) {
        let Some(in_hand) = &self.jobs.in_hand else {
            return;
        };
        let job = in_hand.job.number.clone();
        let at = Timestamp::now();
        let (station, stage) = (self.jobs.station, self.jobs.stage);
        match wish {
            JobWish::Station(station) => {
                self.jobs.station = station;
                self.show_station();
            }
            JobWish::Stage(stage) => self.go_on_with(ctx, stage),
            JobWish::Withdraw(which, entry) => self.take_back(ctx, which, entry),
            JobWish::Restore(which, entry) => {
                let entry = Box::new(entry);
                self.ask(ctx, Errand::Restore { job, which, entry });
            }
            JobWish::Redo => self.redo(ctx),
            JobWish::Skip(reason) => {
                let skip = Skip {
                    at,
                    station,
                    stage,
                    reason,
                };
                self.keep_entry(ctx, Entry::Skip(skip), None, true);
            }
            JobWish::Part(what) => {
                let part = PartReplaced { at, what };
                self.keep_entry(ctx, Entry::Part(part), None, true);
            }
            JobWish::Note(text, for_owner) => {
                let note = Note {
                    at,
                    text,
                    for_owner,
                };
                self.keep_entry(ctx, Entry::Note(note), None, true);
            }
            JobWish::Environment(environment) => {
                self.change_job(ctx, Change::Environment(environment));
            }
            JobWish::Limits(limits) => self.change_job(ctx, Change::Limits(limits)),
            JobWish::Complaint(complaint) => self.change_job(ctx, Change::Complaint(complaint)),
            JobWish::Close => self.change_job(ctx, Change::Close(at)),
            JobWish::Reopen => self.change_job(ctx, Change::Reopen),
            JobWish::PutAway => self.put_away(ctx),
            JobWish::Checks => self.show_checks(),
            JobWish::Sheet(paper) => {
                self.ask(ctx, Errand::Sheet(job, paper));
            }
            JobWish::Export => {
                self.ask(ctx, Errand::Export(job));
            }
        }
    }
}
