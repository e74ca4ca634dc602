//! `watch`: lines as they come, an end when it is time, and no fuss when nobody reads on.

use super::{
    format::assert_schema,
    program::{Ended, program, run, width},
    stage::Stage,
};
use std::{
    io::{BufRead as _, BufReader, Read as _},
    process::{Child, ChildStdout, Stdio},
    time::{Duration, Instant},
};

/// A child that does not outlive its test.
struct Watching(Child);

impl Watching {
    fn start(options: &[&str]) -> (Self, BufReader<ChildStdout>) {
        let mut child = program()
            .args(["watch", "--virtual-deck", "finch-as-found"])
            .args(options)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let stdout = BufReader::new(child.stdout.take().unwrap());
        (Self(child), stdout)
    }

    /// Waits for its end; the code and the error output.
    fn end(mut self) -> (Option<i32>, String) {
        let deadline = Instant::now() + Duration::from_secs(20);
        let status = loop {
            if let Some(status) = self.0.try_wait().unwrap() {
                break status;
            }
            assert!(Instant::now() < deadline, "still running");
            std::thread::sleep(Duration::from_millis(20));
        };
        let mut stderr = String::new();
        let mut pipe = self.0.stderr.take().unwrap();
        pipe.read_to_string(&mut stderr).unwrap();
        (status.code(), stderr)
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ended_already = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn json_lines_follow_the_signal_for_the_time_asked_for() {
    let ended = run([
        "watch",
        "--virtual-deck",
        "finch-as-found",
        "--seconds",
        "2",
        "--format",
        "jsonl",
    ]);
    ended.assert_code(0);
    let mut before = 0.0;
    for line in ended.stdout.lines() {
        let readings = serde_json::from_str(line).unwrap();
        assert_schema(&readings);
        assert_eq!(readings["source"]["kind"], "virtual_deck");
        let seconds = readings["source"]["seconds"].as_f64().unwrap();
        assert!(seconds >= before);
        before = seconds;
    }
    assert!((2.0..4.0).contains(&before), "ended at {before} s");
    // Thirty a second; fewer only when the machine is busy with other things.
    assert!(
        ended.stdout.lines().count() > 20,
        "{}",
        ended.stdout.lines().count()
    );
}

#[test]
fn text_without_a_terminal_is_a_running_table_of_eighty_columns() {
    let started = Instant::now();
    let ended = run([
        "watch",
        "--virtual-deck",
        "finch-as-found",
        "--seconds",
        "2.5",
    ]);
    let took = started.elapsed().as_secs_f64();
    ended.assert_code(0);
    assert!(width(&ended.stdout) <= 80, "{}", ended.stdout);
    assert!(
        !ended.stdout.contains('\x1b'),
        "no cursor movements in a file"
    );
    let after_head = ended
        .stdout
        .lines()
        .skip_while(|line| !line.contains("status"));
    let rows = after_head.skip(1).count();
    // The first at once, one a second, and the last; a busy machine may take longer.
    assert!(
        (3..=took as usize + 2).contains(&rows),
        "{took} s: {}",
        ended.stdout
    );
}

#[test]
fn a_recording_is_watched_to_its_end_and_then_the_program_ends() {
    let stage = Stage::new();
    let path = stage.tone("tone.wav", 1.5);
    let started = Instant::now();
    let ended = run([
        "watch".as_ref(),
        "--recording".as_ref(),
        path.as_os_str(),
        "--format".as_ref(),
        "jsonl".as_ref(),
    ]);
    assert!(
        started.elapsed() > Duration::from_secs_f64(1.4),
        "in real time"
    );
    ended.assert_code(0);
    let last: serde_json::Value =
        serde_json::from_str(ended.stdout.lines().last().unwrap()).unwrap();
    assert_eq!(last["source"]["state"]["is"], "ended");
    assert!((last["source"]["seconds"].as_f64().unwrap() - 1.5).abs() < 1e-9);
}

#[test]
fn the_virtual_deck_tells_its_tape_format() {
    // A reel deck: the same delay is another azimuth than on a cassette.
    let azimuth_of = |options: &[&str]| {
        let mut words = vec![
            "watch",
            "--virtual-deck",
            "plover",
            "--seconds",
            "3",
            "--format",
            "jsonl",
        ];
        words.extend(options);
        let ended = run(words);
        let last: serde_json::Value =
            serde_json::from_str(ended.stdout.lines().last().unwrap()).unwrap();
        let phase = &last["phase"];
        phase["azimuth_arcmin"].as_f64().unwrap() / phase["delay_us"].as_f64().unwrap()
    };
    let own = azimuth_of(&[]);
    let cassette = azimuth_of(&["--tape-format", "cassette-stereo"]);
    // tan α = v·Δt/d: 190.5 mm/s over 4.0 mm against 47.625 mm/s over 0.9 mm.
    let expected = (190.5 / 4.0) / (47.625 / 0.9);
    assert!(
        (own / cassette / expected - 1.0).abs() < 1e-3,
        "{own} {cassette}"
    );
}

#[test]
fn a_reader_that_closes_its_end_is_no_error() {
    for options in [&["--format", "jsonl"][..], &[]] {
        let (watching, mut stdout) = Watching::start(options);
        let mut line = String::new();
        stdout.read_line(&mut line).unwrap();
        assert!(!line.is_empty());
        drop(stdout);
        let (code, stderr) = watching.end();
        assert_eq!(stderr, "");
        assert!(matches!(code, Some(0 | 1)), "{code:?}");
    }
}

#[test]
fn a_sheet_that_nobody_reads_is_no_error() {
    let stage = Stage::new();
    let path = stage.tone("tone.wav", 12.0);
    for words in [&["measure"][..], &["measure", "--format", "json"]] {
        let mut child = program()
            .args(words)
            .arg(&path)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        Ended::of(child.wait_with_output().unwrap()).assert_code(0);
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_watch_with_whole_lines_and_its_exit_code() {
    for signal in ["INT", "TERM"] {
        let (watching, mut stdout) = Watching::start(&["--format", "jsonl"]);
        let mut text = String::new();
        // Level stands within the first second; a snapshot comes every 28 ms or so.
        for _ in 0..40 {
            stdout.read_line(&mut text).unwrap();
        }
        let sent = std::process::Command::new("kill")
            .arg(format!("-{signal}"))
            .arg(watching.0.id().to_string())
            .status()
            .unwrap();
        assert!(sent.success());
        stdout.read_to_string(&mut text).unwrap();
        let (code, stderr) = watching.end();
        assert_eq!(stderr, "");
        assert_eq!(code, Some(0), "{signal}");
        assert!(text.ends_with("}\n"));
        for line in text.lines() {
            assert_schema(&serde_json::from_str(line).unwrap());
        }
    }
}
