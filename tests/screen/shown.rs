//! What is shown and what a screen reader hears of it.

use crate::{
    fixtures,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{
    Key, Theme,
    accesskit::{Live, Role},
    vec2,
};
use egui_kittest::kittest::NodeT;
use trimwatch::readings::{InputState, Readings, Validity};

#[test]
fn a_screen_reader_hears_number_state_and_direction() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    let speed = stage.reading("Speed");
    assert!(
        speed.starts_with("plus 1.") && speed.ends_with("percent, out: too fast: turn it slower"),
        "{speed}"
    );
    let state = stage.node(Role::Status, "Speed state");
    assert_eq!(
        state.value().as_deref(),
        Some("out: too fast: turn it slower")
    );
    assert_eq!(state.accesskit_node().live(), Live::Polite);
    assert_eq!(
        stage.heard(Role::Tab, "Level"),
        "plus 3.1 decibels, out: left louder: left down or right up"
    );
    stage.press(Key::Num3);
    let azimuth = stage.reading("Azimuth");
    assert!(
        azimuth.ends_with("arc minutes, out: right channel late: bring to 0"),
        "{azimuth}"
    );
    stage.press(Key::Num2);
    assert_eq!(
        stage.heard(Role::Row, "weighted"),
        "peak mean 0.201 %, peak most 0.293 %, two-sigma 0.218 %, 2σ last 10 s 0.222 %, rms 0.110 %"
    );
}

#[test]
fn the_reading_is_live() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.play(fixtures::in_tolerance, 0.3);
    assert!(stage.reading("Speed").contains("settling"));
    stage.play(fixtures::in_tolerance, 1.2);
    let heard = stage.reading("Speed");
    assert!(heard.ends_with("in: on the mark"), "{heard}");
    assert!(heard.starts_with("minus 0.0"), "{heard}");
}

#[test]
fn without_a_valid_reading_there_are_words_and_no_number() {
    let mut stage = Stage::playing(fixtures::no_tone);
    for (key, name) in [
        (Key::Num1, "Speed"),
        (Key::Num2, "Flutter"),
        (Key::Num3, "Azimuth"),
    ] {
        stage.press(key);
        assert_eq!(
            stage.reading(name),
            "no tone: play the tone section of the test tape"
        );
    }
    stage.press(Key::Num1);
    assert_eq!(stage.heard(Role::Meter, "mean since reset"), "–");
}

#[test]
fn every_validity_has_its_words_on_the_screen() {
    for validity in [
        Validity::Waiting,
        Validity::NoSignal,
        Validity::NoTone,
        Validity::Unsteady,
        Validity::TooWeak,
        Validity::Clipped,
        Validity::NotTheExpectedTone,
        Validity::Settling,
        Validity::TooShort,
        Validity::Dropout,
        Validity::LostSamples,
        Validity::OneChannel,
        Validity::ChannelsDiffer,
    ] {
        let mut stage = Stage::playing(fixtures::fast_deck);
        let mut readings = fixtures::fast_deck(50.0);
        readings.speed.status = validity;
        stage.publish(readings);
        stage.settle();
        let heard = stage.reading("Speed");
        let (words, advice) = heard.split_once(": ").expect("words and advice");
        assert_eq!(words, validity.words());
        assert!(advice.len() > 8, "{validity:?}: '{advice}'");
    }
}

#[test]
fn a_lost_input_is_told_with_its_name_and_shows_no_old_number() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.play(fixtures::input_lost, 0.2);
    assert!(stage.reading("Speed").starts_with("input lost: "));
    assert_eq!(
        stage.heard(Role::Status, "input"),
        "USB line input (input lost, waiting for USB line input)"
    );
    assert_eq!(stage.heard(Role::Status, "lost"), "4096 frames in 1 gap");
    assert_eq!(stage.heard(Role::Meter, "measured"), "–");
    stage.play(fixtures::fast_deck, 0.5);
    assert!(stage.reading("Speed").starts_with("plus 1."));
}

#[test]
fn the_status_strip_says_what_runs() {
    let stage = Stage::playing(fixtures::fast_deck);
    for (name, value) in [
        ("input", "USB line input (running)"),
        ("rate", "48 kHz · 24-bit · stereo"),
        ("interface", "uncorrected"),
        ("peak", "−9.6 / −12.7 dBFS good"),
        ("lost", "nothing"),
        ("tape", "Speed, 3150 Hz"),
    ] {
        assert_eq!(stage.heard(Role::Status, name), value);
    }
}

