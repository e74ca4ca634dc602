//! Bad usage and unreadable input: exit code 2 and one clear line that carries the offending value.

use super::{
    program::{program, run},
    stage::{Header, Stage, deck_with},
};
use std::process::Stdio;

#[test]
fn words_that_make_no_sense_are_named() {
    for (words, named) in [
        (&["listen"][..], &["listen", "watch"][..]),
        (&["measure"], &["RECORDING", "missing"]),
        (
            &["measure", "a.wav", "--format", "xml"],
            &["--format", "xml", "json"],
        ),
        (
            &["measure", "a.wav", "--tone", "3 kHz"],
            &["--tone", "3 kHz", "Hz"],
        ),
        (
            &["measure", "a.wav", "--channels", "0,1"],
            &["--channels", "0,1"],
        ),
        (&["watch", "--seconds", "-3"], &["-3"]),
        (&["watch", "--seconds", "nan"], &["--seconds", "nan"]),
        (&["watch", "--rate", "7999"], &["--rate", "7999", "8000"]),
        (
            &["watch", "--input", "x", "--virtual-deck", "y"],
            &["--input", "--virtual-deck"],
        ),
        (&["watch", "--sample-format", "i12"], &["i12", "i24"]),
        (&["virtual", "plover"], &["--out"]),
        (
            &["virtual", "plover", "--out", "t.wav", "--bits", "8"],
            &["--bits", "8", "24"],
        ),
        (&["--rate", "96000"], &["--rate", "--input"]),
    ] {
        run(words).assert_refused(named);
    }
}

#[test]
fn names_of_the_tables_that_do_not_exist_are_answered_with_those_that_do() {
    run(["measure", "a.wav", "--tape", "speed-9"]).assert_refused(&["speed-9", "speed-3150"]);
    run(["measure", "a.wav", "--tape-format", "wire"]).assert_refused(&["wire", "cassette-stereo"]);
    run(["watch", "--virtual-deck", "no-such-deck"])
        .assert_refused(&["no-such-deck", "finch-as-found"]);
}

#[test]
fn what_is_no_recording_is_refused_by_name() {
    let stage = Stage::new();
    let mut no_channels = Header::float(2, 4);
    no_channels.channels = 0;
    let mut no_rate = Header::float(2, 4);
    no_rate.sample_rate_hz = 0;
    let mut odd_bits = Header::float(2, 4);
    odd_bits.bits = 13;
    let samples = [0.1_f32; 4];
    for (name, bytes) in [
        ("empty.wav", vec![]),
        ("text.wav", b"this is a letter, not a recording\n".to_vec()),
        ("riff-only.wav", b"RIFF\x24\0\0\0WAVE".to_vec()),
        (
            "header-cut.wav",
            Header::float(2, 4).with(&[])[..30].to_vec(),
        ),
        ("no-samples.wav", Header::float(2, 0).with(&[])),
        ("no-channels.wav", no_channels.with(&samples)),
        ("no-rate.wav", no_rate.with(&samples)),
        ("odd-bits.wav", odd_bits.with(&samples)),
        ("header-cut.flac", b"fLaC\0\0\0\x22".to_vec()),
        ("header-cut.ogg", b"OggS\0\x02".to_vec()),
    ] {
        let path = stage.file(name, &bytes);
        let path = path.to_str().unwrap();
        run(["measure", path]).assert_refused(&[name]);
        run(["watch", "--recording", path]).assert_refused(&[name]);
    }
}

#[test]
fn paths_that_lead_to_no_file_are_refused() {
    let stage = Stage::new();
    let missing = stage.path("missing.wav");
    let folder = stage.path("");
    run(["measure".as_ref(), missing.as_os_str()]).assert_refused(&["missing.wav", "no such file"]);
    run(["measure".as_ref(), folder.as_os_str()]).assert_refused(&["folder"]);
    let out = stage.path("no-folder/take.wav");
    run([
        "virtual".as_ref(),
        "plover".as_ref(),
        "--out".as_ref(),
        out.as_os_str(),
    ])
    .assert_refused(&["take.wav"]);
}

#[test]
fn a_file_name_with_a_line_end_still_makes_one_line() {
    run(["measure", "two\nlines\x1b[31m.wav"]).assert_refused(&["two lines"]);
}

#[test]
fn a_channel_or_a_tone_the_recording_does_not_have_is_refused() {
    let stage = Stage::new();
    let path = stage.tone("tone.wav", 0.1);
    let path = path.to_str().unwrap();
    run(["measure", path, "--channels", "3,4"]).assert_refused(&["tone.wav", "channel 3"]);
    run(["measure", path, "--tone", "24000"]).assert_refused(&["24000", "48000"]);
}

#[test]
fn an_input_or_a_rate_that_does_not_exist_is_refused() {
    run(["watch", "--input", "no such input"]).assert_refused(&["no such input"]);
    // Whether there is an input or not: it is not opened at this rate.
    run(["watch", "--rate", "12000", "--seconds", "1"]).assert_refused(&[]);
    run(["watch", "--virtual-deck", "plover", "--rate", "400000"]).assert_refused(&["400000"]);
}

#[test]
fn a_wrong_key_or_unit_in_a_deck_is_named_with_file_and_line() {
    let stage = Stage::new();
    for (from, to, named) in [
        (
            "speed_error_percent =",
            "speed_error_ppm =",
            ["line 12", "speed_error_ppm"],
        ),
        (
            "speed_error_percent = 0.24",
            "speed_error_percent = \"0.24 %\"",
            ["line 12", "speed_error_percent"],
        ),
        ("seed = 37", "seed = ", ["line 8", "deck.toml"]),
        (
            "tape_format = \"reel-two-track-nab-19\"",
            "tape_format = \"wire\"",
            ["line 6", "wire"],
        ),
        (
            "mechanism = \"plover-r4\"",
            "mechanism = \"gramophone\"",
            ["line 7", "gramophone"],
        ),
        ("[head]", "[heads]", ["line", "heads"]),
    ] {
        let path = stage.file("deck.toml", deck_with(from, to).as_bytes());
        let ended = run([
            "virtual".as_ref(),
            path.as_os_str(),
            "--out".as_ref(),
            stage.path("take.wav").as_os_str(),
        ]);
        ended.assert_refused(&["deck.toml"]);
        ended.assert_refused(&named);
        assert!(!stage.path("take.wav").exists());
    }
}

#[test]
fn a_take_does_not_overwrite_its_deck() {
    let stage = Stage::new();
    let text = deck_with("seed = 37", "seed = 38");
    let path = stage.file("deck.toml", text.as_bytes());
    run([
        "virtual".as_ref(),
        path.as_os_str(),
        "--out".as_ref(),
        path.as_os_str(),
    ])
    .assert_refused(&["deck.toml"]);
    assert_eq!(std::fs::read_to_string(path).unwrap(), text);
}

#[cfg(all(unix, not(target_os = "macos")))]
#[test]
fn the_window_without_a_display_says_what_to_do_instead() {
    run(["--virtual-deck", "plover"]).assert_refused(&["DISPLAY", "trimwatch watch"]);
}

#[cfg(target_os = "linux")]
#[test]
fn an_output_that_is_full_is_an_error() {
    let stage = Stage::new();
    let path = stage.tone("tone.wav", 0.1);
    let full = std::fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = program()
        .arg("measure")
        .arg(path)
        .stdout(Stdio::from(full))
        .output()
        .unwrap();
    super::program::Ended::of(output).assert_refused(&["cannot write the output"]);
}
