//! Help and text: complete, and no wider than 80 columns.

use super::{
    program::{run, width},
    stage::Stage,
};

#[test]
fn help_fits_eighty_columns_and_tells_every_option() {
    for (words, named) in [
        (
            &["--help"][..],
            &["inputs", "watch", "measure", "virtual", "Exit codes"][..],
        ),
        (&["inputs", "--help"], &[]),
        (
            &["watch", "--help"],
            &[
                "--input",
                "--virtual-deck",
                "--recording",
                "--rate",
                "--channels",
                "--seconds",
                "--format",
                "--tape",
            ],
        ),
        (
            &["measure", "--help"],
            &[
                "RECORDING",
                "--tape",
                "--tone",
                "--tape-format",
                "--channels",
                "--format",
            ],
        ),
        (
            &["virtual", "--help"],
            &["DECK", "--out", "--seconds", "--rate", "--bits"],
        ),
        (&["watch", "-h"], &["--seconds"]),
    ] {
        let ended = run(words);
        ended.assert_code(0);
        assert!(width(&ended.stdout) <= 80, "{}", ended.stdout);
        for word in named {
            assert!(ended.stdout.contains(word), "{word} in {}", ended.stdout);
        }
    }
}

#[test]
fn the_version_is_that_of_the_package() {
    let ended = run(["--version"]);
    ended.assert_code(0);
    assert_eq!(
        ended.stdout.trim_end(),
        concat!("trimwatch ", env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn the_sheet_fits_eighty_columns_and_says_every_group() {
    let stage = Stage::new();
    let name = format!("{}.wav", "a long name ".repeat(15));
    let path = stage.tone(&name, 15.0);
    let ended = run([
        "measure".as_ref(),
        path.as_os_str(),
        "--tape".as_ref(),
        "speed-3150".as_ref(),
    ]);
    ended.assert_code(0);
    assert!(width(&ended.stdout) <= 80, "{}", ended.stdout);
    for group in ["Tone", "Speed", "Wow and flutter", "Level", "Phase"] {
        let line = ended.stdout.lines().find(|line| line.starts_with(group));
        assert!(
            line.is_some_and(|line| line.contains("  ok")),
            "{group} in {}",
            ended.stdout
        );
    }
    assert!(ended.stdout.contains("Speed, 3150 Hz") && ended.stdout.contains("Cassette, stereo"));
}

#[test]
fn a_sheet_without_readings_says_why_in_words() {
    let stage = Stage::new();
    let path = stage.wav("silence.wav", 2, &vec![0.0; 3 * 48_000]);
    let ended = run(["measure".as_ref(), path.as_os_str()]);
    ended.assert_code(1);
    assert!(width(&ended.stdout) <= 80);
    assert!(
        ended.stdout.matches("no signal").count() >= 4,
        "{}",
        ended.stdout
    );
    assert!(!ended.stdout.contains("inf") && !ended.stdout.contains("NaN"));
}

#[test]
fn the_inputs_are_listed_or_their_absence_is_said() {
    let ended = run(["inputs"]);
    assert_eq!(ended.stderr, "");
    match ended.code {
        Some(0) => {
            assert!(ended.stdout.contains("rates") || ended.stdout.contains("cannot be opened"))
        }
        Some(1) => assert!(ended.stdout.contains("No sound input")),
        code => panic!("{code:?}: {}", ended.stdout),
    }
    // An id may be of any length and is wrapped like the rest.
    assert!(width(&ended.stdout) <= 80, "{}", ended.stdout);
}
