//! What the analysis is given: how speed, phase and level moved, on one time axis.

/// The longest series that is kept live and offline, s: what two lines can be told apart by ends there.
pub const LONGEST_SECONDS: f64 = 65.0;

/// The motion of the tape over the last minute or so: evenly spaced, without gaps, every value finite.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MotionSeries {
    /// Values a second.
    pub rate_hz: f64,
    /// The series are flat (within 1 %) up to here, Hz; nothing above it is read.
    pub flat_to_hz: f64,
    /// Speed deviation from the reference, percent.
    pub speed_percent: Vec<f64>,
    /// Interchannel phase, degrees, unwrapped; as long as the speed.
    pub phase_degrees: Option<Vec<f64>>,
    /// Level of the left and right channel, dB; as long as the speed.
    pub level_db: [Option<Vec<f64>>; 2],
    /// The deviation up to the scrape band, where the carrier allows it.
    pub wide: Option<WideSeries>,
}

/// Speed deviation at a higher rate.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WideSeries {
    /// Values a second.
    pub rate_hz: f64,
    /// Flat up to here, Hz.
    pub flat_to_hz: f64,
    /// Speed deviation from the reference, percent; a few seconds of it are enough.
    pub speed_percent: Vec<f64>,
}

impl MotionSeries {
    /// Its length, s.
    pub fn seconds(&self) -> f64 {
        if self.rate_hz > 0.0 {
            self.speed_percent.len() as f64 / self.rate_hz
        } else {
            0.0
        }
    }

    /// Whether every value is a finite number and every series as long as the speed's.
    pub fn is_sound(&self) -> bool {
        let sound = |values: &[f64]| {
            values.len() == self.speed_percent.len() && values.iter().all(|x| x.is_finite())
        };
        self.rate_hz > 0.0
            && self.flat_to_hz > 0.0
            && sound(&self.speed_percent)
            && self.phase_degrees.as_deref().is_none_or(sound)
            && self.level_db.iter().flatten().all(|values| sound(values))
    }
}
