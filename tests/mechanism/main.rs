//! The mechanism read from simulated decks: what must be found and named, what must not, and what is left open.
#![allow(clippy::unwrap_used, reason = "tests")]

mod aliases;
mod comparison;
mod decks;
mod groups;
mod hostile;
mod must_show;
mod reels;
mod shapes;
mod shares;
mod steadiness;
mod tally;
