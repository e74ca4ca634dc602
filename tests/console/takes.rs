//! `virtual`: the take is the one asked for, and the same every time.

use super::{program::run, stage::Stage};
use std::{fs, path::Path};

fn take(out: &Path, options: &[&str]) {
    let mut words = vec!["virtual", "heron-as-left", "--out", out.to_str().unwrap()];
    words.extend(options);
    let ended = run(words);
    ended.assert_code(0);
    assert!(ended.stdout.contains("Heron 3HC"), "{}", ended.stdout);
}

#[test]
fn length_rate_and_bits_are_those_asked_for() {
    let stage = Stage::new();
    let out = stage.path("take.wav");
    for (bits, stored, format) in [
        ("16", 16, hound::SampleFormat::Int),
        ("24", 24, hound::SampleFormat::Int),
        ("32f", 32, hound::SampleFormat::Float),
    ] {
        take(
            &out,
            &["--seconds", "0.5", "--rate", "44100", "--bits", bits],
        );
        let wav = hound::WavReader::open(&out).unwrap();
        let spec = wav.spec();
        assert_eq!((spec.bits_per_sample, spec.sample_format), (stored, format));
        assert_eq!((spec.sample_rate, spec.channels), (44_100, 2));
        assert_eq!(wav.duration(), 22_050);
    }
}

#[test]
fn the_same_deck_gives_the_same_take() {
    let stage = Stage::new();
    let [one, other] = ["one.wav", "other.wav"].map(|name| stage.path(name));
    take(&one, &["--seconds", "0.5"]);
    take(&other, &["--seconds", "0.5"]);
    assert_eq!(fs::read(one).unwrap(), fs::read(other).unwrap());
}

#[test]
fn a_take_measures_as_its_deck_was_made() {
    let stage = Stage::new();
    let out = stage.path("take.wav");
    take(&out, &["--seconds", "40"]);
    let ended = run([
        "measure",
        out.to_str().unwrap(),
        "--tape",
        "speed-3150",
        "--format",
        "json",
    ]);
    ended.assert_code(0);
    let readings = ended.json();
    let deviation = readings["speed"]["deviation_percent"].as_f64().unwrap();
    // The deck as left runs within 0.05 % of its nominal speed.
    assert!(deviation.abs() < 0.05, "{deviation}");
}
