//! The job in the window: a whole job by keyboard, readings on disk before they are called taken, stages, undo.

use crate::{
    fixtures::{self, Fixture},
    stage::{LAPTOP, Stage},
};
use crossbeam_channel::{Receiver, Sender, unbounded};
use eframe::egui::{Key, Modifiers, Theme, accesskit::Role};
use egui_kittest::kittest::Queryable;
use jiff::Timestamp;
use std::{
    path::PathBuf,
    thread,
    time::{Duration, Instant},
};
use trimwatch::{
    bench::{
        Deck, Environment, LimitSet, Note, PartReplaced, Stage as Of, Station, Store,
        limit_shelf::limit_sets,
        standards::TapeOnHand,
        store::{KeptJob, NewJob},
    },
    readings::SourceKind,
    screen::{Answer, Errand, FileRecord, JobRecord},
};

pub const JOB: &str = "HL-0031";

/// A folder with the workshop's record.
pub struct Workshop {
    folder: tempfile::TempDir,
}

impl Workshop {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// With an open job.
    fn with_job() -> Self {
        let workshop = Self::new();
        workshop.store().create_job(&new_job(JOB)).unwrap();
        workshop.remember(JOB);
        workshop
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("jobs.db")
    }

    pub fn memory(&self) -> PathBuf {
        self.folder.path().join("window.toml")
    }

    pub fn remember(&self, job: &str) {
        std::fs::write(self.memory(), format!("job = \"{job}\"\n")).unwrap();
    }

    pub fn store(&self) -> Store {
        Store::open(self.path()).unwrap()
    }

    fn job(&self) -> KeptJob {
        self.store().job(JOB).unwrap()
    }

    pub fn record(&self) -> FileRecord {
        FileRecord::at(self.path())
    }

    fn window(&self, fixture: Fixture) -> Stage {
        self.window_on(Box::new(self.record()), fixture)
    }

    fn window_on(&self, record: Box<dyn JobRecord>, fixture: Fixture) -> Stage {
        let memory = Some(self.memory());
        Stage::with_jobs((LAPTOP, 1.0), Theme::Dark, memory, record, fixture)
    }

    /// A window with the job in hand.
    fn at_work(&self, fixture: Fixture) -> Stage {
        let mut stage = self.window(fixture);
        wait_for_job(&mut stage, &format!("{JOB} Finch 2H, as found"));
        stage
    }
}

fn good_service() -> LimitSet {
    let sets = limit_sets().unwrap();
    let set = sets.iter().find(|set| set.name == "good-service");
    set.unwrap().clone()
}

pub fn new_job(number: &str) -> NewJob {
    NewJob {
        number: number.into(),
        deck: Deck {
            model: "Finch 2H".into(),
            serial: "20417".into(),
            tape_format: "cassette-stereo".into(),
            mechanism: String::new(),
        },
        opened: "2026-11-20T09:00:00Z".parse().unwrap(),
        complaint: "Runs fast and sounds muffled on one side".into(),
        limits: good_service(),
        environment: Environment::default(),
    }
}

/// Steps until something is so.
pub fn wait(stage: &mut Stage, what: &str, is_so: impl Fn(&Stage) -> bool) {
    let deadline = Instant::now() + Duration::from_secs(20);
    while !is_so(stage) {
        if Instant::now() >= deadline {
            let notices = notices(stage);
            panic!("waited in vain for {what}; notices: {notices:?}");
        }
        thread::sleep(Duration::from_millis(2));
        stage.harness.step();
    }
}

fn notices(stage: &Stage) -> Vec<String> {
    let mut said = stage.all_heard(Role::Note, "Warning");
    said.extend(stage.all_heard(Role::Note, "Notice"));
    said
}

fn wait_for_notice(stage: &mut Stage, beginning: &str) -> String {
    let begins = |stage: &Stage| {
        let said = notices(stage);
        said.into_iter().find(|said| said.starts_with(beginning))
    };
    wait(stage, beginning, |stage| begins(stage).is_some());
    begins(stage).unwrap()
}

