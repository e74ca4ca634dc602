//! What a screen reader finds in each view: every reading has a name and a value, and the value is that of the moment.

use crate::{
    fixtures, heard_deck,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, accesskit::Role};
use egui_kittest::kittest::{NodeT, Queryable};
use std::collections::BTreeMap;
use trimwatch::readings::NeedleWow;

const OF_READINGS: [Role; 5] = [Role::Meter, Role::Status, Role::Image, Role::Tab, Role::Row];

/// Name and value of every reading on the screen.
fn readings(stage: &Stage) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for role in OF_READINGS {
        for node in stage.harness.query_all_by_role(role) {
            let name = node.accesskit_node().label().unwrap_or_default();
            assert!(!name.is_empty(), "a {role:?} without a name");
            let value = node.value().unwrap_or_default();
            assert!(!value.is_empty(), "{role:?} '{name}' has no value");
            found.insert(format!("{role:?} {name}"), value);
        }
    }
    found
}

#[test]
fn every_reading_of_every_view_has_a_name_and_a_value_that_is_live() {
    for (key, live) in [
        (
            Key::Num1,
            &[
                "Meter Speed reading",
                "Status Speed state",
                "Image Speed scale",
                "Meter needle",
                "Meter mean since reset",
                "Meter uncertainty (k = 2)",
                "Meter least to greatest ¼ s",
                "Meter trend, a minute",
                "Meter peak to peak, last turn",
                "Meter measured",
                "Meter reference",
                "Tab Speed",
            ][..],
        ),
        (
            Key::Num2,
            &[
                "Meter Flutter reading",
                "Status Flutter state",
                "Image Flutter scale",
                "Image speed wave",
                "Tab Flutter",
            ],
        ),
        (
            Key::Num3,
            &[
                "Meter Azimuth reading",
                "Status Azimuth state",
                "Image Azimuth scale",
                "Meter mean since reset",
                "Meter mean delay",
                "Tab Azimuth",
            ],
        ),
        (
            Key::Num4,
            &[
                "Meter Level reading",
                "Status Level state",
                "Image Level scale",
                "Meter left level",
                "Meter right level",
                "Tab Level",
            ],
        ),
    ] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, Theme::Dark, fixtures::fast_deck);
        stage.press(key);
        let fast = readings(&stage);
        for name in live {
            assert!(fast.contains_key(*name), "{name} is missing: {fast:#?}");
        }
        stage.play(fixtures::no_tone, 2.0);
        let silent = readings(&stage);
        stage.play(fixtures::in_tolerance, 6.0);
        let good = readings(&stage);
        for name in live {
            let (before, after) = (&fast[*name], &good[*name]);
            // The flutter scale is at its narrowest for both.
            let same = [
                "reference",
                "trend",
                "uncertainty",
                "needle",
                "Flutter scale",
            ];
            let may_stay = same.iter().any(|word| name.contains(word));
            assert!(before != after || may_stay, "{name} stays at '{before}'");
        }
        let reading = live[0];
        if key != Key::Num4 {
            assert!(
                silent[reading].starts_with("no tone"),
                "{}",
                silent[reading]
            );
        }
    }
}

#[test]
fn the_speed_view_says_what_became_of_the_wow_and_whose_turn_the_swing_is_of() {
    let mut stage = Stage::playing(fixtures::fast_deck);
    for (wow, words) in [
        (NeedleWow::Learning, "learning the wow"),
        (NeedleWow::Removed, "wow removed"),
        (NeedleWow::None, "no wow"),
        (NeedleWow::DoesNotRepeat, "wow does not repeat, not removed"),
    ] {
        let mut readings = fixtures::fast_deck(50.0);
        readings.speed.needle.wow = wow;
        stage.publish(readings);
        stage.settle();
        assert_eq!(stage.heard(Role::Meter, "needle"), words);
    }
    let scale = stage.heard(Role::Image, "Speed scale");
    let swing = "swing 0.29 % in one turn of the belt (0.8 s)";
    assert!(scale.starts_with("±3 percent, good within 0.2"), "{scale}");
    assert!(scale.ends_with(swing), "{scale}");
    let mut readings = fixtures::fast_deck(50.5);
    readings.speed.last_turn.part = None;
    stage.publish(readings);
    stage.settle();
    let scale = stage.heard(Role::Image, "Speed scale");
    assert!(scale.ends_with("in 0.8 s (no mechanism chosen)"), "{scale}");
}

#[test]
fn the_mechanism_has_its_answer_and_its_lines_by_name() {
    let stage = Stage::servicing(LAPTOP, Theme::Dark, heard_deck::worn_belt);
    let found = readings(&stage);
    let answer = &found["Status Mechanism answer"];
    assert!(answer.contains("belt"), "{answer}");
    assert!(found.contains_key("Tab Mechanism"));
}
