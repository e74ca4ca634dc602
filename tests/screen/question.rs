//! The question which of the two usual tapes plays: put, answered by key or button, changed in the tape panel.

use crate::{fixtures, stage::Stage};
use eframe::egui::{Key, accesskit::Role};
use egui_kittest::kittest::Queryable;
use trimwatch::readings::{Notice, NoticeCode, Readings, TapeQuestion};

/// A deck that is 3 % slow with one tape or 2 % fast with the other.
pub fn unclear(t: f64) -> Readings {
    let mut readings = fixtures::fast_deck(t);
    readings.tape_question = Some(TapeQuestion {
        measured_hz: 3056.0,
        taken_hz: 3150.0,
        taken_deviation_percent: -2.98,
        other_hz: 3000.0,
        other_deviation_percent: 1.87,
    });
    readings.notices = vec![Notice::new(
        NoticeCode::OtherStandardTone,
        "3056 Hz: which tape is it?",
    )];
    readings
}

const READ_AS: &str = "3150 Hz: deck −2.98 % (y)";
const OTHER: &str = "3000 Hz: deck +1.87 % (d)";

#[test]
fn it_is_put_with_both_answers_and_stands_once() {
    let stage = Stage::playing(unclear);
    let asked = stage.heard(Role::Status, "Question");
    assert_eq!(
        asked,
        "Which tape plays? The tone is 3056 Hz: a 3150 Hz or a 3000 Hz tape."
    );
    assert!(stage.has(Role::Button, READ_AS) && stage.has(Role::Button, OTHER));
    let notices = stage.all_heard(Role::Note, "Warning");
    assert!(
        notices.iter().all(|notice| !notice.contains("which tape")),
        "{notices:?}"
    );
}

#[test]
fn the_answer_sets_the_tone_by_key_and_by_button() {
    for (by_key, key, button, tone_hz) in [
        (true, Key::Y, READ_AS, 3150.0),
        (true, Key::D, OTHER, 3000.0),
        (false, Key::Y, READ_AS, 3150.0),
        (false, Key::D, OTHER, 3000.0),
    ] {
        let mut stage = Stage::playing(unclear);
        stage.requests();
        if by_key {
            stage.press(key);
        } else {
            stage.click(button);
        }
        let setups = stage.setups();
        let [setup] = &setups[..] else {
            panic!("{setups:?}");
        };
        assert_eq!(setup.tone_hz, Some(tone_hz));
        assert!(setup.tape_is_certain);
        assert!(!stage.has(Role::Button, OTHER), "it is not asked again");
        let tape = format!("Speed, {tone_hz} Hz");
        assert_eq!(stage.heard(Role::Status, "tape"), tape);
    }
}

#[test]
fn the_answer_is_changed_in_the_tape_panel() {
    let mut stage = Stage::playing(unclear);
    stage.press(Key::Y);
    stage.requests();
    stage.press(Key::T);
    assert!(
        stage
            .harness
            .query_by_label("You answered that a 3150 Hz tape plays.")
            .is_some()
    );
    stage.click("Ask me again");
    assert!(!stage.setups().pop().expect("asked for").tape_is_certain);
    assert!(stage.has(Role::Button, OTHER));
}

#[test]
fn a_key_without_a_question_says_so() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.requests();
    stage.press(Key::D);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert_eq!(warned[0], "nothing is asked at the moment");
    assert!(stage.setups().is_empty());
}