fn wait_for_job(stage: &mut Stage, sign: &str) {
    wait(stage, sign, |stage| {
        stage.all_heard(Role::Status, "job") == [sign]
    });
}

/// Takes the reading of a deck that plays: while a test waits, nothing arrives.
fn take(stage: &mut Stage, fixture: Fixture) {
    stage.play(fixture, 0.5);
    stage.press(Key::Space);
}

fn station(stage: &Stage, name: &str) -> String {
    stage.heard(Role::ListBoxOption, &format!("{name} station"))
}

fn wait_for_station(stage: &mut Stage, name: &str, part: &str) {
    wait(stage, &format!("{name}: {part}"), |stage| {
        station(stage, name).contains(part)
    });
}

#[test]
fn a_whole_job_by_keyboard_alone() {
    let workshop = Workshop::new();
    let mut stage = workshop.window(fixtures::fast_deck);
    assert_eq!(stage.heard(Role::Status, "job"), "none");
    stage.press(Key::O);
    wait(&mut stage, "the empty list", |stage| {
        stage
            .harness
            .query_by_label_contains("No jobs yet")
            .is_some()
    });
    stage.press(Key::N);
    wait(&mut stage, "the number", |stage| {
        stage.has(Role::TextInput, "Job number")
            && stage.heard(Role::TextInput, "Job number") == "0001"
    });
    stage.type_text("Finch 2H");
    stage.press(Key::Enter);
    stage.type_text("20417");
    for _ in 0..2 {
        stage
            .harness
            .key_press_modifiers(Modifiers::SHIFT, Key::Tab);
        stage.settle();
    }
    stage
        .harness
        .key_press_modifiers(Modifiers::COMMAND, Key::A);
    stage.settle();
    stage.type_text("HL-0031");
    stage
        .harness
        .key_press_modifiers(Modifiers::COMMAND, Key::Enter);
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as found");
    stage.settle();
    assert!(station(&stage, "speed").contains("as found –, not taken"));
    for (name, figure) in [
        ("speed", "+1.830 % ±0.012 %"),
        ("wow and flutter", "as found 0."),
        ("azimuth", "as found +"),
        ("level and balance", "as found "),
    ] {
        stage.press(Key::ArrowDown);
        take(&mut stage, fixtures::fast_deck);
        wait_for_notice(&mut stage, &format!("taken, on disk: {name}, as found"));
        wait_for_station(&mut stage, name, figure);
    }
    // The checks have a page of their own.
    stage.press(Key::ArrowDown);
    stage.press(Key::Space);
    wait_for_notice(&mut stage, "mechanical checks are typed");
    stage.press(Key::Enter);
    stage.press(Key::Enter);
    assert!(
        stage.harness.query_by_label("Mechanical checks").is_some(),
        "their page"
    );
    // What was seen, then how good that is: good, not good, not judged.
    stage.type_text("slack, slips");
    stage.press(Key::Enter);
    stage.press(Key::ArrowRight);
    stage.press(Key::Enter);
    wait(&mut stage, "the check", |_| {
        workshop.job().job.checks.len() == 1
    });
    stage.press(Key::Escape);
    wait_for_station(
        &mut stage,
        "mechanical checks",
        "as found 1 check, fail: belt: slack, slips (not good)",
    );
    assert!(
        stage
            .heard(Role::Status, "Next in the job")
            .starts_with("As found is complete")
    );
    stage.press(Key::A);
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as left");
    stage.play(fixtures::in_tolerance, 2.0);
    stage.press(Key::Num1);
    stage.press(Key::Space);
    wait_for_notice(&mut stage, "taken, on disk: speed, as left: −0.040 %");
    // A station can be left out, with a reason.
    stage.press(Key::J);
    stage.press(Key::ArrowDown);
    stage.press(Key::Enter);
    stage.type_text("no time before noon");
    stage.press(Key::Enter);
    wait_for_station(
        &mut stage,
        "wow and flutter",
        "left out, no time before noon",
    );
    let kept = workshop.job();
    assert_eq!(kept.job.skips[0].reason, "no time before noon");
    assert_eq!(kept.job.readings.len(), 5);
    assert!(kept.job.standing(Station::Speed, Of::AsLeft).is_some());
    let context = &kept.job.readings[0].context;
    assert_eq!(context.input, "USB line input (ALSA)");
    assert!(!kept.job.readings[0].series.is_empty());
    let tapes = workshop.store().tapes().unwrap();
    assert_eq!(tapes.len(), 1, "the tape that played");
    assert_eq!(
        tapes[0].passes, 1,
        "readings one after the other are a pass"
    );
}

