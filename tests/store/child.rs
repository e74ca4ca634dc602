//! Parts that need a process of their own: this test program, started once more with one test.

use std::{
    env,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

/// Tells the child that it is one, and where its record is.
const RECORD: &str = "TRIMWATCH_TEST_RECORD";

/// This program as a child that runs one test with a record.
pub fn child(test: &str, record: &Path) -> Command {
    of(&env::current_exe().unwrap(), test, record)
}

/// The same, by another copy of the program.
pub fn of(program: &Path, test: &str, record: &Path) -> Command {
    let mut child = Command::new(program);
    child
        .args([test, "--exact", "--nocapture"])
        .env(RECORD, record)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    child
}

/// In the child: its record. Elsewhere the test is none.
pub fn record() -> Option<PathBuf> {
    env::var_os(RECORD).map(PathBuf::from)
}

/// Runs a child to its end; what it wrote when it ended well.
pub fn run(mut child: Command) -> String {
    let output = child.output().unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{text}\n{errors}");
    text
}
