//! Files a log meets: its own, torn; another's; one in use.

use super::memory::snapshot;
use std::fs;
use trimwatch::run_in::{self, Line, RunInLog, Temperature, add_line};

fn short_run(path: &std::path::Path) {
    let mut log = RunInLog::start(path, 5.0, "a source", "a tone").unwrap();
    for second in 1..=20 {
        log.take(&snapshot(), f64::from(second));
    }
    assert_eq!(log.finish("done"), None);
}

#[test]
fn a_run_goes_on_after_a_torn_line_and_nothing_else_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.log");
    short_run(&path);
    let whole = fs::read(&path).unwrap();
    for torn_off in 1..whole.len() {
        // Each place a power cut may tear it, a few of them with the blank end some file systems leave.
        let mut bytes = whole[..whole.len() - torn_off].to_vec();
        if torn_off % 50 == 0 {
            bytes.extend([0; 30]);
        }
        fs::write(&path, &bytes).unwrap();
        let Ok(before) = run_in::read(&path) else {
            // The very first line is torn: there is no run.
            assert!(!bytes.contains(&b'\n'));
            continue;
        };
        if torn_off % 37 != 0 {
            continue;
        }
        short_run(&path);
        let after = run_in::read(&path).unwrap();
        assert_eq!(after.readings(), before.readings() + 4);
        assert_eq!(after.sessions(), 2);
        assert!(after.damaged_lines() <= 1, "{}", after.damaged_lines());
        assert_eq!(after.ended(), Some("done"));
    }
}

#[test]
fn what_is_no_log_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.txt");
    for content in [
        "belt 78 mm\n",
        "{\"reading\":{\"at_s\":1.0}}\n",
        "{}",
        "\n\n",
    ] {
        fs::write(&path, content).unwrap();
        for error in [
            RunInLog::start(&path, 5.0, "a", "b").err().unwrap(),
            run_in::read(&path).unwrap_err(),
            add_line(&path, &temperature()).unwrap_err(),
        ] {
            assert!(
                error.0.contains("notes.txt") && error.0.contains("no run-in log"),
                "{error}"
            );
        }
        assert_eq!(fs::read_to_string(&path).unwrap(), content);
    }
    let error = RunInLog::start(folder.path(), 5.0, "a", "b").err().unwrap();
    assert!(error.0.contains("cannot be written"), "{error}");
    assert!(run_in::read(&folder.path().join("none")).is_err());
}

fn temperature() -> Line {
    Line::Temperature(Temperature {
        at_s: Some(3.0),
        unix_s: None,
        celsius: 23.5,
    })
}

#[cfg(unix)]
#[test]
fn two_runs_cannot_share_a_log_but_a_temperature_can_be_added() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.log");
    let mut log = RunInLog::start(&path, 5.0, "a source", "a tone").unwrap();
    let error = RunInLog::start(&path, 5.0, "a", "b").err().unwrap();
    assert!(error.0.contains("another run"), "{error}");
    add_line(&path, &temperature()).unwrap();
    for second in 1..=10 {
        log.take(&snapshot(), f64::from(second));
    }
    log.note_temperature(25.0);
    assert_eq!(log.finish("done"), None);
    let history = run_in::read(&path).unwrap();
    assert_eq!(history.readings(), 2);
    let celsius: Vec<_> = history
        .temperatures()
        .iter()
        .map(|typed| typed.celsius)
        .collect();
    // By its clock the second one came at once; by its minutes the first one comes after three seconds.
    assert_eq!(celsius, [25.0, 23.5]);
    // The run is over, and the next one may have the file.
    short_run(&path);
}
