//! All meters side by side on one stream.

use super::MeterSetup;
use crate::readings::{Readings, SourceReading};

/// The meters of one stream.
pub struct MeterBank {
    channels: usize,
    frames: u64,
}

impl MeterBank {
    /// Meters for a stream of `channels` (1 or 2) at `sample_rate_hz`. Allocates all it will ever need.
    pub fn new(sample_rate_hz: f64, channels: usize, setup: &MeterSetup) -> Self {
        let _ = (sample_rate_hz, setup);
        Self {
            channels,
            frames: 0,
        }
    }
    /// Feeds interleaved samples; any length, the readings do not depend on how the stream is cut.
    pub fn process(&mut self, interleaved: &[f32]) {
        self.frames += (interleaved.len() / self.channels) as u64;
    }
    /// Tells that frames are missing before the next ones (0: unknown how many).
    pub fn mark_gap(&mut self, lost_frames: u64) {
        let _ = lost_frames;
    }
    /// Takes new settings.
    pub fn change_setup(&mut self, setup: &MeterSetup) {
        let _ = setup;
    }
    /// Starts all averages anew.
    pub fn reset_averages(&mut self) {}
    /// The present readings; `source` is put in as it is.
    pub fn readings(&mut self, source: SourceReading) -> Readings {
        Readings::empty(source)
    }
    /// The readings of a take that is over.
    pub fn final_readings(&mut self, source: SourceReading) -> Readings {
        self.readings(source)
    }
}