/// A record that does nothing until it is let.
struct Gate {
    record: FileRecord,
    go: Receiver<()>,
}

impl Gate {
    fn before(record: FileRecord) -> (Box<Self>, Sender<()>) {
        let (open, go) = unbounded();
        (Box::new(Self { record, go }), open)
    }
}

impl JobRecord for Gate {
    fn attend(&mut self, errand: Errand) -> Vec<Answer> {
        if matches!(errand, Errand::Keep(_)) {
            self.go.recv().unwrap();
        }
        self.record.attend(errand)
    }

    fn look(&mut self) -> Vec<Answer> {
        self.record.look()
    }

    fn finish(&mut self) -> Option<String> {
        self.record.finish()
    }
}

#[test]
fn a_reading_is_called_taken_only_when_it_is_on_disk() {
    let workshop = Workshop::with_job();
    let (gate, open) = Gate::before(workshop.record());
    let mut stage = workshop.window_on(gate, fixtures::in_tolerance);
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as found");
    take(&mut stage, fixtures::in_tolerance);
    stage.play(fixtures::in_tolerance, 1.0);
    let said = notices(&stage);
    assert!(
        said.iter()
            .any(|said| said.starts_with("saving … speed, as found: −0.040 %")),
        "{said:?}"
    );
    assert!(!said.iter().any(|said| said.contains("taken")), "{said:?}");
    assert_eq!(workshop.job().job.readings.len(), 0);
    assert!(stage.has(Role::Meter, "Speed reading"), "it goes on");
    open.send(()).unwrap();
    let said = wait_for_notice(&mut stage, "taken, on disk: speed");
    assert!(said.contains("pass"), "{said}");
    assert_eq!(workshop.job().job.readings.len(), 1, "{said}");
    assert!(!notices(&stage).iter().any(|said| said.contains("saving")));
}

#[test]
fn what_cannot_be_saved_waits_in_memory_and_is_saved_later() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    let other = rusqlite::Connection::open(workshop.path()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    take(&mut stage, fixtures::in_tolerance);
    let told = wait_for_notice(&mut stage, "not saved: speed, as found: −0.040 %");
    assert!(
        told.contains("waits in memory (1 waiting)") && told.contains("another copy"),
        "{told}"
    );
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as found, 1 not saved");
    stage.press(Key::J);
    wait_for_station(&mut stage, "speed", "not saved yet");
    // What waits can be taken back, too.
    other.execute_batch("ROLLBACK").unwrap();
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as found");
    wait_for_station(&mut stage, "speed", "−0.040 % ±0.012 %, pass;");
    assert_eq!(workshop.job().job.readings.len(), 1);
}

#[test]
fn a_window_that_closes_saves_what_waits_or_tells_it() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    take(&mut stage, fixtures::in_tolerance);
    // Asked for, not yet answered: the last try comes after it.
    assert_eq!(stage.close(), None);
    assert_eq!(workshop.job().job.readings.len(), 1);

    let mut stage = workshop.at_work(fixtures::in_tolerance);
    let other = rusqlite::Connection::open(workshop.path()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    take(&mut stage, fixtures::in_tolerance);
    let told = stage.close().expect("it cannot be saved");
    assert!(
        told.contains("HL-0031: speed, as found: −0.040 % ±0.012 %"),
        "{told}"
    );
}

