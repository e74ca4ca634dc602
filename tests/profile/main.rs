//! The interface's own errors: measured on simulated interfaces whose errors are known, and taken out of the readings.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot set its stage should stop"
)]

mod clock;
mod inputs;
mod kept;
mod readings;
mod simulated_card;
mod worker;
