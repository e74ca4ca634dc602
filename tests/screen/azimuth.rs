//! What stands under the azimuth's scale, and forward against reverse.

use crate::{fixtures, stage::Stage};
use eframe::egui::{Key, accesskit::Role};
use trimwatch::{
    readings::{LineVerdict, Readings},
    worker::Request,
};

#[test]
fn the_line_is_told_in_words_and_when_there_is_none_what_to_play() {
    let mut stage = Stage::playing(fixtures::several_tones);
    stage.press(Key::Num3);
    stage.press(Key::V);
    stage.press(Key::V);
    let heard = stage.heard(Role::Status, "phase over frequency");
    assert!(
        heard.starts_with("straight line through zero: azimuth; slope +16.67 ± 0.61 µs"),
        "{heard}"
    );
    stage.play(fixtures::reversed_lead, 0.2);
    let heard = stage.heard(Role::Status, "phase over frequency");
    assert!(heard.starts_with("offset of 180°: one channel's polarity is reversed"));
    let electronics = |t: f64| -> Readings {
        let mut readings = fixtures::several_tones(t);
        let line = readings.phase.line.as_mut().unwrap();
        line.verdict = LineVerdict::Electronics;
        line.intercept_degrees = Some(-23.4);
        line.intercept_uncertainty_degrees = Some(4.1);
        readings
    };
    stage.play(electronics, 0.2);
    let heard = stage.heard(Role::Status, "phase over frequency");
    assert!(
        heard.starts_with("offset of −23 ± 4°: electronics, not the head"),
        "{heard}"
    );
    stage.play(fixtures::in_tolerance, 0.2);
    let heard = stage.heard(Role::Status, "phase over frequency");
    assert!(heard.starts_with("play another tone, or programme"));
}

#[test]
fn the_xy_figure_is_kept_only_while_it_is_looked_at() {
    let asked = |stage: &Stage| -> Vec<bool> {
        let setups = stage.requests().into_iter();
        setups
            .filter_map(|request| match request {
                Request::ChangeSetup(setup) => Some(setup.xy_shown),
                _ => None,
            })
            .collect()
    };
    let mut stage = Stage::playing(fixtures::several_tones);
    stage.press(Key::Num3);
    assert!(!asked(&stage).contains(&true));
    stage.press(Key::V);
    assert_eq!(asked(&stage), [true]);
    assert_eq!(
        stage.heard(Role::Status, "X–Y figure"),
        "+60.0° at 10000 Hz"
    );
    stage.press(Key::Num1);
    assert_eq!(asked(&stage), [false]);
    stage.press(Key::Num3);
    assert_eq!(asked(&stage), [true]);
    stage.press(Key::V);
    assert_eq!(asked(&stage), [false]);
}

#[test]
fn a_mono_listener_is_the_reason_to_care() {
    let mut stage = Stage::playing(fixtures::several_tones);
    stage.press(Key::Num3);
    // cos 30° is −1.2 dB: 16.7 µs are 60° of 10 kHz, half of it to either side of the sum.
    assert_eq!(
        stage.heard(Role::Status, "mono sum"),
        "mono listeners lose 1.2 dB at 10 kHz at this error"
    );
    stage.play(fixtures::ambiguous, 0.2);
    assert!(!stage.has(Role::Status, "mono sum"));
}

#[test]
fn forward_and_reverse_are_kept_by_key_or_button_and_compared() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::Num3);
    stage.press(Key::F);
    let both = |stage: &Stage| stage.heard(Role::Status, "forward and reverse");
    assert_eq!(
        both(&stage),
        "forward −0.5 ± 0.3 arcmin, reverse not kept yet"
    );
    stage.play(fixtures::slow_deck, 1.0);
    stage.click("azimuth: keep as reverse (u)");
    assert_eq!(
        both(&stage),
        "forward −0.5 ± 0.3 arcmin, reverse −6.2 ± 0.3 arcmin: 5.7 ± 0.4 arcmin apart; set the head's two stops one after the other"
    );
    // What does not stand is not kept.
    stage.play(fixtures::ambiguous, 0.5);
    stage.press(Key::U);
    assert!(both(&stage).contains("reverse −6.2"));
    let notices = stage.all_heard(Role::Note, "Warning");
    assert!(
        notices
            .iter()
            .any(|said| said.contains("reverse not kept: whole cycles are open")),
        "{notices:?}"
    );
    stage.play(fixtures::in_tolerance, 1.0);
    stage.press(Key::U);
    assert!(both(&stage).ends_with("no difference shown (± 0.4 arcmin)"));
    stage.click("azimuth: forget both");
    assert_eq!(both(&stage), "forward not kept yet, reverse not kept yet");
}

#[test]
fn elsewhere_the_keys_do_nothing() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    for key in [Key::F, Key::U, Key::V] {
        stage.press(key);
    }
    stage.press(Key::Num3);
    assert!(!stage.has(Role::Status, "forward and reverse"));
    assert!(!stage.has(Role::Status, "X–Y figure"));
}
