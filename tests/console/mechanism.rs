//! `--deck`, `--as-found` and `--pictures`: the mechanism as text, as JSON and as pictures.

use super::{
    program::run,
    stage::{RATE, Stage},
};
use std::{f64::consts::TAU, fs, path::PathBuf};

/// A take of 20 s: capstan (6.06 Hz) and pinch roller (1.17 Hz, three orders), nothing else.
fn take(stage: &Stage, name: &str, roller_percent: f64) -> PathBuf {
    let lines = [
        (6.0638, 0.05),
        (1.1661, roller_percent),
        (2.3322, 0.5 * roller_percent),
        (3.4984, 0.2 * roller_percent),
    ];
    let mut noise = 7_u32;
    let samples: Vec<f32> = (0..(20.0 * RATE) as usize)
        .flat_map(|frame| {
            let t = frame as f64 / RATE;
            // The phase is the integral of 3150·(1 + Σ a·sin(2π·f·t)).
            let wow = lines.iter().map(|(f, percent)| {
                let a = percent / 100.0;
                -a / (TAU * f) * ((TAU * f * t).cos() - 1.0)
            });
            let tone = 0.3 * (TAU * 3150.0 * (t - wow.sum::<f64>())).sin();
            [0, 1].map(|_| {
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (tone + 2e-3 * (f64::from(noise) / f64::from(u32::MAX) - 0.5)) as f32
            })
        })
        .collect();
    stage.wav(name, 2, &samples)
}

const DECK: &str = r#"
name = "bench"
title = "A deck on the bench"
tape_speed_m_per_s = 0.047625
source = "calliper"
[[part]]
name = "capstan"
kind = "capstan"
diameter_mm = 2.5
[[part]]
name = "pinch roller"
kind = "pinch_roller"
diameter_mm = 13.0
[[part]]
name = "belt"
kind = "belt"
rate_hz = 4.4
"#;

#[test]
fn the_parts_are_told_as_text_and_as_json() {
    let stage = Stage::new();
    let take = take(&stage, "take.wav", 0.08);
    let deck = stage.file("deck.toml", DECK.as_bytes());
    let words = [
        "measure",
        take.to_str().unwrap(),
        "--tone",
        "3150",
        "--deck",
        deck.to_str().unwrap(),
    ];
    let text = run(words);
    text.assert_code(0);
    assert!(
        text.stdout.lines().all(|line| line.chars().count() <= 80),
        "{}",
        text.stdout
    );
    for what in [
        "A deck on the bench",
        "pinch roller, order 2",
        "capstan",
        "random floor",
        "belt: Not seen",
        "firm",
    ] {
        assert!(text.stdout.contains(what), "{what} in\n{}", text.stdout);
    }
    let json = run(words.into_iter().chain(["--format", "json"])).json();
    let components = json["flutter"]["components"].as_array().unwrap();
    let named = |rate: f64| {
        components
            .iter()
            .find(|c| (c["rate_hz"].as_f64().unwrap() - rate).abs() < 0.02)
            .map(|c| {
                (
                    c["part"].as_str().unwrap_or(""),
                    c["order"].as_u64().unwrap_or(0),
                )
            })
    };
    assert_eq!(named(6.0638), Some(("capstan", 1)));
    assert_eq!(named(2.3322), Some(("pinch roller", 2)));
    let mechanism = &json["mechanism"];
    assert_eq!(mechanism["mechanism"], "A deck on the bench");
    let rows = mechanism["rows"].as_array().unwrap();
    let shares: f64 = rows.iter().map(|row| row["share"].as_f64().unwrap()).sum();
    assert!((shares - 1.0).abs() < 1e-9);
    assert_eq!(mechanism["parts"].as_array().unwrap().len(), 3);
    assert!(
        mechanism["parts"][2]["found_hz"].is_null(),
        "the belt is silent"
    );
}

#[test]
fn without_a_deck_nothing_is_said_of_one() {
    let stage = Stage::new();
    let take = stage.tone("take.wav", 8.0);
    let json = run(["measure", take.to_str().unwrap(), "--format", "json"]).json();
    assert!(json.get("mechanism").is_none());
    assert!(json["flutter"]["components"][0]["part"].is_null());
}

#[test]
fn two_takes_are_compared_and_pictures_drawn() {
    let stage = Stage::new();
    let found = take(&stage, "found.wav", 0.2);
    let left = take(&stage, "left.wav", 0.05);
    let deck = stage.file("deck.toml", DECK.as_bytes());
    let pictures = stage.path("pictures");
    let ended = run([
        "measure",
        left.to_str().unwrap(),
        "--tone",
        "3150",
        "--deck",
        deck.to_str().unwrap(),
        "--as-found",
        found.to_str().unwrap(),
        "--pictures",
        pictures.to_str().unwrap(),
    ]);
    ended.assert_code(0);
    let text = &ended.stdout;
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    assert!(
        text.contains("Better: weighted rms") && text.contains("better -75 %"),
        "{text}"
    );
    assert!(
        !text.contains("worse -") && !text.contains("Worse:"),
        "{text}"
    );
    for name in [
        "spectrum-speed",
        "once-round-pinch-roller-speed",
        "once-round-capstan-speed",
    ] {
        let svg = fs::read_to_string(pictures.join(name).with_extension("svg")).unwrap();
        assert!(svg.starts_with("<svg") && svg.contains("pinch roller") | svg.contains("capstan"));
        let png = fs::read(pictures.join(name).with_extension("png")).unwrap();
        assert!(png.starts_with(b"\x89PNG") && png.len() > 5_000, "{name}");
    }
}

#[test]
fn a_deck_that_cannot_be_used_is_refused_in_one_line() {
    let stage = Stage::new();
    let take = stage.tone("take.wav", 1.0);
    let take = take.to_str().unwrap();
    run(["measure", take, "--deck", "no-such-deck"])
        .assert_refused(&["no-such-deck", "dual-capstan-cassette"]);
    let wrong = stage.file("wrong.toml", DECK.replace("13.0", "-13.0").as_bytes());
    let wrong = wrong.to_str().unwrap();
    run(["measure", take, "--deck", wrong]).assert_refused(&[
        "wrong.toml",
        "line 13",
        "diameter_mm",
        "-13",
    ]);
    run([
        "measure",
        take,
        "--deck",
        "plover-r4",
        "--tape-format",
        "cassette-stereo",
    ])
    .assert_refused(&["plover-r4", "0.1905", "cassette-stereo"]);
    run(["watch", "--virtual-deck", "plover", "--deck", take]).assert_refused(&["take.wav"]);
    run([
        "measure",
        take,
        "--deck",
        "finch-2h",
        "--as-found",
        "gone.wav",
    ])
    .assert_refused(&["gone.wav"]);
}
