//! What the desk answers, and what it does to the screen.

use super::{super::ScreenApp, *};
use crate::{
    bench::{
        Deck, Station, StoreError,
        keeping::{Entry, Kept},
    },
    screen::{
        job_desk::{Answer, Errand, InHand, JobDesk, Which, words},
        model::job_table::{self},
    },
    tables::mechanism_by_name_or_path,
};
use eframe::egui::{self};
use std::{sync::Arc, time::Duration};

impl ScreenApp {
    /// Takes what the desk has answered.
    pub(in crate::screen::app) fn take_job_news(&mut self, ctx: &egui::Context) {
        while let Some(answer) = self.jobs.desk.as_mut().and_then(JobDesk::take) {
            self.hear(ctx, answer);
        }
        let ended = self.jobs.desk.as_ref().is_some_and(JobDesk::has_ended);
        if ended && !self.jobs.has_ended {
            self.jobs.has_ended = true;
            let lost = std::mem::take(&mut self.jobs.keeping);
            self.taken
                .extend(lost.into_iter().filter_map(|one| one.taken));
        }
        if !self.jobs.keeping.is_empty() {
            ctx.request_repaint_after(Duration::from_secs_f64(SLOW_S));
        }
    }

    pub(super) fn hear(&mut self, ctx: &egui::Context, answer: Answer) {
        let Some(answer) = self.jobs.pages.hear(answer) else {
            return;
        };
        match answer {
            Answer::InHand(in_hand) => self.have_in_hand(ctx, *in_hand),
            Answer::Kept {
                ticket,
                outcome,
                waiting,
            } => self.hear_kept(ctx, ticket, outcome, waiting),
            Answer::TakenBack { which, entry, done } => {
                self.hear_taken_back(ctx, which, *entry, done)
            }
            Answer::NotOpened { number, why } => self.hear_not_opened(ctx, &number, &why),
            Answer::Created(number) => {
                self.jobs.opening = Some(number.clone());
                self.jobs.show_when_open = true;
                self.ask(ctx, Errand::Prepare);
                self.start_job();
                self.say(ctx, format!("job {number} is open: first as found"));
            }
            Answer::State { waiting, trouble } => {
                self.jobs.waiting = waiting;
                self.jobs.trouble = trouble;
            }
            Answer::ChangedElsewhere => {
                self.say(ctx, "the job was changed by another copy of the program");
            }
            Answer::TapeDue(due) => self.jobs.tape_due = due,
            Answer::Done(words) => self.say(ctx, words),
            Answer::Failed(why) => self.warn(ctx, why),
            Answer::Listed(_)
            | Answer::Prepared(_)
            | Answer::Decks { .. }
            | Answer::Visits { .. }
            | Answer::Standards(_)
            | Answer::BackedUp(..)
            | Answer::NotCreated(_) => {}
        }
    }

    /// The job in hand is this now: anew, or another one.
    pub(super) fn have_in_hand(&mut self, ctx: &egui::Context, in_hand: InHand) {
        let number = in_hand.job.number.clone();
        let is_another = self.jobs.number().as_deref() != Some(&*number);
        self.limits = in_hand.job.limits.targets(&self.jobs.own);
        self.jobs.rows = job_table::rows(&in_hand, &self.jobs.zone);
        if is_another {
            self.jobs.stage = job_table::stage_of(&in_hand.job);
            self.jobs.station = job_table::next_station(&self.jobs.rows, self.jobs.stage)
                .unwrap_or(Station::Mechanical);
            self.jobs.redo.clear();
            self.jobs.undoing = false;
            self.jobs.opening = None;
            self.jobs.left_out = false;
            self.jobs.pages.for_another_job();
            self.use_deck(ctx, &in_hand.job.deck);
            self.show_station();
            if std::mem::take(&mut self.jobs.show_when_open) {
                self.jobs.page = Some(Page::Job);
            }
        }
        self.jobs.in_hand = Some(in_hand);
        if self.remembered.job.as_deref() != Some(&*number) {
            self.remembered.job = Some(number);
            self.keep(ctx);
        }
    }

    /// The deck's tape format turns delay into azimuth, and its mechanism gives lines of flutter their names.
    pub(super) fn use_deck(&mut self, ctx: &egui::Context, deck: &Deck) {
        let before = self.setup.clone();
        if let Some(format) = self
            .formats
            .iter()
            .find(|format| format.name == deck.tape_format)
        {
            self.setup.tape_format = format.clone();
        }
        if !deck.mechanism.is_empty() {
            match mechanism_by_name_or_path(&deck.mechanism) {
                Ok(mechanism) => self.setup.mechanism = Some(Arc::new(mechanism)),
                Err(why) => self.warn(ctx, why.to_string()),
            }
        }
        if let Some(session) = self.session.as_ref().filter(|_| self.setup != before) {
            session.change_setup(&self.setup);
        }
    }

    pub(super) fn hear_not_opened(&mut self, ctx: &egui::Context, number: &str, why: &StoreError) {
        self.jobs.opening = None;
        self.jobs.show_when_open = false;
        self.warn(ctx, format!("job {number} is not open: {why}"));
        let gone = matches!(why, StoreError::Refused(_));
        if gone && self.remembered.job.as_deref() == Some(number) {
            self.remembered.job = None;
            self.keep(ctx);
        }
    }

    pub(super) fn hear_kept(
        &mut self,
        ctx: &egui::Context,
        ticket: u64,
        outcome: Result<Kept, StoreError>,
        waiting: usize,
    ) {
        self.jobs.waiting = waiting;
        let keeping = &mut self.jobs.keeping;
        let Some(place) = keeping.iter().position(|one| one.ticket == ticket) else {
            return;
        };
        let one = keeping.remove(place);
        if one.is_new && outcome.is_ok() {
            self.jobs.redo.clear();
        }
        match outcome {
            Ok(Kept::OnDisk(_)) => self.say(ctx, format!("taken, on disk: {}", one.words)),
            Ok(Kept::InMemory(why)) => self.warn(
                ctx,
                format!(
                    "not saved: {}; waits in memory ({waiting} waiting): {why}",
                    one.words
                ),
            ),
            Err(why) => {
                self.warn(ctx, format!("not kept: {}: {why}", one.words));
                self.taken.extend(one.taken);
            }
        }
    }

    pub(super) fn hear_taken_back(
        &mut self,
        ctx: &egui::Context,
        which: Which,
        entry: Entry,
        done: Result<(), StoreError>,
    ) {
        self.jobs.undoing = false;
        match done {
            Ok(()) => {
                self.say(ctx, words::taken_back(&entry));
                self.jobs.redo.push((which, entry));
            }
            Err(why) => self.warn(
                ctx,
                format!("not taken back: {}: {why}", words::entry(&entry)),
            ),
        }
    }
}
