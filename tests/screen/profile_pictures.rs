//! Pictures of the interface's panel, the question which tape plays, and the first run.

use crate::{
    fixtures,
    interface::{card, clocked, measured},
    pictures::{picture, themed},
    question::unclear,
    stage::{LAPTOP, Stage, options, sound_card},
};
use eframe::egui::{Key, Theme, Vec2, vec2};
use egui_kittest::SnapshotResults;
use trimwatch::{
    profile::{
        Heard, ProfileStore, name_for,
        y_lead::{Leads, TonePair, YLeadReading, YLeadState},
    },
    worker::Request,
};

const LARGE: Vec2 = vec2(1920.0, 1080.0);

fn interface(size: Vec2, scale: f32, theme: Theme, profiled: bool) -> Stage {
    let folder = tempfile::tempdir().expect("a folder");
    let store = ProfileStore::at(folder.path());
    if profiled {
        store
            .save(&name_for(&card()), &measured(&card()))
            .expect("saved");
    }
    let mut options = options();
    options.profiles = Some(store);
    options.start = sound_card();
    options.theme = Some(theme);
    let mut stage = Stage::of(size, scale, options);
    stage.wait_for_input(1);
    stage.play(clocked, 2.0);
    stage.press(Key::P);
    if profiled {
        stage.wait_for_status("interface", "corrected");
    } else {
        stage.wait_for_status("profile in use", "No profile of it yet.");
    }
    stage.settle();
    stage
}

#[test]
fn the_interface_panel() {
    let mut results = SnapshotResults::new();
    for (name, size, scale, theme, profiled) in [
        ("measured-dark", LAPTOP, 1.0, Theme::Dark, true),
        ("none-light", LAPTOP, 1.0, Theme::Light, false),
        ("large-light", LARGE, 1.0, Theme::Light, true),
        ("dense-dark", LAPTOP, 2.0, Theme::Dark, false),
    ] {
        let mut stage = interface(size, scale, theme, profiled);
        picture(&mut stage, &format!("interface-{name}"), &mut results);
    }
}

#[test]
fn measuring_through_a_y_lead() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = interface(LAPTOP, 1.0, theme, false);
        stage.requests();
        stage.enter("Measure through a Y lead");
        let asked = stage.requests();
        let [Request::Listen { told, .. }] = &asked[..] else {
            panic!("{asked:?}");
        };
        let tones = [400.0, 1000.0, 10_000.0].map(|hz| TonePair {
            hz,
            delay_us: 7.31,
            gain_db: 0.42,
        });
        let reading = YLeadReading {
            state: YLeadState::Done,
            skew_us: Some(7.302),
            skew_uncertainty_us: Some(0.004),
            gain_db: Some(0.4203),
            gain_uncertainty_db: Some(0.001),
            leads: Leads::Straight,
            tones: tones.to_vec(),
            ..YLeadReading::default()
        };
        told.send(Heard::YLead(reading))
            .expect("the screen listens");
        stage.settle();
        picture(
            &mut stage,
            &format!("interface-y-lead-{}", themed(theme)),
            &mut results,
        );
    }
}

#[test]
fn the_question_which_tape_plays() {
    let mut results = SnapshotResults::new();
    for (name, size, theme) in [
        ("dark", LAPTOP, Theme::Dark),
        ("light", LAPTOP, Theme::Light),
        ("small-dark", vec2(640.0, 400.0), Theme::Dark),
    ] {
        let mut stage = Stage::playing_in(size, 1.0, theme, unclear);
        picture(&mut stage, &format!("question-{name}"), &mut results);
    }
}

#[test]
fn the_first_steps() {
    let mut results = SnapshotResults::new();
    for (size, scale, theme, name) in [
        (LAPTOP, 1.0, Theme::Dark, "dark"),
        (LAPTOP, 1.0, Theme::Light, "light"),
        (LARGE, 1.0, Theme::Light, "large-light"),
        (vec2(640.0, 400.0), 2.0, Theme::Dark, "twice-dark"),
    ] {
        let mut options = options();
        options.theme = Some(theme);
        let mut stage = Stage::of(size, scale, options);
        stage.wait_for_listing();
        picture(&mut stage, &format!("first-run-1-{name}"), &mut results);
        stage.press(Key::Enter);
        stage.wait_for_input(1);
        stage.play(fixtures::in_tolerance, 2.0);
        for number in 2..=4 {
            let name = format!("first-run-{number}-{name}");
            picture(&mut stage, &name, &mut results);
            stage.press(Key::X);
        }
    }
}
