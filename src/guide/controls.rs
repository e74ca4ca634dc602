//! What the audio thread is told, in atomics: it never waits for anybody.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// No setting makes the guide's peaks higher: a tenth of full scale (common practice, no source: quiet on a monitor
/// that is set for programme, with 20 dB to spare).
pub const MAX_LEVEL_DBFS: f64 = -20.0;
/// The lowest level that can be set.
pub const MIN_LEVEL_DBFS: f64 = -60.0;
/// The level it starts with, after the fade-in.
pub const START_LEVEL_DBFS: f64 = -40.0;

/// Set from any thread, read by the audio thread.
#[derive(Debug)]
pub struct GuideControls {
    /// Bits of an `f32`: how far off, −1 to 1; 0 in the target, NaN without a reading.
    offset: AtomicU32,
    /// Bits of an `f32`: the greatest sample.
    peak: AtomicU32,
    /// Counts what was told, so that the audio thread notices when nothing more comes.
    told: AtomicU32,
    stopping: AtomicBool,
}

impl Default for GuideControls {
    fn default() -> Self {
        let controls = Self {
            offset: AtomicU32::new(f32::NAN.to_bits()),
            peak: AtomicU32::new(0),
            told: AtomicU32::new(0),
            stopping: AtomicBool::new(false),
        };
        controls.set_level_dbfs(START_LEVEL_DBFS);
        controls
    }
}

impl GuideControls {
    /// Tells how far off the reading is: −1 to 1 (more is taken for that), 0 in the target, NaN without a reading. Must
    /// be told again and again, at least four times a second; the guide goes silent otherwise.
    pub fn set_offset(&self, offset: f32) {
        self.offset.store(offset.to_bits(), Ordering::Relaxed);
        self.told.fetch_add(1, Ordering::Release);
    }

    /// Sets the level of the pips' peaks, dBFS. Above [`MAX_LEVEL_DBFS`] it is that; what is no number is silence.
    pub fn set_level_dbfs(&self, level_dbfs: f64) {
        let peak = if level_dbfs.is_nan() {
            0.0
        } else {
            10f64.powf(level_dbfs.min(MAX_LEVEL_DBFS) / 20.0)
        };
        self.peak.store((peak as f32).to_bits(), Ordering::Relaxed);
    }

    /// Fades out, for good.
    pub fn stop(&self) {
        self.stopping.store(true, Ordering::Release);
    }

    /// The offset, and how many times one was told.
    pub(super) fn offset(&self) -> (f32, u32) {
        let told = self.told.load(Ordering::Acquire);
        (f32::from_bits(self.offset.load(Ordering::Relaxed)), told)
    }

    /// The greatest sample wanted.
    pub(super) fn peak(&self) -> f32 {
        f32::from_bits(self.peak.load(Ordering::Relaxed))
    }

    /// Whether to fade out.
    pub(super) fn is_stopping(&self) -> bool {
        self.stopping.load(Ordering::Acquire)
    }
}
