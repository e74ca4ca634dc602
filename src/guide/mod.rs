//! The sound guide: an adjustment heard instead of watched, through an output that is chosen for it.
//!
//! Soft pips come the faster the farther the reading is off, and stop in the target: silence is 'there', or 'no
//! reading'. High pips: the value is too high (fast, right later, left louder); low ones: too low. It starts silent
//! and fades in, never exceeds [`MAX_LEVEL_DBFS`], and goes silent by itself when readings stop coming.
//!
//! [`Aim`] turns readings into an offset, [`GuideControls`] carries it to the audio thread in atomics, [`GuideTone`]
//! makes samples of it, [`GuideCallback`] hands these to the device, and [`GuidePlayer`] owns the stream. A panel needs
//! [`list_outputs`], [`CAUTION`], a [`GuidePlayer`] and an [`Aim`].

mod aim;
mod callback;
mod controls;
mod outputs;
mod player;
mod tone;

pub use aim::{Aim, GuideOf};
pub use callback::{GuideCallback, OutputHealth};
pub use controls::{GuideControls, MAX_LEVEL_DBFS, MIN_LEVEL_DBFS, START_LEVEL_DBFS};
pub use outputs::{OutputList, OutputName, find_output, list_outputs, shares_a_path};
pub use player::GuidePlayer;
pub use tone::GuideTone;

/// Shown before the guide is first heard.
pub const CAUTION: &str = "Sound guide: turn the monitor volume down before it starts, then up as needed; headphones \
     off the ears first. Never let it into the deck's own input or the measured signal.";

/// Why the guide cannot be heard: one line that says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct GuideError(pub String);
