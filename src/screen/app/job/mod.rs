//! The job's part of the screen: the job in hand, taking into it, stages, undo, its page.

mod commands;
mod entering;
mod hearing;
mod page;

use super::{ScreenApp, job_pages::Pages};
use crate::{
    bench::{
        Stage, Station,
        keeping::Entry,
        taking::{self},
    },
    readings::{Readings, SourceKind},
    screen::{
        job_desk::{Change, Errand, InHand, JobDesk, Which, words},
        model::{
            Adjustment, harmless,
            job_table::{self, StationRow},
        },
        strips::{job as job_strip, notices},
        taken::Taken,
        views::JobForm,
    },
    tables::Limits,
};
use eframe::egui::{self};
use jiff::tz::TimeZone;

/// A reading that is not on disk after so long is told to be on its way, seconds.
const SLOW_S: f64 = 0.3;

/// What is said when a check is to be taken like a reading.
const TYPED: &str = "mechanical checks are typed, not listened to: Enter on their station";

/// What fills the main view instead of an adjustment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::screen::app) enum Page {
    /// The job in hand.
    Job,
    /// The list of jobs.
    List,
    /// The form of a new job.
    New,
    /// The mechanical checks of the job in hand.
    Checks,
}

/// What the screen knows of jobs.
pub(super) struct Bench {
    desk: Option<JobDesk>,
    /// The target bands without a job.
    own: Limits,
    in_hand: Option<InHand>,
    rows: Vec<StationRow>,
    stage: Stage,
    station: Station,
    page: Option<Page>,
    form: JobForm,
    /// The list and the form of a new job.
    pub(super) pages: Pages,
    zone: TimeZone,
    /// Whether the page of the job is shown as soon as it is there.
    show_when_open: bool,
    /// Number of the job that was asked for.
    opening: Option<String>,
    tickets: u64,
    keeping: Vec<Keeping>,
    /// Whether the answer to an undo is awaited.
    undoing: bool,
    /// What was taken back, the last one last.
    redo: Vec<(Which, Entry)>,
    waiting: usize,
    trouble: Option<String>,
    /// Why the tape that played last is due for a check against another.
    tape_due: Option<String>,
    has_ended: bool,
    /// Whether the readings from before the job are not to be asked for any more.
    left_out: bool,
}

/// An entry on its way to the disk.
struct Keeping {
    ticket: u64,
    words: String,
    since_s: f64,
    /// Whether it is something new, after which nothing can be brought back.
    is_new: bool,
    /// The reading, in case the record refuses it.
    taken: Option<Taken>,
}

impl Bench {
    pub(super) fn new(desk: Option<JobDesk>, own: &Limits, zone: TimeZone) -> Self {
        Self {
            desk,
            own: own.clone(),
            in_hand: None,
            rows: Vec::new(),
            stage: Stage::AsFound,
            station: Station::Mechanical,
            page: None,
            form: JobForm::default(),
            pages: Pages::default(),
            zone,
            show_when_open: false,
            opening: None,
            tickets: 0,
            keeping: Vec::new(),
            undoing: false,
            redo: Vec::new(),
            waiting: 0,
            trouble: None,
            tape_due: None,
            has_ended: false,
            left_out: false,
        }
    }

    /// Whether a job is in hand.
    pub(super) fn is_open(&self) -> bool {
        self.in_hand.is_some()
    }

    /// Whether one of its pages fills the main view.
    pub(super) fn is_shown(&self) -> bool {
        self.page.is_some()
    }

    /// Gives the main view back.
    pub(super) fn hide(&mut self) {
        self.page = None;
    }

    /// Whether the job page is shown; `None` where no jobs are kept.
    pub(super) fn switched(&self) -> Option<bool> {
        self.desk.as_ref().map(|_| self.page == Some(Page::Job))
    }

    /// Whether jobs are kept at all.
    pub(super) fn are_kept(&self) -> bool {
        self.desk.is_some()
    }

    /// The page that fills the main view.
    pub(super) fn page(&self) -> Option<Page> {
        self.page
    }

    /// Puts a page into the main view.
    pub(super) fn show(&mut self, page: Page) {
        self.page = Some(page);
    }

    /// The page of the job that was asked for is shown as soon as the job is there.
    pub(super) fn show_when_open(&mut self) {
        self.show_when_open = true;
    }

    /// The pages, what is wrong with the record, and whose dates are shown.
    pub(super) fn for_pages(&mut self) -> (&mut Pages, Option<&str>, &TimeZone) {
        (&mut self.pages, self.trouble.as_deref(), &self.zone)
    }

    /// What is wrong with the record.
    pub(super) fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// Whose dates are shown.
    pub(super) fn zone(&self) -> &TimeZone {
        &self.zone
    }

    /// The job in hand and the stage that readings count for.
    pub(super) fn at_work(&self) -> Option<(&InHand, Stage)> {
        Some((self.in_hand.as_ref()?, self.stage))
    }

