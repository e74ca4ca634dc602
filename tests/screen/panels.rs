//! The side panels: tape, inputs, screwdrivers, cautions.

use crate::{
    fixtures,
    stage::{LAPTOP, MISSING, Stage},
};
use eframe::egui::{Event, Key, Modifiers, Theme, accesskit::Role};
use egui_kittest::kittest::{NodeT, Queryable};
use trimwatch::{screen::InputChoice, worker::Request};

#[test]
fn the_tape_is_typed_in_and_used_with_enter() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.requests();
    stage.press(Key::T);
    let tone = stage.node(Role::TextInput, "Nominal tone, Hz");
    assert!(tone.is_focused(), "the first field has the focus");
    stage.press(Key::Tab);
    assert!(
        stage
            .node(Role::TextInput, "Certificate's correction, %")
            .is_focused(),
        "inside a panel Tab goes to the next field"
    );
    stage.type_text("-0,04");
    stage.press(Key::Tab);
    stage.type_text("0.1");
    stage.press(Key::Enter);
    let asked = stage.requests();
    let [Request::ChangeSetup(setup)] = &asked[..] else {
        panic!("{asked:?}");
    };
    assert_eq!(setup.tone_hz, Some(3150.0));
    assert_eq!(setup.tone_correction_percent, -0.04);
    assert_eq!(setup.tone_tolerance_percent, Some(0.1));
    assert_eq!(stage.heard(Role::Status, "tape"), "Speed, 3150 Hz −0.04 %");
}

#[test]
fn letters_go_into_a_field_and_not_to_the_commands() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.press(Key::T);
    stage.harness.key_press(Key::Num4);
    stage.type_text("x");
    assert!(stage.has(Role::Meter, "Speed reading"));
    let field = stage.node(Role::TextInput, "Nominal tone, Hz");
    assert_eq!(field.value().as_deref(), Some("3150x"));
    stage.press(Key::Enter);
    assert!(
        stage
            .harness
            .query_by_label("tone: '3150x' is not a number")
            .is_some()
    );
    assert_eq!(stage.heard(Role::Status, "tape"), "Speed, 3150 Hz");
    stage.node(Role::TextInput, "Nominal tone, Hz").focus();
    stage.settle();
    stage.press(Key::Escape);
    assert!(
        stage.has(Role::TextInput, "Nominal tone, Hz"),
        "Esc leaves the field first"
    );
    stage.press(Key::Escape);
    assert!(!stage.has(Role::TextInput, "Nominal tone, Hz"));
}

#[test]
fn the_letter_that_opens_a_panel_is_not_typed_into_it() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    // A keyboard brings both in one frame.
    let events = &mut stage.harness.input_mut().events;
    events.push(Event::Key {
        key: Key::T,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::NONE,
    });
    events.push(Event::Text("t".into()));
    stage.settle();
    let field = stage.node(Role::TextInput, "Nominal tone, Hz");
    assert_eq!(field.value().as_deref(), Some("3150"));
}

#[test]
fn a_supplied_tape_and_a_format_are_chosen() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.requests();
    stage.press(Key::T);
    stage
        .node(Role::ComboBox, "Take from a listed tape")
        .click();
    stage.settle();
    stage.harness.get_by_label("Azimuth, 10 kHz").click();
    stage.settle();
    stage.node(Role::ComboBox, "Tape format").click();
    stage.settle();
    stage
        .harness
        .get_by_label("Quarter-inch stereo (IEC), 19 cm/s")
        .click();
    stage.settle();
    stage.harness.get_by_label("Use this tape").click();
    stage.settle();
    let asked = stage.requests();
    let [Request::ChangeSetup(setup)] = &asked[..] else {
        panic!("{asked:?}");
    };
    assert_eq!(setup.tone_hz, Some(10_000.0));
    assert_eq!(setup.tape_format.name, "reel-stereo-iec-19");
}

#[test]
fn full_scale_and_a_level_reference_are_entered_by_keyboard() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.requests();
    stage.press(Key::T);
    stage
        .node(Role::TextInput, "Full scale of the interface, V rms")
        .focus();
    stage.settle();
    stage.type_text("2,45");
    stage.press(Key::Enter);
    let asked = stage.requests();
    let [Request::ChangeSetup(setup)] = &asked[..] else {
        panic!("{asked:?}");
    };
    assert_eq!(setup.full_scale_volts_rms, Some(2.45));
    stage
        .node(Role::TextInput, "Level tape's fluxivity, nWb/m")
        .focus();
    stage.settle();
    stage.type_text("250");
    stage.press(Key::Tab);
    let refer = "Use this level as the reference of 250 nWb/m";
    assert!(stage.node(Role::Button, refer).is_focused());
    stage.press(Key::Enter);
    let asked = stage.requests();
    let [Request::ChangeSetup(setup)] = &asked[..] else {
        panic!("{asked:?}");
    };
    let level = fixtures::fast_deck(43.0).level;
    let reference = setup.level_reference.expect("a reference");
    assert_eq!(Some(reference.left_dbfs), level.left.tone_dbfs);
    assert_eq!(Some(reference.right_dbfs), level.right.tone_dbfs);
    assert_eq!(reference.fluxivity_nwb_per_m, 250.0);
    assert_eq!(setup.full_scale_volts_rms, Some(2.45), "the other stays");
    stage.press(Key::Tab);
    assert!(
        stage
            .node(Role::Button, "Forget the reference")
            .is_focused()
    );
    stage.press(Key::Enter);
    let asked = stage.requests();
    let [Request::ChangeSetup(setup)] = &asked[..] else {
        panic!("{asked:?}");
    };
    assert_eq!(setup.level_reference, None);
}

