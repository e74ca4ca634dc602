//! The workshop's own standards as they are typed in: checks of calibration tapes, their certificates, where a backup
//! goes, and the workshop's name and address.

use super::{format, harmless, job_list};
use crate::bench::{
    Workshop, sound,
    standards::{TapeCheck, TapeOnHand, TapeRecord, months_between},
    store::BackedUp,
};
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use std::path::{Path, PathBuf};

/// Letters of a text from the record that are shown at most.
const LONG: usize = 200;

/// What of a tape is being typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Task {
    /// That it was checked against another.
    Check,
    /// Its certificate and when it is due.
    Certificate,
}

/// Where something wrong is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Section {
    /// At the tape that is open.
    Tape,
    /// At the backup.
    Backup,
    /// At the workshop's name and address.
    Workshop,
}

/// A check as it is typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CheckEntry {
    /// Against which tape.
    pub against: String,
    /// What was found.
    pub found: String,
}

/// A tape's certificate as it is typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TapeEntry {
    /// What a person calls the tape.
    pub title: String,
    /// Its certificate.
    pub certificate: String,
    /// Its date, `2024-11-30`; empty: not known.
    pub certified: String,
    /// Passes before they were counted.
    pub passes_before: String,
    /// Due after so many passes.
    pub due_after_passes: String,
    /// Due after so many months.
    pub due_after_months: String,
}

impl TapeEntry {
    /// As `tape` fills it.
    fn of(tape: &TapeOnHand) -> Self {
        Self {
            title: tape.title.clone(),
            certificate: tape.certificate.clone(),
            certified: tape
                .certified
                .map_or_else(String::new, |date| date.to_string()),
            passes_before: tape.passes_before.to_string(),
            due_after_passes: tape.due_after_passes.to_string(),
            due_after_months: tape.due_after_months.to_string(),
        }
    }

    /// What it makes of `before`.
    fn tape(&self, before: &TapeOnHand) -> Result<TapeOnHand, String> {
        let certified = match self.certified.trim() {
            "" => None,
            text => Some(text.parse::<Date>().map_err(|_| {
                let text = harmless::line(text, 40);
                format!("'{text}' is no date: give year, month and day, such as 2024-11-30")
            })?),
        };
        let title = self.title.trim();
        Ok(TapeOnHand {
            title: if title.is_empty() {
                before.name.clone()
            } else {
                title.to_owned()
            },
            certificate: self.certificate.trim().to_owned(),
            certified,
            passes_before: count("passes before", &self.passes_before, 0)?,
            due_after_passes: count("passes allowed", &self.due_after_passes, 1)?,
            due_after_months: count("months allowed", &self.due_after_months, 1)?,
            ..before.clone()
        })
    }
}

fn count(name: &str, text: &str, least: u32) -> Result<u32, String> {
    let shown = harmless::line(text, 40);
    let told = || format!("{name}: '{shown}' is no whole number from {least} up");
    let number = match text.trim() {
        "" => least,
        text => text.parse().map_err(|_| told())?,
    };
    if number < least {
        return Err(told());
    }
    Ok(number)
}

/// What is typed; it outlives the panel, so that nothing is lost when it is closed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StandardsForm {
    /// The tape that is open, and what for.
    open: Option<(String, Task)>,
    /// A check of it.
    pub check: CheckEntry,
    /// Its certificate.
    pub tape: TapeEntry,
    /// Where a backup goes.
    pub backup: String,
    backup_edited: bool,
    /// The workshop's name.
    pub name: String,
    /// Address and how to reach it, a line each.
    pub address: String,
    workshop_edited: bool,
    problem: Option<(Section, String)>,
    /// The first field of the open tape is to get the focus.
    pub(in crate::screen) focus: bool,
}

impl StandardsForm {
    /// What is open of a tape.
    pub fn task(&self, tape: &str) -> Option<Task> {
        let open = self.open.as_ref();
        open.filter(|(name, _)| name == tape).map(|&(_, task)| task)
    }

