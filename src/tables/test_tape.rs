//! Test tapes: which tone is expected and how far it can be trusted.

use super::{TableError, parse_toml};
use serde::Deserialize;
use std::sync::LazyLock;

const FILE: &str = "calibration/tapes/generic.toml";
const TEXT: &str = include_str!("../../calibration/tapes/generic.toml");

/// One test tape, or one section of it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TestTape {
    /// Short name for the command line.
    pub name: String,
    /// What a person calls it.
    pub title: String,
    /// Nominal tone, Hz.
    pub tone_hz: f64,
    /// The certificate's correction to the tone's frequency, percent.
    #[serde(default)]
    pub frequency_correction_percent: f64,
    /// The certificate's tolerance of the tone's frequency, percent (±).
    #[serde(default)]
    pub frequency_tolerance_percent: Option<f64>,
    /// Recorded fluxivity, nWb/m, where the tape is a level tape.
    #[serde(default)]
    pub fluxivity_nwb_per_m: Option<f64>,
    /// Where the figures come from.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    tape: Vec<TestTape>,
}

static TAPES: LazyLock<Result<Vec<TestTape>, TableError>> =
    LazyLock::new(|| parse_toml::<File>(FILE, TEXT).map(|file| file.tape));

/// All supplied test tapes.
///
/// # Errors
/// When the built-in table is damaged (a test reads it).
pub fn test_tapes() -> Result<&'static [TestTape], TableError> {
    TAPES.as_deref().map_err(Clone::clone)
}

/// The test tape of that name.
///
/// # Errors
/// Names the tapes there are when there is none of that name.
pub fn test_tape(name: &str) -> Result<&'static TestTape, TableError> {
    let tapes = test_tapes()?;
    tapes.iter().find(|tape| tape.name == name).ok_or_else(|| {
        let names: Vec<_> = tapes.iter().map(|tape| tape.name.as_str()).collect();
        TableError(format!(
            "no test tape '{name}'; use one of: {}",
            names.join(", ")
        ))
    })
}
