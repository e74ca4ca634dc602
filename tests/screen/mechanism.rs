//! The mechanism: what is shown and heard, what is kept as found, how a mechanism is chosen and edited.

use crate::{
    fixtures, heard_deck,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, accesskit::Role, pos2, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use std::{fs, sync::Arc, time::Duration};
use trimwatch::{
    meters::MeterSetup,
    readings::{InputState, Readings, Validity},
    worker::Request,
};

fn servicing() -> Stage {
    Stage::servicing(LAPTOP, Theme::Dark, heard_deck::worn_belt)
}

fn answer(stage: &Stage) -> String {
    stage.heard(Role::Status, "Mechanism answer")
}

/// The settings that were sent last.
fn sent(stage: &Stage) -> Option<Box<MeterSetup>> {
    let requests = stage.requests().into_iter().rev();
    requests
        .filter_map(|request| match request {
            Request::ChangeSetup(setup) => Some(setup),
            _ => None,
        })
        .next()
}

/// The items of the list, as a screen reader hears them.
fn listed(stage: &Stage) -> Vec<String> {
    let rows = stage.harness.query_all_by_role(Role::ListBoxOption);
    rows.filter_map(|row| row.accesskit_node().label())
        .collect()
}

#[test]
fn the_answer_is_in_words_with_its_sureness_and_the_alternative() {
    let stage = servicing();
    let heard = answer(&stage);
    assert!(
        heard
            .starts_with("belt: 42 % of the flutter. Likely at 1.34 Hz, or supply reel ×3 (11 %)."),
        "{heard}"
    );
    assert!(heard.contains("suggests an eccentric part"), "{heard}");
    assert_eq!(stage.heard(Role::Tab, "Mechanism"), "belt 42 %");
    let read = stage.heard(Role::Status, "mechanism read");
    assert_eq!(
        read,
        "Cassette, dual capstan, one belt (typical); 48 s read; 0.052 Hz apart stand as two; weighted 0.058 % rms ±0.003"
    );
}

#[test]
fn the_list_has_groups_open_rows_the_unexplained_the_floor_and_what_is_not_seen() {
    let stage = servicing();
    assert_eq!(
        listed(&stage),
        [
            "belt",
            "supply capstan and take-up capstan",
            "take-up pinch roller",
            "belt ×2",
            "take-up reel or belt",
            "1 unexplained line",
            "line at 31.7 Hz",
            "line at 23.9 Hz",
            "random floor",
            "motor pulley",
            "supply pinch roller",
        ]
    );
    for (name, value) in [
        (
            "belt",
            "rate Hz 1.340, peak % 0.0620, share 42.0 %, sure likely",
        ),
        (
            "supply capstan and take-up capstan",
            "rate Hz 6.050, peak % 0.0340, share 17.0 %, sure told apart in 83 s",
        ),
        ("random floor", "share 15.0 %"),
        (
            "motor pulley",
            "rate Hz 23.90, peak % < 0.0021, sure not seen",
        ),
    ] {
        assert_eq!(stage.heard(Role::ListBoxOption, name), value);
    }
}

#[test]
fn arrow_keys_and_clicks_choose_the_part_whose_turn_is_shown() {
    let mut stage = servicing();
    assert!(
        stage
            .heard(Role::Image, "one turn of belt")
            .contains("eccentric")
    );
    stage.press(Key::ArrowUp);
    assert!(
        stage.has(Role::Image, "one turn of belt"),
        "stops at the top"
    );
    stage.press(Key::ArrowDown);
    let group = stage.heard(Role::Image, "take-up capstan");
    assert!(group.starts_with("Not seen"), "{group}");
    stage.press(Key::ArrowDown);
    let turn = stage.heard(Role::Image, "one turn of take-up pinch roller");
    assert!(
        turn.contains("flat spot or dirt") && turn.contains("64 turns"),
        "{turn}"
    );
    let chosen = stage.node(Role::ListBoxOption, "take-up pinch roller");
    assert_eq!(chosen.accesskit_node().is_selected(), Some(true));
    stage.node(Role::ListBoxOption, "belt ×2").click();
    stage.settle();
    assert!(stage.has(Role::Image, "one turn of belt"));
    stage.press(Key::Num1);
    stage.press(Key::ArrowDown);
    stage.press(Key::Num5);
    assert!(
        stage.has(Role::Image, "one turn of belt"),
        "not from elsewhere"
    );
}

#[test]
fn quantity_weighting_and_details_go_round() {
    let mut stage = servicing();
    let spectrum = |stage: &Stage| stage.heard(Role::Image, "spectrum");
    assert!(spectrum(&stage).starts_with("speed: 0.0620 % at 1.34 Hz"));
    assert!(stage.is_chosen("weighting: weighted"));
    stage.press(Key::W);
    assert!(!stage.is_chosen("weighting: weighted"));
    stage.press(Key::Q);
    assert!(spectrum(&stage).starts_with("phase: 1.2000 degrees at 6.05 Hz"));
    stage.press(Key::Q);
    assert_eq!(spectrum(&stage), "level, left: no line stands out");
    stage.click("quantity: speed");
    assert!(stage.is_chosen("quantity: speed"));
    stage.press(Key::V);
    assert!(stage.is_chosen("details: steadiness"));
    let hint =
        "Check the capstan's end play (commonly 0.1 to 0.3 mm; the deck's manual comes first).";
    assert!(stage.harness.query_by_label(hint).is_some());
    stage.press(Key::V);
    assert!(stage.is_chosen("details: since as found"));
    stage.press(Key::V);
    assert!(stage.is_chosen("details: one turn"));
}

#[test]
fn what_is_kept_as_found_goes_to_the_meters_and_the_change_is_shown() {
    let mut stage = servicing();
    stage.press(Key::V);
    stage.press(Key::V);
    let nothing = stage
        .harness
        .query_by_label_contains("Nothing is kept as found.");
    assert!(nothing.is_some());
    stage.requests();
    stage.press(Key::F);
    let kept = sent(&stage).expect("sent").mechanism_as_found;
    assert_eq!(kept.expect("kept").0.seconds, 48.0);
    assert!(stage.all_heard(Role::Note, "Notice")[0].starts_with("kept as found: 48 s."));
    stage.play(heard_deck::new_belt, 0.2);
    assert_eq!(
        stage.heard(Role::Row, "belt"),
        "0.0620 ±0.0020 → 0.0210 ±0.0020, −66 %, better"
    );
    let worse = stage.heard(Role::ListBoxOption, "take-up pinch roller");
    assert!(worse.ends_with("since as found worse (+39 %)"), "{worse}");
    let same = stage.heard(Role::ListBoxOption, "supply capstan and take-up capstan");
    assert!(same.ends_with("since as found no difference"), "{same}");
    stage.click("Compare no more");
    assert!(sent(&stage).expect("sent").mechanism_as_found.is_none());
}

#[test]
fn without_a_reading_or_a_deck_it_says_what_is_needed() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    stage.press(Key::Num5);
    let heard = answer(&stage);
    assert!(heard.contains("the first lines take 2 s"), "{heard}");
    assert!(
        heard.contains("No deck is chosen: m chooses one"),
        "{heard}"
    );
    stage.press(Key::F);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert_eq!(
        warned[0],
        "nothing to keep as found: the mechanism is not read yet"
    );
    let no_tone = |t: f64| -> Readings { fixtures::no_tone(t) };
    stage.play(no_tone, 0.2);
    assert!(answer(&stage).starts_with("no tone. Play the tone section"));
    stage.play(heard_deck::nameless, 0.2);
    assert!(
        answer(&stage)
            .starts_with("lines make 85 % of the flutter. Choose the deck's mechanism (m)")
    );
    assert_eq!(stage.heard(Role::Tab, "Mechanism"), "lines 85 %");
    assert!(listed(&stage).contains(&"line at 1.3 Hz".to_owned()));
}

