//! The window, headless: what it shows, what its keys do, what a screen reader hears, and how it looks.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by panicking"
)]

mod azimuth;
mod commands;
mod fixtures;
mod heard_deck;
mod mechanism;
mod memory;
mod panels;
mod pictures;
mod shown;
mod stage;
