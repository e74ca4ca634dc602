//! A number of a deck file with its range in its type, so that the reader of the file can name line and key.

use serde::{
    Deserialize, Deserializer,
    de::{Error, Visitor},
};
use std::fmt;

/// A finite number from `LOW` to `HIGH`, both included, in the unit its key names; `LOW` itself is left out where
/// `ABOVE` says so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Within<const LOW: i32, const HIGH: i32, const ABOVE: bool = false>(f64);

/// A number above 0, up to `HIGH`.
pub(super) type UpTo<const HIGH: i32> = Within<0, HIGH, true>;

impl<const LOW: i32, const HIGH: i32, const ABOVE: bool> Within<LOW, HIGH, ABOVE> {
    pub(super) const fn get(self) -> f64 {
        self.0
    }

    fn contains(value: f64) -> bool {
        (f64::from(LOW)..=f64::from(HIGH)).contains(&value) && !(ABOVE && value <= f64::from(LOW))
    }
}

impl<const LOW: i32, const HIGH: i32> Within<LOW, HIGH> {
    /// A default of the file format; one out of range is moved to the nearest end.
    pub(super) const fn new(value: f64) -> Self {
        Self(value.clamp(LOW as f64, HIGH as f64))
    }
}

impl<const LOW: i32, const HIGH: i32> Default for Within<LOW, HIGH> {
    fn default() -> Self {
        Self::new(0.0)
    }
}

impl<'de, const LOW: i32, const HIGH: i32, const ABOVE: bool> Deserialize<'de>
    for Within<LOW, HIGH, ABOVE>
{
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let value = deserializer.deserialize_f64(Number)?;
        if Self::contains(value) {
            return Ok(Self(value));
        }
        let from = if ABOVE { "above " } else { "" };
        Err(D::Error::custom(format!(
            "{value} is out of range; give {from}{LOW} to {HIGH}"
        )))
    }
}

/// Takes `3` for `3.0`, and says what it wants in words.
struct Number;

impl Visitor<'_> for Number {
    type Value = f64;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a number without its unit")
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<f64, E> {
        Ok(value)
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<f64, E> {
        Ok(value as f64)
    }
}
