//! The list of jobs and the form of a new one in the main view, and what they ask of the record.

use super::{ScreenApp, job::Page};
use crate::{
    bench::{
        Entry, EntryId, Workshop,
        store::{BackedUp, CheckId, Filter, JobRow, KnownDeck, NewJob},
    },
    profile::InterfaceProfile,
    screen::{
        deck_shelf::{DeckChoice, DeckEntry},
        interface::Found,
        job_desk::{Answer, Errand, Listed, Prepared, Standards, Which},
        model::{
            checks_form::ChecksForm,
            job_list::{self, JobListForm},
            new_job::{Decks, NewJobForm, Visits},
            standards_form::StandardsForm,
        },
        panels::standards::{BackupState, ProfileInUse, StandardsPanel, StandardsWish},
        views::{
            checks::{ChecksPage, ChecksWish},
            job_list::{JobListPage, JobListWish},
            new_job::{Named, NewJobPage, NewJobWish},
        },
    },
};
use eframe::egui::{self, Ui};
use jiff::Timestamp;
use std::path::PathBuf;

/// What the pages know, and what is typed on them.
#[derive(Default)]
pub(super) struct Pages {
    list: JobListForm,
    listed: Option<Listed>,
    new: NewJobForm,
    pub(super) prepared: Prepared,
    decks: Option<(String, Vec<KnownDeck>)>,
    visits: Option<(String, String, Vec<JobRow>)>,
    /// Whether a job is being written down.
    busy: bool,
    refused: Option<String>,
    checks: ChecksForm,
    standards: Option<Standards>,
    standards_form: StandardsForm,
    /// The file that a backup goes to, and what came of it once it is there.
    backup: Option<(PathBuf, Option<Result<BackedUp, String>>)>,
}

impl Pages {
    /// Takes an answer that belongs to one of the pages; gives others back.
    pub(super) fn hear(&mut self, answer: Answer) -> Option<Answer> {
        match answer {
            Answer::Listed(listed) => self.listed = Some(listed),
            Answer::Prepared(prepared) => self.prepared = *prepared,
            Answer::Decks { search, decks } => self.decks = Some((search, decks)),
            Answer::Visits {
                model,
                serial,
                jobs,
            } => self.visits = Some((model, serial, jobs)),
            Answer::NotCreated(why) => {
                self.busy = false;
                self.refused = Some(why);
            }
            Answer::Created(number) => {
                self.busy = false;
                self.refused = None;
                self.new.made();
                return Some(Answer::Created(number));
            }
            Answer::Standards(standards) => self.standards = Some(*standards),
            Answer::BackedUp(to, made) => self.backup = Some((to, Some(made))),
            other => return Some(other),
        }
        None
    }

    /// Whether there is no job at all.
    pub(super) fn is_empty(&self) -> bool {
        self.listed.as_ref().is_some_and(|listed| listed.all == 0)
    }

    /// Another row of the list.
    pub(super) fn step(&mut self, by: isize) {
        let rows = self.listed.as_ref().map_or(&[][..], |listed| &listed.rows);
        self.list.step(rows, by);
    }

    /// The first field takes the focus.
    pub(super) fn focus(&mut self, page: Page) {
        match page {
            Page::List => self.list.open(),
            Page::New => self.new.open(),
            Page::Checks => self.checks.open(),
            Page::Job => {}
        }
    }

    /// Another job is in hand.
    pub(super) fn for_another_job(&mut self) {
        self.checks.for_another_job();
    }
}

impl ScreenApp {
    /// Opens the list of jobs, or leaves it.
    pub(super) fn toggle_job_list(&mut self, ctx: &egui::Context) {
        if !self.jobs.are_kept() {
            self.no_job(ctx);
            return;
        }
        if self.jobs.page() == Some(Page::List) {
            self.jobs.hide();
        } else {
            self.show_job_list();
        }
    }

    pub(super) fn show_job_list(&mut self) {
        self.jobs.show(Page::List);
        self.jobs.pages.list.open();
    }

