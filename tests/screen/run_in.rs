//! The run-in log and both ends of the tape in the window.

use crate::{
    fixtures::{self, Fixture},
    run_in_story,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{DroppedFile, Key, Theme, accesskit::Role};
use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
    thread,
    time::{Duration, Instant},
};
use trimwatch::{
    run_in::{self, History},
    screen::InputChoice,
};

fn logging(folder: &Path) -> Stage {
    Stage::logging(LAPTOP, 1.0, Theme::Dark, folder, fixtures::in_tolerance)
}

/// The only log in the folder.
fn log_in(folder: &Path) -> Option<PathBuf> {
    let files = fs::read_dir(folder).ok()?;
    files.filter_map(|file| Some(file.ok()?.path())).next()
}

/// Plays until the log in the folder is as it should be.
fn play_until(
    stage: &mut Stage,
    fixture: Fixture,
    folder: &Path,
    what: &str,
    done: impl Fn(&History) -> bool,
) -> History {
    let deadline = Instant::now() + Duration::from_secs(30);
    loop {
        stage.play(fixture, 0.1);
        thread::sleep(Duration::from_millis(10));
        let read = log_in(folder).and_then(|path| run_in::read(&path).ok());
        if let Some(history) = read.filter(|history| done(history)) {
            return history;
        }
        assert!(Instant::now() < deadline, "waited in vain until {what}");
    }
}

/// Steps until a screen reader hears of it.
fn wait_until(stage: &mut Stage, what: &str, done: impl Fn(&Stage) -> bool) {
    let deadline = Instant::now() + Duration::from_secs(30);
    while !done(stage) {
        assert!(Instant::now() < deadline, "waited in vain until {what}");
        thread::sleep(Duration::from_millis(5));
        stage.settle();
    }
}

fn sign(stage: &Stage) -> String {
    stage.heard(Role::Status, "run-in")
}

#[test]
fn a_log_is_begun_watched_and_ended_by_keyboard() {
    let folder = tempfile::tempdir().unwrap();
    let mut stage = logging(folder.path());
    assert!(!stage.has(Role::Status, "run-in"), "no sign without a log");
    stage.press(Key::E);
    // The button that begins it has the focus.
    stage.press(Key::Enter);
    play_until(
        &mut stage,
        fixtures::in_tolerance,
        folder.path(),
        "three readings are kept",
        |log| log.readings() >= 3,
    );
    let path = log_in(folder.path()).unwrap();
    let name = path.file_name().unwrap().to_string_lossy().into_owned();
    assert!(name.ends_with("-utc-usb-line-input.log"), "{name}");
    wait_until(&mut stage, "lines are counted", |stage| {
        sign(stage).contains("lines")
    });

    stage.fill("Temperature at the deck, °C", "235");
    stage.press(Key::Enter);
    assert!(stage.has_text("235.0 °C is outside −20 to 80 °C; type the temperature at the deck"));
    stage.fill("Temperature at the deck, °C", "23,5");
    stage.press(Key::Enter);
    let log = play_until(
        &mut stage,
        fixtures::in_tolerance,
        folder.path(),
        "it is noted",
        |log| !log.temperatures().is_empty(),
    );
    assert_eq!(log.temperatures()[0].celsius, 23.5);

    let log = play_until(
        &mut stage,
        fixtures::no_tone,
        folder.path(),
        "the tone is missed",
        |log| !log.gaps().is_empty(),
    );
    assert_eq!(log.gaps().len(), 1);
    wait_until(&mut stage, "the event is told", |stage| {
        sign(stage).contains("last: end of tape at ")
    });
    stage.click("End the log");
    wait_until(&mut stage, "it is over", |stage| {
        sign(stage).ends_with("ended by the technician")
    });
    let log = run_in::read(&path).unwrap();
    assert_eq!(log.ended(), Some("ended by the technician"));
    assert_eq!(
        (log.sessions(), log.damaged_lines(), log.is_torn()),
        (1, 0, false)
    );
}

#[test]
fn after_the_window_was_closed_a_new_one_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut stage = logging(folder.path());
    stage.press(Key::E);
    stage.press(Key::Enter);
    let kept = |log: &History| log.readings() >= 2;
    play_until(
        &mut stage,
        fixtures::in_tolerance,
        folder.path(),
        "readings are kept",
        kept,
    );
    drop(stage);
    let path = log_in(folder.path()).unwrap();
    let first = run_in::read(&path).unwrap();
    assert_eq!(first.ended(), Some("the window was closed"));

    let mut stage = logging(folder.path());
    wait_until(&mut stage, "it is offered", |stage| {
        let notices = stage.all_heard(Role::Note, "Notice");
        notices
            .iter()
            .any(|notice| notice.starts_with("an unfinished run-in log waits: "))
    });
    stage.press(Key::E);
    wait_until(&mut stage, "it can be gone on with", |stage| {
        stage.has(Role::Button, "Go on with it")
    });
    stage.click("Go on with it");
    let log = play_until(
        &mut stage,
        fixtures::in_tolerance,
        folder.path(),
        "it goes on",
        |log| log.sessions() == 2 && log.readings() > first.readings() + 1,
    );
    assert_eq!(log.breaks().len(), 1);
    // The run so far, in the main view, with the time in which nobody listened.
    wait_until(&mut stage, "it is told", |stage| {
        sign(stage).contains("last: not kept at ")
    });
    stage.click("Show the run");
    let heard = stage.heard(Role::Row, "event not kept");
    assert!(heard.contains("nothing is known of that time"), "{heard}");
    stage.press(Key::Escape);
    assert!(stage.reading("Speed").contains("in: on the mark"));
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        1,
        "one log, not two"
    );
}

