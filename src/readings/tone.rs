//! The steady tone found on each channel.

use super::Validity;
use serde::Serialize;

/// What the tone lock has found.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct ToneReading {
    /// Whether a steady, strong, unclipped tone is there.
    pub status: Validity,
    /// Frequency on the left channel, Hz, over the reading's span; `None` if that channel has no tone.
    pub left_hz: Option<f64>,
    /// Frequency on the right channel, Hz.
    pub right_hz: Option<f64>,
    /// Power of the tone over the power of everything else but its harmonics up to half the sample rate, dB;
    /// of the better channel.
    pub snr_db: Option<f64>,
    /// Second-harmonic amplitude relative to the tone, percent, of the better channel.
    pub second_harmonic_percent: Option<f64>,
    /// Third-harmonic amplitude relative to the tone, percent, of the better channel.
    pub third_harmonic_percent: Option<f64>,
}
