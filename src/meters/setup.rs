//! What the meters are told from outside: the tape in use and what is known of the interface.

use crate::{
    profile::{ClockFigure, InterfaceProfile, PairFigure},
    readings::MechanismReading,
    tables::{Mechanism, TableError, TapeFormat, TapeTone, TestTape, tape_formats},
};
use std::sync::Arc;

/// The level of a level tape, as it was read: what 'dB to reference fluxivity' refers to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelReference {
    /// Level of the left channel on that tape, dBFS.
    pub left_dbfs: f64,
    /// Level of the right channel, dBFS.
    pub right_dbfs: f64,
    /// Nominal fluxivity of it, nWb/m: 0 dB of what is referred to it.
    pub fluxivity_nwb_per_m: f64,
    /// Level of the tone that was read, by the tape's certificate, dB relative to the nominal fluxivity: see
    /// [`MeterSetup::recorded_level_db`].
    pub correction_db: f64,
}

/// The inputs of the interface against each other: what is taken out of phase, balance and volts. Uncertainties are
/// expanded (k = 2).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputPair {
    /// Whether it was measured; the figures are assumptions otherwise, and the readings say so.
    pub measured: bool,
    /// Delay of the right input, µs; positive = right later.
    pub skew_us: f64,
    /// Uncertainty of `skew_us`, µs.
    pub skew_tolerance_us: f64,
    /// Left minus right for the same signal, dB.
    pub gain_db: f64,
    /// Uncertainty of `gain_db`, dB.
    pub gain_tolerance_db: f64,
    /// Whether the right input is upside down against the left.
    pub opposite_polarity: bool,
}

impl Default for InputPair {
    /// Common practice, no source: the converters of a stereo pair sample at the same instant and their filters match
    /// within half a microsecond; fixed line inputs match within half a decibel.
    fn default() -> Self {
        Self {
            measured: false,
            skew_us: 0.0,
            skew_tolerance_us: 0.5,
            gain_db: 0.0,
            gain_tolerance_db: 0.5,
            opposite_polarity: false,
        }
    }
}

impl From<&PairFigure> for InputPair {
    fn from(figure: &PairFigure) -> Self {
        Self {
            measured: true,
            skew_us: figure.skew_us,
            skew_tolerance_us: figure.skew_uncertainty_us,
            gain_db: figure.gain_db,
            gain_tolerance_db: figure.gain_uncertainty_db,
            opposite_polarity: figure.opposite_polarity,
        }
    }
}

/// A tone that the tape carries, with what its certificate says of it. Tolerances are ±.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ExpectedTone {
    /// Nominal frequency, Hz.
    pub nominal_hz: f64,
    /// Correction to the frequency, percent.
    pub frequency_correction_percent: f64,
    /// Tolerance of the frequency, percent; `None`: not known, left out, and said so.
    pub frequency_tolerance_percent: Option<f64>,
    /// Level the tone is recorded at, with the certificate's correction, dB relative to the reference fluxivity; `None`
    /// where the tape does not say.
    pub level_db: Option<f64>,
    /// Tolerance of the level, dB.
    pub level_tolerance_db: Option<f64>,
    /// Azimuth the tape was recorded with: what a perfect head reads, arc minutes; positive = right later.
    pub azimuth_correction_arcmin: f64,
    /// Tolerance of that azimuth, arc minutes; `None`: not known, left out.
    pub azimuth_tolerance_arcmin: Option<f64>,
}

impl ExpectedTone {
    /// The frequency it should have, Hz: nominal × (1 + correction).
    pub fn reference_hz(&self) -> f64 {
        self.nominal_hz * (1.0 + self.frequency_correction_percent / 100.0)
    }
}

