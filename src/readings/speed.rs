//! Speed deviation from the reference.

use super::{Trail, Validity};
use serde::Serialize;

/// The mean over one sliding window that ends now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct SpeedWindow {
    /// Window length, seconds.
    pub seconds: f64,
    /// Mean speed deviation in the window, percent; positive = fast. `None` until the window is full and clean.
    pub deviation_percent: Option<f64>,
    /// Expanded uncertainty (k = 2) of that mean: noise and wow's scatter only, percent.
    pub uncertainty_percent: Option<f64>,
}

/// Speed deviation = 100·(f_measured / f_reference − 1), percent; positive = fast.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SpeedReading {
    /// Whether the numbers stand.
    pub status: Validity,
    /// The frequency the tone should have: nominal × (1 + certificate's correction), Hz.
    pub reference_hz: Option<f64>,
    /// Mean measured frequency since the averages began, corrected for the interface's clock error, Hz.
    pub measured_hz: Option<f64>,
    /// Mean deviation since the averages began, percent.
    pub deviation_percent: Option<f64>,
    /// Expanded uncertainty (k = 2) of `deviation_percent`: scatter, clock and tape, percent.
    pub uncertainty_percent: Option<f64>,
    /// Least 0.25 s mean since the averages began, percent.
    pub min_percent: Option<f64>,
    /// Greatest 0.25 s mean since the averages began, percent.
    pub max_percent: Option<f64>,
    /// Trend since the averages began, percent a minute; `None` before 5 s.
    pub trend_percent_per_minute: Option<f64>,
    /// Time the averages cover, seconds.
    pub averaged_seconds: f64,
    /// 0.25 s mean: the needle while a trimmer turns.
    pub quick: SpeedWindow,
    /// 2 s mean.
    pub steady: SpeedWindow,
    /// 10 s mean.
    pub long: SpeedWindow,
    /// Deviation percent, band-limited to about 10 Hz: the trail behind the needle.
    #[serde(skip)]
    pub trail: Trail,
}
