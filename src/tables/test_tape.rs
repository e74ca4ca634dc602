//! Test tapes: which tones are expected and how far they can be trusted.
//!
//! Those that come with the program are kinds, not tapes: a tape at hand has its own certificate, which is written into
//! a file of the same form in the user's folder.

mod file;

use super::{
    TableError, error_at,
    toml_files::{text_of, toml_files_in, user_data},
};
use std::{
    path::{Path, PathBuf},
    sync::LazyLock,
};

const FILE: &str = "calibration/tapes/generic.toml";
const TEXT: &str = include_str!("../../calibration/tapes/generic.toml");
/// A tape's file is a page of text: much more is some other file.
const MOST_BYTES: u64 = 1 << 20;

/// What a tone of a tape is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ToneUse {
    /// Speed, wow and flutter.
    #[default]
    Speed,
    /// Reference level.
    Level,
    /// Azimuth.
    Azimuth,
    /// Frequency response.
    Response,
}

/// One tone of a tape. Corrections are the certificate's, tolerances are ±.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TapeTone {
    /// Nominal frequency, Hz.
    pub hz: f64,
    /// What it is for.
    pub purpose: ToneUse,
    /// Correction to the frequency, percent.
    pub frequency_correction_percent: f64,
    /// Tolerance of the frequency, percent; `None`: not known.
    pub frequency_tolerance_percent: Option<f64>,
    /// Nominal level, dB relative to the tape's fluxivity; `None`: not known.
    pub level_db: Option<f64>,
    /// Correction to the level, dB.
    pub level_correction_db: f64,
    /// Tolerance of the level, dB; `None`: not known.
    pub level_tolerance_db: Option<f64>,
    /// Azimuth it was recorded with, arc minutes: what a perfect head reads; positive = right channel later.
    pub azimuth_correction_arcmin: f64,
    /// Tolerance of that azimuth, arc minutes; `None`: not known.
    pub azimuth_tolerance_arcmin: Option<f64>,
}

/// Replay equalisation that a tape was recorded for, as its time constants.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Equalisation {
    /// Time constant of the treble, µs.
    pub treble_us: f64,
    /// Time constant of the bass, µs; `None`: none (infinite).
    pub bass_us: Option<f64>,
}

/// One test tape.
#[derive(Clone, Debug, PartialEq)]
pub struct TestTape {
    /// Short name for the command line.
    pub name: String,
    /// What a person calls it.
    pub title: String,
    /// Nominal frequency of its main tone, Hz: the first one listed.
    pub tone_hz: f64,
    /// The certificate's correction to the main tone's frequency, percent.
    pub frequency_correction_percent: f64,
    /// The certificate's tolerance of the main tone's frequency, percent (±).
    pub frequency_tolerance_percent: Option<f64>,
    /// Recorded fluxivity, nWb/m, where the tape is a level tape: 0 dB of its tones' levels.
    pub fluxivity_nwb_per_m: Option<f64>,
    /// All tones, the main one first; never empty.
    pub tones: Vec<TapeTone>,
    /// Equalisation that it was recorded for.
    pub equalisation: Option<Equalisation>,
    /// Name of its tape format, where it has one.
    pub tape_format: Option<String>,
    /// Where the figures come from.
    pub source: String,
}

impl TestTape {
    /// Reads the tapes of a TOML text; `file` is what an error calls it.
    ///
    /// # Errors
    /// Names file, line, key and value of what is wrong, and what is allowed.
    pub fn parse_all(file: &str, text: &str) -> Result<Vec<Self>, TableError> {
        file::parse(file, text)
    }

    /// What its level tone adds to its fluxivity by the certificate, dB; 0 where it has none.
    pub fn level_correction_db(&self) -> f64 {
        let level = |tone: &&TapeTone| tone.purpose == ToneUse::Level;
        let tone = self.tones.iter().find(level).or(self.tones.first());
        tone.map_or(0.0, |tone| tone.level_correction_db)
    }
}

static TAPES: LazyLock<Result<Vec<TestTape>, TableError>> =
    LazyLock::new(|| TestTape::parse_all(FILE, TEXT));

/// All supplied test tapes.
///
/// # Errors
/// When the built-in table is damaged (a test reads it).
pub fn test_tapes() -> Result<&'static [TestTape], TableError> {
    TAPES.as_deref().map_err(Clone::clone)
}

/// The supplied test tape of that name.
///
/// # Errors
/// Names the tapes there are when there is none of that name.
pub fn test_tape(name: &str) -> Result<&'static TestTape, TableError> {
    let tapes = test_tapes()?;
    named(tapes, name).ok_or_else(|| unknown(name, tapes))
}

/// The user's own test tapes: all `.toml` files of a folder, by name of the file. No folder is no tape.
///
/// # Errors
/// Names file, line and key of what is wrong in any of them, and a tape that is there twice.
pub fn test_tapes_in(folder: &Path) -> Result<Vec<TestTape>, TableError> {
    let mut tapes: Vec<TestTape> = Vec::new();
    for path in toml_files_in(folder) {
        for tape in read(&path)? {
            if named(&tapes, &tape.name).is_some() {
                return Err(TableError(format!(
                    "{}: a tape named '{}' is in another file of {}; rename one",
                    path.display(),
                    tape.name,
                    folder.display()
                )));
            }
            tapes.push(tape);
        }
    }
    Ok(tapes)
}

/// The test tape of that name in the user's folder (which goes first) or among the supplied ones, else the only tape of
/// the file at that path.
///
/// # Errors
/// When there is neither, the file holds none or several, or something in a file is wrong.
pub fn test_tape_by_name_or_path(
    name_or_path: &str,
    folder: Option<&Path>,
) -> Result<TestTape, TableError> {
    let mut tapes = folder.map_or(Ok(Vec::new()), test_tapes_in)?;
    tapes.extend_from_slice(test_tapes()?);
    if let Some(tape) = named(&tapes, name_or_path) {
        return Ok(tape.clone());
    }
    let path = Path::new(name_or_path);
    if !path.exists() {
        return Err(unknown(name_or_path, &tapes));
    }
    let mut tapes = read(path)?;
    match (tapes.pop(), tapes.is_empty()) {
        (Some(tape), true) => Ok(tape),
        _ => Err(TableError(format!(
            "{name_or_path}: {} tapes are in this file; put it into {} and name one of them",
            tapes.len() + 1,
            folder.map_or("your tapes folder".into(), |folder| folder
                .display()
                .to_string())
        ))),
    }
}

/// The folder `tapes` in the user's data folder, for test tapes of one's own; `None` where the system has no such folder.
pub fn user_tapes_folder() -> Option<PathBuf> {
    user_data("tapes")
}

fn named<'a>(tapes: &'a [TestTape], name: &str) -> Option<&'a TestTape> {
    tapes.iter().find(|tape| tape.name == name)
}

fn unknown(name: &str, tapes: &[TestTape]) -> TableError {
    let names: Vec<_> = tapes.iter().map(|tape| tape.name.as_str()).collect();
    TableError(format!(
        "no test tape '{name}'; use one of: {}",
        names.join(", ")
    ))
}

fn read(path: &Path) -> Result<Vec<TestTape>, TableError> {
    let text = text_of(path, "a test tape's TOML file", MOST_BYTES)?;
    TestTape::parse_all(&path.display().to_string(), &text)
}
