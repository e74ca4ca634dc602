//! A run that is killed again and again while it writes.

use super::memory::snapshot;
use std::{
    env, fs,
    path::Path,
    process::{Command, Stdio},
    thread,
    time::Duration,
};
use trimwatch::run_in::{self, Line, RunInLog};

/// Tells the child that it is one, and where its log is.
const LOG: &str = "TRIMWATCH_RUN_IN_LOG";
const KILLS: u64 = 40;

/// Not a test of its own: what the child runs. Writes readings as fast as its disk takes them, until it is killed.
#[test]
fn child_that_writes() {
    let Some(path) = env::var_os(LOG) else {
        return;
    };
    let mut log = RunInLog::start(Path::new(&path), 1.0, "a source", "a tone").unwrap();
    for second in 1.. {
        log.take(&snapshot(), f64::from(second));
        if second % 50 == 0 {
            // The queue to the disk is bounded, as a real run is slow.
            thread::sleep(Duration::from_millis(1));
        }
    }
}

#[test]
fn a_run_killed_dozens_of_times_has_every_line_it_wrote() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.log");
    let mut length = 0;
    for kill in 0..KILLS {
        let mut child = Command::new(env::current_exe().unwrap())
            .args(["killed::child_that_writes", "--exact", "--nocapture"])
            .env(LOG, &path)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        // Once it writes, wait a different while each time.
        while fs::metadata(&path).map_or(0, |file| file.len()) <= length + 1000 {
            thread::sleep(Duration::from_millis(1));
            assert!(
                child.try_wait().unwrap().is_none(),
                "the child ended by itself"
            );
        }
        thread::sleep(Duration::from_micros(700 * (kill * 7 % 23)));
        child.kill().unwrap();
        child.wait().unwrap();
        length = fs::metadata(&path).unwrap().len();
    }
    let history = run_in::read(&path).unwrap();
    assert_eq!(history.sessions(), KILLS);
    assert_eq!((history.damaged_lines(), history.is_torn()), (0, false));
    assert!(history.readings() > 10 * KILLS, "{}", history.readings());
    assert_eq!(history.ended(), None);
    // Within a session, no reading is missing before the last one.
    let mut expected_s = 1.0;
    for line in fs::read_to_string(&path).unwrap().lines() {
        match Line::parse(line.as_bytes()).unwrap() {
            Line::Session(_) => expected_s = 1.0,
            Line::Reading(reading) => {
                assert_eq!(reading.at_s, expected_s);
                expected_s += 1.0;
            }
            other => panic!("{other:?}"),
        }
    }
}
