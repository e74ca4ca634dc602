//! The weighting curve along a transform's bins, kept from one analysis to the next.

use super::transform::Transform;
use crate::signal::{biquad::Cascade, weighting::wow_flutter_weighting};

/// The filter the meter weights with runs at about this rate; its curve is taken from there.
const FILTER_RATE_HZ: f64 = 4000.0;

/// Gains of the IEC 60386 weighting at evenly spaced rates.
pub struct Weighting {
    filter: Cascade,
    step_hz: f64,
    gains: Vec<f64>,
}

impl Default for Weighting {
    fn default() -> Self {
        Self {
            filter: wow_flutter_weighting(FILTER_RATE_HZ),
            step_hz: 0.0,
            gains: Vec::new(),
        }
    }
}

impl Weighting {
    /// The gain at a rate.
    pub fn gain(&self, rate_hz: f64) -> f64 {
        self.filter.response(rate_hz / FILTER_RATE_HZ).norm()
    }

    /// Makes the gains for a transform's bins ready.
    pub fn prepare(&mut self, transform: &Transform) {
        if self.step_hz != transform.step_hz || self.gains.len() != transform.bins.len() {
            self.step_hz = transform.step_hz;
            self.gains = (0..transform.bins.len())
                .map(|k| self.gain(k as f64 * transform.step_hz))
                .collect();
        }
    }

    /// The gains of the transform that was prepared for.
    pub fn gains(&self) -> &[f64] {
        &self.gains
    }
}
