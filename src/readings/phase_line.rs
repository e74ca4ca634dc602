//! Phase over frequency: whether it is a delay, a polarity, or something else.

use serde::Serialize;

/// The phase at one frequency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PhasePoint {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Phase, degrees, positive: the right channel lags; whole cycles as the line has them, or within ±180° where there
    /// is no line.
    pub degrees: f64,
    /// Expanded uncertainty (k = 2) of `degrees`.
    pub uncertainty_degrees: f64,
}

/// What the points say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LineVerdict {
    /// A straight line through zero: one delay at all frequencies, that is azimuth.
    Azimuth,
    /// A straight line that meets zero frequency at ±180°.
    OppositePolarity,
    /// A straight line that meets zero frequency elsewhere.
    Electronics,
    /// No straight line.
    NotStraight,
    /// More than one line goes through the points.
    Open,
}

/// A straight line through the phase at several frequencies: phase = intercept + 360·f·delay.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhaseLine {
    /// The points, lowest frequency first.
    pub points: Vec<PhasePoint>,
    /// What they say.
    pub verdict: LineVerdict,
    /// Delay by the slope, µs; `None` where no line stands.
    pub delay_us: Option<f64>,
    /// Expanded uncertainty (k = 2) of `delay_us`, µs, with the interface's.
    pub delay_uncertainty_us: Option<f64>,
    /// Phase at zero frequency, (−180, 180] degrees; `None` where no line stands.
    pub intercept_degrees: Option<f64>,
    /// Expanded uncertainty (k = 2) of `intercept_degrees`.
    pub intercept_uncertainty_degrees: Option<f64>,
}

impl PhaseLine {
    /// Phase of the line at a frequency, degrees; `None` where no line stands.
    pub fn degrees_at(&self, frequency_hz: f64) -> Option<f64> {
        Some(self.intercept_degrees? + 360e-6 * frequency_hz * self.delay_us?)
    }

    /// The verdict as a sentence without its full stop.
    pub fn words(&self) -> String {
        let offset = match (self.intercept_degrees, self.intercept_uncertainty_degrees) {
            (Some(degrees), Some(uncertainty)) => {
                format!("{degrees:.0} ± {:.0}°", uncertainty.max(1.0)).replace('-', "−")
            }
            _ => String::new(),
        };
        match self.verdict {
            LineVerdict::Azimuth => "straight line through zero: azimuth".into(),
            LineVerdict::OppositePolarity => {
                "offset of 180°: one channel's polarity is reversed".into()
            }
            LineVerdict::Electronics => {
                format!("offset of {offset}: electronics, not the head")
            }
            LineVerdict::NotStraight => {
                "no straight line: more than azimuth differs, or the screw was turned in between"
                    .into()
            }
            LineVerdict::Open => "more than one line fits: play another tone, or programme".into(),
        }
    }
}