#[test]
fn a_mechanism_of_another_tape_speed_is_told() {
    let mut stage = servicing();
    stage.press(Key::M);
    stage.click("mechanism Plover R4, 19 cm/s");
    let read = stage.heard(Role::Status, "mechanism read");
    assert!(
        read.contains("is for 19.05 cm/s, the tape format (t) for 4.76"),
        "{read}"
    );
}

#[test]
fn space_does_not_take_it_and_hold_holds_it() {
    let mut stage = servicing();
    stage.press(Key::Space);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert_eq!(
        warned[0],
        "the mechanism is not taken as a reading: f keeps it as found"
    );
    stage.press(Key::H);
    stage.play(heard_deck::nameless, 0.2);
    assert!(answer(&stage).starts_with("belt: 42 %"));
    stage.press(Key::H);
    assert!(answer(&stage).starts_with("lines make 85 %"));
}

#[test]
fn a_frame_asks_for_no_second_one() {
    for height in [560.0, 620.0, 731.0, 800.0] {
        let size = vec2(1280.0, height);
        let mut stage = Stage::servicing(size, Theme::Dark, heard_deck::worn_belt);
        stage.harness.hover_at(pos2(400.0, height - 260.0));
        stage.play(heard_deck::worn_belt, 0.2);
        for _ in 0..12 {
            stage.play(heard_deck::worn_belt, 0.1);
            let soon = Duration::from_millis(30);
            assert!(!stage.wants_a_frame_within(soon), "{height}");
            stage.press(Key::ArrowDown);
        }
    }
}

#[test]
fn nothing_is_drawn_while_nothing_changes() {
    // In the low window the list is longer than its place.
    for size in [LAPTOP, vec2(1280.0, 731.0), vec2(800.0, 560.0)] {
        let mut stage = Stage::servicing(size, Theme::Dark, heard_deck::worn_belt);
        let mut ended = heard_deck::worn_belt(43.0);
        ended.source.state = InputState::Ended;
        stage.publish(ended.clone());
        for _ in 0..9 {
            assert_eq!(stage.frames_for(Some(&ended)), 0, "{size:?}");
            stage.press(Key::ArrowDown);
        }
        stage.press(Key::V);
        assert_eq!(stage.frames_for(Some(&ended)), 0, "{size:?}");
    }
}

