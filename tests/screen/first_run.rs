//! The first run: input, tape format, test tape, level, by keyboard only; and the run after it.

use crate::{
    fixtures,
    stage::{LAPTOP, Stage, options},
};
use eframe::egui::{Key, accesskit::Role};
use egui_kittest::kittest::Queryable;
use std::{fs, path::Path};
use trimwatch::screen::{InputChoice, Memory, TapeShelf};

fn fresh(folder: &Path) -> Stage {
    let mut options = options();
    options.memory = Some(Memory::at(folder.join("window.toml")));
    options.tapes = TapeShelf::at(folder.join("tapes"));
    Stage::of(LAPTOP, 1.0, options)
}

fn step(stage: &Stage) -> Option<String> {
    stage.all_heard(Role::Status, "First steps").pop()
}

/// Presses Tab until a button has the focus.
fn tab_to(stage: &mut Stage, button: &str) {
    for _ in 0..30 {
        if stage.node(Role::Button, button).is_focused() {
            return;
        }
        stage.press(Key::Tab);
    }
    panic!("Tab does not reach '{button}'");
}

#[test]
fn four_steps_by_keyboard_and_the_second_run_starts_at_once() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::create_dir(folder.path().join("tapes")).expect("made");
    let own = "[[tape]]\nname = \"mine\"\ntitle = \"My speed tape\"\ntone_hz = 3150.0\n\
               frequency_correction_percent = -0.03\nsource = \"its certificate\"\n";
    fs::write(folder.path().join("tapes/mine.toml"), own).expect("written");
    let mut stage = fresh(folder.path());
    stage.wait_for_listing();
    assert_eq!(step(&stage).as_deref(), Some("step 1 of 4: Input"));
    assert!(stage.node(Role::Button, "USB line input").is_focused());
    stage.press(Key::Enter);
    stage.wait_for_input(1);
    stage.settle();
    assert_eq!(step(&stage).as_deref(), Some("step 2 of 4: Tape format"));
    assert!(stage.node(Role::Button, "Cassette, stereo").is_focused());
    tab_to(&mut stage, "Quarter-inch stereo (IEC), 19 cm/s");
    stage.press(Key::Enter);
    assert_eq!(step(&stage).as_deref(), Some("step 3 of 4: Test tape"));
    tab_to(&mut stage, "My speed tape");
    stage.press(Key::Enter);
    assert_eq!(step(&stage).as_deref(), Some("step 4 of 4: Level"));
    let setup = stage.setups().pop().expect("asked for");
    assert_eq!(setup.tape_format.name, "reel-stereo-iec-19");
    assert_eq!(setup.tone_correction_percent, -0.03);
    stage.play(fixtures::in_tolerance, 0.5);
    assert_eq!(
        stage.heard(Role::Status, "Level check"),
        "peaks at −9.9 dBFS: good"
    );
    tab_to(&mut stage, "Done");
    stage.press(Key::Enter);
    assert_eq!(step(&stage), None);
    assert!(stage.has(Role::Meter, "Speed reading"));

    let mut second = fresh(folder.path());
    second.wait_for_input(1);
    assert_eq!(step(&second), None);
    assert!(matches!(&second.opened()[0], InputChoice::SoundCard { id, .. } if id == "alsa:usb"));
    assert_eq!(second.heard(Role::Status, "tape"), "My speed tape");
    second.press(Key::T);
    let format = second.node(Role::ComboBox, "Tape format");
    assert_eq!(
        format.value().as_deref(),
        Some("Quarter-inch stereo (IEC), 19 cm/s")
    );
}

#[test]
fn every_step_is_skipped_with_one_key_and_nothing_stands_in_the_way_of_the_rest() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = fresh(folder.path());
    stage.wait_for_listing();
    for at in [
        "1 of 4: Input",
        "2 of 4: Tape format",
        "3 of 4: Test tape",
        "4 of 4: Level",
    ] {
        assert_eq!(step(&stage), Some(format!("step {at}")));
        // Whatever the step, the keys do what they always do.
        stage.press(Key::T);
        assert!(stage.has(Role::TextInput, "Nominal tone, Hz"), "{at}");
        stage.press(Key::Escape);
        stage.press(Key::Escape);
        stage.press(Key::X);
    }
    assert_eq!(step(&stage), None);
    let mut second = fresh(folder.path());
    second.wait_for_listing();
    assert_eq!(step(&second), None, "it is not led again");
    assert!(
        second.has(Role::Button, "USB line input"),
        "but it asks for an input"
    );
}

#[test]
fn the_level_is_judged_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = fresh(folder.path());
    stage.wait_for_listing();
    stage.press(Key::X);
    stage.press(Key::X);
    stage.press(Key::X);
    let words = |stage: &Stage| stage.heard(Role::Status, "Level check");
    assert!(words(&stage).starts_with("no input is open"));
    stage.node(Role::Button, "USB line input").focus();
    stage.settle();
    stage.press(Key::Enter);
    stage.wait_for_input(1);
    stage.play(fixtures::no_tone, 0.5);
    assert!(words(&stage).contains("too low"), "{}", words(&stage));
    stage.play(fixtures::clipped, 0.5);
    assert!(words(&stage).starts_with("clipping"), "{}", words(&stage));
    assert!(stage.has(Role::Button, "Done all the same"));
}

#[test]
fn a_tape_chosen_in_its_panel_counts_for_the_steps() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = fresh(folder.path());
    stage.wait_for_listing();
    stage.node(Role::Button, "Finch 2H, as found").click();
    stage.wait_for_input(1);
    assert_eq!(step(&stage).as_deref(), Some("step 2 of 4: Tape format"));
    stage.press(Key::T);
    stage.fill("Nominal tone, Hz", "3000");
    stage.press(Key::Enter);
    assert_eq!(step(&stage).as_deref(), Some("step 4 of 4: Level"));
    assert!(stage.harness.query_by_label("Skip all").is_some());
}