#[test]
fn a_level_reference_without_a_fluxivity_is_told() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.requests();
    stage.press(Key::T);
    let refer = "Use this level as the reference of … nWb/m";
    stage.node(Role::Button, refer).focus();
    stage.settle();
    stage.press(Key::Enter);
    assert!(stage.requests().is_empty());
    assert!(
        stage
            .harness
            .query_by_label_contains("fluxivity: type what the level tape's label says")
            .is_some()
    );
}

#[test]
fn the_first_run_asks_for_an_input_and_opens_it_by_keyboard() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    assert_eq!(stage.heard(Role::Status, "input"), "none");
    let first = stage.node(Role::Button, "USB line input");
    assert!(first.is_focused());
    stage.press(Key::Enter);
    stage.wait_for_input(1);
    assert_eq!(
        stage.opened(),
        [InputChoice::SoundCard {
            id: "alsa:usb".into(),
            channels: vec![],
            rate_hz: None
        }]
    );
}

#[test]
fn channels_can_be_picked_and_a_wrong_pick_is_told() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    stage
        .node(Role::TextInput, "Channels (empty: the first two)")
        .focus();
    stage.settle();
    stage.type_text("3,");
    stage.node(Role::Button, "Built-in microphone").click();
    stage.wait_for_input(1);
    let InputChoice::SoundCard { id, channels, .. } = &stage.opened()[0] else {
        panic!("a sound card");
    };
    assert_eq!((id.as_str(), channels.as_slice()), ("alsa:board", &[3][..]));

    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    stage
        .node(Role::TextInput, "Channels (empty: the first two)")
        .focus();
    stage.settle();
    stage.type_text("0");
    stage.node(Role::Button, "Built-in microphone").click();
    stage.settle();
    assert!(stage.opened().is_empty());
    assert!(
        stage
            .harness
            .query_by_label_contains("channels: '0' is not")
            .is_some()
    );
}

#[test]
fn a_recording_that_cannot_be_opened_is_told_and_asked_for_again() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    stage.node(Role::TextInput, "Path of the file").focus();
    stage.settle();
    stage.type_text(MISSING);
    stage.press(Key::Enter);
    stage.wait_for_label("missing.wav: no such file");
    assert!(stage.has(Role::TextInput, "Path of the file"));
}

#[test]
fn another_input_replaces_the_one_that_runs() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    stage.press(Key::I);
    stage.wait_for_listing();
    assert!(stage.node(Role::Button, "USB line input").is_focused());
    stage.node(Role::Button, "Finch 2H, as found").focus();
    stage.settle();
    stage.press(Key::Enter);
    stage.wait_for_input(2);
    assert_eq!(
        stage.opened()[1],
        InputChoice::VirtualDeck("finch-as-found".into())
    );
}

#[test]
fn virtual_screwdrivers_turn_by_keyboard_and_parts_are_replaced() {
    let mut stage = Stage::practising(LAPTOP, fixtures::fast_deck);
    let trimmer = stage.node(Role::Slider, "Speed trimmer");
    assert_eq!(trimmer.accesskit_node().numeric_value(), Some(1.8));
    stage.press(Key::S);
    stage.press(Key::S);
    assert!(stage.node(Role::Slider, "Speed trimmer").is_focused());
    stage.press(Key::ArrowLeft);
    let turned = stage.turned();
    let (index, value) = *turned.last().expect("turned");
    assert_eq!(index, 0);
    assert!(value < 1.8 && value > 1.7, "{value}");
    stage.press(Key::Num3);
    assert!(
        stage.has(Role::Meter, "Azimuth reading"),
        "a slider leaves the other keys alone"
    );
    assert!(!stage.is_chosen("Belt: replaced"));
    stage.harness.get_by_label("Belt: replaced").click();
    stage.settle();
    assert_eq!(stage.chosen(), [(0, 1)]);
    assert!(stage.is_chosen("Belt: replaced"));
    assert!(!stage.is_chosen("Pinch roller: replaced"));
}

#[test]
fn only_a_virtual_deck_has_screwdrivers() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    assert!(!stage.has(Role::Button, "screwdrivers (s)"));
    stage.press(Key::S);
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].starts_with("only a virtual deck has screwdrivers"));
}

#[test]
fn cautions_stand_there_at_first_and_can_always_be_found() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    assert!(stage.has(Role::Status, "Caution"));
    stage.press(Key::C);
    for word in ["Mains", "Capacitors", "Solvents", "Guards", "Who may"] {
        assert!(stage.harness.query_by_label(word).is_some(), "{word}");
    }
    stage.press(Key::Escape);
    assert!(stage.harness.query_by_label("Mains").is_none());
    assert!(!stage.has(Role::Status, "Caution"));
    stage.press(Key::C);
    assert!(stage.harness.query_by_label("Mains").is_some());
}
