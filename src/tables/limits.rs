//! How far off is still good and still acceptable: the target bands on the screen's scales.

use super::{TableError, parse_toml};
use serde::Deserialize;

const FILE: &str = "calibration/limits/default.toml";
const TEXT: &str = include_str!("../../calibration/limits/default.toml");

/// A target band in the unit of the adjustment it belongs to: within `aim` is good, within `accept` is acceptable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Good up to here (absolute value).
    pub aim: f64,
    /// Acceptable up to here (absolute value).
    pub accept: f64,
}

impl Band {
    /// Whether `value` (or its negative) lies within the acceptable part.
    pub fn accepts(self, value: f64) -> bool {
        value.abs() <= self.accept
    }

    /// Whether `value` (or its negative) lies within the good part.
    pub fn is_good(self, value: f64) -> bool {
        value.abs() <= self.aim
    }
}

/// Limits of the speed deviation, percent (±).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpeedLimits {
    /// Good up to here, percent.
    pub aim_percent: f64,
    /// Acceptable up to here, percent.
    pub accept_percent: f64,
    /// Where the figures come from.
    pub source: String,
}

/// Limits of the weighted flutter in peak terms, percent.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlutterLimits {
    /// Good up to here, percent.
    pub aim_weighted_peak_percent: f64,
    /// Acceptable up to here, percent.
    pub accept_weighted_peak_percent: f64,
    /// Where the figures come from.
    pub source: String,
}

/// Limits of the azimuth error, arc minutes (±).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AzimuthLimits {
    /// Good up to here, arc minutes.
    pub aim_arcmin: f64,
    /// Acceptable up to here, arc minutes.
    pub accept_arcmin: f64,
    /// Where the figures come from.
    pub source: String,
}

/// Limits of the level difference between the channels, dB (±).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BalanceLimits {
    /// Good up to here, dB.
    pub aim_db: f64,
    /// Acceptable up to here, dB.
    pub accept_db: f64,
    /// Where the figures come from.
    pub source: String,
}

/// What peak level suits the computer's input.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InputLevelLimits {
    /// Peaks below this waste the converter, dB relative to full scale.
    pub low_below_dbfs: f64,
    /// Peaks above this are close to clipping, dB relative to full scale.
    pub hot_above_dbfs: f64,
    /// Where the figures come from.
    pub source: String,
}

/// All limits.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Speed deviation.
    pub speed: SpeedLimits,
    /// Weighted flutter.
    pub flutter: FlutterLimits,
    /// Azimuth error.
    pub azimuth: AzimuthLimits,
    /// Level difference of the channels.
    pub balance: BalanceLimits,
    /// Level at the computer's input.
    pub input_level: InputLevelLimits,
}

impl Limits {
    /// The supplied limits.
    ///
    /// # Errors
    /// When the built-in table is damaged (a test reads it).
    pub fn supplied() -> Result<Self, TableError> {
        Self::parse(FILE, TEXT)
    }

    /// Reads limits from TOML; `file` is what an error calls the text.
    ///
    /// # Errors
    /// Names file, line and key of what is wrong: a key that is missing or unknown, a limit that is not above zero,
    /// an aim wider than what is accepted.
    pub fn parse(file: &str, text: &str) -> Result<Self, TableError> {
        let limits: Self = parse_toml(file, text)?;
        for (section, band) in [
            ("speed", limits.speed_percent()),
            ("flutter", limits.flutter_percent()),
            ("azimuth", limits.azimuth_arcmin()),
            ("balance", limits.balance_db()),
        ] {
            check_band(band).map_err(|what| TableError(format!("{file}, [{section}]: {what}")))?;
        }
        let level = &limits.input_level;
        if level.low_below_dbfs < level.hot_above_dbfs && level.hot_above_dbfs <= 0.0 {
            Ok(limits)
        } else {
            Err(TableError(format!(
                "{file}, [input_level]: low_below_dbfs ({}) must lie below hot_above_dbfs ({}), and that not above 0",
                level.low_below_dbfs, level.hot_above_dbfs
            )))
        }
    }

    /// Band of the speed deviation, percent.
    pub fn speed_percent(&self) -> Band {
        Band {
            aim: self.speed.aim_percent,
            accept: self.speed.accept_percent,
        }
    }

    /// Band of the weighted flutter, peak percent.
    pub fn flutter_percent(&self) -> Band {
        Band {
            aim: self.flutter.aim_weighted_peak_percent,
            accept: self.flutter.accept_weighted_peak_percent,
        }
    }

    /// Band of the azimuth error, arc minutes.
    pub fn azimuth_arcmin(&self) -> Band {
        Band {
            aim: self.azimuth.aim_arcmin,
            accept: self.azimuth.accept_arcmin,
        }
    }

    /// Band of left minus right, dB.
    pub fn balance_db(&self) -> Band {
        Band {
            aim: self.balance.aim_db,
            accept: self.balance.accept_db,
        }
    }
}

fn check_band(band: Band) -> Result<(), String> {
    if band.aim > 0.0 && band.aim <= band.accept && band.accept.is_finite() {
        Ok(())
    } else {
        Err(format!(
            "aim ({}) must be above 0 and not wider than accept ({})",
            band.aim, band.accept
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn supplied_limits_are_sound() {
        let limits = Limits::supplied().expect("the built-in table");
        assert!(limits.speed_percent().accepts(-0.5));
        assert!(!limits.speed_percent().accepts(0.51));
        assert!(limits.speed_percent().is_good(-0.2));
    }

    #[test]
    fn a_wrong_limit_is_told_with_file_and_section() {
        let swapped = TEXT.replace("aim_percent = 0.2", "aim_percent = 0.7");
        let error = Limits::parse("mine.toml", &swapped).expect_err("aim wider than accept");
        assert_eq!(
            error.to_string(),
            "mine.toml, [speed]: aim (0.7) must be above 0 and not wider than accept (0.5)"
        );
        let not_a_number = TEXT.replace("aim_arcmin = 1.0", "aim_arcmin = nan");
        assert!(Limits::parse("mine.toml", &not_a_number).is_err());
    }

    #[test]
    fn a_wrong_key_is_told_with_its_line() {
        let wrong_unit = TEXT.replace("aim_db", "aim_percent_of_db");
        let error = Limits::parse("mine.toml", &wrong_unit).expect_err("unknown key");
        let line = 1 + TEXT[..TEXT.find("aim_db").expect("key")]
            .matches('\n')
            .count();
        let told = error.to_string();
        assert!(
            told.starts_with(&format!("mine.toml, line {line}, key aim_percent_of_db:"))
                && told.contains("aim_percent_of_db"),
            "{told}"
        );
    }
}
