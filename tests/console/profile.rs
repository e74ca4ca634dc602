//! `trimwatch profile`: each step on recordings and on the simulated deck, what is kept, and what is refused.

use crate::{
    program::{Ended, program, width},
    stage::{RATE, Stage},
};
use std::{f64::consts::TAU, fs, path::PathBuf};

/// A user whose folders are the test's own.
struct User {
    stage: Stage,
}

impl User {
    fn new() -> Self {
        Self {
            stage: Stage::new(),
        }
    }

    fn run(&self, arguments: &[&str]) -> Ended {
        let home = self.stage.path("home");
        let output = program()
            .args(arguments)
            .env("HOME", &home)
            .env("XDG_DATA_HOME", home.join("data"))
            .output();
        Ended::of(output.unwrap())
    }

    fn profile(&self, name: &str) -> PathBuf {
        self.stage
            .path(&format!("home/data/trimwatch/interfaces/{name}.toml"))
    }

    /// A take of pieces of `seconds`, one after another.
    fn take(&self, name: &str, seconds: f64, pieces: &[&dyn Fn(f64) -> [f64; 2]]) -> String {
        let mut noise = 1_u32;
        let samples: Vec<f32> = pieces
            .iter()
            .flat_map(|piece| (0..(seconds * RATE) as usize).map(move |i| piece(i as f64 / RATE)))
            .flat_map(|frame| {
                frame.map(|x| {
                    noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    (x + 3e-5 * (f64::from(noise) / f64::from(u32::MAX) - 0.5)) as f32
                })
            })
            .collect();
        self.stage.wav(name, 2, &samples).display().to_string()
    }
}

fn sine(hz: f64, t: f64) -> f64 {
    0.25 * (TAU * hz * t).sin()
}

/// Through a Y lead into inputs 7.3 µs and 0.42 dB apart.
fn y_lead(hz: f64) -> impl Fn(f64) -> [f64; 2] {
    move |t| [10f64.powf(0.42 / 20.0) * sine(hz, t), sine(hz, t - 7.3e-6)]
}

#[test]
fn a_profile_is_made_step_by_step_kept_shown_applied_and_deleted() {
    let user = User::new();
    let left_alone = |t: f64| [sine(400.0, t), 0.0];
    let lead = user.take(
        "lead.wav",
        2.0,
        &[
            &left_alone,
            &y_lead(400.0),
            &y_lead(3150.0),
            &y_lead(10_000.0),
        ],
    );
    let shown = user.run(&["profile", "y-lead", "--recording", &lead, "--name", "bench"]);
    shown.assert_code(0);
    for words in ["+7.300", "+0.420", "straight", "done", "kept as", "bench"] {
        assert!(shown.stdout.contains(words), "{words} in\n{}", shown.stdout);
    }
    let known = user.take("known.wav", 4.0, &[&|t| [sine(400.0, t); 2]]);
    let level = [
        "profile",
        "level",
        "--recording",
        &known,
        "--volts",
        "0.5",
        "--frequency",
        "400",
        "--name",
        "bench",
    ];
    // 0.25 of full scale is 0.5 V: full scale is 2 V rms of a sine.
    let shown = user.run(&level);
    assert!(
        shown.assert_code(0).stdout.contains("2.0000 V rms"),
        "{}",
        shown.stdout
    );
    let shorted = user.take("shorted.wav", 6.0, &[&|_| [0.0; 2]]);
    let shown = user.run(&[
        "profile",
        "noise",
        "--recording",
        &shorted,
        "--name",
        "bench",
    ]);
    assert!(
        shown.assert_code(0).stdout.contains("dBFS"),
        "{}",
        shown.stdout
    );
    for into in [0, 1] {
        let driven = move |t: f64| {
            let mut both = [1e-4 * sine(1000.0, t); 2];
            both[1 - into] = sine(1000.0, t);
            both
        };
        let driven = user.take("driven.wav", 3.0, &[&driven]);
        let shown = user.run(&[
            "profile",
            "crosstalk",
            "--recording",
            &driven,
            "--name",
            "bench",
        ]);
        assert!(
            shown.assert_code(0).stdout.contains("-80.0 dB"),
            "{}",
            shown.stdout
        );
    }
    let shown = user.run(&["profile", "show", "bench"]);
    let text = &shown.assert_code(0).stdout;
    for words in [
        "+7.300",
        "2.0000 V rms",
        "today",
        "A-weighted",
        "not measured",
        "right into left           -80.0 dB",
    ] {
        assert!(text.contains(words), "{words} in\n{text}");
    }
    assert!(width(text) <= 80, "{text}");
    let listed = user.run(&["profile", "show"]);
    assert!(
        listed
            .assert_code(0)
            .stdout
            .contains("inputs, level, noise, crosstalk")
    );

    let deck = user.take("deck.wav", 4.0, &[&y_lead(3150.0)]);
    let json = |arguments: &[&str]| {
        let measured = user.run(arguments);
        measured.assert_code(0).json()
    };
    let plain = json(&["measure", &deck, "--format", "json"]);
    let corrected = json(&["measure", &deck, "--format", "json", "--profile", "bench"]);
    let delay = |readings: &serde_json::Value| readings["phase"]["delay_us"].as_f64().unwrap();
    let balance = |readings: &serde_json::Value| readings["level"]["balance_db"].as_f64().unwrap();
    assert!((delay(&plain) - 7.3).abs() < 0.02 && delay(&corrected).abs() < 0.02);
    assert!((balance(&plain) - 0.42).abs() < 0.01 && balance(&corrected).abs() < 0.01);
    let by_file = user.profile("bench").display().to_string();
    let sheet = user.run(&["measure", &deck, "--profile", &by_file]);
    assert!(sheet.assert_code(0).stdout.contains("interface profile"));
    assert!(width(&sheet.stdout) <= 80);

    user.run(&["profile", "delete", "bench"]).assert_code(0);
    user.run(&["profile", "show", "bench"])
        .assert_refused(&["'bench'", "holds none yet"]);
    user.run(&["profile", "show"]).assert_code(1);
}

