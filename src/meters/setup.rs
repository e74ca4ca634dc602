//! What the meters are told from outside: the tape in use and what is known of the interface.

use crate::{
    readings::MechanismReading,
    tables::{Mechanism, TableError, TapeFormat, TestTape, tape_formats},
};
use std::sync::Arc;

/// The level of a level tape, as it was read: what 'dB to reference fluxivity' refers to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelReference {
    /// Level of the left channel on that tape, dBFS.
    pub left_dbfs: f64,
    /// Level of the right channel, dBFS.
    pub right_dbfs: f64,
    /// Fluxivity recorded on it, nWb/m.
    pub fluxivity_nwb_per_m: f64,
}

/// An earlier reading of the same deck's mechanism, which the present one is compared with.
#[derive(Clone, Debug)]
pub struct AsFound(pub Arc<MechanismReading>);

/// The same reading, not one with the same numbers.
impl PartialEq for AsFound {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// Settings of the meter bank. Changing the expected tone restarts the averages; the others only scale.
#[derive(Clone, Debug, PartialEq)]
pub struct MeterSetup {
    /// Nominal tone of the tape, Hz; `None`: the nearest of 3000 and 3150 Hz is assumed, with a notice.
    pub tone_hz: Option<f64>,
    /// The tape certificate's correction to that tone, percent.
    pub tone_correction_percent: f64,
    /// The tape certificate's tolerance of that tone, percent (±); `None`: not known, left out, and said so.
    pub tone_tolerance_percent: Option<f64>,
    /// The tape's format: speed and track geometry.
    pub tape_format: TapeFormat,
    /// Measured error of the interface's sample clock, ppm; positive = the card samples fast.
    pub clock_error_ppm: f64,
    /// Uncertainty of that error (k = 2), ppm; the default is what an unmeasured card commonly keeps.
    pub clock_tolerance_ppm: f64,
    /// Voltage (rms) of a full-scale sine at the interface's input; `None` until it is calibrated.
    pub full_scale_volts_rms: Option<f64>,
    /// The level tape last read.
    pub level_reference: Option<LevelReference>,
    /// The deck's mechanism, where it is known: lines of flutter are then named after its parts.
    pub mechanism: Option<Arc<Mechanism>>,
    /// The mechanism's reading as found.
    pub mechanism_as_found: Option<AsFound>,
}

/// Common practice, no source: an unmeasured sound-card crystal is within 50 ppm.
pub const DEFAULT_CLOCK_TOLERANCE_PPM: f64 = 50.0;

impl MeterSetup {
    /// The first tape format of the table, no tape chosen, interface not calibrated.
    ///
    /// # Errors
    /// When the built-in table of tape formats is damaged.
    pub fn new() -> Result<Self, TableError> {
        let tape_format = tape_formats()?
            .first()
            .cloned()
            .ok_or_else(|| TableError("calibration/tape-formats.toml holds no format".into()))?;
        Ok(Self {
            tone_hz: None,
            tone_correction_percent: 0.0,
            tone_tolerance_percent: None,
            tape_format,
            clock_error_ppm: 0.0,
            clock_tolerance_ppm: DEFAULT_CLOCK_TOLERANCE_PPM,
            full_scale_volts_rms: None,
            level_reference: None,
            mechanism: None,
            mechanism_as_found: None,
        })
    }

    /// Expects `tape`.
    #[must_use]
    pub fn with_tape(mut self, tape: &TestTape) -> Self {
        self.tone_hz = Some(tape.tone_hz);
        self.tone_correction_percent = tape.frequency_correction_percent;
        self.tone_tolerance_percent = tape.frequency_tolerance_percent;
        self
    }

    /// What a measured frequency is multiplied by to correct the interface's clock: a card that samples fast makes
    /// every tone look low.
    pub fn clock_factor(&self) -> f64 {
        1.0 + self.clock_error_ppm * 1e-6
    }

    /// The frequency the expected tone should have, Hz, for a nominal tone: nominal × (1 + correction).
    pub fn reference_hz(&self, nominal_hz: f64) -> f64 {
        nominal_hz * (1.0 + self.tone_correction_percent / 100.0)
    }
}
