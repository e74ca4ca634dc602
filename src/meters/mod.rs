//! The meters: one a file, each a streaming state machine fed with samples and asked for a reading.
//!
//! [`MeterBank`] is the door. Inside, `tone_lock` turns samples into records of about 4 ms, the `gate` holds these
//! back for as long as a fault may still spoil them, and the meters read records: `speed`, `flutter`, `level`,
//! `phase`, and `programme_phase` where there is no tone.

mod analysis;
mod flutter;
mod gate;
mod last_turn;
mod level;
mod live_speed;
mod loss_course;
mod meter_bank;
mod motion;
mod needle;
mod notices;
mod phase;
mod phase_follower;
mod phase_line;
mod programme_phase;
mod record;
mod series;
mod setup;
mod speed;
mod step_watch;
mod tone_averages;
mod tone_lock;
mod trace;
mod whole_cycles;
mod windows;
mod xy;

pub use analysis::{Analysis, Analyst};
pub use meter_bank::{MeterBank, USUAL_SPEED_TONES_HZ};
pub use motion::Motion;
pub use setup::{
    AsFound, DEFAULT_CLOCK_TOLERANCE_PPM, ExpectedTone, InputPair, LevelReference, MeterSetup,
};
