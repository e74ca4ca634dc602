//! The record on disk, as the desk uses it.

use super::{
    Answer, Change, Errand, InHand, JobRecord, Listed, Prepared, Standards, ToKeep, Which,
};
use crate::bench::{
    Keeper, LimitSet, Store, StoreError, Workshop, job_file,
    keeping::{Entry, EntryId, Kept, Waiting},
    limit_shelf::{limit_sets, limit_sets_in, user_limits_folder},
    sheet::{self, Paper, Sheet},
    store::{BackedUp, Filter, KeptJob},
};
use directories::UserDirs;
use jiff::{Timestamp, tz::TimeZone};
use std::{
    fs, io,
    path::{Path, PathBuf},
};

/// Known decks that are offered for a new job.
const MOST_DECKS: u32 = 8;

/// The jobs in one file, opened when it is first needed.
pub struct FileRecord {
    path: PathBuf,
    papers: PathBuf,
    own_limits: Option<PathBuf>,
    keeper: Option<Keeper>,
    /// Number of the job in hand.
    in_hand: Option<String>,
    /// What the list shows.
    listed: Option<Filter>,
    /// What was told last of the state.
    told: (usize, Option<String>),
}

impl FileRecord {
    /// The record of that path, no limits of one's own; what is written for the owner goes beside it.
    pub fn at(path: impl Into<PathBuf>) -> Self {
        let path = path.into();
        Self {
            papers: path.parent().unwrap_or(Path::new("")).join("papers"),
            path,
            own_limits: None,
            keeper: None,
            in_hand: None,
            listed: None,
            told: (0, None),
        }
    }

    /// The user's record, limits and documents; `None` where the system has no folder for them.
    pub fn of_the_user() -> Option<Self> {
        let record = Self::at(Store::path_of_the_user()?);
        let documents = UserDirs::new().and_then(|folders| {
            folders
                .document_dir()
                .map(|folder| folder.join("trimwatch"))
        });
        Some(Self {
            papers: documents.unwrap_or_else(|| record.papers.clone()),
            own_limits: user_limits_folder(),
            ..record
        })
    }

    /// With limits of one's own out of that folder.
    #[must_use]
    pub fn with_limits(self, folder: impl Into<PathBuf>) -> Self {
        Self {
            own_limits: Some(folder.into()),
            ..self
        }
    }

    fn keeper(&mut self) -> &mut Keeper {
        self.keeper
            .get_or_insert_with(|| Keeper::at(self.path.clone()))
    }

    fn store(&mut self) -> Result<&mut Store, StoreError> {
        self.keeper().store()
    }

    fn list(&mut self, filter: Filter) -> Result<Answer, StoreError> {
        let store = self.store()?;
        let rows = store.jobs(&filter)?;
        let (all, open) = store.count_jobs()?;
        self.listed = Some(filter.clone());
        Ok(Answer::Listed(Listed {
            filter,
            rows,
            all,
            open,
        }))
    }

    fn prepare(&mut self) -> Result<Answer, StoreError> {
        let number = self.store()?.next_number()?;
        let (limits, problem) = self.limits();
        Ok(Answer::Prepared(Box::new(Prepared {
            number,
            limits,
            problem,
        })))
    }

    fn decks(&mut self, search: String) -> Result<Answer, StoreError> {
        let decks = self.store()?.known_decks(&search, MOST_DECKS)?;
        Ok(Answer::Decks { search, decks })
    }

    fn visits(&mut self, model: String, serial: String) -> Result<Answer, StoreError> {
        let jobs = self.store()?.jobs_of_deck(&model, &serial)?;
        Ok(Answer::Visits {
            model,
            serial,
            jobs,
        })
    }

    /// The sets at hand, and why the user's own are not among them. An own set takes the place of the supplied one of its
    /// name.
    fn limits(&self) -> (Vec<LimitSet>, Option<String>) {
        let own = self.own_limits.as_deref().map_or(Ok(vec![]), limit_sets_in);
        let (own, problem) = match own {
            Ok(sets) => (sets, None),
            Err(error) => (vec![], Some(error.to_string())),
        };
        let mut sets = limit_sets().unwrap_or_default().to_vec();
        for set in own {
            match sets.iter_mut().find(|other| other.name == set.name) {
                Some(other) => *other = set,
                None => sets.push(set),
            }
        }
        (sets, problem)
    }

    /// A job as it is now, with what waits for it.
    fn load(&mut self, number: &str) -> Result<Answer, StoreError> {
        let store = self.store()?;
        let kept = store.job(number)?;
        let earlier = store.earlier_jobs(number)?;
        let waiting: Vec<Entry> = self
            .keeper()
            .waiting()
            .filter(|waiting| waiting.job == number)
            .map(|waiting| waiting.entry.clone())
            .collect();
        Ok(Answer::InHand(Box::new(InHand::new(
            kept, waiting, earlier,
        ))))
    }