#[test]
fn an_unfinished_log_may_be_left_and_is_not_offered_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut stage = logging(folder.path());
    stage.press(Key::E);
    stage.press(Key::Enter);
    let kept = |log: &History| log.readings() >= 1;
    play_until(
        &mut stage,
        fixtures::in_tolerance,
        folder.path(),
        "a reading is kept",
        kept,
    );
    drop(stage);
    // Killed rather than closed: the last line is torn.
    let path = log_in(folder.path()).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, &text[..text.len() - 20]).unwrap();

    let mut stage = logging(folder.path());
    stage.press(Key::E);
    wait_until(&mut stage, "it is offered", |stage| {
        stage.has(Role::Button, "Leave it as it is")
    });
    stage.click("Leave it as it is");
    wait_until(&mut stage, "it is ended", |_| {
        run_in::read(&path).unwrap().ended().is_some()
    });
    let mut stage = logging(folder.path());
    stage.press(Key::E);
    let label = format!("log {}", path.file_stem().unwrap().to_string_lossy());
    wait_until(&mut stage, "the logs are listed", |stage| {
        stage.has(Role::Button, &label)
    });
    assert!(!stage.has(Role::Button, "Leave it as it is"));
}

#[test]
fn a_folder_that_cannot_be_written_is_told_and_tried_again() {
    let folder = tempfile::tempdir().unwrap();
    let in_the_way = folder.path().join("run-in");
    fs::write(&in_the_way, "a file").unwrap();
    let mut stage = logging(&in_the_way);
    stage.press(Key::E);
    stage.press(Key::Enter);
    wait_until(&mut stage, "it is told", |stage| {
        sign(stage) == "NOT KEPT, tried again"
    });
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(
        warned
            .iter()
            .any(|text| text.contains("the folder of the log cannot be made")),
        "{warned:?}"
    );
    assert!(
        stage.reading("Speed").contains("in: on the mark"),
        "nothing waits for it"
    );
    fs::remove_file(&in_the_way).unwrap();
    let kept = |log: &History| log.readings() >= 1;
    play_until(
        &mut stage,
        fixtures::in_tolerance,
        &in_the_way,
        "it is kept after all",
        kept,
    );
    wait_until(&mut stage, "that is told", |stage| {
        sign(stage).contains(" line")
    });
}

#[test]
fn without_an_input_no_log_is_begun() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    stage.press(Key::E);
    assert!(stage.has_text("First open an input: i."));
    assert!(stage.has_text("trimwatch watch --log FILE"));
    let button = stage.node(Role::Button, "Begin a log");
    assert!(egui_kittest::kittest::NodeT::accesskit_node(&button).is_disabled());
}

#[test]
fn another_input_ends_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let mut stage = logging(folder.path());
    stage.press(Key::E);
    stage.press(Key::Enter);
    let kept = |log: &History| log.readings() >= 1;
    play_until(
        &mut stage,
        fixtures::in_tolerance,
        folder.path(),
        "a reading is kept",
        kept,
    );
    stage.press(Key::I);
    stage.wait_for_listing();
    stage.click("Built-in microphone");
    wait_until(&mut stage, "it is ended", |_| {
        let log = run_in::read(&log_in(folder.path()).unwrap()).unwrap();
        log.ended() == Some("another input was opened")
    });
}

/// A file that is let go over the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        fs::read(&self.0).map_err(|error| error.to_string())
    }
}

fn drop_file(stage: &mut Stage, path: &Path) {
    let file = Arc::new(Dropped(path.to_path_buf()));
    stage.harness.input_mut().dropped_files.push(file);
    stage.settle();
}