    /// Opens a task of a tape, or closes it where it is open. What was typed for a check of the same tape is still there.
    pub(in crate::screen) fn toggle(&mut self, tape: &TapeOnHand, task: Task) {
        self.forget_problem(Section::Tape);
        if self.task(&tape.name) == Some(task) {
            self.open = None;
            return;
        }
        if self
            .open
            .as_ref()
            .is_some_and(|(name, _)| *name != tape.name)
        {
            self.check = CheckEntry::default();
        }
        if task == Task::Certificate {
            self.tape = TapeEntry::of(tape);
        }
        self.open = Some((tape.name.clone(), task));
        self.focus = true;
    }

    /// The check as it is typed; `None` where something is wrong, which is then told.
    pub(in crate::screen) fn checked(&mut self, at: Timestamp, good: bool) -> Option<TapeCheck> {
        let check = TapeCheck {
            at,
            against: self.check.against.trim().to_owned(),
            found: self.check.found.trim().to_owned(),
            good,
        };
        let told = if check.against.is_empty() {
            Err("against which tape was it checked?".to_owned())
        } else if check.found.is_empty() {
            Err("what was found? such as '0.01 % apart at 3150 Hz'".to_owned())
        } else {
            sound::check_tape_check(&check)
        };
        self.told(Section::Tape, told)?;
        self.check = CheckEntry::default();
        self.open = None;
        Some(check)
    }

    /// The tape as it is typed; `None` where something is wrong, which is then told.
    pub(in crate::screen) fn certified(&mut self, before: &TapeOnHand) -> Option<TapeOnHand> {
        let tape = self
            .tape
            .tape(before)
            .and_then(|tape| sound::check_tape(&tape).map(|()| tape));
        let tape = self.told(Section::Tape, tape)?;
        self.open = None;
        Some(tape)
    }

    /// Takes a proposed file for the backup where none of one's own is typed.
    pub(in crate::screen) fn propose_backup(&mut self, path: Option<&Path>) {
        if let Some(path) = path.filter(|_| !self.backup_edited) {
            self.backup = path.display().to_string();
        }
    }

    /// The path was edited.
    pub(in crate::screen) fn backup_edited(&mut self) {
        self.backup_edited = true;
        self.forget_problem(Section::Backup);
    }

    /// Where the backup goes; `None` where that is no whole path, which is then told.
    pub(in crate::screen) fn backup_path(&mut self) -> Option<PathBuf> {
        let path = PathBuf::from(self.backup.trim());
        let told = if path.is_absolute() && path.file_name().is_some() {
            Ok(path)
        } else {
            Err("give the whole path of a new file, best on another disk".to_owned())
        };
        self.told(Section::Backup, told)
    }

    /// Shows the workshop of the record where nothing else is being typed.
    pub(in crate::screen) fn show_workshop(&mut self, workshop: &Workshop) {
        if !self.workshop_edited {
            self.name.clone_from(&workshop.name);
            self.address = workshop.lines.join("\n");
        }
    }

    /// Name or address was edited.
    pub(in crate::screen) fn workshop_edited(&mut self) {
        self.workshop_edited = true;
        self.forget_problem(Section::Workshop);
    }

    /// The workshop as it is typed.
    fn workshop(&self) -> Workshop {
        let lines = self.address.lines().map(str::trim);
        Workshop {
            name: self.name.trim().to_owned(),
            lines: lines
                .filter(|line| !line.is_empty())
                .map(Into::into)
                .collect(),
        }
    }

    /// Whether what is typed is not what the record has.
    pub(in crate::screen) fn differs(&self, kept: &Workshop) -> bool {
        self.workshop_edited && self.workshop() != *kept
    }

