//! What is known of the audio interface itself: how it is measured, kept, and taken out of the readings.
//!
//! Five measurements, each a pure state machine that is fed with samples (or times) and asked for its state at any
//! moment: [`clock`] (the sample clock against the computer's), [`y_lead`] (delay and gain between the inputs),
//! [`level`] (full scale in volts), [`noise`] (both inputs shorted), [`crosstalk`] (one driven, the other shorted). None
//! of them knows a screen or a terminal.

pub mod clock;
pub mod crosstalk;
mod date;
mod frames;
mod interface;
pub mod level;
mod listening;
pub mod noise;
mod own;
mod store;
mod tones;
pub mod y_lead;

pub use date::{age_in_words, to_date};
pub use interface::{
    ClockFigure, CrosstalkFigure, HumFigure, InterfaceProfile, LevelFigure, NoiseFigure,
    PairFigure, device_of,
};
pub use listening::{Heard, ListenFor, Listening};
pub use own::OwnProfile;
pub use store::{ProfileStore, StoredProfile, name_for};
