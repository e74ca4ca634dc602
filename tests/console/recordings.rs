//! Recordings that can be read but say little, or lie: a complete output and no panic.

use super::{
    format::assert_schema,
    program::{Ended, run},
    stage::{Header, RATE, Stage},
};
use rand::{RngExt as _, SeedableRng as _};
use std::path::Path;

fn measured(path: &Path) -> Ended {
    run([
        "measure".as_ref(),
        path.as_os_str(),
        "--format".as_ref(),
        "json".as_ref(),
    ])
}

fn notices(ended: &Ended) -> Vec<String> {
    ended.json()["notices"]
        .as_array()
        .unwrap()
        .iter()
        .map(|notice| notice["code"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn a_single_sample_gives_no_reading_and_says_so() {
    let stage = Stage::new();
    for channels in [1, 2] {
        let samples = vec![0.5; usize::from(channels)];
        let ended = measured(&stage.wav("one.wav", channels, &samples));
        ended.assert_code(1);
        let readings = ended.json();
        assert_schema(&readings);
        assert!(readings["speed"]["deviation_percent"].is_null());
        assert_ne!(readings["speed"]["status"], "ok");
        assert_ne!(readings["level"]["status"], "ok");
    }
}

#[test]
fn silence_gives_no_reading_and_says_so() {
    let stage = Stage::new();
    let ended = measured(&stage.wav("silence.wav", 2, &vec![0.0; 10 * 48_000]));
    ended.assert_code(1);
    let readings = ended.json();
    assert_schema(&readings);
    for group in ["tone", "speed", "flutter", "level", "phase"] {
        assert_eq!(readings[group]["status"], "no signal", "{group}");
    }
}

#[test]
fn samples_that_are_no_numbers_are_told_and_stay_out_of_the_readings() {
    let stage = Stage::new();
    let tone = std::fs::read(stage.tone("tone.wav", 12.0)).unwrap();
    let wrong = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX];
    for (name, wrong) in ["nan.wav", "inf.wav", "minus-inf.wav", "huge.wav"]
        .iter()
        .zip(wrong)
    {
        let mut bytes = tone.clone();
        bytes[400_044..400_048].copy_from_slice(&wrong.to_le_bytes());
        let ended = measured(&stage.file(name, &bytes));
        assert!(matches!(ended.code, Some(0 | 1)), "{}", ended.stderr);
        assert_eq!(ended.stderr, "");
        assert_schema(&ended.json());
        if !wrong.is_finite() {
            assert!(
                notices(&ended).contains(&"bad_samples".to_owned()),
                "{name}"
            );
        }
    }
    let ended = measured(&stage.wav("all-nan.wav", 2, &vec![f32::NAN; 96_000]));
    ended.assert_code(1);
    assert_schema(&ended.json());
}

#[test]
fn a_recording_cut_short_is_read_up_to_there_and_called_damaged() {
    let stage = Stage::new();
    let whole = std::fs::read(stage.tone("tone.wav", 20.0)).unwrap();
    let ended = measured(&stage.file("cut.wav", &whole[..whole.len() / 2 + 3]));
    ended.assert_code(0);
    let readings = ended.json();
    let seconds = readings["source"]["seconds"].as_f64().unwrap();
    assert!((seconds - 10.0).abs() < 0.01, "{seconds}");
    assert!(notices(&ended).contains(&"damaged_recording".to_owned()));
}

#[test]
fn a_header_that_lies_about_its_sizes_is_not_believed() {
    let stage = Stage::new();
    let samples = vec![0.1_f32; 2000];
    let truth = Header::float(2, samples.len());
    let lies: [fn(&mut Header); 6] = [
        |header| header.data_bytes = u32::MAX,
        |header| header.data_bytes = 0,
        |header| header.riff_bytes = 0,
        |header| header.frame_bytes = 0,
        |header| header.frame_bytes = 999,
        |header| header.channels = 65_535,
    ];
    for (index, lie) in lies.into_iter().enumerate() {
        let mut header = truth.clone();
        lie(&mut header);
        assert_ends_well(&measured(
            &stage.file(&format!("lie-{index}.wav"), &header.with(&samples)),
        ));
    }
}

#[test]
fn no_header_makes_it_panic() {
    let stage = Stage::new();
    let samples = vec![0.1_f32; 200];
    let truth = Header::float(2, samples.len()).with(&samples);
    let mut chance = rand_pcg::Pcg64Mcg::seed_from_u64(14);
    for round in 0..60 {
        let mut bytes = truth.clone();
        for _ in 0..chance.random_range(1..4) {
            let at = chance.random_range(0..44);
            bytes[at] = chance.random();
        }
        let ended = measured(&stage.file(&format!("round-{round}.wav"), &bytes));
        assert_ends_well(&ended);
    }
}

/// Read or refused, but in order.
fn assert_ends_well(ended: &Ended) {
    match ended.code {
        Some(0 | 1) => {
            assert_eq!(ended.stderr, "");
            assert_schema(&ended.json());
        }
        _ => {
            ended.assert_refused(&[]);
        }
    }
}

#[test]
fn one_channel_gives_speed_and_level_and_says_why_there_is_no_phase() {
    let stage = Stage::new();
    let path = stage.tone("tone.wav", 20.0);
    let ended = run([
        "measure".as_ref(),
        path.as_os_str(),
        "--channels".as_ref(),
        "2".as_ref(),
        "--format".as_ref(),
        "json".as_ref(),
    ]);
    ended.assert_code(0);
    let readings = ended.json();
    assert_schema(&readings);
    assert_eq!(readings["source"]["channels"], 1);
    assert_eq!(readings["speed"]["status"], "ok");
    assert_eq!(readings["level"]["status"], "ok");
    assert_eq!(readings["phase"]["status"], "one channel only");
}

#[test]
fn a_good_take_gives_every_reading_as_it_was_made() {
    let stage = Stage::new();
    let ended = measured(&stage.tone("tone.wav", 30.0));
    ended.assert_code(0);
    let readings = ended.json();
    assert_schema(&readings);
    let near = |path: &str, expected: f64, within: f64| {
        let value = readings.pointer(path).and_then(serde_json::Value::as_f64);
        let value = value.unwrap_or_else(|| panic!("{path}: {readings:#}"));
        assert!((value - expected).abs() <= within, "{path}: {value}");
    };
    near("/source/seconds", 30.0, 1.0 / RATE);
    near("/speed/deviation_percent", 0.0, 0.002);
    near("/flutter/weighted/rms_percent", 0.0707, 0.0015);
    near("/level/left/rms_dbfs", -10.0, 0.02);
    near("/level/balance_db", 0.0, 0.01);
    near("/phase/delay_us", 0.0, 0.02);
}
