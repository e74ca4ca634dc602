//! A foot switch: its keys are set in the list of keys, kept, and written on the strip.

use crate::{fixtures, stage::Stage};
use eframe::egui::{Key, accesskit::Role};
use egui_kittest::kittest::Queryable;
use std::fs;

#[test]
fn any_free_key_takes_the_reading_and_another_moves_on() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::F13);
    stage.press(Key::Questionmark);
    stage.click("Set the key for taking the reading");
    stage.wait_for_label("press the key for taking the reading (Esc: leave it)");
    stage.press(Key::F13);
    stage.click("Set the key for moving on");
    stage.press(Key::PageDown);
    stage.press(Key::Questionmark);
    assert!(stage.has(Role::Button, "take (F13)"), "the strip shows it");
    assert!(stage.has(Role::Button, "next (PageDown)"));
    for _ in 0..3 {
        stage.play(fixtures::in_tolerance, 1.5);
        stage.press(Key::F13);
        stage.press(Key::PageDown);
    }
    assert!(stage.has(Role::Meter, "Level reading"));
    stage.play(fixtures::in_tolerance, 1.5);
    // The letters go on working.
    stage.press(Key::Space);
    stage.press(Key::N);
    stage.press(Key::K);
    for taken in [
        "1  Speed: in",
        "2  Flutter: in",
        "3  Azimuth: in",
        "4  Level: in",
    ] {
        assert!(stage.harness.query_by_label(taken).is_some(), "{taken}");
    }
}

#[test]
fn a_key_with_something_to_do_is_refused_in_words_and_does_it_not_then() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::Questionmark);
    stage.click("Set the key for taking the reading");
    stage.press(Key::B);
    assert!(
        stage
            .harness
            .query_by_label_contains("b has something to do already, adjustment before")
            .is_some()
    );
    assert!(
        stage.has(Role::Meter, "Speed reading"),
        "not the one before"
    );
    stage.press(Key::Tab);
    assert!(
        stage
            .harness
            .query_by_label("Tab moves from field to field: press another key")
            .is_some()
    );
    stage.press(Key::Escape);
    assert!(
        stage
            .harness
            .query_by_label_contains("press the key")
            .is_none(),
        "Esc leaves it, and the panel stays"
    );
    assert!(stage.has(Role::Button, "Set the key for moving on"));
    stage.press(Key::B);
    assert!(stage.has(Role::Status, "Mechanism answer"), "b is b again");
}

#[test]
fn enter_and_a_key_that_the_button_would_take_can_be_set_by_keyboard() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::Questionmark);
    stage
        .node(Role::Button, "Set the key for taking the reading")
        .focus();
    stage.settle();
    stage.press(Key::Enter);
    stage.press(Key::Enter);
    assert!(stage.has(Role::Button, "take (Enter)"));
    stage.press(Key::Questionmark);
    stage.press(Key::Enter);
    let said = stage.all_heard(Role::Note, "Notice");
    assert!(said[0].starts_with("taken as 1: Speed"), "{said:?}");
}

#[test]
fn the_keys_are_remembered_and_can_be_given_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    let mut first = Stage::returning(None, &file);
    first.wait_for_listing();
    first.press(Key::Questionmark);
    first.click("Set the key for moving on");
    first.press(Key::PageDown);
    let text = fs::read_to_string(&file).expect("kept");
    assert!(text.contains("next = \"PageDown\""), "{text}");
    let mut second = Stage::returning(None, &file);
    second.wait_for_listing();
    assert!(second.has(Role::Button, "next (PageDown)"));
    second.press(Key::Questionmark);
    second.click("Back to the usual keys");
    assert!(second.has(Role::Button, "next (n)"));
    assert!(
        !fs::read_to_string(&file)
            .expect("kept")
            .contains("PageDown")
    );
}

#[test]
fn a_remembered_key_that_has_something_else_to_do_by_now_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    fs::write(&file, "[foot]\ntake = \"H\"\nnext = \"F14\"\n").expect("written");
    let mut stage = Stage::returning(None, &file);
    stage.wait_for_listing();
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].contains("hold the display"), "{warned:?}");
    assert!(stage.has(Role::Button, "next (F14)"));
    assert!(stage.has(Role::Button, "take (space)"));
}
