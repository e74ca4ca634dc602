//! Level, balance, steadiness, dropouts, hum.

use super::{Trail, Validity};
use serde::Serialize;

/// Levels of one channel. dBFS: a sine whose peaks reach ±1.0 reads 0 dBFS (AES17 convention).
#[derive(Clone, Debug, Default, Serialize)]
pub struct ChannelLevel {
    /// Root mean square since the averages began, dBFS.
    pub rms_dbfs: Option<f64>,
    /// True peak since the averages began, dB relative to full scale.
    pub peak_dbfs: Option<f64>,
    /// Level of the locked tone alone since the averages began, dBFS.
    pub tone_dbfs: Option<f64>,
    /// rms of the last 0.3 s, dBFS.
    pub quick_rms_dbfs: Option<f64>,
    /// True peak of the last half second, dB relative to full scale: what the level check shows.
    pub recent_peak_dbfs: Option<f64>,
    /// VU ballistics (IEC 60268-17), dB relative to a full-scale sine.
    pub vu_dbfs: Option<f64>,
    /// Type I peak programme meter (IEC 60268-10), dB relative to a full-scale sine.
    pub ppm_i_dbfs: Option<f64>,
    /// Type II peak programme meter (IEC 60268-10), dB relative to a full-scale sine.
    pub ppm_ii_dbfs: Option<f64>,
    /// Level of the tone (of everything where there is none), dBV; `None` until the interface is calibrated.
    pub level_dbv: Option<f64>,
    /// The same in dBu.
    pub level_dbu: Option<f64>,
    /// The same relative to the reference fluxivity of the level tape last read, dB.
    pub relative_to_reference_db: Option<f64>,
    /// `relative_to_reference_db` less what the chosen tape's certificate says the tone is recorded at, dB.
    pub from_tape_db: Option<f64>,
    /// Hum at the mains frequency and its harmonics.
    pub hum: Option<Hum>,
    /// Level over time, dBFS.
    #[serde(skip)]
    pub trail: Trail,
}

/// Hum: the stronger of the 50 Hz and the 60 Hz families.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Hum {
    /// Mains frequency, 50 or 60 Hz.
    pub mains_hz: f64,
    /// Level of the fundamental, dBFS.
    pub fundamental_dbfs: f64,
    /// Power sum of the fundamental and harmonics 2 to 6, dBFS.
    pub total_dbfs: f64,
}

/// Levels of both channels and what follows from them.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LevelReading {
    /// Whether the numbers stand.
    pub status: Validity,
    /// Left, or the only channel.
    pub left: ChannelLevel,
    /// Right; empty where there is only one channel.
    pub right: ChannelLevel,
    /// Left minus right, dB; of the tone where one is locked, of the whole signal otherwise. The inputs' own difference
    /// is taken out where it is known; the levels in dBFS stay as the converter gave them.
    pub balance_db: Option<f64>,
    /// Expanded uncertainty (k = 2) of the balance by the inputs' own difference, dB.
    pub balance_uncertainty_db: Option<f64>,
    /// Left minus right over the last 0.3 s, dB.
    pub quick_balance_db: Option<f64>,
    /// Standard deviation of the tone's level over time, dB; of the less steady channel.
    pub steadiness_db_rms: Option<f64>,
    /// Greatest minus least level of the tone, dropouts left out, dB; of the less steady channel.
    pub steadiness_db_peak_to_peak: Option<f64>,
    /// Dropouts counted since the averages began; one that hits both channels counts once.
    pub dropouts: u64,
    /// Depth of the deepest dropout, dB below the steady level (positive).
    pub deepest_dropout_db: Option<f64>,
    /// Length of the longest dropout, milliseconds.
    pub longest_dropout_ms: Option<f64>,
}
