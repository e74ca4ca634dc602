//! `watch --log` and `run-in`, as they are started from a shell.

use std::{
    fs,
    path::Path,
    process::{Command, Output, Stdio},
    thread,
    time::{Duration, Instant},
};
use trimwatch::run_in;

fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_trimwatch"));
    program.stdin(Stdio::null());
    program
}

fn words(output: &Output) -> (String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&output.stdout), text(&output.stderr))
}

fn watch_for(seconds: &str, log: &Path) -> Output {
    program()
        .args([
            "watch",
            "--virtual-deck",
            "finch-as-found",
            "--seconds",
            seconds,
        ])
        .args(["--format", "jsonl", "--log-every", "1", "--log"])
        .arg(log)
        .output()
        .unwrap()
}

#[test]
fn a_watched_deck_is_logged_and_the_log_says_what_it_shows() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("run.log");
    let watched = watch_for("3.5", &log);
    assert_eq!(watched.status.code(), Some(0), "{:?}", words(&watched));
    let said = program().arg("run-in").arg(&log).output().unwrap();
    let (text, errors) = words(&said);
    assert_eq!(
        (said.status.code(), errors.as_str()),
        (Some(0), ""),
        "{text}"
    );
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    // Wherever the lines are broken.
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "Finch",
        "readings",
        "steady since",
        "not yet",
        "common practice",
        "time asked for",
    ] {
        assert!(text.contains(part), "{part} in\n{text}");
    }
    let said = program()
        .args([
            "run-in",
            "--format",
            "json",
            "--temperature",
            "21.5",
            "--at",
            "0",
        ])
        .arg(&log)
        .output()
        .unwrap();
    let shown: serde_json::Value = serde_json::from_str(&words(&said).0).unwrap();
    assert_eq!(shown["schema"], "trimwatch.run-in-evaluation/1");
    assert_eq!(shown["temperatures"][0]["celsius"], 21.5);
    assert!(shown["readings"].as_u64().unwrap() >= 3);
    let speed = &shown["course"]["steps"][0]["speed_percent"];
    // The deck as found is about 1 % fast (demo-data/finch-as-found.toml).
    assert!((0.3..2.0).contains(&speed.as_f64().unwrap()), "{speed}");
}

#[test]
fn a_watch_that_is_killed_leaves_a_whole_log() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("run.log");
    let mut child = program()
        .args([
            "watch",
            "--virtual-deck",
            "finch-as-found",
            "--log-every",
            "1",
            "--log",
        ])
        .arg(&log)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let deadline = Instant::now() + Duration::from_secs(20);
    while run_in::read(&log).map_or(0, |history| history.readings()) < 2 {
        assert!(Instant::now() < deadline, "no reading came");
        thread::sleep(Duration::from_millis(20));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let history = run_in::read(&log).unwrap();
    assert_eq!((history.damaged_lines(), history.is_torn()), (0, false));
    assert_eq!(history.ended(), None);
}

/// A limit on the file's size is a disk that is full, for one program alone.
#[cfg(unix)]
#[test]
fn a_full_disk_is_told_and_the_watch_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("run.log");
    let ended = Command::new("sh")
        .args(["-c", "trap '' XFSZ; ulimit -f 2; exec \"$@\"", "sh"])
        .arg(env!("CARGO_BIN_EXE_trimwatch"))
        .args([
            "watch",
            "--virtual-deck",
            "finch-as-found",
            "--seconds",
            "6",
        ])
        .args(["--format", "jsonl", "--log-every", "1", "--log"])
        .arg(&log)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let (text, errors) = words(&ended);
    // It is said when it happens, and once more at the end, where the log is not complete.
    assert_eq!(ended.status.code(), Some(2), "{errors}");
    assert!(errors.lines().count() >= 2, "{errors}");
    for line in errors.lines() {
        assert!(
            line.contains("run.log") && line.contains("make room"),
            "{line}"
        );
    }
    let last: serde_json::Value = serde_json::from_str(text.lines().last().unwrap()).unwrap();
    assert!(last["source"]["seconds"].as_f64().unwrap() >= 6.0);
    // What fits is there and can be read.
    assert_eq!(fs::metadata(&log).unwrap().len(), 1024);
    let history = run_in::read(&log).unwrap();
    assert!(history.readings() >= 1, "{}", history.readings());
}

#[test]
fn wrong_words_are_answered() {
    for (arguments, named) in [
        (&["watch", "--log-every", "5"][..], "--log"),
        (&["watch", "--log", "x", "--log-every", "0.1"], "1 to 60"),
        (&["run-in"], "<LOG> is missing"),
        (&["run-in", "x", "--at", "5"], "--temperature"),
        (&["run-in", "x", "--temperature", "warm"], "°C"),
        (&["run-in", "no-such-file"], "no-such-file"),
    ] {
        let ended = program().args(arguments).output().unwrap();
        let (text, errors) = words(&ended);
        assert_eq!(
            (ended.status.code(), text.as_str()),
            (Some(2), ""),
            "{errors}"
        );
        assert_eq!(errors.lines().count(), 1, "{errors}");
        assert!(errors.contains(named), "{named} in {errors}");
    }
}
