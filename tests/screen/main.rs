//! The window, headless: what it shows, what its keys do, what a screen reader hears, and how it looks.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by panicking"
)]

mod cautions;
mod commands;
mod fixtures;
mod foot_switch;
mod from_the_deck;
mod grey;
mod guide;
mod heard_deck;
mod job_pictures;
mod jobs;
mod live_values;
mod mechanism;
mod memory;
mod panels;
mod pictures;
mod run_in;
mod run_in_story;
mod shown;
mod speakers;
mod stage;
mod walk;
