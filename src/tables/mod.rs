//! The calibration data of `calibration/`: built into the program, read through one checked door.

mod limits;
mod tape_format;
mod test_tape;

pub use limits::{
    AzimuthLimits, BalanceLimits, Band, FlutterLimits, InputLevelLimits, Limits, SpeedLimits,
};
pub use tape_format::{TapeFormat, tape_format, tape_formats};
pub use test_tape::{TestTape, test_tape, test_tapes};

/// A table that cannot be used; one line with file, line, key and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct TableError(pub String);

/// Reads one TOML text into `T`; the error names `file`, the line, and what is wrong there.
///
/// # Errors
/// When the text is not TOML, a key is unknown or missing, or a value has the wrong type.
pub fn parse_toml<T: serde::de::DeserializeOwned>(file: &str, text: &str) -> Result<T, TableError> {
    toml::from_str(text).map_err(|error| {
        let line = error.span().map_or(1, |span| {
            text[..span.start.min(text.len())].matches('\n').count() + 1
        });
        let what = error.message().lines().collect::<Vec<_>>().join(" ");
        TableError(format!("{file}, line {line}: {what}"))
    })
}
