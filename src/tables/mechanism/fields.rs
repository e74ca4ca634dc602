//! Numbers of a mechanism file with their ranges, so that the reader of the file can name line, key and value.

use serde::{Deserialize as _, Deserializer, de::Error as _};

/// A range of values: what a key may hold.
pub(super) trait Range {
    /// Above this ...
    const ABOVE: f64;
    /// ... and up to this.
    const UP_TO: f64;
    /// The unit, for the error.
    const UNIT: &'static str;
}

macro_rules! range {
    ($name:ident, $above:literal, $up_to:literal, $unit:literal) => {
        #[allow(
            non_camel_case_types,
            reason = "named after the unit of the keys that use it"
        )]
        pub(super) struct $name;
        impl Range for $name {
            const ABOVE: f64 = $above;
            const UP_TO: f64 = $up_to;
            const UNIT: &'static str = $unit;
        }
    };
}

range!(length_mm, 0.0, 10_000.0, "mm");
range!(ratio, 0.0, 1_000.0, "turns a turn");
range!(rate_hz, 0.0, 1_000.0, "Hz");
range!(thickness_um, 0.0, 200.0, "µm");
range!(percent, 0.0, 20.0, "percent");

/// A number in the range `R`, where the key is there.
pub(super) fn optional<'de, R: Range, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<f64>, D::Error> {
    within::<R, D>(deserializer).map(Some)
}

/// Tape speed, metres a second.
pub(super) fn speed_m_per_s<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    range!(speed, 0.0, 10.0, "metres a second");
    within::<speed, D>(deserializer)
}

fn within<'de, R: Range, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    let value = f64::deserialize(deserializer)
        .map_err(|error| D::Error::custom(format!("{error}: give a number without its unit")))?;
    if value > R::ABOVE && value <= R::UP_TO {
        Ok(value)
    } else {
        Err(D::Error::custom(format!(
            "{value} is out of range; give a number above {} and up to {} ({})",
            R::ABOVE,
            R::UP_TO,
            R::UNIT
        )))
    }
}
