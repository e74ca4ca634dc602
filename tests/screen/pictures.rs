//! Pictures of every view, light and dark, compared pixel by pixel.
//!
//! `UPDATE_SNAPSHOTS=1 cargo test --test screen` writes new references; look at every one before it is kept.

use crate::{
    fixtures::{self, Fixture},
    heard_deck, run_in_story,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, Vec2, accesskit::Role, vec2};
use egui_kittest::{SnapshotOptions, SnapshotResults};

const VIEWS: [(&str, Key); 4] = [
    ("speed", Key::Num1),
    ("flutter", Key::Num2),
    ("azimuth", Key::Num3),
    ("level", Key::Num4),
];

/// Software renderers round edges differently (seen between Mesa's Vulkan and GL: up to 0.4 in some hundred pixels, and
/// not one pixel more); one letter changed is 20 pixels or more.
fn options() -> SnapshotOptions {
    SnapshotOptions::new()
        .output_path("tests/screen/snapshots")
        .threshold(0.6)
        .max_failed_pixels(6)
}

pub fn themed(theme: Theme) -> &'static str {
    match theme {
        Theme::Dark => "dark",
        Theme::Light => "light",
    }
}

pub fn picture(stage: &mut Stage, name: &str, results: &mut SnapshotResults) {
    results.add(stage.harness.try_snapshot_options(name, &options()));
}

/// As most of a job looks: the fast deck alone is shown with what comes first.
fn read_cautions(stage: &mut Stage) {
    stage.press(Key::X);
    stage.press(Key::X);
}

fn all_views(
    size: Vec2,
    scale: f32,
    theme: Theme,
    name: &str,
    fixture: Fixture,
    results: &mut SnapshotResults,
) {
    let mut stage = Stage::playing_in(size, scale, theme, fixture);
    if name != "fast" {
        read_cautions(&mut stage);
    }
    for (view, key) in VIEWS {
        stage.press(key);
        let name = format!("{name}-{view}-{}", themed(theme));
        picture(&mut stage, &name, results);
    }
}

#[test]
fn a_fast_deck_in_the_dark() {
    let mut results = SnapshotResults::new();
    let fixture = fixtures::fast_deck;
    all_views(LAPTOP, 1.0, Theme::Dark, "fast", fixture, &mut results);
}

#[test]
fn a_fast_deck_in_the_light() {
    let mut results = SnapshotResults::new();
    let fixture = fixtures::fast_deck;
    all_views(LAPTOP, 1.0, Theme::Light, "fast", fixture, &mut results);
}

#[test]
fn a_good_deck_in_both_themes() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let fixture = fixtures::in_tolerance;
        all_views(LAPTOP, 1.0, theme, "good", fixture, &mut results);
    }
}

#[test]
fn a_large_monitor() {
    let mut results = SnapshotResults::new();
    let (size, fixture) = (vec2(1920.0, 1080.0), fixtures::slow_deck);
    all_views(size, 1.0, Theme::Light, "large", fixture, &mut results);
}

#[test]
fn a_dense_display_in_the_dark() {
    let mut results = SnapshotResults::new();
    let fixture = fixtures::slow_deck;
    all_views(LAPTOP, 2.0, Theme::Dark, "dense", fixture, &mut results);
}

#[test]
fn a_dense_display_in_the_light() {
    let mut results = SnapshotResults::new();
    let fixture = fixtures::slow_deck;
    all_views(LAPTOP, 2.0, Theme::Light, "dense", fixture, &mut results);
}

#[test]
fn the_mechanism_on_a_dense_display() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::playing_in(LAPTOP, 2.0, theme, heard_deck::worn_belt);
        read_cautions(&mut stage);
        stage.press(Key::Num5);
        let name = format!("dense-mechanism-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
}

#[test]
fn the_sound_guide() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixtures::fast_deck);
        read_cautions(&mut stage);
        stage.press(Key::G);
        stage.wait_for_label("Heard on");
        stage.wait_for("the outputs", |stage| {
            stage.has(Role::Button, "output Headphones")
        });
        stage.click("output Headphones");
        let mut shoot = |stage: &mut Stage, name: &str| {
            let name = format!("panel-guide-{name}-{}", themed(theme));
            stage.play(fixtures::fast_deck, 0.5);
            picture(stage, &name, &mut results);
        };
        shoot(&mut stage, "off");
        stage.click("Start on Headphones …");
        shoot(&mut stage, "caution");
        stage.click("The volume is down: start");
        stage.wait_for("the guide", |stage| {
            stage.has(Role::Button, "Stop the guide")
        });
        shoot(&mut stage, "on");
    }
}

#[test]
fn the_second_caution_and_a_foot_switch_being_set() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixtures::slow_deck);
        stage.press(Key::X);
        stage.press(Key::Questionmark);
        stage.click("Set the key for taking the reading");
        stage.press(Key::B);
        let name = format!("panel-foot-switch-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
}