    pub(super) fn fill_job_list(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let (pages, trouble, zone) = self.jobs.for_pages();
        let listed = pages.listed.as_ref();
        let page = JobListPage {
            answer: listed.map(|listed| job_list::Answer {
                filter: &listed.filter,
                rows: &listed.rows,
            }),
            counts: listed.map(|listed| (listed.all, listed.open)),
            problem: trouble,
            zone,
        };
        match page.show(ui, &mut pages.list) {
            Some(JobListWish::Look(filter)) => self.look_for_jobs(&ctx, filter),
            Some(JobListWish::Open(number)) => self.open_listed(&ctx, number),
            Some(JobListWish::New) => self.new_job(&ctx),
            Some(JobListWish::Leave) => self.jobs.hide(),
            None => {}
        }
    }

    fn look_for_jobs(&mut self, ctx: &egui::Context, filter: Filter) {
        self.ask(ctx, Errand::List(filter));
    }

    fn open_listed(&mut self, ctx: &egui::Context, number: String) {
        if self.jobs.number().as_deref() == Some(&*number) {
            self.jobs.show(Page::Job);
        } else {
            self.jobs.show_when_open();
            self.open_job(ctx, number);
        }
    }

    pub(super) fn new_job(&mut self, ctx: &egui::Context) {
        self.jobs.show(Page::New);
        self.jobs.pages.new.open();
        self.list_mechanisms();
        self.ask(ctx, Errand::Prepare);
    }

    pub(super) fn fill_new_job(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let formats: Vec<_> = self
            .formats
            .iter()
            .map(|format| Named {
                name: &format.name,
                title: &format.title,
            })
            .collect();
        let list = self.mechanisms.list();
        let names: Vec<_> = list.own.iter().chain(&list.supplied).map(named).collect();
        let mechanisms: Vec<_> = names
            .iter()
            .map(|(name, title)| Named { name, title })
            .collect();
        let (pages, trouble, zone) = self.jobs.for_pages();
        let number = &pages.prepared.number;
        let problem = trouble.or(pages.prepared.problem.as_deref());
        let page = NewJobPage {
            proposed: (!number.is_empty()).then_some(number),
            decks: pages
                .decks
                .as_ref()
                .map(|(search, decks)| Decks { search, decks }),
            visits: pages.visits.as_ref().map(|(model, serial, jobs)| Visits {
                model,
                serial,
                jobs,
            }),
            formats: &formats,
            mechanisms: &mechanisms,
            limits: &pages.prepared.limits,
            refused: pages.refused.as_deref(),
            problem,
            busy: pages.busy,
            now: Timestamp::now(),
            zone,
        };
        match page.show(ui, &mut pages.new) {
            Some(NewJobWish::LookForDecks(words)) => {
                self.ask(&ctx, Errand::Decks(words));
            }
            Some(NewJobWish::LookForVisits { model, serial }) => {
                self.ask(&ctx, Errand::Visits { model, serial });
            }
            Some(NewJobWish::Make(new)) => self.make_job(&ctx, new),
            Some(NewJobWish::Leave) => self.show_job_list(),
            None => {}
        }
    }

    /// The page of the mechanical checks, its first field in hand.
    pub(super) fn show_checks(&mut self) {
        self.jobs.show(Page::Checks);
        self.jobs.pages.checks.open();
    }

    pub(super) fn fill_checks(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let mut form = std::mem::take(&mut self.jobs.pages.checks);
        let wish = self.checks_page(ui, &mut form);
        self.jobs.pages.checks = form;
        match wish {
            Some(ChecksWish::Add(check)) => {
                self.keep_entry(&ctx, Entry::Check(*check), None, true);
            }
            Some(ChecksWish::Withdraw(id)) => {
                if let Some((which, entry)) = self.check_of(id) {
                    self.take_back(&ctx, which, entry);
                }
            }
            Some(ChecksWish::Restore(id)) => {
                if let (Some((which, entry)), Some(job)) = (self.check_of(id), self.jobs.number()) {
                    let entry = Box::new(entry);
                    self.ask(&ctx, Errand::Restore { job, which, entry });
                }
            }
            Some(ChecksWish::Leave) => self.jobs.show(Page::Job),
            None => {}
        }
    }