impl From<&TapeTone> for ExpectedTone {
    fn from(tone: &TapeTone) -> Self {
        Self {
            nominal_hz: tone.hz,
            frequency_correction_percent: tone.frequency_correction_percent,
            frequency_tolerance_percent: tone.frequency_tolerance_percent,
            level_db: tone.level_db.map(|db| db + tone.level_correction_db),
            level_tolerance_db: tone.level_tolerance_db,
            azimuth_correction_arcmin: tone.azimuth_correction_arcmin,
            azimuth_tolerance_arcmin: tone.azimuth_tolerance_arcmin,
        }
    }
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
    /// Voltage (rms) of a full-scale sine at the interface's left input; the right one's follows from the inputs' gains.
    /// `None` until it is calibrated.
    pub full_scale_volts_rms: Option<f64>,
    /// The level tape last read.
    pub level_reference: Option<LevelReference>,
    /// The inputs of the interface against each other.
    pub inputs: InputPair,
    /// All tones of the tape chosen, where it is known; the tone nearest to what plays counts. `tone_hz` is then its
    /// main tone.
    pub tape_tones: Vec<ExpectedTone>,
    /// Whether the technician has said which of the two usual speed tapes plays: it is not asked again then.
    pub tape_is_certain: bool,
    /// Whether somebody looks at the spectra: they are then worked out twice a second, otherwise, for the strongest lines
    /// alone, every two seconds.
    pub spectra_shown: bool,
    /// Whether somebody looks at the X–Y figure: it is only then kept.
    pub xy_shown: bool,
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
            inputs: InputPair::default(),
            tape_tones: Vec::new(),
            tape_is_certain: false,
            spectra_shown: false,
            xy_shown: false,
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
        self.tape_tones = tape.tones.iter().map(ExpectedTone::from).collect();
        self
    }

    /// Reads through an interface of which nothing is known.
    #[must_use]
    pub fn without_profile(mut self) -> Self {
        self.clock_error_ppm = 0.0;
        self.clock_tolerance_ppm = DEFAULT_CLOCK_TOLERANCE_PPM;
        self.inputs = InputPair::default();
        self.full_scale_volts_rms = None;
        self
    }

    /// Reads through an interface that is known: what the profile holds is taken out of the readings, what it does not
    /// hold stays assumed.
    #[must_use]
    pub fn with_profile(mut self, profile: &InterfaceProfile) -> Self {
        let clock = profile.clock.as_ref().map(ClockFigure::usable);
        (self.clock_error_ppm, self.clock_tolerance_ppm) =
            clock.unwrap_or((0.0, DEFAULT_CLOCK_TOLERANCE_PPM));
        self.inputs = profile
            .inputs
            .as_ref()
            .map_or_else(InputPair::default, InputPair::from);
        if let Some(level) = &profile.level {
            // Only the right one may have been calibrated: the left one's follows from the gains.
            let from_right = level
                .right_full_scale_volts_rms
                .map(|volts| volts * 10f64.powf(-self.inputs.gain_db / 20.0));
            self.full_scale_volts_rms = level.left_full_scale_volts_rms.or(from_right);
        }
        self
    }

    /// Whether the interface's clock was measured.
    pub fn is_clock_measured(&self) -> bool {
        self.clock_tolerance_ppm < DEFAULT_CLOCK_TOLERANCE_PPM
    }

    /// The tone that one of `tone_hz` is taken for: of the tape's tones the nearest, else the one stated, else the
    /// nearest of `usual_hz`. Of the tape's main tone, what was typed goes before the tape's own figures.
    pub fn expected_tone(&self, tone_hz: f64, usual_hz: &[f64]) -> ExpectedTone {
        let off = |nominal_hz: f64| (tone_hz / nominal_hz).ln().abs();
        let Some(main_hz) = self.tone_hz else {
            let usual = usual_hz.iter().copied();
            let nearest_hz = usual.min_by(|a, b| off(*a).total_cmp(&off(*b)));
            return self.stated_tone(nearest_hz.unwrap_or(tone_hz));
        };
        let is_main = |tone: &ExpectedTone| tone.nominal_hz == main_hz;
        let tones = self.tape_tones.iter();
        let nearest = tones.min_by(|a, b| off(a.nominal_hz).total_cmp(&off(b.nominal_hz)));
        match nearest {
            Some(tone) if is_main(tone) => ExpectedTone {
                frequency_correction_percent: self.tone_correction_percent,
                frequency_tolerance_percent: self.tone_tolerance_percent,
                ..*tone
            },
            Some(tone) if self.tape_tones.iter().any(is_main) => *tone,
            // A tone that the tape does not carry was typed: it stands alone.
            _ => self.stated_tone(main_hz),
        }
    }

    /// The level at which the chosen tape carries a tone, dB relative to its fluxivity, certificate's correction included;
    /// 0 where it does not say. What a [`LevelReference`] read from that tone is corrected by.
    pub fn recorded_level_db(&self, tone_hz: f64) -> f64 {
        self.expected_tone(tone_hz, &[]).level_db.unwrap_or(0.0)
    }

    fn stated_tone(&self, nominal_hz: f64) -> ExpectedTone {
        ExpectedTone {
            nominal_hz,
            frequency_correction_percent: self.tone_correction_percent,
            frequency_tolerance_percent: self.tone_tolerance_percent,
            ..ExpectedTone::default()
        }
    }

    /// What a measured frequency is multiplied by to correct the interface's clock: a card that samples fast makes
    /// every tone look low.
    pub fn clock_factor(&self) -> f64 {
        1.0 + self.clock_error_ppm * 1e-6
    }
}