#[test]
fn a_log_that_is_dropped_on_the_window_is_shown_and_a_recording_played() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("afternoon.log");
    run_in_story::write(&path);
    let mut stage = Stage::playing(fixtures::in_tolerance);
    drop_file(&mut stage, &path);
    stage.wait_for_label("Close (Esc)");
    stage.settle();
    assert!(stage.has_text("Run-in: afternoon"));
    let heard = stage.heard(Role::Image, "speed over the run");
    assert!(
        heard.contains("steady since ") && heard.contains("trend "),
        "{heard}"
    );
    let heard = stage.heard(Role::Image, "flutter over the run");
    assert!(
        heard.starts_with("first 0.1") && heard.contains("last 0.0"),
        "{heard}"
    );
    let drift = stage.heard(Role::Row, "drift");
    assert!(drift.contains("became faster"), "{drift}");
    let celsius = stage.heard(Role::Row, "with temperature");
    assert!(celsius.contains("% per °C"), "{celsius}");
    assert_eq!(stage.all_heard(Role::Row, "event reversal").len(), 2);
    let unknown = stage.heard(Role::Row, "event not kept");
    assert!(
        unknown.starts_with("at 2:15:00: the log was not kept for 40.0 min"),
        "{unknown}"
    );
    stage.press(Key::Num2);
    assert!(
        stage.reading("Flutter").contains("in"),
        "the adjustments are back"
    );

    let take = folder.path().join("take.wav");
    fs::write(&take, "RIFF").unwrap();
    drop_file(&mut stage, &take);
    let opened = InputChoice::Recording(take);
    wait_until(&mut stage, "it is opened", |stage| {
        stage.opened().last() == Some(&opened)
    });
}

#[test]
fn a_log_that_went_away_meanwhile_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("afternoon.log");
    run_in_story::write(&path);
    let mut stage = logging(folder.path());
    stage.press(Key::E);
    stage.wait_for_label("log afternoon");
    fs::remove_file(&path).unwrap();
    stage.click("log afternoon");
    wait_until(&mut stage, "it is told", |stage| {
        let warned = stage.all_heard(Role::Note, "Warning");
        warned
            .iter()
            .any(|text| text.contains("afternoon.log: the log cannot be opened"))
    });
    assert!(
        stage.reading("Speed").contains("in"),
        "the adjustments are back"
    );
}

#[test]
fn both_ends_are_taken_by_keyboard_compared_and_undone() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::E);
    stage.press(Key::E);
    assert!(stage.has_text("Nothing to compare yet: take the start and the end of one side."));
    assert_eq!(
        stage.heard(Role::Row, "ends: flutter"),
        "start not taken, middle not taken, end not taken, now 0.058 ±0.010 %"
    );
    // The button of the next place has the focus.
    stage.press(Key::Enter);
    assert!(stage.has_text("Nothing to compare yet: take the end, too."));
    stage.press(Key::Enter);
    stage.play(fixtures::slow_deck, 0.5);
    stage.press(Key::Enter);
    let speed = stage.heard(Role::Row, "ends: speed");
    assert!(
        speed.starts_with("start −0.04") && speed.contains("end −0.3"),
        "{speed}"
    );
    let worth = stage.all_heard(Role::Note, "worth a look");
    assert!(
        worth
            .iter()
            .any(|words| words.starts_with("speed, end against start: −0.3")
                && words.contains("more than 0.2 %; suggests back tension that grows")),
        "{worth:?}"
    );
    assert!(
        worth
            .iter()
            .any(|words| words.starts_with("azimuth, end against start"))
    );
    stage.click("Undo the last take");
    assert!(
        stage
            .heard(Role::Row, "ends: speed")
            .contains("end not taken")
    );
    stage.play(fixtures::in_tolerance, 0.5);
    stage.click("take the end");
    let same = stage.all_heard(Role::Note, "no difference shown");
    assert!(
        same.iter()
            .any(|words| words.starts_with("speed, end against start")),
        "{same:?}"
    );
    assert!(stage.all_heard(Role::Note, "worth a look").is_empty());
    stage.click("Begin anew");
    assert!(
        stage
            .heard(Role::Row, "ends: speed")
            .starts_with("start not taken")
    );
    stage.press(Key::E);
    assert!(
        !stage.has(Role::Row, "ends: speed"),
        "the third press closes the panel"
    );
}

#[test]
fn without_a_tone_no_end_is_taken() {
    let mut stage = Stage::playing(fixtures::no_tone);
    stage.press(Key::E);
    stage.press(Key::E);
    stage.click("take the start");
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(
        warned
            .iter()
            .any(|text| text.starts_with("start not taken: no tone")),
        "{warned:?}"
    );
    assert!(
        stage
            .heard(Role::Row, "ends: speed")
            .starts_with("start not taken")
    );
}

#[test]
fn both_ends_are_of_one_input() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::E);
    stage.press(Key::E);
    stage.click("take the start");
    stage.press(Key::I);
    stage.wait_for_listing();
    stage.click("Built-in microphone");
    stage.wait_for_input(2);
    stage.play(fixtures::in_tolerance, 0.5);
    stage.press(Key::E);
    stage.press(Key::E);
    assert!(
        stage
            .heard(Role::Row, "ends: speed")
            .starts_with("start not taken")
    );
}
