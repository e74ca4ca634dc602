//! What is known of the audio interface itself: how it is measured, kept, and taken out of the readings.
//!
//! Pure state machines, fed with samples or with times and asked for a result: [`clock`] (the sample clock against the
//! computer's). Nothing here knows a screen or a terminal.

pub mod clock;
