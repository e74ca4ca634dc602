//! Limits: what a figure must keep to, and who says so. A set is a file in `calibration/limits/` or the user's own; a job
//! carries a copy of the one it is judged by.

use super::{Quantity, Side};
use crate::tables::{TableError, parse_toml};
use serde::{Deserialize, Serialize};

/// The limit of one figure. At least one of `least` and `greatest` is there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Which figure.
    pub quantity: Quantity,
    /// Not below this, in the quantity's unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least: Option<f64>,
    /// Not above this, in the quantity's unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub greatest: Option<f64>,
    /// What to aim for while adjusting: the figure's size at most this, in the quantity's unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aim: Option<f64>,
    /// Where the figures come from.
    pub source: String,
}

impl Limit {
    /// `−1.5 to +1.5 %`, `at most 0.2 %`.
    pub fn words(&self) -> String {
        let number = |value: f64| {
            let text = format!("{}", value.abs());
            match (value < 0.0, self.quantity.is_signed() && value > 0.0) {
                (true, _) => format!("−{text}"),
                (false, true) => format!("+{text}"),
                (false, false) => text,
            }
        };
        let unit = match self.quantity.unit() {
            "" => String::new(),
            unit => format!(" {unit}"),
        };
        match (self.least, self.greatest) {
            (Some(least), Some(greatest)) if (least + greatest).abs() < 1e-12 * greatest => {
                format!("±{greatest}{unit}")
            }
            (Some(least), Some(greatest)) => {
                format!("{} to {}{unit}", number(least), number(greatest))
            }
            (None, Some(greatest)) => format!("at most {}{unit}", number(greatest)),
            (Some(least), None) => format!("at least {}{unit}", number(least)),
            (None, None) => "none".into(),
        }
    }
}

/// A set of limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitSet {
    /// Short name, the same as the file's.
    pub name: String,
    /// What a person calls it.
    pub title: String,
    /// The limits, one a quantity.
    #[serde(default, rename = "limit")]
    pub limits: Vec<Limit>,
}

impl LimitSet {
    /// Reads a set from TOML; `file` is what an error calls the text.
    ///
    /// # Errors
    /// Names file, line and key of what is wrong: an unknown quantity, a limit that allows nothing, a quantity that is
    /// there twice.
    pub fn parse(file: &str, text: &str) -> Result<Self, TableError> {
        let set: Self = parse_toml(file, text)?;
        set.check()
            .map_err(|what| TableError(format!("{file}: {what}")))?;
        Ok(set)
    }

    /// Whether the set makes sense.
    ///
    /// # Errors
    /// In words, with the quantity.
    pub fn check(&self) -> Result<(), String> {
        for (at, limit) in self.limits.iter().enumerate() {
            let key = limit.quantity.key();
            let wrong = |what: &str| Err(format!("limit of {key}: {what}"));
            let numbers = [limit.least, limit.greatest, limit.aim];
            if numbers.iter().flatten().any(|value| !value.is_finite()) {
                return wrong("every number must be finite");
            }
            match (limit.least, limit.greatest) {
                (None, None) => return wrong("give least, greatest or both"),
                (Some(least), Some(greatest)) if least >= greatest => {
                    return wrong("least must lie below greatest");
                }
                _ => {}
            }
            if limit.quantity.side() == Side::Greatest && limit.greatest.is_none() {
                return wrong("this figure can only be too great: give greatest");
            }
            if limit.aim.is_some_and(|aim| aim <= 0.0) {
                return wrong("aim must be above 0");
            }
            if self.limits[..at]
                .iter()
                .any(|other| other.quantity == limit.quantity)
            {
                return wrong("it is there twice");
            }
        }
        Ok(())
    }

    /// The limit of a quantity.
    pub fn of(&self, quantity: Quantity) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.quantity == quantity)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "name = \"a\"\ntitle = \"A\"\n[[limit]]\nquantity = \"speed_deviation_percent\"\nleast = -1.5\n\
        greatest = 1.5\nsource = \"s\"\n[[limit]]\nquantity = \"weighted_two_sigma_percent\"\ngreatest = 0.2\nsource = \"s\"\n";

    #[test]
    fn limits_are_read_and_said_in_words() {
        let set = LimitSet::parse("a.toml", TEXT).expect("sound");
        let words = |quantity| set.of(quantity).expect("a limit").words();
        assert_eq!(words(Quantity::SpeedDeviation), "±1.5 %");
        assert_eq!(words(Quantity::WeightedTwoSigma), "at most 0.2 %");
        assert_eq!(set.of(Quantity::Azimuth), None);
    }

    #[test]
    fn what_makes_no_sense_is_refused() {
        let told = |from: &str, to: &str| {
            LimitSet::parse("a.toml", &TEXT.replace(from, to))
                .expect_err("refused")
                .to_string()
        };
        assert!(told("greatest = 1.5", "greatest = -2").contains("least must lie below"));
        assert!(told("greatest = 0.2", "least = 0.2").contains("only be too great"));
        assert!(told("weighted_two_sigma_percent", "wf").contains("no quantity 'wf'"));
        assert!(told("weighted_two_sigma_percent", "speed_deviation_percent").contains("twice"));
        assert!(told("greatest = 0.2", "greatest = inf").contains("finite"));
    }
}