#[test]
fn clipping_and_a_low_level_are_told_in_words() {
    let mut stage = Stage::playing(fixtures::clipped);
    assert_eq!(stage.heard(Role::Status, "peak"), "0.4 / 0.3 dBFS CLIPPING");
    stage.play(fixtures::no_tone, 0.2);
    assert!(stage.heard(Role::Status, "peak").ends_with("low"));
    let mut readings = fixtures::in_tolerance(60.0);
    readings.level.left.recent_peak_dbfs = Some(-1.5);
    stage.publish(readings);
    stage.settle();
    assert!(
        stage
            .heard(Role::Status, "peak")
            .ends_with("close to clipping")
    );
}

#[test]
fn an_ambiguous_azimuth_is_fine_only() {
    let mut stage = Stage::playing(fixtures::ambiguous);
    stage.press(Key::Num3);
    let heard = stage.reading("Azimuth");
    assert!(
        heard.ends_with("fine only: whole cycles are open: play a lower tone first"),
        "{heard}"
    );
    let notices = stage.all_heard(Role::Note, "Notice");
    assert!(notices[0].contains("whole cycles of 18.2 arcmin"));
}

#[test]
fn one_channel_has_speed_but_no_balance_and_no_azimuth() {
    let mut stage = Stage::playing(fixtures::mono);
    assert!(stage.reading("Speed").contains("in: on the mark"));
    for (key, name) in [(Key::Num3, "Azimuth"), (Key::Num4, "Level")] {
        stage.press(key);
        assert!(
            stage.reading(name).starts_with("one channel only: "),
            "{name}"
        );
    }
    let level = stage.heard(Role::Meter, "left level");
    assert!(level.starts_with("rms −10.0 dBFS"), "{level}");
    assert!(!stage.has(Role::Meter, "right level"));
}

#[test]
fn meters_that_stop_answering_are_told() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.harness.run_steps(60);
    assert!(stage.reading("Speed").contains("no new readings arrive"));
    assert_eq!(
        stage.heard(Role::Status, "input"),
        "USB line input (no readings arrive)"
    );
    stage.play(fixtures::fast_deck, 0.5);
    assert!(stage.reading("Speed").starts_with("plus 1."));
    stage.end_worker();
    stage.harness.run_steps(3);
    assert!(stage.reading("Speed").contains("no new readings arrive"));
}

#[test]
fn a_recording_that_is_over_keeps_its_readings_and_rests() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    let ended = |t: f64| -> Readings {
        let mut readings = fixtures::in_tolerance(t);
        readings.source.state = InputState::Ended;
        readings
    };
    stage.publish(ended(50.0));
    stage.harness.run_steps(120);
    assert!(stage.reading("Speed").starts_with("minus 0.0"));
    assert!(stage.heard(Role::Status, "input").ends_with("(ended)"));
}

#[test]
fn nothing_is_drawn_while_nothing_changes() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    assert_eq!(stage.frames_for(None), 0, "no input");

    let mut stage = Stage::playing(fixtures::in_tolerance);
    let still = fixtures::in_tolerance(43.0);
    assert!(stage.frames_for(Some(&still)) > 0, "an input that runs");
    let mut ended = still.clone();
    ended.source.state = InputState::Ended;
    stage.publish(ended.clone());
    for view in [Key::Num1, Key::Num2, Key::Num3, Key::Num4] {
        stage.press(view);
        assert_eq!(stage.frames_for(Some(&ended)), 0, "over, {view:?}");
    }
    stage.press(Key::H);
    assert_eq!(stage.frames_for(Some(&ended)), 0, "over and held");
    stage.press(Key::H);
    stage.publish(fixtures::input_lost(50.0));
    let lost = fixtures::input_lost(50.0);
    assert_eq!(stage.frames_for(Some(&lost)), 0, "lost");
}

#[test]
fn nothing_is_lost_or_overlaps_in_small_windows() {
    for size in [
        vec2(480.0, 360.0),
        vec2(640.0, 400.0),
        vec2(800.0, 600.0),
        vec2(1024.0, 600.0),
    ] {
        let mut stage = Stage::playing_in(size, 1.0, Theme::Dark, fixtures::fast_deck);
        for key in [Key::Num1, Key::Num2, Key::Num3, Key::Num4] {
            stage.press(key);
            let names = ["Speed", "Flutter", "Azimuth", "Level"];
            let cards = names.map(|name| stage.node(Role::Tab, name).rect());
            for pair in cards.windows(2) {
                assert!(pair[0].right() <= pair[1].left(), "{size:?}");
            }
            let shown = names
                .into_iter()
                .find(|name| stage.has(Role::Meter, &format!("{name} reading")))
                .expect("a main view");
            let main = stage.node(Role::Meter, &format!("{shown} reading")).rect();
            assert!(main.bottom() <= cards[0].top(), "{size:?} {key:?}");
            assert!(main.height() >= 100.0, "{size:?} {key:?}");
        }
    }
}