    /// The job in hand anew, the list, and how it stands with what waits. What cannot be read now stays as it was shown.
    fn fresh(&mut self) -> Vec<Answer> {
        let mut answers = Vec::new();
        if let Some(number) = self.in_hand.clone() {
            answers.extend(self.load(&number));
        }
        if let Some(filter) = self.listed.clone() {
            answers.extend(self.list(filter));
        }
        answers.extend(self.state());
        answers
    }

    /// How it stands with what waits, where that has changed.
    fn state(&mut self) -> Option<Answer> {
        let keeper = self.keeper();
        let state = (keeper.waiting().len(), keeper.words());
        if state == self.told {
            return None;
        }
        self.told = state.clone();
        let (waiting, trouble) = state;
        Some(Answer::State { waiting, trouble })
    }

    fn open(&mut self, number: String) -> Vec<Answer> {
        match self.load(&number) {
            Ok(in_hand) => {
                self.in_hand = Some(number);
                let state = self.state();
                [in_hand].into_iter().chain(state).collect()
            }
            Err(why) => vec![Answer::NotOpened { number, why }],
        }
    }

    fn keep(&mut self, to_keep: ToKeep) -> Vec<Answer> {
        let ToKeep {
            ticket,
            job,
            entry,
            pass,
        } = to_keep;
        let at = match &entry {
            Entry::Reading(reading) => Some(reading.at),
            _ => None,
        };
        let keeper = self.keeper();
        let outcome = keeper.keep(&job, entry);
        let waiting = keeper.waiting().len();
        let mut answers = Vec::new();
        if let (Ok(Kept::OnDisk(_)), Some((name, title)), Some(at)) = (&outcome, pass, at) {
            answers.push(self.count_pass(&name, &title, at));
        }
        answers.insert(
            0,
            Answer::Kept {
                ticket,
                outcome,
                waiting,
            },
        );
        answers.extend(self.fresh());
        answers
    }

    /// Counts the pass of a tape; says whether it is due for a check.
    fn count_pass(&mut self, name: &str, title: &str, at: Timestamp) -> Answer {
        let counted = self.store().and_then(|store| {
            store.count_pass(name, title, at)?;
            store.tape(name)
        });
        match counted {
            Ok(tape) => Answer::TapeDue(tape.and_then(|tape| tape.due(at))),
            Err(error) => Answer::Failed(format!(
                "the pass of the tape {title} was not counted: {error}"
            )),
        }
    }

    fn take_back(
        &mut self,
        job: &str,
        which: Which,
        entry: &Entry,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        let id = match which {
            Which::Kept(id) => id,
            Which::Waiting => {
                let keeper = self.keeper();
                let place = keeper
                    .waiting()
                    .position(|waiting| waiting.job == job && waiting.entry == *entry);
                if let Some(place) = place {
                    keeper.withdraw_waiting(place, at);
                    return Ok(());
                }
                // It was saved since it was shown.
                let kept = self.store()?.job(job)?;
                find(&kept, entry).ok_or_else(|| {
                    StoreError::Refused("it is no longer in the record; look again".into())
                })?
            }
        };
        let store = self.store()?;
        match id {
            EntryId::Reading(id) => store.withdraw_reading(id, at),
            EntryId::Check(id) => store.withdraw_check(id, at),
            EntryId::Skip(id) => store.remove_skip(id),
            EntryId::Part(id) => store.remove_part(id),
            EntryId::Note(id) => store.remove_note(id),
        }
    }

    fn restore(&mut self, job: &str, which: Which, entry: &Entry) -> Result<(), StoreError> {
        let store = self.store()?;
        let id = match which {
            Which::Kept(id) => id,
            Which::Waiting => find(&store.job(job)?, entry).ok_or_else(|| {
                StoreError::Refused("it waits in memory; restore it when it is saved".into())
            })?,
        };
        match id {
            EntryId::Reading(id) => store.restore_reading(id),
            EntryId::Check(id) => store.restore_check(id),
            EntryId::Skip(_) | EntryId::Part(_) | EntryId::Note(_) => Err(StoreError::Refused(
                "only readings and checks are restored".into(),
            )),
        }
    }

