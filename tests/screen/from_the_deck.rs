//! From where the deck is worked on: what must be read without going nearer is large enough for the eye.

use crate::{
    fixtures::{self, Fixture},
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Shape, Theme};
use trimwatch::screen::sight::{COMFORTABLE_ARCMIN, LEAST_ARCMIN, PANEL, digit_arcmin};

const VIEWS: [(&str, Key, &str); 4] = [
    ("Speed", Key::Num1, "%"),
    ("Flutter", Key::Num2, "%"),
    ("Azimuth", Key::Num3, "arcmin"),
    ("Level", Key::Num4, "dB"),
];

/// Every text of the last frame, with the size it is set in.
fn texts(stage: &Stage) -> Vec<(String, f32)> {
    fn gather(shape: &Shape, into: &mut Vec<(String, f32)>) {
        match shape {
            Shape::Vec(shapes) => shapes.iter().for_each(|shape| gather(shape, into)),
            Shape::Text(text) => {
                let job = &text.galley.job;
                if let Some(section) = job.sections.first() {
                    into.push((job.text.clone(), section.format.font_id.size));
                }
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    for clipped in &stage.harness.output().shapes {
        gather(&clipped.shape, &mut found);
    }
    found
}

/// The largest size in which a text that fits is set.
fn size_of(stage: &Stage, what: &str, fits: impl Fn(&str) -> bool) -> f32 {
    let texts = texts(stage);
    let largest = texts
        .iter()
        .filter(|(text, _)| fits(text))
        .map(|(_, size)| *size)
        .reduce(f32::max);
    largest.unwrap_or_else(|| panic!("{what} is not drawn: {texts:?}"))
}

/// Number, unit, state and what to do, of every view, with the cautions still on show.
fn assert_legible(fixture: Fixture, theme: Theme) {
    assert_eq!([LAPTOP.x, LAPTOP.y], PANEL);
    let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixture);
    for (name, key, unit) in VIEWS {
        stage.press(key);
        let spoken = stage.reading(name);
        let (state, words) = spoken.split_once(": ").expect("state and words");
        let state = state.rsplit(", ").next().expect("a state").to_uppercase();
        let is_number = |text: &str| {
            let digits = text.trim_start_matches(['+', '−', ' ']);
            !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit() || c == '.')
        };
        let is_words = |text: &str| text.replace('\n', " ") == words;
        let found = [
            (
                "number",
                size_of(&stage, "number", is_number),
                COMFORTABLE_ARCMIN,
            ),
            (
                "unit",
                size_of(&stage, "unit", |text| text == unit),
                LEAST_ARCMIN,
            ),
            (
                "state",
                size_of(&stage, "state", |text| text.starts_with(&state)),
                LEAST_ARCMIN,
            ),
            ("words", size_of(&stage, "words", is_words), LEAST_ARCMIN),
        ];
        for (what, size, least) in found {
            let arcmin = digit_arcmin(size);
            assert!(
                arcmin >= least,
                "{name}, {what}: {arcmin:.1}' at {size} points"
            );
        }
    }
}

#[test]
fn number_unit_state_and_words_of_every_view_are_read_at_one_and_a_half_metres() {
    assert_legible(fixtures::fast_deck, Theme::Dark);
    assert_legible(fixtures::in_tolerance, Theme::Light);
    assert_legible(fixtures::slow_deck, Theme::Dark);
}

#[test]
fn the_seconds_it_has_been_in_are_counted_as_large_as_the_state() {
    let mut stage = Stage::playing(fixtures::in_tolerance);
    for (seconds, counted) in [(10.0, "IN 11 s"), (7.0, "IN 18 s")] {
        stage.play(fixtures::in_tolerance, seconds);
        let size = size_of(&stage, counted, |text| text == counted);
        assert!(digit_arcmin(size) >= LEAST_ARCMIN);
    }
    let since = stage.heard(eframe::egui::accesskit::Role::Meter, "Speed in for");
    assert_eq!(since, "18 s");
}
