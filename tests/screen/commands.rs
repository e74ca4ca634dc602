//! What the keys and their strip do.

use crate::{fixtures, stage::Stage};
use eframe::egui::{Event, Key, Modifiers, Theme, accesskit::Role};
use egui_kittest::kittest::{NodeT, Queryable};
use trimwatch::worker::Request;

#[test]
fn number_keys_tab_and_n_choose_the_adjustment() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    assert!(stage.has(Role::Meter, "Speed reading"));
    for (key, shown) in [
        (Key::Num3, "Azimuth"),
        (Key::N, "Level"),
        (Key::B, "Azimuth"),
        (Key::Tab, "Level"),
        (Key::Num2, "Flutter"),
        (Key::Tab, "Azimuth"),
    ] {
        stage.press(key);
        assert!(
            stage.has(Role::Meter, &format!("{shown} reading")),
            "{key:?}"
        );
        let card = stage.node(Role::Tab, shown);
        assert_eq!(card.accesskit_node().is_selected(), Some(true), "{key:?}");
    }
}

#[test]
fn the_mechanism_comes_after_the_last_adjustment_and_before_the_first() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.press(Key::Num4);
    stage.press(Key::N);
    assert!(stage.has(Role::Status, "Mechanism answer"));
    stage.press(Key::Tab);
    assert!(stage.has(Role::Meter, "Speed reading"));
    stage.press(Key::B);
    assert!(stage.has(Role::Status, "Mechanism answer"));
    stage.press(Key::Num5);
    let card = stage.node(Role::Tab, "Mechanism");
    assert_eq!(card.accesskit_node().is_selected(), Some(true));
}

#[test]
fn a_card_is_clicked_into_the_main_view() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.node(Role::Tab, "Level").click();
    stage.settle();
    assert!(stage.has(Role::Meter, "Level reading"));
}

#[test]
fn space_takes_z_drops_and_k_lists() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::Space);
    let said = stage.all_heard(Role::Note, "Notice");
    assert!(
        said[0].starts_with("taken as 1: Speed −0.040 % ±0.012 %"),
        "{said:?}"
    );
    stage.press(Key::Num4);
    stage.press(Key::Space);
    stage.press(Key::K);
    assert!(stage.harness.query_by_label("2  Level: in").is_some());
    assert!(stage.harness.query_by_label("1  Speed: in").is_some());
    stage.press(Key::Z);
    assert!(stage.harness.query_by_label("2  Level: in").is_none());
    assert!(stage.harness.query_by_label("1  Speed: in").is_some());
    stage.harness.get_by_label("Drop the last one (z)").click();
    stage.settle();
    assert!(stage.harness.query_by_label("1  Speed: in").is_none());
    stage.press(Key::Z);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert_eq!(warned[0], "nothing to drop: no reading is taken");
}

#[test]
fn what_is_no_reading_is_not_taken() {
    let mut stage = Stage::playing(fixtures::no_tone);
    stage.press(Key::Space);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert_eq!(warned[0], "Speed not taken: no tone");
    stage.press(Key::K);
    assert!(stage.harness.query_by_label_contains("None yet.").is_some());
}

#[test]
fn a_key_that_is_held_down_acts_once() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    for repeat in [false, true, true, true] {
        stage.harness.event(Event::Key {
            key: Key::Space,
            physical_key: None,
            pressed: true,
            repeat,
            modifiers: Modifiers::NONE,
        });
    }
    stage.settle();
    stage.press(Key::K);
    assert!(stage.harness.query_by_label("1  Speed: in").is_some());
    assert!(stage.harness.query_by_label("2  Speed: in").is_none());
}

#[test]
fn r_resets_the_averages() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.requests();
    stage.press(Key::R);
    let asked = stage.requests();
    assert!(matches!(asked[..], [Request::ResetAverages]), "{asked:?}");
    assert_eq!(
        stage.all_heard(Role::Note, "Notice")[0],
        "averages start anew"
    );
}

#[test]
fn hold_freezes_the_readings_but_not_the_status() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::H);
    stage.play(fixtures::clipped, 2.0);
    assert!(stage.reading("Speed").contains("in: on the mark"));
    assert!(stage.harness.query_by_label_contains("HELD").is_some());
    assert!(stage.heard(Role::Status, "peak").ends_with("CLIPPING"));
    stage.press(Key::H);
    assert!(stage.harness.query_by_label_contains("HELD").is_none());
    assert!(stage.reading("Speed").starts_with("clipped"));
}

#[test]
fn light_and_dark() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    assert_eq!(stage.harness.ctx.theme(), Theme::Dark);
    stage.press(Key::L);
    assert_eq!(stage.harness.ctx.theme(), Theme::Light);
    stage.press(Key::L);
    assert_eq!(stage.harness.ctx.theme(), Theme::Dark);
}

#[test]
fn every_key_of_the_strip_can_be_clicked_and_the_help_lists_all() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.node(Role::Button, "next (n)").click();
    stage.settle();
    assert!(stage.has(Role::Meter, "Flutter reading"));
    stage.node(Role::Button, "keys (?)").click();
    stage.settle();
    for long in [
        "next adjustment (also Tab)",
        "take the reading of the adjustment in the main view",
        "hold the display, or let it go on",
        "the tape in use",
        "choose what to listen to",
        "light or dark",
    ] {
        assert!(stage.harness.query_by_label(long).is_some(), "{long}");
    }
}
