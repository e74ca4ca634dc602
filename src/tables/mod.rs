//! The calibration data of `calibration/`: built into the program, read through one checked door.

mod limits;
mod mechanism;
mod tape_format;
mod test_tape;
mod toml_files;

pub use limits::{
    AzimuthLimits, BalanceLimits, Band, FlutterLimits, InputLevelLimits, Limits, SpeedLimits,
};
pub use mechanism::{
    DEFAULT_TOLERANCE_PERCENT, MOST_PARTS, Mechanism, MechanismError, Part, PartKind, PartRate,
    ReelPack, mechanism, mechanism_by_name_or_path, mechanism_names,
};
pub use tape_format::{TapeFormat, tape_format, tape_formats};
pub use test_tape::{
    Equalisation, TapeTone, TestTape, ToneUse, test_tape, test_tape_by_name_or_path, test_tapes,
    test_tapes_in, user_tapes_folder,
};
pub(crate) use toml_files::{text_of, toml_files_in, user_data};

/// A table that cannot be used; one line with file, line, key and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct TableError(pub String);

/// Reads one TOML text into `T`; the error names `file`, the line, the key, and what is wrong there.
///
/// # Errors
/// When the text is not TOML, a key is unknown or missing, or a value has the wrong type.
pub fn parse_toml<T: serde::de::DeserializeOwned>(file: &str, text: &str) -> Result<T, TableError> {
    toml::from_str(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        let what = error.message().lines().collect::<Vec<_>>().join(" ");
        error_at(file, text, at, &what)
    })
}

/// An error at a byte offset of a TOML text: names the file, the line, and the key where the line sets one.
pub(crate) fn error_at(file: &str, text: &str, at: usize, what: &str) -> TableError {
    let before = &text.as_bytes()[..at.min(text.len())];
    let line_number = before.iter().filter(|&&byte| byte == b'\n').count() + 1;
    let line = text.lines().nth(line_number - 1).unwrap_or_default();
    let key = line
        .split_once('=')
        .map(|(key, _)| key.trim())
        .filter(|key| !key.is_empty() && !key.starts_with(['#', '[']))
        .map(|key| format!(", key {key}"))
        .unwrap_or_default();
    TableError(format!("{file}, line {line_number}{key}: {what}"))
}
