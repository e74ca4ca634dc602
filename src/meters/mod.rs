//! The meters: one a file, each a streaming state machine fed with samples and asked for a reading.

mod meter_bank;
mod setup;

pub use meter_bank::MeterBank;
pub use setup::{LevelReference, MeterSetup};