    fn change(&mut self, job: &str, change: &Change) -> Result<String, StoreError> {
        let store = self.store()?;
        match change {
            Change::Close(at) => store.close_job(job, *at)?,
            Change::Reopen => store.reopen_job(job)?,
            Change::Environment(environment) => store.set_environment(job, environment)?,
            Change::Limits(limits) => store.set_limits(job, limits)?,
            Change::Complaint(complaint) => store.set_complaint(job, complaint)?,
        }
        Ok(match change {
            Change::Close(_) => format!("job {job} is closed: the deck goes back"),
            Change::Reopen => format!("job {job} is open again"),
            Change::Environment(_) => "circumstances saved".into(),
            Change::Limits(limits) => format!("judged by: {}", limits.title),
            Change::Complaint(_) => "the owner's words are saved".into(),
        })
    }

    fn export(&mut self, job: &str) -> Result<String, String> {
        let kept = self
            .store()
            .and_then(|store| store.job(job))
            .map_err(|error| error.to_string())?;
        let text = job_file::to_text(&kept.job)?;
        let path = self.papers.join(format!("{job}.json"));
        if path.exists() && !job_file::read(&path).is_ok_and(|there| there.number == job) {
            return Err(is_another(&path));
        }
        write(&path, text.as_bytes())
            .map_err(|error| format!("{}: cannot be written: {error}", path.display()))?;
        Ok(format!("written: {}", path.display()))
    }

    /// The owner's sheet, to be printed and to be sent.
    fn sheet(&mut self, job: &str, paper: Paper) -> Result<String, String> {
        let store = self.store().map_err(|error| error.to_string())?;
        let kept = store.job(job).map_err(|error| error.to_string())?;
        let earlier = store.earlier_jobs(job).map_err(|error| error.to_string())?;
        let sheet = Sheet::of(&kept.job, &earlier);
        let to = |ending: &str| self.papers.join(format!("{job}.{ending}"));
        let (printed, sent) = (to("pdf"), to("html"));
        fs::create_dir_all(&self.papers)
            .map_err(|error| format!("{}: {error}", self.papers.display()))?;
        sheet::write(&sheet, &printed, paper)?;
        sheet::write(&sheet, &sent, paper)?;
        Ok(format!(
            "the owner's sheet: {} (and {job}.html beside it)",
            printed.display()
        ))
    }

    /// What is done with one result: told, and all that is shown comes anew.
    fn told(&mut self, what: &str, result: Result<String, String>) -> Vec<Answer> {
        let answer = match result {
            Ok(words) => Answer::Done(words),
            Err(why) => Answer::Failed(format!("{what}: {why}")),
        };
        let mut answers = vec![answer];
        answers.extend(self.fresh());
        answers
    }

    /// Name and address for the jobs to come, and for the one in hand.
    fn set_workshop(&mut self, workshop: &Workshop) -> Result<(), StoreError> {
        let in_hand = self.in_hand.clone();
        let store = self.store()?;
        store.set_workshop(workshop)?;
        in_hand.map_or(Ok(()), |job| store.renew_workshop(&job))
    }

    /// The standards after something was done to them.
    fn standards(&mut self, done: Result<(), StoreError>) -> Vec<Answer> {
        let today = Timestamp::now().to_zoned_datetime(TimeZone::system());
        let backup = self
            .papers
            .join(today.strftime("jobs-%Y-%m-%d-%H%M.db").to_string());
        let standards = done.and_then(|()| {
            let store = self.store()?;
            Ok(Standards {
                tapes: store.tapes()?,
                workshop: store.workshop()?,
                backup,
            })
        });
        vec![standards.map_or_else(
            |error| Answer::Failed(error.to_string()),
            |standards| Answer::Standards(Box::new(standards)),
        )]
    }

    fn backup(&mut self, to: &Path) -> Result<BackedUp, String> {
        if let Some(folder) = to.parent() {
            fs::create_dir_all(folder)
                .map_err(|error| format!("{}: cannot be made: {error}", folder.display()))?;
        }
        self.store()
            .and_then(|store| store.backup(to))
            .map_err(|error| error.to_string())
    }
}

