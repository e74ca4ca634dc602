//! Where samples come from: recordings (good, damaged and hostile), takes, play-out in real time, the virtual deck.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod deck_adjusted;
mod deck_files;
mod deck_model;
mod deck_noise;
mod deck_repeats;
mod deck_tape;
mod flac;
mod hostile_files;
mod playing;
mod recordings;
mod signal;
mod takes;
mod wav;

/// Reading a WAV file must not allocate once it is under way: see `recordings`.
#[cfg(debug_assertions)]
#[global_allocator]
static ALLOCATOR: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;