#[test]
fn a_laptop_at_twice_the_size_and_a_small_window() {
    let mut results = SnapshotResults::new();
    for (name, size, scale) in [
        ("twice", vec2(640.0, 400.0), 2.0),
        ("small", vec2(800.0, 560.0), 1.0),
    ] {
        let fixture = fixtures::fast_deck;
        all_views(size, scale, Theme::Dark, name, fixture, &mut results);
    }
}

#[test]
fn states_that_are_no_reading() {
    let mut results = SnapshotResults::new();
    let cases: [(&str, Fixture, Key); 5] = [
        ("no-tone", fixtures::no_tone, Key::Num1),
        ("clipped", fixtures::clipped, Key::Num2),
        ("ambiguous", fixtures::ambiguous, Key::Num3),
        ("lost", fixtures::input_lost, Key::Num1),
        ("mono", fixtures::mono, Key::Num4),
    ];
    for (name, fixture, key) in cases {
        for theme in [Theme::Dark, Theme::Light] {
            let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixture);
            stage.press(key);
            picture(
                &mut stage,
                &format!("{name}-{}", themed(theme)),
                &mut results,
            );
        }
    }
}

#[test]
fn side_panels() {
    let mut results = SnapshotResults::new();
    for (name, key, theme) in [
        ("tape", Key::T, Theme::Dark),
        ("inputs", Key::I, Theme::Light),
        ("keys", Key::Questionmark, Theme::Dark),
        ("cautions", Key::C, Theme::Light),
    ] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixtures::fast_deck);
        stage.press(key);
        stage.wait_for_listing();
        picture(
            &mut stage,
            &format!("panel-{name}-{}", themed(theme)),
            &mut results,
        );
    }
}

