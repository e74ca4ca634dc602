//! The window, headless: what it shows, what its keys do, what a screen reader hears, and how it looks.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by panicking"
)]

mod azimuth;
mod cautions;
mod checks;
mod commands;
mod first_run;
mod fixtures;
mod foot_switch;
mod from_the_deck;
mod grey;
mod guide;
mod heard_deck;
mod interface;
mod job_list;
mod job_pictures;
mod jobs;
mod live_values;
mod mechanism;
mod memory;
mod new_job;
mod page;
mod panels;
mod pictures;
mod profile_pictures;
mod question;
mod run_in;
mod run_in_story;
mod shown;
mod simulated_interface;
mod speakers;
mod stage;
mod standards;
mod walk;
