//! An interface's profile: what was measured of it, in the form it is kept in.

use super::{
    crosstalk::{Crosstalk, CrosstalkReading},
    date::{age_in_words, to_date},
    level::{FullScale, KnownSine},
    noise::{InputNoise, NoiseReading},
    y_lead::{Leads, YLeadReading},
};
use crate::{
    readings::{ClockReading, SourceDescription, Synchronisation},
    tables::{TableError, error_at, parse_toml},
};
use serde::{Deserialize, Serialize};
use std::{ops::RangeInclusive, time::SystemTime};
use toml::value::Datetime;

const HEADER: &str = "\
# What is known of an audio interface at one sample rate; written by 'trimwatch profile'. Figures may be edited; a section
# that is deleted counts as not measured. Uncertainties are expanded (k = 2).

";

/// An unsynchronised computer's clock is an ordinary quartz, ppm. Common practice, no source.
const UNSYNCHRONISED_PPM: f64 = 50.0;
/// What a sample clock moves between two days, by temperature and age, ppm. Common practice, no source.
const DAY_TO_DAY_PPM: f64 = 3.0;

/// Everything measured of one device at one rate. What was not measured is `None`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InterfaceProfile {
    /// The device as the source describes it: sound system and name.
    pub device: String,
    /// Sample rate, Hz.
    pub sample_rate_hz: u32,
    /// The sample clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<ClockFigure>,
    /// The inputs against each other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inputs: Option<PairFigure>,
    /// Full scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<LevelFigure>,
    /// Noise with shorted inputs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noise: Option<NoiseFigure>,
    /// Crosstalk.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crosstalk: Option<CrosstalkFigure>,
}

/// The sample clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClockFigure {
    /// Error, ppm; positive = the card samples fast.
    pub error_ppm: f64,
    /// Uncertainty against the computer's clock, ppm.
    pub uncertainty_ppm: f64,
    /// Capture behind it, seconds.
    pub seconds: f64,
    /// Whether the computer's clock was right: `synchronised`, `not synchronised`, `not known`.
    pub computer_clock: String,
    /// When.
    pub measured: Datetime,
}

impl ClockFigure {
    /// What a capture told; `None` while it tells nothing.
    pub fn of(reading: &ClockReading, now: SystemTime) -> Option<Self> {
        Some(Self {
            error_ppm: rounded(reading.error_ppm?, 1e-3),
            uncertainty_ppm: rounded(reading.uncertainty_ppm?, 1e-3),
            seconds: reading.seconds.round(),
            computer_clock: reading.synchronisation.words().into(),
            measured: to_date(now),
        })
    }

    /// Error and uncertainty to correct by on another day, ppm: with what a clock moves from day to day, and with the
    /// computer's own tolerance unless that was known to be right.
    pub fn usable(&self) -> (f64, f64) {
        let computer_ppm = if self.computer_clock == Synchronisation::Synchronised.words() {
            0.0
        } else {
            UNSYNCHRONISED_PPM
        };
        let uncertainty = self
            .uncertainty_ppm
            .hypot(DAY_TO_DAY_PPM)
            .hypot(computer_ppm);
        (self.error_ppm, uncertainty)
    }
}

/// The inputs against each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairFigure {
    /// Delay of the right input, µs; positive = right later.
    pub skew_us: f64,
    /// Its uncertainty, µs.
    pub skew_uncertainty_us: f64,
    /// Left minus right for the same signal, dB.
    pub gain_db: f64,
    /// Its uncertainty, dB.
    pub gain_uncertainty_db: f64,
    /// Whether one input is upside down.
    #[serde(default)]
    pub opposite_polarity: bool,
    /// `straight`, `swapped` or `not checked`: told, never corrected.
    pub leads: String,
    /// Tones it was read from, Hz; none: noise.
    #[serde(default)]
    pub tones_hz: Vec<f64>,
    /// When.
    pub measured: Datetime,
}

