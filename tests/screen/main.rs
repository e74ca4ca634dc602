//! The window, headless: what it shows, what its keys do, what a screen reader hears, and how it looks.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by panicking"
)]

mod commands;
mod first_run;
mod fixtures;
mod heard_deck;
mod interface;
mod mechanism;
mod memory;
mod panels;
mod pictures;
mod profile_pictures;
mod question;
mod shown;
mod simulated_interface;
mod stage;
