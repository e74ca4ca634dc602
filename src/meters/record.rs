//! What the front end knows of one block of about 4 ms: the common currency of the meters.

use super::phase_follower::Place;
use crate::signal::{
    demodulator::BLOCK,
    phasors::{Phasors, mean},
};
use rustfft::num_complex::Complex64;

/// One block, at the demodulator's rate.
#[derive(Clone, Copy, Debug)]
pub struct Record {
    /// Whether the tone could be followed through the block.
    pub ok: bool,
    /// Whether the tone was in a dropout.
    pub low: bool,
    /// The tone's frequency at each sample, Hz: both channels, each with the weight its SNR deserves.
    pub tone_hz: [f64; BLOCK],
    /// The same through the wide filter.
    pub wide_hz: [f64; BLOCK],
    /// Square of the tone's peak amplitude on each channel at each sample.
    pub squares: [[f64; BLOCK]; 2],
    /// Left × conj(right) of the tone at each sample: its angle is positive when the right channel lags.
    pub cross: Phasors,
    /// Mean frequency of the tone on each channel, Hz.
    pub channel_hz: [f64; 2],
    /// Mean square of the tone on each channel.
    pub tone_power: [f64; 2],
    /// Mean of `cross`, scaled as the powers are.
    pub mean_cross: Complex64,
    /// Mean square of everything on each channel.
    pub total_power: [f64; 2],
    /// Where the phase between the channels is, whole cycles counted; `None` where it could not be followed.
    pub place: Option<Place>,
}

impl Default for Record {
    fn default() -> Self {
        Self {
            ok: false,
            low: false,
            tone_hz: [0.0; BLOCK],
            wide_hz: [0.0; BLOCK],
            squares: [[0.0; BLOCK]; 2],
            cross: Phasors::ZERO,
            channel_hz: [0.0; 2],
            tone_power: [0.0; 2],
            mean_cross: Complex64::ZERO,
            total_power: [0.0; 2],
            place: None,
        }
    }
}

impl Record {
    /// Mean frequency of the block, Hz.
    pub fn mean_hz(&self) -> f64 {
        mean(&self.tone_hz)
    }
}
