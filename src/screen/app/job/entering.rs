//! Readings and other entries on their way into the record, and back.

use super::{super::ScreenApp, *};
use crate::{
    bench::{
        keeping::Entry,
        taking::{self, Circumstances},
    },
    readings::Readings,
    screen::{
        job_desk::{Errand, InHand, ToKeep, Which, words},
        model::{
            interface,
            job_table::{self},
            tape,
        },
        strips::job as job_strip,
        taken::Taken,
    },
};
use eframe::egui::{self, Frame, Margin, Panel, Ui};
use jiff::Timestamp;

impl ScreenApp {
    /// A reading as the record has it; nothing where no jobs are kept.
    ///
    /// # Errors
    /// In words, when it is no reading.
    pub(in crate::screen::app) fn for_record(
        &self,
        taken: &Taken,
        readings: &Readings,
    ) -> Result<Option<crate::bench::TakenReading>, String> {
        if self.jobs.desk.is_none() {
            return Ok(None);
        }
        let chosen = tape::chosen(&self.setup, &self.tapes);
        let circumstances = Circumstances {
            at: Timestamp::now(),
            stage: self.jobs.stage,
            words: &taken.words,
            tape_name: chosen.map_or("", |tape| &tape.name),
            tape_title: chosen.map_or("", |tape| &tape.title),
            profile: &interface::corrections(&self.setup),
        };
        let station = job_table::station_of_adjustment(taken.adjustment);
        taking::take(station, readings, &self.setup, &circumstances).map(Some)
    }

    /// Sends a reading to the job in hand; what is drawn waits for the answer. Gives it back without a job.
    pub(in crate::screen::app) fn take_into_job(
        &mut self,
        ctx: &egui::Context,
        taken: Taken,
    ) -> Option<Taken> {
        let Some(in_hand) = &self.jobs.in_hand else {
            return Some(taken);
        };
        if in_hand.job.closed.is_some() {
            let number = in_hand.job.number.clone();
            self.warn(
                ctx,
                format!(
                    "not taken: job {number} is closed; reopen it on its page (j), under 'deck'"
                ),
            );
            return None;
        }
        let Some(mut reading) = taken.record.clone() else {
            return Some(taken);
        };
        reading.stage = self.jobs.stage;
        self.keep_entry(ctx, Entry::Reading(*reading), Some(taken), true);
        None
    }

    pub(in crate::screen::app) fn keep_entry(
        &mut self,
        ctx: &egui::Context,
        entry: Entry,
        taken: Option<Taken>,
        is_new: bool,
    ) {
        let Some(in_hand) = &self.jobs.in_hand else {
            return;
        };
        let job = in_hand.job.number.clone();
        let mut words = words::entry(&entry);
        if let Entry::Reading(reading) = &entry {
            words += &format!(
                ", {}",
                job_table::verdict_words(&reading.figures, &in_hand.job.limits)
            );
        }
        self.jobs.tickets += 1;
        let ticket = self.jobs.tickets;
        let to_keep = ToKeep {
            ticket,
            job,
            pass: pass_of(&entry),
            entry,
        };
        if self.ask(ctx, Errand::Keep(Box::new(to_keep))) {
            self.jobs.keeping.push(Keeping {
                ticket,
                words,
                since_s: ctx.input(|input| input.time),
                is_new,
                taken,
            });
        } else {
            self.taken.extend(taken);
        }
    }

    /// How many readings were taken without a job and can be put into the one in hand.
    pub(in crate::screen::app) fn left_behind(&self) -> usize {
        let open = self.jobs.in_hand.as_ref();
        if self.jobs.left_out || open.is_none_or(|in_hand| in_hand.job.closed.is_some()) {
            return 0;
        }
        self.taken.iter().filter(|one| one.record.is_some()).count()
    }

    /// Puts the readings taken without a job into the one in hand.
    pub(in crate::screen::app) fn put_in(&mut self, ctx: &egui::Context) {
        if self.left_behind() == 0 {
            self.warn(ctx, "no reading was taken before this job");
            return;
        }
        for taken in std::mem::take(&mut self.taken) {
            let kept_here = self.take_into_job(ctx, taken);
            self.taken.extend(kept_here);
        }
    }

    pub(super) fn undo_in_job(&mut self, ctx: &egui::Context) {
        if self.jobs.undoing || !self.jobs.keeping.is_empty() {
            self.warn(ctx, "one moment: the record is still writing");
            return;
        }
        match self.jobs.in_hand.as_ref().and_then(InHand::last) {
            Some((which, entry)) => self.take_back(ctx, which, entry),
            None => self.warn(ctx, "nothing to take back: the job is empty"),
        }
    }

    pub(in crate::screen::app) fn take_back(
        &mut self,
        ctx: &egui::Context,
        which: Which,
        entry: Entry,
    ) {
        let Some(job) = self.jobs.number() else {
            return;
        };
        let errand = Errand::TakeBack {
            job,
            which,
            entry: Box::new(entry),
            at: Timestamp::now(),
        };
        self.jobs.undoing = self.ask(ctx, errand);
    }

    pub(super) fn redo(&mut self, ctx: &egui::Context) {
        let Some(job) = self.jobs.number() else {
            self.no_job(ctx);
            return;
        };
        match self.jobs.redo.pop() {
            None => self.warn(ctx, "nothing to bring back"),
            Some((which, entry)) if job_table::is_restorable(&entry) => {
                let entry = Box::new(entry);
                self.ask(ctx, Errand::Restore { job, which, entry });
            }
            Some((_, entry)) => self.keep_entry(ctx, entry, None, false),
        }
    }

    /// Asks whether the readings taken without a job belong to the one in hand.
    pub(in crate::screen::app) fn show_left_behind(&mut self, ui: &mut Ui) {
        let count = self.left_behind();
        let Some(number) = self.jobs.number().filter(|_| count > 0) else {
            return;
        };
        let around = Frame::new().inner_margin(Margin::symmetric(12, 4));
        let answer = Panel::bottom("readings from before the job")
            .frame(around)
            .show_separator_line(false)
            .show(ui, |ui| {
                job_strip::left_behind(ui, count, &number, self.jobs.stage.words())
            })
            .inner;
        match answer {
            Some(true) => self.put_in(&ui.ctx().clone()),
            Some(false) => self.jobs.left_out = true,
            None => {}
        }
    }
}