#[test]
fn the_job_open_last_is_opened_again() {
    let workshop = Workshop::new();
    workshop.store().create_job(&new_job(JOB)).unwrap();
    let mut first = workshop.window(fixtures::in_tolerance);
    assert_eq!(first.heard(Role::Status, "job"), "none");
    first.press(Key::O);
    wait(&mut first, "the list", |stage| {
        stage.harness.query_by_label_contains("HL-0031").is_some()
    });
    first.press(Key::Enter);
    wait_for_job(&mut first, "HL-0031 Finch 2H, as found");
    assert!(
        first.has(Role::ListBoxOption, "speed station"),
        "its page is shown"
    );
    first.press(Key::J);
    assert!(first.has(Role::Meter, "Speed reading"));
    drop(first);
    let mut second = workshop.at_work(fixtures::in_tolerance);
    assert!(second.has(Role::Meter, "Speed reading"));
    second.press(Key::J);
    assert!(second.has(Role::ListBoxOption, "azimuth station"));
}

#[test]
fn a_job_that_is_gone_is_told_and_forgotten() {
    let workshop = Workshop::new();
    workshop.remember("HL-0009");
    let mut stage = workshop.window(fixtures::in_tolerance);
    wait_for_notice(&mut stage, "job HL-0009 is not open: there is no job");
    wait_for_job(&mut stage, "none");
    stage.press(Key::J);
    wait_for_notice(&mut stage, "no job open: o opens one");
    assert!(
        !std::fs::read_to_string(workshop.memory())
            .unwrap()
            .contains("HL-0009")
    );
}

#[test]
fn readings_from_before_the_job_can_be_put_into_it() {
    let workshop = Workshop::with_job();
    std::fs::remove_file(workshop.memory()).unwrap();
    let mut stage = workshop.window(fixtures::in_tolerance);
    stage.press(Key::Space);
    let said = wait_for_notice(&mut stage, "taken as 1: Speed −0.040 %");
    assert!(said.ends_with("no job open: o opens one"), "{said}");
    stage.press(Key::Num4);
    take(&mut stage, fixtures::in_tolerance);
    stage.press(Key::O);
    wait(&mut stage, "the list", |stage| {
        stage.harness.query_by_label_contains("HL-0031").is_some()
    });
    stage.press(Key::Enter);
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as found");
    stage.settle();
    assert_eq!(
        stage.heard(Role::Status, "Question"),
        "2 readings were taken before job HL-0031 was open. Put into it, as found?"
    );
    assert_eq!(workshop.job().job.readings.len(), 0, "nobody asked for it");
    stage.press(Key::Y);
    wait_for_station(&mut stage, "level and balance", "as found +");
    assert_eq!(workshop.job().job.readings.len(), 2);
    stage.settle();
    assert!(!stage.has(Role::Status, "Question"));
}

