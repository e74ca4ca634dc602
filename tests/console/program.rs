//! Starting the program and looking at how it ended.

use std::{
    ffi::OsStr,
    process::{Command, Output, Stdio},
};

/// How one run ended.
pub struct Ended {
    pub code: Option<i32>,
    pub stdout: String,
    pub stderr: String,
}

/// The program, with nothing of the tester's surroundings that could open a window.
pub fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_trimwatch"));
    program
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .stdin(Stdio::null());
    program
}

/// Runs it to its end.
pub fn run(arguments: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Ended {
    Ended::of(program().args(arguments).output().unwrap())
}

impl Ended {
    pub fn of(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).expect("the program writes UTF-8");
        Self {
            code: output.status.code(),
            stdout: text(output.stdout),
            stderr: text(output.stderr),
        }
    }

    /// Ended as bad usage or unreadable input should: code 2, nothing but one line on the error output, and `words`
    /// in it. Returns the line.
    pub fn assert_refused(&self, words: &[&str]) -> &str {
        let line = self.stderr.trim_end();
        assert_eq!(self.code, Some(2), "{line}\n{}", self.stdout);
        assert_eq!(self.stdout, "");
        assert_eq!(self.stderr.lines().count(), 1, "{}", self.stderr);
        assert!(line.starts_with("trimwatch: "), "{line}");
        assert!(!line.contains("panicked"), "{line}");
        for word in words {
            assert!(line.contains(word), "'{word}' in: {line}");
        }
        line
    }

    /// Ended with its output complete: the code, and nothing on the error output.
    pub fn assert_code(&self, code: i32) -> &Self {
        assert_eq!(self.stderr, "");
        assert_eq!(self.code, Some(code), "{}", self.stdout);
        self
    }

    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.stdout).unwrap()
    }
}

/// Columns of the widest line.
pub fn width(text: &str) -> usize {
    text.lines()
        .map(|line| line.chars().count())
        .max()
        .unwrap_or(0)
}