    fn checks_page(&mut self, ui: &mut Ui, form: &mut ChecksForm) -> Option<ChecksWish> {
        let Some((in_hand, stage)) = self.jobs.at_work() else {
            self.jobs.hide();
            return None;
        };
        let ids: Vec<_> = in_hand
            .checks
            .iter()
            .map(|which| match which {
                Which::Kept(EntryId::Check(id)) => Some(*id),
                _ => None,
            })
            .collect();
        let page = ChecksPage {
            checks: &in_hand.job.checks,
            ids: &ids,
            limits: &in_hand.job.limits,
            stage,
            problem: self.jobs.trouble(),
            now: Timestamp::now(),
            zone: self.jobs.zone(),
        };
        page.show(ui, form)
    }

    fn check_of(&self, id: CheckId) -> Option<(Which, Entry)> {
        let (in_hand, _) = self.jobs.at_work()?;
        let which = Which::Kept(EntryId::Check(id));
        let place = in_hand.checks.iter().position(|one| *one == which)?;
        let check = in_hand.job.checks.get(place)?.clone();
        Some((which, Entry::Check(check)))
    }

    pub(super) fn ask_for_standards(&mut self, ctx: &egui::Context) {
        if self.jobs.are_kept() {
            self.ask(ctx, Errand::Standards);
        } else {
            self.side = None;
            self.no_job(ctx);
        }
    }

    pub(super) fn fill_standards(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let profile = match &self.interface.found {
            Found::Profile(name, profile) => {
                oldest(profile).map(|measured| ProfileInUse { name, measured })
            }
            _ => None,
        };
        let (pages, trouble, zone) = self.jobs.for_pages();
        let nowhere = Workshop::default();
        let standards = pages.standards.as_ref();
        let panel = StandardsPanel {
            tapes: standards.map(|standards| &*standards.tapes),
            profile,
            workshop: standards.map_or(&nowhere, |standards| &standards.workshop),
            backup: pages.backup.as_ref().map(|(to, made)| match made {
                None => BackupState::Running,
                Some(Ok(made)) => BackupState::Done(to, *made),
                Some(Err(why)) => BackupState::Failed(why),
            }),
            proposed_backup: standards.map(|standards| &*standards.backup),
            problem: trouble,
            now: Timestamp::now(),
            zone,
            opened,
        };
        let errand = match panel.show(ui, &mut pages.standards_form) {
            Some(StandardsWish::CheckTape(name, check)) => Errand::CheckTape {
                name,
                check: Box::new(check),
            },
            Some(StandardsWish::SetTape(tape)) => Errand::SetTape(tape),
            Some(StandardsWish::Backup(to)) => {
                pages.backup = Some((to.clone(), None));
                Errand::Backup(to)
            }
            Some(StandardsWish::SetWorkshop(workshop)) => Errand::SetWorkshop(workshop),
            None => return,
        };
        self.ask(&ctx, errand);
    }

    fn make_job(&mut self, ctx: &egui::Context, new: Box<NewJob>) {
        self.jobs.pages.refused = None;
        self.jobs.pages.busy = self.ask(ctx, Errand::Create(new));
    }
}

/// When the oldest figure was measured that corrects the readings.
fn oldest(profile: &InterfaceProfile) -> Option<Timestamp> {
    let clock = profile.clock.as_ref().map(|figure| &figure.measured);
    let inputs = profile.inputs.as_ref().map(|figure| &figure.measured);
    clock
        .into_iter()
        .chain(inputs)
        .filter_map(|measured| measured.to_string().parse().ok())
        .min()
}

/// Name and title of a mechanism, as a job keeps it.
fn named(entry: &DeckEntry) -> (String, &str) {
    let name = match &entry.choice {
        DeckChoice::Supplied(name) => name.clone(),
        DeckChoice::File(path) => path.to_string_lossy().into_owned(),
    };
    (name, &entry.title)
}