#[test]
fn undo_takes_back_what_was_entered_last_and_says_what() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    take(&mut stage, fixtures::in_tolerance);
    wait_for_notice(&mut stage, "taken, on disk");
    take(&mut stage, fixtures::in_tolerance);
    wait(&mut stage, "two", |_| {
        workshop.job().job.readings.len() == 2
    });
    wait_for_notice(&mut stage, "taken, on disk");
    let mut store = workshop.store();
    let part = PartReplaced {
        at: Timestamp::now(),
        what: "belt".into(),
    };
    store.add_part(JOB, &part).unwrap();
    wait_for_notice(&mut stage, "the job was changed by another copy");
    stage.press(Key::Z);
    wait_for_notice(&mut stage, "taken back: part replaced: belt");
    stage.press(Key::Z);
    wait_for_notice(&mut stage, "withdrawn: speed, as found: −0.040 %");
    let kept = workshop.job().job;
    assert!(kept.parts.is_empty());
    assert_eq!(kept.readings.len(), 2, "withdrawn stays in the record");
    assert!(kept.readings[0].withdrawn.is_none() && kept.readings[1].withdrawn.is_some());
    stage.press(Key::J);
    wait_for_station(&mut stage, "speed", "2 tries, 1 withdrawn");
    stage.press(Key::Y);
    wait_for_notice(&mut stage, "counts again: speed");
    stage.press(Key::Y);
    wait(&mut stage, "the part", |_| {
        workshop.job().job.parts == [part.clone()]
    });
    assert!(workshop.job().job.readings[1].withdrawn.is_none());
    wait_for_station(&mut stage, "speed", "2 tries");
    // The newest is the first of the history.
    stage
        .harness
        .get_all_by_label("withdraw")
        .next()
        .unwrap()
        .click();
    stage.settle();
    wait(&mut stage, "the newest", |_| {
        workshop.job().job.readings[1].withdrawn.is_some()
    });
    wait(&mut stage, "the way back", |stage| {
        stage.harness.query_by_label("restore").is_some()
    });
    stage.click("restore");
    wait(&mut stage, "the newest again", |_| {
        workshop.job().job.readings[1].withdrawn.is_none()
    });
}

#[test]
fn another_copys_changes_are_noticed() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    stage.press(Key::J);
    let note = Note {
        at: Timestamp::now(),
        text: "from the office".into(),
        for_owner: true,
    };
    workshop.store().add_note(JOB, &note).unwrap();
    wait_for_notice(&mut stage, "the job was changed by another copy");
    stage.press(Key::ArrowRight);
    wait(&mut stage, "the note", |stage| {
        stage
            .harness
            .query_by_label_contains("(for the owner): from the office")
            .is_some()
    });
}

#[test]
fn the_bands_and_the_verdict_at_the_view_are_those_of_the_job() {
    let workshop = Workshop::with_job();
    let mut strict = good_service();
    strict.title = "Finch 2H, manual".into();
    for limit in &mut strict.limits {
        if limit.quantity == trimwatch::bench::Quantity::SpeedDeviation {
            (limit.least, limit.greatest, limit.aim) = (Some(-0.035), Some(0.035), Some(0.02));
        }
    }
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    assert_eq!(stage.heard(Role::Status, "Speed verdict"), "pass");
    assert!(stage.reading("Speed").contains("in: on the mark"));
    workshop.store().set_limits(JOB, &strict).unwrap();
    wait(&mut stage, "the new limits", |stage| {
        stage
            .heard(Role::Status, "Speed in the job")
            .contains("limit ±0.035 %, Finch 2H, manual")
    });
    stage.play(fixtures::in_tolerance, 1.0);
    // −0.040 % ±0.012 %: outside, but by less than it is uncertain.
    assert_eq!(
        stage.heard(Role::Status, "Speed verdict"),
        "within uncertainty"
    );
    stage.play(fixtures::fast_deck, 1.0);
    assert_eq!(stage.heard(Role::Status, "Speed verdict"), "fail");
    stage.play(fixtures::no_tone, 1.0);
    assert_eq!(stage.heard(Role::Status, "Speed verdict"), "no verdict");
}

#[test]
fn notes_parts_and_circumstances_are_typed() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    stage.press(Key::J);
    stage.press(Key::ArrowRight);
    stage.press(Key::Enter);
    stage.type_text("<b>wow</b> \u{202e} 'drop table job'");
    stage.press(Key::Enter);
    wait(&mut stage, "the note", |_| {
        workshop.job().job.notes.len() == 1
    });
    assert_eq!(
        workshop.job().job.notes[0].text,
        "<b>wow</b> \u{202e} 'drop table job'"
    );
    stage.press(Key::ArrowRight);
    stage.press(Key::Enter);
    stage.press(Key::Enter);
    assert!(stage.harness.query_by_label("say which part").is_some());
    stage.press(Key::Enter);
    stage.type_text("capstan belt");
    stage.press(Key::Enter);
    wait(&mut stage, "the part", |_| {
        workshop.job().job.parts.len() == 1
    });
    stage.press(Key::ArrowRight);
    stage.press(Key::Enter);
    stage.type_text("21,5");
    stage.press(Key::Tab);
    stage.type_text("lots");
    stage.press(Key::Enter);
    assert!(
        stage
            .harness
            .query_by_label("mains voltage: 'lots' is not a number")
            .is_some()
    );
    stage.fill("Mains voltage, V", "231");
    stage.press(Key::Enter);
    wait(&mut stage, "the circumstances", |_| {
        let environment = workshop.job().job.environment;
        environment.temperature_c == Some(21.5) && environment.mains_volts == Some(231.0)
    });
}