impl JobRecord for FileRecord {
    fn attend(&mut self, errand: Errand) -> Vec<Answer> {
        let or_failed = |answer: Result<Answer, StoreError>| {
            vec![answer.unwrap_or_else(|error| Answer::Failed(error.to_string()))]
        };
        match errand {
            Errand::List(filter) => or_failed(self.list(filter)),
            Errand::Prepare => or_failed(self.prepare()),
            Errand::Decks(search) => or_failed(self.decks(search)),
            Errand::Visits { model, serial } => or_failed(self.visits(model, serial)),
            Errand::Create(new) => match self.store().and_then(|store| store.create_job(&new)) {
                Ok(()) => {
                    let mut answers = vec![Answer::Created(new.number.clone())];
                    answers.extend(self.open(new.number));
                    answers
                }
                Err(why) => vec![Answer::NotCreated(why.to_string())],
            },
            Errand::Open(number) => self.open(number),
            Errand::LetGo => {
                self.in_hand = None;
                vec![]
            }
            Errand::Keep(to_keep) => self.keep(*to_keep),
            Errand::TakeBack {
                job,
                which,
                entry,
                at,
            } => {
                let done = self.take_back(&job, which, &entry, at);
                let mut answers = vec![Answer::TakenBack { which, entry, done }];
                answers.extend(self.fresh());
                answers
            }
            Errand::Restore { job, which, entry } => {
                let words = super::words::entry(&entry);
                let done = self.restore(&job, which, &entry);
                let done = done.map_err(|error| error.to_string());
                self.told(
                    "not restored",
                    done.map(|()| format!("counts again: {words}")),
                )
            }
            Errand::Change { job, change } => {
                let done = self
                    .change(&job, &change)
                    .map_err(|error| error.to_string());
                self.told("not changed", done)
            }
            Errand::Export(job) => {
                let done = self.export(&job);
                self.told("not exported", done)
            }
            Errand::Sheet(job, paper) => {
                let done = self.sheet(&job, paper);
                self.told("no sheet made", done)
            }
            Errand::Standards => self.standards(Ok(())),
            Errand::SetTape(tape) => {
                let done = self.store().and_then(|store| store.set_tape(&tape));
                self.standards(done)
            }
            Errand::CheckTape { name, check } => {
                let done = self
                    .store()
                    .and_then(|store| store.add_tape_check(&name, &check));
                self.standards(done)
            }
            Errand::SetWorkshop(workshop) => {
                let done = self.set_workshop(&workshop);
                self.standards(done)
            }
            Errand::Backup(to) => {
                let made = self.backup(&to);
                vec![Answer::BackedUp(to, made)]
            }
        }
    }

    fn look(&mut self) -> Vec<Answer> {
        if self.keeper.is_none() {
            return vec![];
        }
        let keeper = self.keeper();
        let saved = keeper.waiting().len() > 0 && keeper.retry() > 0;
        let changed = keeper
            .store()
            .and_then(Store::changed_elsewhere)
            .unwrap_or(false);
        if !saved && !changed {
            return self.state().into_iter().collect();
        }
        let told = (changed && self.in_hand.is_some()).then_some(Answer::ChangedElsewhere);
        told.into_iter().chain(self.fresh()).collect()
    }

    fn finish(&mut self) -> Option<String> {
        let keeper = self.keeper.as_mut()?;
        keeper.retry();
        let set_aside = keeper.set_aside().iter().map(|(waiting, _)| waiting);
        let lost: Vec<String> = set_aside
            .chain(keeper.waiting())
            .map(|Waiting { job, entry }| format!("  {job}: {}", super::words::entry(entry)))
            .collect();
        (!lost.is_empty()).then(|| {
            format!(
                "not saved when the window closed ({}); write it down:\n{}",
                keeper.words().unwrap_or_default(),
                lost.join("\n")
            )
        })
    }
}

/// What the record calls an entry that is the same but for being withdrawn.
fn find(kept: &KeptJob, entry: &Entry) -> Option<EntryId> {
    fn of<T, I: Copy>(all: &[T], ids: &[I], is_it: impl Fn(&T) -> bool) -> Option<I> {
        let place = all.iter().rposition(is_it)?;
        ids.get(place).copied()
    }
    let job = &kept.job;
    match entry {
        Entry::Reading(one) => of(&job.readings, &kept.readings, |other| {
            (other.at, other.station, other.stage) == (one.at, one.station, one.stage)
        })
        .map(EntryId::Reading),
        Entry::Check(one) => of(&job.checks, &kept.checks, |other| {
            (other.at, other.stage, &other.check) == (one.at, one.stage, &one.check)
        })
        .map(EntryId::Check),
        Entry::Skip(one) => of(&job.skips, &kept.skips, |other| other == one).map(EntryId::Skip),
        Entry::Part(one) => of(&job.parts, &kept.parts, |other| other == one).map(EntryId::Part),
        Entry::Note(one) => of(&job.notes, &kept.notes, |other| other == one).map(EntryId::Note),
    }
}

/// That a file is left as it is.
fn is_another(path: &Path) -> String {
    format!(
        "{} is there already and is something else: move it away first",
        path.display()
    )
}

/// The file is never half written.
fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut fresh = path.as_os_str().to_owned();
    fresh.push(format!(".{}.new", std::process::id()));
    fs::write(&fresh, bytes)?;
    fs::rename(&fresh, path)
}