impl PairFigure {
    /// What the Y lead told; `None` while it tells nothing.
    pub fn of(reading: &YLeadReading, now: SystemTime) -> Option<Self> {
        Some(Self {
            skew_us: rounded(reading.skew_us?, 1e-4),
            skew_uncertainty_us: rounded(reading.skew_uncertainty_us?, 1e-4),
            gain_db: rounded(reading.gain_db?, 1e-4),
            gain_uncertainty_db: rounded(reading.gain_uncertainty_db?, 1e-4),
            opposite_polarity: reading.opposite_polarity,
            leads: reading.leads.words().into(),
            tones_hz: reading
                .tones
                .iter()
                .map(|tone| rounded(tone.hz, 0.1))
                .collect(),
            measured: to_date(now),
        })
    }
}

/// Full scale.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LevelFigure {
    /// Voltage of a full-scale sine at the left input, V rms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_full_scale_volts_rms: Option<f64>,
    /// The same of the right input.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub right_full_scale_volts_rms: Option<f64>,
    /// Uncertainty of both, percent.
    pub uncertainty_percent: f64,
    /// The voltage that was typed, V rms.
    pub typed_volts_rms: f64,
    /// The sine's frequency, Hz.
    pub tone_hz: f64,
    /// When.
    pub measured: Datetime,
}

impl LevelFigure {
    /// What a known sine told.
    pub fn of(full_scale: &FullScale, sine: &KnownSine, now: SystemTime) -> Self {
        let volts = |volts: Option<f64>| volts.map(|volts| rounded(volts, 1e-5));
        Self {
            left_full_scale_volts_rms: volts(full_scale.left_volts_rms),
            right_full_scale_volts_rms: volts(full_scale.right_volts_rms),
            uncertainty_percent: rounded(full_scale.uncertainty_percent, 1e-2),
            typed_volts_rms: sine.volts_rms,
            tone_hz: sine.hz,
            measured: to_date(now),
        }
    }
}

/// Noise with shorted inputs; left, right.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoiseFigure {
    /// 20 Hz to 20 kHz, dBFS rms.
    pub rms_dbfs: [f64; 2],
    /// The same A-weighted, dBFS rms.
    pub a_weighted_dbfs: [f64; 2],
    /// Hum of the left input, where it stands out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_hum: Option<HumFigure>,
    /// Hum of the right input, where it stands out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub right_hum: Option<HumFigure>,
    /// When.
    pub measured: Datetime,
}

/// Hum of an input.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HumFigure {
    /// 50 or 60 Hz.
    pub mains_hz: f64,
    /// Fundamental and harmonics to the sixth, dBFS.
    pub dbfs: f64,
}

impl NoiseFigure {
    /// What shorted inputs told; `None` while they tell nothing.
    pub fn of(reading: &NoiseReading, now: SystemTime) -> Option<Self> {
        let inputs = reading.inputs?;
        let db = |figure: fn(&InputNoise) -> f64| inputs.map(|input| rounded(figure(&input), 0.01));
        let [left_hum, right_hum] = inputs.map(|input| {
            input.hum.map(|hum| HumFigure {
                mains_hz: hum.mains_hz,
                dbfs: rounded(hum.total_dbfs, 0.01),
            })
        });
        Some(Self {
            rms_dbfs: db(|input| input.rms_dbfs),
            a_weighted_dbfs: db(|input| input.a_weighted_dbfs),
            left_hum,
            right_hum,
            measured: to_date(now),
        })
    }
}

/// Crosstalk, the worst of the tones in each direction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CrosstalkFigure {
    /// From left into right, dB.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub into_right_db: Option<f64>,
    /// From right into left, dB.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub into_left_db: Option<f64>,
    /// Whether a direction is a bound: the crosstalk itself drowned. Right, left.
    #[serde(default)]
    pub at_most: [bool; 2],
    /// Tones it was read at, Hz.
    pub tones_hz: Vec<f64>,
    /// When.
    pub measured: Datetime,
}

