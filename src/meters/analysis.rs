//! The slow searches: which lines there are in the motion of the last minute. They take milliseconds, so a live stream
//! has them done on a thread of their own; a take that is over waits for them.

use super::motion::{Motion, MotionTap};
use crate::{
    readings::Component,
    signal::lines::{LineFinder, MOST_LINES},
};

/// Lines of the speed deviation are looked for from here.
const LINES_LOW_HZ: f64 = 0.1;
/// Lines smaller than this (percent) are not worth a row.
const LEAST_LINE_PERCENT: f64 = 0.0003;
/// The upper end of the unweighted band, which the components belong to.
const LINES_HIGH_HZ: f64 = 200.0;
/// Rates of the azimuth's wander that are looked for.
const WANDER_LOW_HZ: f64 = 0.1;
const WANDER_HIGH_HZ: f64 = 25.0;

/// What the searches found.
#[derive(Clone, Debug, Default)]
pub struct Analysis {
    /// The collection of motion it was made of.
    pub(super) generation: u64,
    /// Strongest lines of the speed deviation, strongest first.
    pub(super) components: Vec<Component>,
    /// Width of a line that can be told from its neighbour, Hz.
    pub(super) resolution_hz: Option<f64>,
    /// Rate of the strongest line of the phase, Hz.
    pub(super) wander_rate_hz: Option<f64>,
}

/// The searcher, with its transforms.
pub struct Analyst {
    finder: LineFinder,
}

impl Analyst {
    /// For motion out of a demodulator at `demodulated_hz`. Allocates.
    pub fn new(demodulated_hz: f64) -> Self {
        Self {
            finder: LineFinder::new(MotionTap::most_values(demodulated_hz)),
        }
    }

    /// Searches.
    pub fn analyse(&mut self, motion: Motion) -> Analysis {
        let generation = motion.generation;
        let motion = motion.into_series();
        let rate_hz = motion.rate_hz;
        let lines = self.finder.find(
            &motion.speed_percent,
            rate_hz,
            LINES_LOW_HZ..LINES_HIGH_HZ,
            MOST_LINES,
        );
        let phase = motion.phase_degrees.as_deref().unwrap_or_default();
        let wander = self
            .finder
            .find(phase, rate_hz, WANDER_LOW_HZ..WANDER_HIGH_HZ, 1);
        Analysis {
            generation,
            components: lines
                .into_iter()
                .map(|line| Component {
                    rate_hz: line.rate_hz,
                    peak_percent: line.amplitude,
                    part: None,
                    order: None,
                })
                .filter(|component| component.peak_percent >= LEAST_LINE_PERCENT)
                .collect(),
            resolution_hz: Some(LineFinder::resolution_hz(
                motion.speed_percent.len(),
                rate_hz,
            )),
            wander_rate_hz: wander.first().map(|line| line.rate_hz),
        }
    }
}
