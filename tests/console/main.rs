//! The program as it is started from a shell: exit codes, the one line of an error, widths, the readings format,
//! closed outputs and Ctrl-C.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot set its stage should stop"
)]

mod faces;
mod format;
mod jobs;
mod live;
mod mechanism;
mod profile;
mod program;
mod recordings;
mod refusals;
mod stage;
mod takes;