    /// Number of the job in hand.
    pub(super) fn number(&self) -> Option<String> {
        self.in_hand.as_ref().map(|job| job.job.number.clone())
    }

    /// What the status strip says of the job, and whether that warns; `None` where no jobs are kept.
    pub(super) fn sign(&self) -> Option<(String, bool)> {
        self.desk.as_ref()?;
        let waits = match self.waiting {
            0 => String::new(),
            waiting => format!(", {waiting} not saved"),
        };
        let words = match (&self.in_hand, &self.opening) {
            (Some(in_hand), _) => {
                let job = &in_hand.job;
                let stage = match job.closed {
                    Some(_) => "closed",
                    None => self.stage.words(),
                };
                format!(
                    "{} {}, {stage}",
                    job.number,
                    harmless::line(&job.deck.model, 30)
                )
            }
            (None, Some(number)) => format!("opening {number} …"),
            (None, None) => "none".into(),
        };
        Some((words + &waits, self.waiting > 0 || self.has_ended))
    }

    /// What is wrong with the record, and what is on its way to it.
    pub(super) fn notices(&self, now_s: f64) -> Vec<notices::Line> {
        let warning = |text: String| notices::Line { text, warns: true };
        let mut lines: Vec<notices::Line> = self.trouble.clone().map(warning).into_iter().collect();
        if self.has_ended {
            lines.push(warning(
                "the record of the jobs has ended: start the program anew; nothing is saved".into(),
            ));
        }
        lines.extend(
            self.tape_due
                .clone()
                .map(|text| notices::Line { text, warns: false }),
        );
        let slow = self
            .keeping
            .iter()
            .filter(|one| now_s - one.since_s > SLOW_S);
        lines.extend(slow.map(|one| notices::Line {
            text: format!("saving … {}", one.words),
            warns: false,
        }));
        lines
    }

    /// The job line over an adjustment's view; `None` without a job.
    pub(super) fn line(
        &self,
        adjustment: Adjustment,
        readings: &Readings,
    ) -> Option<job_strip::Line> {
        let in_hand = self.in_hand.as_ref()?;
        let station = job_table::station_of_adjustment(adjustment);
        let row = self.rows.iter().find(|row| row.station == station)?;
        let limits = &in_hand.job.limits;
        let figures = taking::figures(station, readings).unwrap_or_default();
        Some(job_strip::Line {
            stage: self.stage.words(),
            limit: row.limit.clone(),
            limits: limits.title.clone(),
            now: job_table::judge(&figures, limits).map(|(.., verdict)| verdict),
            figure: words::main(&figures),
            kept: row.stages[self.stage as usize].clone(),
        })
    }
}

impl ScreenApp {
    /// Takes up the job of the run before.
    pub(super) fn recall_job(&mut self, ctx: &egui::Context) {
        if let Some(number) = self.remembered.job.clone()
            && self.jobs.desk.is_some()
        {
            self.open_job(ctx, number);
        }
    }

    /// Takes a job in hand.
    pub(super) fn open_job(&mut self, ctx: &egui::Context, number: String) {
        self.jobs.opening = Some(number.clone());
        self.ask(ctx, Errand::Open(number));
        self.ask(ctx, Errand::Prepare);
    }

    /// Puts the job away: readings are again kept in this session's list.
    fn put_away(&mut self, ctx: &egui::Context) {
        let Some(number) = self.jobs.number() else {
            return;
        };
        self.ask(ctx, Errand::LetGo);
        self.jobs.in_hand = None;
        self.jobs.rows.clear();
        self.jobs.redo.clear();
        self.jobs.page = None;
        self.limits = self.jobs.own.clone();
        self.remembered.job = None;
        self.keep(ctx);
        self.say(ctx, format!("job {number} is put away; o opens another"));
    }

    pub(super) fn ask(&mut self, ctx: &egui::Context, errand: Errand) -> bool {
        let asked = self.jobs.desk.as_ref().is_some_and(|desk| desk.ask(errand));
        if !asked {
            self.warn(ctx, "jobs are not kept: the record is not there");
        }
        asked
    }

    fn change_job(&mut self, ctx: &egui::Context, change: Change) {
        if let Some(job) = self.jobs.number() {
            self.ask(ctx, Errand::Change { job, change });
        }
    }

    /// The window closes: what waits is tried once more; returns what is lost, in words.
    pub fn close(&mut self) -> Option<String> {
        self.jobs.desk.take().and_then(JobDesk::close)
    }
}

/// The tape whose pass a reading is: only a real deck plays one.
fn pass_of(entry: &Entry) -> Option<(String, String)> {
    let Entry::Reading(reading) = entry else {
        return None;
    };
    let context = &reading.context;
    let plays = context.input_kind == SourceKind::SoundCard && !context.tape.name.is_empty();
    plays.then(|| (context.tape.name.clone(), context.tape.title.clone()))
}