impl CrosstalkFigure {
    /// What driven inputs told; `None` while they tell nothing.
    pub fn of(reading: &CrosstalkReading, now: SystemTime) -> Option<Self> {
        let worst = |figures: &[Crosstalk]| CrosstalkReading::worst(figures);
        let directions = [worst(&reading.into_right), worst(&reading.into_left)];
        directions.iter().flatten().next()?;
        let tones = reading.into_right.iter().chain(&reading.into_left);
        let mut tones_hz: Vec<f64> = tones.map(|figure| figure.hz.round()).collect();
        tones_hz.sort_by(f64::total_cmp);
        tones_hz.dedup();
        let [right, left] = directions.map(|figure| figure.map(|figure| rounded(figure.db, 0.01)));
        Some(Self {
            into_right_db: right,
            into_left_db: left,
            at_most: directions.map(|figure| figure.is_some_and(|figure| figure.at_most)),
            tones_hz,
            measured: to_date(now),
        })
    }

    /// Joins what was measured earlier the other way round: one session drives one input only.
    #[must_use]
    pub fn completed_by(mut self, earlier: Option<&Self>) -> Self {
        let Some(earlier) = earlier else { return self };
        if self.into_right_db.is_none() {
            self.into_right_db = earlier.into_right_db;
            self.at_most[0] = earlier.at_most[0];
        }
        if self.into_left_db.is_none() {
            self.into_left_db = earlier.into_left_db;
            self.at_most[1] = earlier.at_most[1];
        }
        self
    }
}

/// One direction of a range check: key, value, what is allowed, unit.
type Bound<'a> = (&'a str, &'a str, f64, RangeInclusive<f64>, &'a str);

impl InterfaceProfile {
    /// A profile in which nothing is measured yet.
    pub fn new(description: &SourceDescription) -> Self {
        Self::unmeasured(device_of(description), description.sample_rate_hz)
    }

    /// The same, by the device's name as a profile knows it.
    pub const fn unmeasured(device: String, sample_rate_hz: u32) -> Self {
        Self {
            device,
            sample_rate_hz,
            clock: None,
            inputs: None,
            level: None,
            noise: None,
            crosstalk: None,
        }
    }

    /// Whether it is that of the device that runs, at the rate it runs at.
    pub fn is_of(&self, description: &SourceDescription) -> bool {
        self.device == device_of(description) && self.sample_rate_hz == description.sample_rate_hz
    }

    /// Reads a profile from TOML; `file` is what an error calls the text.
    ///
    /// # Errors
    /// Names file, line, key and value of what is wrong.
    pub fn parse(file: &str, text: &str) -> Result<Self, TableError> {
        let profile: Self = parse_toml(file, text)?;
        for (section, key, value, range, unit) in profile.bounds() {
            if !range.contains(&value) {
                let what = format!(
                    "{value} is outside {} to {} {unit}",
                    range.start(),
                    range.end()
                );
                return Err(error_at(file, text, offset_of(text, section, key), &what));
            }
        }
        profile.check_words(file, text)?;
        Ok(profile)
    }

    /// The profile as TOML, with a head that says what it is.
    ///
    /// # Errors
    /// Where a figure is no number.
    pub fn to_toml(&self) -> Result<String, TableError> {
        let text = toml::to_string(self)
            .map_err(|error| TableError(format!("the profile cannot be written: {error}")))?;
        Ok(format!("{HEADER}{text}"))
    }

    /// How old its oldest figure is, in words; `None` where it has none.
    pub fn age_in_words(&self, now: SystemTime) -> Option<String> {
        let oldest = self
            .dates()
            .into_iter()
            .flatten()
            .min_by_key(|date| date.to_string())?;
        Some(age_in_words(oldest, now))
    }

    fn dates(&self) -> [Option<&Datetime>; 5] {
        [
            self.clock.as_ref().map(|figure| &figure.measured),
            self.inputs.as_ref().map(|figure| &figure.measured),
            self.level.as_ref().map(|figure| &figure.measured),
            self.noise.as_ref().map(|figure| &figure.measured),
            self.crosstalk.as_ref().map(|figure| &figure.measured),
        ]
    }