#[test]
fn swapped_leads_are_found() {
    let user = User::new();
    let right_alone = |t: f64| [0.0, sine(400.0, t)];
    let lead = user.take(
        "lead.wav",
        2.0,
        &[&right_alone, &y_lead(400.0), &y_lead(6300.0)],
    );
    let shown = user.run(&["profile", "y-lead", "--recording", &lead]);
    let text = &shown.assert_code(0).stdout;
    assert!(text.contains("swapped"), "{text}");
    assert!(
        text.contains("--name NAME keeps it"),
        "a recording is no interface: {text}"
    );
}

#[test]
fn a_measurement_that_does_not_stand_ends_with_1_and_says_what_to_do() {
    let user = User::new();
    let one = user.take("one.wav", 3.0, &[&|t| [sine(400.0, t), 0.0]]);
    for (step, words) in [
        ("y-lead", "plug the other in too"),
        ("noise", "short both inputs"),
    ] {
        let shown = user.run(&["profile", step, "--recording", &one, "--name", "bench"]);
        let text = &shown.assert_code(1).stdout;
        // The sentence may be wrapped.
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{text}");
        assert!(!user.profile("bench").exists());
    }
    let deck = user.run(&[
        "profile",
        "clock",
        "--virtual-deck",
        "finch-as-left",
        "--seconds",
        "1",
    ]);
    assert!(
        deck.assert_code(1).stdout.contains("too little time"),
        "{}",
        deck.stdout
    );
}

#[test]
fn the_simulated_deck_has_steps_too() {
    // Its two channels are alike but for a delay: nearly a Y lead, and it plays.
    let user = User::new();
    let arguments = [
        "profile",
        "noise",
        "--virtual-deck",
        "finch-as-left",
        "--seconds",
        "5",
    ];
    let shown = user.run(&arguments);
    assert!(
        shown.assert_code(1).stdout.contains("something comes in"),
        "{}",
        shown.stdout
    );
}

#[test]
fn what_does_not_fit_is_one_line() {
    let user = User::new();
    let tone = user.take("tone.wav", 3.0, &[&|t| [sine(400.0, t); 2]]);
    let level = |volts: &str, hz: &str| {
        user.run(&[
            "profile",
            "level",
            "--recording",
            &tone,
            "--volts",
            volts,
            "--frequency",
            hz,
        ])
    };
    level("1", "1000").assert_refused(&["400.0 Hz", "1000 Hz"]);
    level("0", "400").assert_refused(&["--volts '0'"]);
    user.run(&["profile", "clock", "--recording", &tone])
        .assert_refused(&["tone.wav", "live input"]);
    user.run(&["profile", "import", &tone])
        .assert_refused(&["tone.wav"]);
    user.run(&["profile", "delete", "../x"])
        .assert_refused(&["'../x'"]);
    user.run(&["measure", &tone, "--profile", "none"])
        .assert_refused(&["'none'"]);
    user.run(&["profile", "y-lead", "--recording", &tone, "--name", "a/b"])
        .assert_refused(&["'a/b'", "letters"]);
    let other_rate = user
        .stage
        .file("rate.toml", b"device = 'x'\nsample_rate_hz = 96000\n");
    let other_rate = other_rate.display().to_string();
    user.run(&["measure", &tone, "--profile", &other_rate])
        .assert_refused(&["96000 Hz", "48000 Hz"]);
    let damaged = user.stage.file(
        "bad.toml",
        b"device = 'x'\nsample_rate_hz = 48000\nskew = 1\n",
    );
    let damaged = damaged.display().to_string();
    user.run(&["measure", &tone, "--profile", &damaged])
        .assert_refused(&["bad.toml", "line 3", "key skew"]);
}

#[test]
fn a_tape_of_ones_own_is_chosen_by_name_or_file() {
    let user = User::new();
    let tape = "[[tape]]\nname = \"own-3150\"\ntitle = \"My speed tape\"\ntone_hz = 3150.0\n\
                frequency_correction_percent = 0.25\nsource = \"its certificate\"\n";
    let folder = user.stage.path("home/data/trimwatch/tapes");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("own.toml"), tape).unwrap();
    let take = user.take("take.wav", 4.0, &[&|t| [sine(3150.0, t); 2]]);
    let by_file = user
        .stage
        .file("file.toml", tape.as_bytes())
        .display()
        .to_string();
    for name in ["own-3150", &by_file] {
        let readings = user.run(&["measure", &take, "--tape", name, "--format", "json"]);
        let readings = readings.assert_code(0).json();
        let reference = readings["speed"]["reference_hz"].as_f64().unwrap();
        assert!((reference - 3157.875).abs() < 1e-6, "{reference}");
    }
    fs::write(folder.join("own.toml"), tape.replace("3150.0", "3.0")).unwrap();
    user.run(&["measure", &take, "--tape", "own-3150"])
        .assert_refused(&[
            "own.toml",
            "line 4",
            "key tone_hz",
            "3 is outside 20 to 40000 Hz",
        ]);
}
