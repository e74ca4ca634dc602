//! Track geometry and tape speed: what turns a delay into an azimuth.

use super::{TableError, parse_toml};
use serde::Deserialize;
use std::sync::LazyLock;

const FILE: &str = "calibration/tape-formats.toml";
const TEXT: &str = include_str!("../../calibration/tape-formats.toml");

/// One tape format.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TapeFormat {
    /// Short name for the command line.
    pub name: String,
    /// What a person calls it.
    pub title: String,
    /// Nominal tape speed, metres a second.
    pub tape_speed_m_per_s: f64,
    /// Distance between the centres of the two tracks played together, metres.
    pub track_spacing_m: f64,
    /// Width of one track, metres.
    pub track_width_m: f64,
    /// Azimuth error a serviceable mechanism may arrive with, arc minutes: how far whole cycles are looked for.
    pub plausible_azimuth_arcmin: f64,
    /// Where the figures come from.
    pub source: String,
}

impl TapeFormat {
    /// Azimuth of an interchannel delay: tan α = v·Δt / d. µs in, arc minutes out; positive = right later.
    pub fn azimuth_arcmin(&self, delay_us: f64) -> f64 {
        (self.tape_speed_m_per_s * delay_us * 1e-6 / self.track_spacing_m)
            .atan()
            .to_degrees()
            * 60.0
    }

    /// The head's azimuth for a delay, µs, off a tape that was recorded with an azimuth of its own, arc minutes.
    pub fn head_azimuth_arcmin(&self, delay_us: f64, tape_azimuth_arcmin: f64) -> f64 {
        self.azimuth_arcmin(delay_us) - tape_azimuth_arcmin
    }

    /// Interchannel delay of an azimuth error, µs; the inverse of [`TapeFormat::azimuth_arcmin`].
    pub fn delay_us(&self, azimuth_arcmin: f64) -> f64 {
        (azimuth_arcmin / 60.0).to_radians().tan() * self.track_spacing_m / self.tape_speed_m_per_s
            * 1e6
    }

    /// Level one track loses by an azimuth error, dB (zero or negative): 20·lg|sin x / x|, x = π·w·tan α / λ,
    /// λ = v / f (textbook formula).
    pub fn azimuth_loss_db(&self, azimuth_arcmin: f64, frequency_hz: f64) -> f64 {
        let wavelength_m = self.tape_speed_m_per_s / frequency_hz;
        let x =
            std::f64::consts::PI * self.track_width_m * (azimuth_arcmin / 60.0).to_radians().tan()
                / wavelength_m;
        if x.abs() < 1e-9 {
            0.0
        } else {
            20.0 * (x.sin() / x).abs().log10()
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: Vec<TapeFormat>,
}

static FORMATS: LazyLock<Result<Vec<TapeFormat>, TableError>> =
    LazyLock::new(|| parse_toml::<File>(FILE, TEXT).map(|file| file.format));

/// All supplied tape formats; the first is the default.
///
/// # Errors
/// When the built-in table is damaged (a test reads it).
pub fn tape_formats() -> Result<&'static [TapeFormat], TableError> {
    FORMATS.as_deref().map_err(Clone::clone)
}

/// The format of that name.
///
/// # Errors
/// Names the formats there are when there is none of that name.
pub fn tape_format(name: &str) -> Result<&'static TapeFormat, TableError> {
    let formats = tape_formats()?;
    formats
        .iter()
        .find(|format| format.name == name)
        .ok_or_else(|| {
            let names: Vec<_> = formats.iter().map(|format| format.name.as_str()).collect();
            TableError(format!(
                "no tape format '{name}'; use one of: {}",
                names.join(", ")
            ))
        })
}