#[test]
fn the_mechanism_chosen_is_sent_to_the_meters_and_remembered() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    let mut first = Stage::returning(None, &file);
    first.wait_for_listing();
    first.node(Role::Button, "USB line input").click();
    first.wait_for_input(1);
    first.press(Key::M);
    first.requests();
    first.click("mechanism Finch 2H");
    let used = sent(&first).expect("sent").mechanism.expect("in use");
    assert_eq!(used.name, "finch-2h");
    let mut second = Stage::returning(None, &file);
    second.wait_for_input(1);
    second.press(Key::R);
    second.press(Key::M);
    assert!(second.is_chosen("mechanism Finch 2H"));
    second.click("Use none");
    assert!(sent(&second).expect("sent").mechanism.is_none());
}

#[test]
fn a_copy_is_edited_checked_at_every_key_and_saved_beside_the_supplied_ones() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    let mut stage = Stage::returning(None, &file);
    stage.wait_for_listing();
    stage.press(Key::M);
    stage.click("mechanism Cassette, single capstan, belt drive (typical)");
    stage.click("Edit a copy of it");
    assert!(
        stage
            .harness
            .query_by_label_contains("Sound: 6 parts")
            .is_some()
    );
    stage.click("part capstan: 6.064 Hz");
    stage.fill("Diameter under the tape, mm", "-2");
    let told = "capstan, Diameter under the tape, mm: -2 is out of range";
    assert!(stage.harness.query_by_label_contains(told).is_some());
    let save = stage.node(Role::Button, "Save and use");
    assert!(save.accesskit_node().is_disabled());
    stage.fill("! Diameter under the tape, mm", "3,0");
    assert!(
        stage
            .harness
            .query_by_label("part capstan: 5.053 Hz")
            .is_some()
    );
    stage.fill("File name", "finch-2h");
    stage.click("Save and use");
    let refused = "'finch-2h' comes with the program and is never written over";
    assert!(stage.harness.query_by_label_contains(refused).is_some());
    stage.fill("File name", "bench-deck");
    stage.fill("Deck", "Bench deck");
    stage.click("Save and use");
    let saved = fs::read_to_string(folder.path().join("decks/bench-deck.toml")).expect("saved");
    assert!(saved.contains("diameter_mm = 3.0"), "{saved}");
    stage.press(Key::M);
    assert!(stage.is_chosen("mechanism Bench deck"));
    stage.click("Edit it");
    stage.click("Remove this part");
    stage.click("Leave without saving");
    let again = fs::read_to_string(folder.path().join("decks/bench-deck.toml")).expect("there");
    assert_eq!(again, saved);
}

#[test]
fn nothing_overlaps_in_small_windows() {
    for size in [
        vec2(480.0, 360.0),
        vec2(640.0, 400.0),
        vec2(800.0, 600.0),
        vec2(1024.0, 600.0),
    ] {
        let mut stage = Stage::servicing(size, Theme::Dark, heard_deck::worn_belt);
        stage.press(Key::V);
        let card = stage.node(Role::Tab, "Mechanism").rect();
        let head = stage.node(Role::Status, "Mechanism answer").rect();
        assert!(
            head.height() >= 40.0 && head.bottom() <= card.top(),
            "{size:?}"
        );
        assert!(
            stage
                .harness
                .query_by_label("details: steadiness")
                .is_some()
        );
    }
}

#[test]
fn a_reading_that_does_not_stand_is_not_shown_as_one() {
    let mut stage = servicing();
    let mut readings = heard_deck::worn_belt(50.0);
    readings.flutter.status = Validity::Unsteady;
    readings.mechanism = None;
    stage.publish(readings);
    stage.settle();
    assert!(answer(&stage).starts_with("unsteady"));
    assert!(listed(&stage).is_empty());
    let kept = heard_deck::reading();
    assert!(Arc::new(kept).status.is_ok(), "the fixture itself stands");
}

#[test]
fn a_virtual_deck_brings_its_mechanism_unless_one_was_chosen() {
    let used = |stage: &Stage| {
        let mechanism = sent(stage).expect("sent").mechanism;
        mechanism.map(|mechanism| mechanism.name.clone())
    };
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    stage.enter("Finch 2H, as found");
    stage.wait_for_input(1);
    assert_eq!(used(&stage).as_deref(), Some("finch-2h"));
    // It goes with the deck.
    stage.press(Key::I);
    stage.wait_for_listing();
    stage.enter("USB line input");
    stage.wait_for_input(2);
    assert_eq!(used(&stage), None);
    // What was chosen stays.
    stage.press(Key::M);
    stage.enter("mechanism Cassette, dual capstan, one belt (typical)");
    stage.press(Key::I);
    stage.wait_for_listing();
    stage.enter("Finch 2H, as found");
    stage.wait_for_input(3);
    assert_eq!(used(&stage).as_deref(), Some("dual-capstan-cassette"));
}