    fn bounds(&self) -> Vec<Bound<'_>> {
        let mut bounds: Vec<Bound<'_>> = vec![(
            "",
            "sample_rate_hz",
            f64::from(self.sample_rate_hz),
            8000.0..=384_000.0,
            "Hz",
        )];
        if let Some(clock) = &self.clock {
            bounds.push((
                "clock",
                "error_ppm",
                clock.error_ppm,
                -1000.0..=1000.0,
                "ppm",
            ));
            bounds.push((
                "clock",
                "uncertainty_ppm",
                clock.uncertainty_ppm,
                0.0..=1000.0,
                "ppm",
            ));
        }
        if let Some(inputs) = &self.inputs {
            bounds.push(("inputs", "skew_us", inputs.skew_us, -1000.0..=1000.0, "µs"));
            let skew = inputs.skew_uncertainty_us;
            bounds.push(("inputs", "skew_uncertainty_us", skew, 0.0..=1000.0, "µs"));
            bounds.push(("inputs", "gain_db", inputs.gain_db, -40.0..=40.0, "dB"));
            let gain = inputs.gain_uncertainty_db;
            bounds.push(("inputs", "gain_uncertainty_db", gain, 0.0..=40.0, "dB"));
        }
        if let Some(level) = &self.level {
            let volts = [
                ("left_full_scale_volts_rms", level.left_full_scale_volts_rms),
                (
                    "right_full_scale_volts_rms",
                    level.right_full_scale_volts_rms,
                ),
            ];
            for (key, volts) in volts {
                let volts = volts.unwrap_or(1.0);
                bounds.push(("level", key, volts, 0.001..=100.0, "V"));
            }
            let percent = level.uncertainty_percent;
            bounds.push(("level", "uncertainty_percent", percent, 0.0..=100.0, "%"));
        }
        bounds
    }

    fn check_words(&self, file: &str, text: &str) -> Result<(), TableError> {
        let clock = self
            .clock
            .as_ref()
            .map(|clock| clock.computer_clock.as_str());
        let clocks = [
            Synchronisation::Synchronised,
            Synchronisation::NotSynchronised,
            Synchronisation::NotKnown,
        ];
        let leads = self.inputs.as_ref().map(|inputs| inputs.leads.as_str());
        let known_leads = [Leads::Straight, Leads::Swapped, Leads::NotChecked];
        for (section, key, word, known) in [
            (
                "clock",
                "computer_clock",
                clock,
                clocks.map(Synchronisation::words),
            ),
            ("inputs", "leads", leads, known_leads.map(Leads::words)),
        ] {
            if let Some(word) = word.filter(|word| !known.contains(word)) {
                let what = format!("'{word}' is not one of: {}", known.join(", "));
                return Err(error_at(file, text, offset_of(text, section, key), &what));
            }
        }
        Ok(())
    }
}

/// Sound system and name of the device that runs, as a profile knows it.
pub fn device_of(description: &SourceDescription) -> String {
    match &description.host {
        Some(host) => format!("{host}: {}", description.name),
        None => description.name.clone(),
    }
}

/// Where a key stands in a section of a TOML text.
fn offset_of(text: &str, section: &str, key: &str) -> usize {
    let mut inside = section.is_empty();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let words = line.trim();
        if words.starts_with('[') {
            inside = words.trim_matches(['[', ']']) == section;
        } else if inside
            && words
                .split_once('=')
                .is_some_and(|(name, _)| name.trim() == key)
        {
            return at;
        }
        at += line.len();
    }
    0
}

/// To a multiple of `step`, so that a file shows no digits that mean nothing.
fn rounded(value: f64, step: f64) -> f64 {
    let per_unit = (1.0 / step).round();
    (value * per_unit).round() / per_unit
}
