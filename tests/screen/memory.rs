//! What the window remembers from one run to the next.

use crate::stage::Stage;
use eframe::egui::{Key, Theme, accesskit::Role};
use std::fs;
use trimwatch::screen::InputChoice;

#[test]
fn the_input_chosen_last_is_opened_and_the_theme_is_as_it_was() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    let mut first = Stage::returning(None, &file);
    first.wait_for_listing();
    assert_eq!(first.theme(), Theme::Dark);
    first.press(Key::L);
    first.node(Role::Button, "Finch 2H, as found").click();
    first.wait_for_input(1);
    let mut second = Stage::returning(None, &file);
    second.wait_for_input(1);
    let deck = InputChoice::VirtualDeck("finch-as-found".into());
    assert_eq!(second.opened(), [deck]);
    assert_eq!(second.theme(), Theme::Light);
}

#[test]
fn what_the_command_line_asks_for_comes_first_and_only_a_sound_input_of_it_is_remembered() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    let sound_card = InputChoice::SoundCard {
        id: "alsa:board".into(),
        channels: vec![2],
        rate_hz: Some(96_000),
    };
    let deck = InputChoice::VirtualDeck("plover".into());
    for (asked, opened) in [
        (Some(sound_card.clone()), &sound_card),
        (Some(deck.clone()), &deck),
        (None, &sound_card),
    ] {
        let mut stage = Stage::returning(asked, &file);
        stage.wait_for_input(1);
        assert_eq!(stage.opened(), std::slice::from_ref(opened));
    }
}

#[test]
fn a_damaged_file_is_a_notice_and_the_window_asks() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("window.toml");
    fs::write(&file, "theme = 7\n").expect("written");
    let mut stage = Stage::returning(None, &file);
    stage.wait_for_listing();
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].contains("window.toml: line 1: "), "{warned:?}");
    stage.node(Role::Button, "USB line input").click();
    stage.wait_for_input(1);
    let text = fs::read_to_string(&file).expect("written again");
    assert!(text.contains("id = \"alsa:usb\""), "{text}");
}