    /// The workshop to be kept; `None` where something is wrong, which is then told.
    pub(in crate::screen) fn kept_workshop(&mut self) -> Option<Workshop> {
        let workshop = self.workshop();
        let told = sound::check_workshop(&workshop).map(|()| workshop);
        let workshop = self.told(Section::Workshop, told)?;
        self.workshop_edited = false;
        Some(workshop)
    }

    /// Shows what the record has again.
    pub(in crate::screen) fn forget_workshop(&mut self) {
        self.workshop_edited = false;
        self.forget_problem(Section::Workshop);
    }

    /// What is wrong in a section.
    pub fn problem(&self, section: Section) -> Option<&str> {
        let problem = self.problem.as_ref();
        problem
            .filter(|(of, _)| *of == section)
            .map(|(_, words)| &**words)
    }

    pub(in crate::screen) fn forget_problem(&mut self, section: Section) {
        self.problem.take_if(|(of, _)| *of == section);
    }

    fn told<T>(&mut self, section: Section, result: Result<T, String>) -> Option<T> {
        match result {
            Ok(value) => {
                self.forget_problem(section);
                Some(value)
            }
            Err(words) => {
                self.problem = Some((section, words));
                None
            }
        }
    }
}

/// The last check of a tape in one line; `None` where there was none.
pub fn last_check(record: &TapeRecord, zone: &TimeZone) -> Option<String> {
    let check = record.checks.last()?;
    Some(format!(
        "Last check {} against {}: {}, {}.",
        job_list::date(check.at, zone),
        harmless::line(&check.against, LONG),
        harmless::line(&check.found, LONG),
        if check.good { "good" } else { "not good" }
    ))
}

/// How long ago something was: `today`, `12 days ago`, `8 months ago`.
pub fn ago(then: Timestamp, now: Timestamp) -> String {
    let date = then.to_zoned_datetime(TimeZone::UTC).date();
    let days = (now.as_second() - then.as_second()) / 86_400;
    match (months_between(date, now).unwrap_or(0), days) {
        (0 | 1, ..1) => "today".into(),
        (0 | 1, days) => {
            let days = u64::try_from(days).unwrap_or(0);
            format!("{} ago", format::counted(days, "day", "days"))
        }
        (months, _) => format!("{months} months ago"),
    }
}