#[test]
fn the_mechanism() {
    let mut results = SnapshotResults::new();
    let cases: [(&str, Vec2, Theme, Fixture, usize); 5] = [
        ("turn", LAPTOP, Theme::Dark, heard_deck::worn_belt, 0),
        ("turn", LAPTOP, Theme::Light, heard_deck::worn_belt, 0),
        ("steadiness", LAPTOP, Theme::Dark, heard_deck::worn_belt, 1),
        ("waiting", LAPTOP, Theme::Light, fixtures::in_tolerance, 0),
        (
            "small",
            vec2(800.0, 560.0),
            Theme::Dark,
            heard_deck::worn_belt,
            0,
        ),
    ];
    for (name, size, theme, fixture, faces) in cases {
        let mut stage = Stage::servicing(size, theme, fixture);
        for _ in 0..faces {
            stage.press(Key::V);
        }
        let name = format!("mechanism-{name}-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
    let size = vec2(1920.0, 1080.0);
    let mut stage = Stage::servicing(size, Theme::Light, heard_deck::worn_belt);
    stage.press(Key::ArrowDown);
    stage.press(Key::ArrowDown);
    stage.press(Key::W);
    picture(&mut stage, "mechanism-large-light", &mut results);
}

#[test]
fn the_mechanism_since_as_found_and_without_names() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::servicing(LAPTOP, theme, heard_deck::worn_belt);
        stage.press(Key::F);
        stage.play(heard_deck::new_belt, 0.5);
        stage.press(Key::V);
        stage.press(Key::V);
        let name = format!("mechanism-since-as-found-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
    let mut stage = Stage::playing_in(LAPTOP, 1.0, Theme::Dark, heard_deck::nameless);
    stage.press(Key::Num5);
    picture(&mut stage, "mechanism-nameless-dark", &mut results);
}

#[test]
fn choosing_and_editing_a_mechanism() {
    let mut results = SnapshotResults::new();
    let mut stage = Stage::playing_in(LAPTOP, 1.0, Theme::Dark, heard_deck::worn_belt);
    stage.press(Key::Num5);
    stage.press(Key::M);
    picture(&mut stage, "panel-mechanism-dark", &mut results);
    stage.click("mechanism Cassette, dual capstan, one belt (typical)");
    stage.click("Edit a copy of it");
    stage.click("part take-up capstan: 6.064 Hz");
    picture(&mut stage, "mechanism-editor-dark", &mut results);
}

#[test]
fn taken_and_held() {
    let mut results = SnapshotResults::new();
    let mut stage = Stage::playing_in(LAPTOP, 1.0, Theme::Dark, fixtures::in_tolerance);
    stage.press(Key::Space);
    stage.press(Key::Num3);
    stage.press(Key::Space);
    stage.press(Key::K);
    picture(&mut stage, "panel-taken-dark", &mut results);
    stage.press(Key::Escape);
    stage.press(Key::H);
    stage.play(fixtures::fast_deck, 1.0);
    picture(&mut stage, "held-dark", &mut results);
}

#[test]
fn practising_on_a_virtual_deck() {
    let mut results = SnapshotResults::new();
    let mut stage = Stage::practising(LAPTOP, fixtures::fast_deck);
    picture(&mut stage, "panel-screwdrivers-dark", &mut results);
}

/// What the key v puts under the azimuth's scale.
#[test]
fn azimuth_details() {
    let mut results = SnapshotResults::new();
    let large = vec2(1920.0, 1080.0);
    let cases: [(&str, Vec2, f32, Theme, Fixture, usize); 7] = [
        ("xy", LAPTOP, 1.0, Theme::Dark, fixtures::several_tones, 1),
        ("xy", LAPTOP, 1.0, Theme::Light, fixtures::several_tones, 1),
        ("line", LAPTOP, 1.0, Theme::Dark, fixtures::several_tones, 2),
        (
            "line",
            LAPTOP,
            1.0,
            Theme::Light,
            fixtures::reversed_lead,
            2,
        ),
        (
            "line-large",
            large,
            1.0,
            Theme::Light,
            fixtures::several_tones,
            2,
        ),
        (
            "line-dense",
            LAPTOP,
            2.0,
            Theme::Dark,
            fixtures::several_tones,
            2,
        ),
        (
            "line-none",
            LAPTOP,
            1.0,
            Theme::Dark,
            fixtures::in_tolerance,
            2,
        ),
    ];
    for (name, size, scale, theme, fixture, faces) in cases {
        let mut stage = Stage::playing_in(size, scale, theme, fixture);
        stage.press(Key::Num3);
        for _ in 0..faces {
            stage.press(Key::V);
        }
        let name = format!("azimuth-{name}-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixtures::in_tolerance);
        stage.press(Key::Num3);
        stage.press(Key::F);
        stage.play(fixtures::slow_deck, 1.0);
        stage.press(Key::U);
        let name = format!("azimuth-directions-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
}

#[test]
fn the_first_page() {
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::empty(LAPTOP, 1.0, theme);
        stage.wait_for_listing();
        picture(
            &mut stage,
            &format!("first-page-{}", themed(theme)),
            &mut results,
        );
    }
}

/// A folder whose name is the same everywhere, for pictures in which it is read.
const LOGS: &str = "target/pictures-of-logs";

#[test]
fn the_run_in() {
    let mut results = SnapshotResults::new();
    let folder = std::path::Path::new(LOGS);
    std::fs::create_dir_all(folder).unwrap();
    let log = folder.join("2026-11-24-081500-utc-heron-3hc.log");
    run_in_story::write(&log);
    for (name, size, scale, theme) in [
        ("laptop", LAPTOP, 1.0, Theme::Dark),
        ("laptop", LAPTOP, 1.0, Theme::Light),
        ("large", vec2(1920.0, 1080.0), 1.0, Theme::Light),
        ("large", vec2(1920.0, 1080.0), 1.0, Theme::Dark),
        ("twice", vec2(640.0, 400.0), 2.0, Theme::Dark),
        ("dense", LAPTOP, 2.0, Theme::Light),
    ] {
        let mut stage = Stage::logging(size, scale, theme, folder, fixtures::in_tolerance);
        stage.press(Key::E);
        stage.wait_for_label("log 2026-11-24-081500-utc-heron-3hc");
        stage.settle();
        let panel = format!("panel-run-in-{name}-{}", themed(theme));
        picture(&mut stage, &panel, &mut results);
        stage.activate("log 2026-11-24-081500-utc-heron-3hc");
        stage.wait_for_label("Close (Esc)");
        stage.settle();
        picture(
            &mut stage,
            &format!("run-in-{name}-{}", themed(theme)),
            &mut results,
        );
    }
}

#[test]
fn an_unfinished_run_in() {
    let mut results = SnapshotResults::new();
    let folder = std::path::Path::new("target/pictures-of-unfinished-logs");
    std::fs::create_dir_all(folder).unwrap();
    run_in_story::write_unfinished(&folder.join("2026-11-24-081500-utc-heron-3hc.log"));
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::logging(LAPTOP, 1.0, theme, folder, fixtures::in_tolerance);
        stage.press(Key::E);
        stage.wait_for_label("Go on with it");
        stage.settle();
        let name = format!("panel-run-in-unfinished-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
}

#[test]
fn both_ends_of_the_tape() {
    let mut results = SnapshotResults::new();
    let folder = std::path::Path::new("target/no-logs");
    for (name, size, theme) in [
        ("laptop", LAPTOP, Theme::Dark),
        ("laptop", LAPTOP, Theme::Light),
        ("large", vec2(1920.0, 1080.0), Theme::Light),
    ] {
        let mut stage = Stage::logging(size, 1.0, theme, folder, fixtures::in_tolerance);
        stage.press(Key::E);
        stage.press(Key::E);
        let empty = format!("panel-ends-empty-{name}-{}", themed(theme));
        picture(&mut stage, &empty, &mut results);
        stage.click("take the start");
        stage.play(fixtures::slow_deck, 1.0);
        stage.click("take the middle");
        stage.click("take the end");
        let panel = format!("panel-ends-{name}-{}", themed(theme));
        picture(&mut stage, &panel, &mut results);
    }
}
