//! The job's part of the screen: the job in hand, taking into it, stages, undo, its page.

use super::{ScreenApp, job_pages::Pages};
use crate::{
    bench::{
        Deck, Note, PartReplaced, Skip, Stage, Station, StoreError,
        keeping::{Entry, Kept},
        taking::{self, Circumstances},
    },
    readings::{Readings, SourceKind},
    screen::{
        job_desk::{Answer, Change, Errand, InHand, JobDesk, ToKeep, Which, words},
        keys::Command,
        model::{
            Adjustment, Subject, harmless, interface,
            job_table::{self, StationRow},
            tape,
        },
        strips::{job as job_strip, notices},
        taken::Taken,
        views::{JobForm, JobPage, JobWish, show_job_page, show_job_taken},
    },
    tables::{Limits, mechanism_by_name_or_path},
};
use eframe::egui::{self, Frame, Margin, Panel, Ui};
use jiff::{Timestamp, tz::TimeZone};
use std::{sync::Arc, time::Duration};

/// A reading that is not on disk after so long is told to be on its way, seconds.
const SLOW_S: f64 = 0.3;

/// What is said when a check is to be taken like a reading.
const TYPED: &str = "mechanical checks are typed, not listened to: Enter on their station";

/// What fills the main view instead of an adjustment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Page {
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

    /// Takes what the desk has answered.
    pub(super) fn take_job_news(&mut self, ctx: &egui::Context) {
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

    fn hear(&mut self, ctx: &egui::Context, answer: Answer) {
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
    fn have_in_hand(&mut self, ctx: &egui::Context, in_hand: InHand) {
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
    fn use_deck(&mut self, ctx: &egui::Context, deck: &Deck) {
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

    fn hear_not_opened(&mut self, ctx: &egui::Context, number: &str, why: &StoreError) {
        self.jobs.opening = None;
        self.jobs.show_when_open = false;
        self.warn(ctx, format!("job {number} is not open: {why}"));
        let gone = matches!(why, StoreError::Refused(_));
        if gone && self.remembered.job.as_deref() == Some(number) {
            self.remembered.job = None;
            self.keep(ctx);
        }
    }

    fn hear_kept(
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

    fn hear_taken_back(
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

    /// Whether the command is one of the job's, and obeys it.
    pub(super) fn job_hears(&mut self, ctx: &egui::Context, command: Command) -> bool {
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

    fn job_obeys(&mut self, ctx: &egui::Context, command: Command, on_page: bool) -> bool {
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

    fn toggle_job_page(&mut self, ctx: &egui::Context) {
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

    pub(super) fn no_job(&mut self, ctx: &egui::Context) {
        let words = match (&self.jobs.desk, &self.jobs.opening) {
            (None, _) => "jobs are not kept in this window".to_owned(),
            (_, Some(number)) => format!("job {number} is being opened"),
            _ => "no job open: o opens one".into(),
        };
        self.warn(ctx, words);
    }

    /// What is said besides when a reading is taken without a job; nothing where no jobs are kept.
    pub(super) fn no_job_words(&self) -> &'static str {
        match (&self.jobs.desk, &self.jobs.opening) {
            (Some(_), None) => "; no job open: o opens one",
            _ => "",
        }
    }

    fn move_station(&mut self, by: isize) {
        let count = Station::ALL.len() as isize;
        let at = (self.jobs.station as isize + by).rem_euclid(count);
        self.jobs.station = Station::ALL[at as usize];
        self.show_station();
    }

    /// The adjustment of the station in hand comes into the main view behind the page.
    fn show_station(&mut self) {
        if let Some(adjustment) = job_table::adjustment_of(self.jobs.station) {
            self.shown = Subject::Adjusting(adjustment);
        }
    }

    fn go_on_with(&mut self, ctx: &egui::Context, stage: Stage) {
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

    /// A reading as the record has it; nothing where no jobs are kept.
    ///
    /// # Errors
    /// In words, when it is no reading.
    pub(super) fn for_record(
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
    pub(super) fn take_into_job(&mut self, ctx: &egui::Context, taken: Taken) -> Option<Taken> {
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

    pub(super) fn keep_entry(
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
    pub(super) fn left_behind(&self) -> usize {
        let open = self.jobs.in_hand.as_ref();
        if self.jobs.left_out || open.is_none_or(|in_hand| in_hand.job.closed.is_some()) {
            return 0;
        }
        self.taken.iter().filter(|one| one.record.is_some()).count()
    }

    /// Puts the readings taken without a job into the one in hand.
    pub(super) fn put_in(&mut self, ctx: &egui::Context) {
        if self.left_behind() == 0 {
            self.warn(ctx, "no reading was taken before this job");
            return;
        }
        for taken in std::mem::take(&mut self.taken) {
            let kept_here = self.take_into_job(ctx, taken);
            self.taken.extend(kept_here);
        }
    }

    fn undo_in_job(&mut self, ctx: &egui::Context) {
        if self.jobs.undoing || !self.jobs.keeping.is_empty() {
            self.warn(ctx, "one moment: the record is still writing");
            return;
        }
        match self.jobs.in_hand.as_ref().and_then(InHand::last) {
            Some((which, entry)) => self.take_back(ctx, which, entry),
            None => self.warn(ctx, "nothing to take back: the job is empty"),
        }
    }

    pub(super) fn take_back(&mut self, ctx: &egui::Context, which: Which, entry: Entry) {
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

    fn redo(&mut self, ctx: &egui::Context) {
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
    pub(super) fn show_left_behind(&mut self, ui: &mut Ui) {
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

    /// The readings of the job in hand in the side panel; false without a job.
    pub(super) fn fill_job_taken(&mut self, ui: &mut Ui) -> bool {
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
    pub(super) fn fill_page(&mut self, ui: &mut Ui, page: Page) {
        match page {
            Page::Job => self.fill_job_page(ui),
            Page::List => self.fill_job_list(ui),
            Page::New => self.fill_new_job(ui),
            Page::Checks => self.fill_checks(ui),
        }
    }

    /// The page of the job in hand.
    fn fill_job_page(&mut self, ui: &mut Ui) {
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

    fn grant(&mut self, ctx: &egui::Context, wish: JobWish) {
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
            JobWish::Export => {
                self.ask(ctx, Errand::Export(job));
            }
            JobWish::Sheet(paper) => {
                self.ask(ctx, Errand::Sheet(job, paper));
            }
        }
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