/// What a backup holds, in words.
pub fn backup_words(path: &Path, backed_up: BackedUp) -> String {
    let size = backed_up.bytes as f64;
    let size = if size < 1e6 {
        format!("{:.0} kB", (size / 1e3).ceil())
    } else {
        format!("{:.1} MB", size / 1e6)
    };
    let jobs = format::counted(u64::from(backed_up.jobs), "job", "jobs");
    let path = harmless::line(&path.display().to_string(), LONG);
    format!("Backed up and looked through: {jobs}, {size}, in {path}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().expect("a time")
    }

    fn tape() -> TapeOnHand {
        TapeOnHand {
            name: "speed-3150".into(),
            title: "Speed, 3150 Hz".into(),
            ..TapeOnHand::default()
        }
    }

    #[test]
    fn a_check_needs_a_tape_and_a_finding() {
        let mut form = StandardsForm::default();
        form.toggle(&tape(), Task::Check);
        assert_eq!(form.task("speed-3150"), Some(Task::Check));
        let now = at("2026-11-26T09:00:00Z");
        assert_eq!(form.checked(now, true), None);
        assert!(form.problem(Section::Tape).is_some());
        assert_eq!(form.problem(Section::Backup), None);
        form.check.against = "Speed tape B".into();
        assert_eq!(form.checked(now, true), None);
        form.check.found = "0.01 % apart".into();
        let check = form.checked(now, true).expect("all is there");
        assert_eq!((&*check.found, check.good), ("0.01 % apart", true));
        assert_eq!(form.task("speed-3150"), None, "closed again");
        assert_eq!(form.problem(Section::Tape), None);
    }

    #[test]
    fn a_certificate_is_typed_and_what_is_wrong_is_told() {
        let mut form = StandardsForm::default();
        form.toggle(&tape(), Task::Certificate);
        assert_eq!(form.tape.due_after_passes, "100");
        form.tape.certified = "30.11.2024".into();
        assert_eq!(form.certified(&tape()), None);
        let told = form.problem(Section::Tape).expect("no date");
        assert!(told.contains("2024-11-30"), "{told}");
        form.tape.certified = "2024-11-30".into();
        for wrong in ["0", "-1", "many", "99999999999"] {
            form.tape.due_after_months = wrong.into();
            assert_eq!(form.certified(&tape()), None, "{wrong}");
        }
        form.tape.due_after_months = "12".into();
        form.tape.certificate = " 17/2024 ".into();
        let kept = form.certified(&tape()).expect("sound");
        assert_eq!((&*kept.certificate, kept.due_after_months), ("17/2024", 12));
        assert_eq!(kept.certified, Some(Date::constant(2024, 11, 30)));
    }

    #[test]
    fn what_was_typed_for_one_tape_is_not_taken_for_another() {
        let mut form = StandardsForm::default();
        form.toggle(&tape(), Task::Check);
        form.check.found = "0.2 % apart".into();
        form.toggle(&tape(), Task::Check);
        form.toggle(&tape(), Task::Check);
        assert_eq!(form.check.found, "0.2 % apart", "closed and opened");
        let other = TapeOnHand {
            name: "azimuth".into(),
            ..tape()
        };
        form.toggle(&other, Task::Check);
        assert_eq!(form.check.found, "");
    }

    #[test]
    fn a_backup_goes_to_a_whole_path() {
        let mut form = StandardsForm::default();
        let folder = std::env::temp_dir();
        let proposed = folder.join("record.db");
        form.propose_backup(Some(&proposed));
        assert_eq!(form.backup_path(), Some(proposed.clone()));
        form.backup = "record.db".into();
        form.backup_edited();
        form.propose_backup(Some(&proposed));
        assert_eq!(form.backup_path(), None);
        assert!(form.problem(Section::Backup).is_some());
        form.backup.clear();
        assert_eq!(form.backup_path(), None);
    }

    #[test]
    fn the_workshop_is_that_of_the_record_until_it_is_edited() {
        let mut form = StandardsForm::default();
        let mut kept = Workshop {
            name: "Harbour Lane Audio Repair".into(),
            lines: vec!["3 Harbour Lane".into()],
        };
        form.show_workshop(&kept);
        assert!(!form.differs(&kept));
        form.address += "\n\n  by appointment ";
        form.workshop_edited();
        form.show_workshop(&kept);
        assert!(form.differs(&kept));
        let typed = form.kept_workshop().expect("sound");
        assert_eq!(typed.lines, ["3 Harbour Lane", "by appointment"]);
        form.name = "x".repeat(501);
        form.workshop_edited();
        assert_eq!(form.kept_workshop(), None);
        assert!(form.problem(Section::Workshop).is_some());
        form.forget_workshop();
        kept.name = "Another".into();
        form.show_workshop(&kept);
        assert_eq!(form.name, "Another");
    }

    #[test]
    fn ages_and_sizes_are_in_words() {
        let now = at("2026-11-26T09:00:00Z");
        for (then, words) in [
            ("2026-11-26T08:00:00Z", "today"),
            ("2026-12-26T08:00:00Z", "today"),
            ("2026-11-25T08:00:00Z", "1 day ago"),
            ("2026-10-20T08:00:00Z", "37 days ago"),
            ("2026-03-20T08:00:00Z", "8 months ago"),
        ] {
            assert_eq!(ago(at(then), now), words, "{then}");
        }
        let held = |bytes| backup_words(Path::new("/b.db"), BackedUp { jobs: 1, bytes });
        assert_eq!(
            held(1_300_000),
            "Backed up and looked through: 1 job, 1.3 MB, in /b.db"
        );
        assert!(held(4096).contains("5 kB"));
    }
}
