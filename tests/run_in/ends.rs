//! `measure --ends`: both ends of a tape, found in a recording.

use std::{f64::consts::TAU, path::Path, process::Command};

const RATE_HZ: u32 = 16_000;
const SECONDS: u32 = 80;

/// A side, cut short: the speed falls by 0.6 %, the delay goes from 5 to 25 µs, in a straight line; wow of 1 Hz.
fn write_side(path: &Path, falls_percent: f64) {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE_HZ,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut take = hound::WavWriter::create(path, spec).unwrap();
    let mut phase = 0.0_f64;
    let mut noise = 1_u32;
    for frame in 0..SECONDS * RATE_HZ {
        let at_s = f64::from(frame) / f64::from(RATE_HZ);
        let share = at_s / f64::from(SECONDS);
        let percent = 0.2 - falls_percent * share + 0.05 * (TAU * at_s).sin();
        let hz = 3150.0 * (1.0 + percent / 100.0);
        phase += TAU * hz / f64::from(RATE_HZ);
        for late in [0.0, TAU * hz * (5.0 + 20.0 * share) * 1e-6] {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let hiss = 1e-4 * (f64::from(noise) / f64::from(u32::MAX) - 0.5);
            take.write_sample((0.3 * (phase - late).sin() + hiss) as f32)
                .unwrap();
        }
    }
    take.finalize().unwrap();
}

fn measured(path: &Path, words: &[&str]) -> (Option<i32>, String) {
    let ended = Command::new(env!("CARGO_BIN_EXE_trimwatch"))
        .arg("measure")
        .arg(path)
        .args(["--tone", "3150", "--ends"])
        .args(words)
        .output()
        .unwrap();
    assert_eq!(String::from_utf8_lossy(&ended.stderr), "");
    let text = String::from_utf8(ended.stdout).unwrap();
    (ended.status.code(), text)
}

#[test]
fn a_side_that_slows_down_is_compared_at_three_places() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("side.wav");
    write_side(&path, 0.6);
    let (code, text) = measured(&path, &[]);
    assert_eq!(code, Some(0));
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    for word in ["start", "middle", "suggests", "common practice", "arc min"] {
        assert!(text.contains(word), "{word} in\n{text}");
    }
    let (_, json) = measured(&path, &["--format", "json"]);
    let shown: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(shown["schema"], "trimwatch.ends/1");
    let value = |place: usize, field: &str, what: &str| {
        let reading = &shown["ends"]["places"][place][1];
        reading[field][what].as_f64().unwrap()
    };
    // The value of a straight line in the middle of each stretch.
    for place in 0..3 {
        let reading = &shown["ends"]["places"][place][1];
        let middle_s =
            (reading["from_s"].as_f64().unwrap() + reading["to_s"].as_f64().unwrap()) / 2.0;
        let share = middle_s / f64::from(SECONDS);
        let speed = value(place, "speed_percent", "value");
        // Readings stand at the end of their five seconds.
        assert!(
            (speed - (0.2 - 0.6 * share)).abs() < 0.03,
            "{place}: {speed}"
        );
        let delay = value(place, "delay_us", "value");
        assert!(
            (delay - (5.0 + 20.0 * share)).abs() < 1.0,
            "{place}: {delay}"
        );
    }
    let differences = shown["ends"]["differences"].as_array().unwrap();
    let speed = differences
        .iter()
        .find(|one| one["of"] == "speed" && one["middle"] == false)
        .unwrap();
    assert_eq!(speed["significance"], "worth_a_look");
}

#[test]
fn an_even_side_is_told_as_even_and_a_short_one_as_short() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("side.wav");
    write_side(&path, 0.0);
    let (_, json) = measured(&path, &["--format", "json"]);
    let shown: serde_json::Value = serde_json::from_str(&json).unwrap();
    let differences = shown["ends"]["differences"].as_array().unwrap();
    let speed = differences.iter().filter(|one| one["of"] == "speed");
    for difference in speed {
        assert_ne!(difference["significance"], "worth_a_look", "{difference}");
    }
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 3]).unwrap();
    let (code, text) = measured(&path, &[]);
    assert_eq!(code, Some(1));
    assert!(text.contains("No readings for three stretches"), "{text}");
}
