//! Cautions: at their moment, once a job, always to be found.

use crate::{
    fixtures,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, accesskit::Role, vec2};
use trimwatch::readings::SourceKind;

fn caution(stage: &Stage) -> Option<String> {
    stage
        .has(Role::Status, "Caution")
        .then(|| stage.heard(Role::Status, "Caution"))
}

#[test]
fn the_open_case_comes_first_then_the_calibration_tape_and_x_puts_each_away() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    let first = caution(&stage).expect("a caution");
    assert!(
        first.contains("Mains") && first.contains("qualified people"),
        "{first}"
    );
    assert!(first.contains("Local rules come first"), "{first}");
    assert!(
        stage.has(Role::Meter, "Speed reading"),
        "nothing is in the way"
    );
    stage.press(Key::X);
    let second = caution(&stage).expect("the next");
    for word in ["clean and demagnetise", "non-conducting", "loud"] {
        assert!(second.contains(word), "{second}");
    }
    stage.press(Key::X);
    assert_eq!(caution(&stage), None);
    stage.press(Key::Num3);
    assert_eq!(caution(&stage), None, "for the whole job");
    stage.press(Key::X);
    let said = stage.all_heard(Role::Note, "Notice");
    assert!(said[0].contains("no caution is due"), "{said:?}");
    stage.harness.state_mut().as_mut().unwrap().start_job();
    stage.settle();
    assert_eq!(caution(&stage), Some(first));
}

#[test]
fn the_button_puts_it_away_and_the_panel_shows_all_at_any_time() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    let before = caution(&stage);
    stage.click("caution read, not again in this job");
    assert!(caution(&stage).is_some() && caution(&stage) != before);
    stage.press(Key::C);
    assert_eq!(caution(&stage), None, "whoever has seen all has seen these");
    stage.press(Key::C);
    stage.press(Key::C);
    stage.wait_for_label("Screws and trimmers");
}

#[test]
fn a_simulated_deck_has_no_case() {
    let mut stage = Stage::practising(LAPTOP, |t| {
        let mut readings = fixtures::fast_deck(t);
        readings.source.description.kind = SourceKind::VirtualDeck;
        readings
    });
    stage.settle();
    assert_eq!(caution(&stage), None);
}

#[test]
fn in_a_low_window_it_is_one_line_that_names_its_keys() {
    let size = vec2(800.0, 480.0);
    let mut stage = Stage::playing_in(size, 1.0, Theme::Dark, fixtures::in_tolerance);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(
        warned[0].contains("mains") && warned[0].contains("x: read"),
        "{warned:?}"
    );
    stage.press(Key::X);
    stage.press(Key::X);
    assert!(stage.all_heard(Role::Note, "Warning").is_empty());
}
