//! The sound guide: chosen, confirmed, told how far off the reading is, and silent when it should be.

use crate::{
    fixtures,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, accesskit::Role};
use egui_kittest::kittest::{NodeT, Queryable};

/// The panel, its outputs listed.
fn opened(mut stage: Stage) -> Stage {
    stage.press(Key::G);
    stage.wait_for("the outputs", |stage| {
        stage.has(Role::Button, "output Headphones")
    });
    stage
}

/// A guide on the headphones, by the keyboard.
fn sounding(stage: Stage) -> Stage {
    let mut stage = opened(stage);
    assert!(stage.is_focused(Role::Button, "output Headphones"));
    stage.press(Key::Enter);
    stage.node(Role::Button, "Start on Headphones …").focus();
    stage.settle();
    stage.press(Key::Enter);
    assert!(
        stage.is_focused(Role::Button, "Not now"),
        "a key that is pressed once too often starts nothing"
    );
    assert!(stage.speakers.heard().started.is_empty(), "not confirmed");
    stage.press(Key::Tab);
    stage.press(Key::Enter);
    stage.wait_for("the guide", |stage| {
        stage.has(Role::Button, "Stop the guide")
    });
    stage
}

#[test]
fn it_is_started_by_keyboard_behind_its_caution_and_follows_the_view() {
    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    let heard = stage.speakers.heard();
    assert_eq!(heard.started, ["alsa:phones"]);
    assert_eq!(heard.level_dbfs, -40.0, "quiet at first");
    stage.play(fixtures::fast_deck, 0.2);
    assert!(stage.speakers.offset() > 0.0, "fast");
    let status = stage.heard(Role::Status, "guide");
    assert_eq!(status, "speed: high pips · Headphones · −40 dBFS");
    stage.press(Key::Num3);
    stage.play(fixtures::slow_deck, 0.2);
    assert!(stage.speakers.offset() < 0.0, "left late");
    assert!(
        stage
            .heard(Role::Status, "guide")
            .starts_with("azimuth: low")
    );
    stage.press(Key::Num4);
    stage.play(fixtures::in_tolerance, 0.2);
    assert_eq!(stage.speakers.offset(), 0.0);
    assert!(stage.heard(Role::Status, "guide").contains("in the target"));
    for (key, told) in [(Key::Num2, "nothing to guide"), (Key::Num5, "nothing to")] {
        stage.press(key);
        stage.play(fixtures::fast_deck, 0.1);
        assert!(stage.speakers.offset().is_nan());
        assert!(stage.heard(Role::Status, "guide").contains(told));
    }
}

#[test]
fn without_a_reading_it_is_silent_and_says_so() {
    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    stage.play(fixtures::no_tone, 0.2);
    assert!(stage.speakers.offset().is_nan());
    let status = stage.heard(Role::Status, "guide");
    assert!(status.starts_with("speed: silent, no reading"), "{status}");
    assert_eq!(stage.speakers.heard().stopped, 0);
    stage.play(fixtures::fast_deck, 0.2);
    assert!(stage.speakers.offset() > 0.0, "and back");
}

#[test]
fn readings_that_stop_coming_are_not_told_again() {
    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    stage.play(fixtures::fast_deck, 0.2);
    let told = stage.speakers.heard().offsets.len();
    stage.harness.run_steps(20);
    assert_eq!(stage.speakers.heard().offsets.len(), told);
}

#[test]
fn it_stops_with_its_input_its_output_and_its_window() {
    let stopped = |stage: &Stage| stage.speakers.heard().stopped == 1;
    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    stage.play(fixtures::input_lost, 0.1);
    stage.wait_for("its end", stopped);
    assert!(!stage.has(Role::Status, "guide"));
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].contains("the input is lost"), "{warned:?}");

    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    stage
        .speakers
        .make(|heard| heard.trouble = Some("the guide's output Headphones was lost".into()));
    stage.play(fixtures::fast_deck, 0.1);
    stage.wait_for("its end", stopped);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].contains("Headphones was lost"), "{warned:?}");

    let stage = sounding(Stage::playing(fixtures::fast_deck));
    let speakers = stage.speakers.clone();
    drop(stage);
    assert_eq!(speakers.heard().stopped, 1);

    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    stage.press(Key::I);
    stage.wait_for_listing();
    stage.click("Built-in microphone");
    stage.wait_for("its end", stopped);
}

#[test]
fn it_is_stopped_by_its_button_and_the_caution_comes_once_a_job() {
    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    assert!(stage.is_focused(Role::Button, "Stop the guide"));
    stage.press(Key::Enter);
    stage.wait_for("its end", |stage| stage.speakers.heard().stopped == 1);
    stage.click("Start on Headphones …");
    stage.wait_for("the guide", |stage| {
        stage.has(Role::Button, "Stop the guide")
    });
    assert_eq!(stage.speakers.heard().started.len(), 2);
    stage.click("Stop the guide");
    // Other loudspeakers, other knobs; another job, another day.
    stage.click("output Monitors");
    stage.click("Start on Monitors …");
    assert!(stage.has(Role::Button, "The volume is down: start"));
    stage.click("Not now");
    stage.harness.state_mut().as_mut().unwrap().start_job();
    stage.click("output Headphones");
    stage.click("Start on Headphones …");
    assert!(stage.has(Role::Button, "The volume is down: start"));
    assert_eq!(stage.speakers.heard().started.len(), 2);
}

#[test]
fn an_output_of_the_inputs_own_card_is_never_offered_by_itself() {
    let mut stage = opened(Stage::playing(fixtures::fast_deck));
    assert!(!stage.has(Role::Button, "output USB line output"));
    let all = "Offer the outputs of the input's own card too: only where they cannot be heard in the input";
    stage.node(Role::CheckBox, all).click();
    stage.settle();
    stage.click("output USB line output");
    assert!(stage.has(Role::Button, "Start on USB line output …"));
    stage.node(Role::CheckBox, all).click();
    stage.settle();
    assert!(!stage.has(Role::Button, "output USB line output"));
    assert!(
        stage
            .harness
            .query_by_label("Start: choose where it is heard first")
            .is_some_and(|start| start.accesskit_node().is_disabled()),
        "what is not offered is not chosen"
    );
}

#[test]
fn an_output_that_does_not_open_is_told() {
    let mut stage = opened(Stage::playing(fixtures::fast_deck));
    stage.speakers.make(|heard| heard.refuses = true);
    stage.click("output Monitors");
    stage.click("Start on Monitors …");
    stage.click("The volume is down: start");
    stage.wait_for_label("the output Monitors cannot be opened");
    assert!(!stage.has(Role::Status, "guide"));
    assert!(stage.has(Role::Button, "Start on Monitors …"), "try again");
}

#[test]
fn without_an_input_there_is_nothing_to_guide_by() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    let mut stage = opened(stage);
    stage.click("output Monitors");
    stage.click("Start on Monitors …");
    stage.click("The volume is down: start");
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].contains("no input is open"), "{warned:?}");
    assert!(stage.speakers.heard().started.is_empty());
}

#[test]
fn a_held_display_does_not_hold_the_guide() {
    let mut stage = sounding(Stage::playing(fixtures::fast_deck));
    stage.press(Key::H);
    stage.play(fixtures::slow_deck, 0.3);
    assert!(stage.speakers.offset() < 0.0, "slow by now");
    assert!(stage.reading("Speed").starts_with("plus"), "held");
}
