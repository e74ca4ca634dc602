//! The mechanism read from the sound.

mod series;

pub use series::{MotionSeries, WideSeries};