#[test]
fn a_closed_job_takes_nothing_until_it_is_reopened() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    stage.press(Key::J);
    stage.press(Key::ArrowLeft);
    stage.click("Close the job");
    wait_for_job(&mut stage, "HL-0031 Finch 2H, closed");
    stage.press(Key::Num1);
    take(&mut stage, fixtures::in_tolerance);
    wait_for_notice(&mut stage, "not taken: job HL-0031 is closed");
    assert!(workshop.job().job.readings.is_empty());
    stage.press(Key::J);
    stage.click("Reopen the job");
    wait_for_job(&mut stage, "HL-0031 Finch 2H, as found");
    stage.click("Write it into a file (JSON)");
    let said = wait_for_notice(&mut stage, "written: ");
    let text = std::fs::read_to_string(said.trim_start_matches("written: ")).unwrap();
    assert!(text.contains("\"HL-0031\""));
    stage.click("Owner's sheet, A4");
    let said = wait_for_notice(&mut stage, "the owner's sheet: ");
    let path = said.trim_start_matches("the owner's sheet: ");
    let path = path.split(" (and ").next().unwrap();
    assert!(std::fs::read(path).unwrap().starts_with(b"%PDF"), "{path}");
    // What somebody else put there is left alone.
    std::fs::write(path, "mine").unwrap();
    stage.click("Owner's sheet, Letter");
    wait_for_notice(&mut stage, "no sheet made: ");
    assert_eq!(std::fs::read(path).unwrap(), b"mine");
    stage.click("Put the job away");
    wait_for_job(&mut stage, "none");
    take(&mut stage, fixtures::in_tolerance);
    wait_for_notice(&mut stage, "taken as 1");
}

#[test]
fn the_workshops_standards_are_beside_the_readings() {
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(fixtures::in_tolerance);
    let tape = TapeOnHand {
        name: "speed-3150".into(),
        title: "Speed, 3150 Hz".into(),
        passes_before: 150,
        ..TapeOnHand::default()
    };
    workshop.store().set_tape(&tape).unwrap();
    take(&mut stage, fixtures::in_tolerance);
    wait_for_notice(&mut stage, "Speed, 3150 Hz is due for a check");
    assert_eq!(workshop.store().tapes().unwrap()[0].passes, 151);
    take(&mut stage, fixtures::in_tolerance);
    wait(&mut stage, "two readings", |_| {
        workshop.job().job.readings.len() == 2
    });
    assert_eq!(
        workshop.store().tapes().unwrap()[0].passes,
        151,
        "the same pass"
    );
    stage.press(Key::Num0);
    wait(&mut stage, "the tape", |stage| {
        let told = stage.harness.query_all_by_label_contains("151 passes");
        told.count() > 0
    });
}

#[test]
fn a_simulated_deck_wears_no_tape() {
    fn simulated(t: f64) -> trimwatch::readings::Readings {
        let mut readings = fixtures::in_tolerance(t);
        readings.source.description.kind = SourceKind::VirtualDeck;
        readings
    }
    let workshop = Workshop::with_job();
    let mut stage = workshop.at_work(simulated);
    take(&mut stage, simulated);
    wait_for_notice(&mut stage, "taken, on disk");
    assert!(workshop.store().tapes().unwrap().is_empty());
}
