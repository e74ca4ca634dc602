//! `trimwatch profile` as it is typed.

use super::{SourceArguments, seconds, within};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// `trimwatch profile`.
#[derive(Debug, Args)]
#[command(disable_help_subcommand = true)]
pub struct ProfileArguments {
    /// What to do.
    #[command(subcommand)]
    pub step: ProfileStep,
}

/// The steps of a profile, in the order they are best done.
#[derive(Debug, Subcommand)]
pub enum ProfileStep {
    /// Compare the sample clock with the computer's clock, while anything or nothing plays
    Clock(ClockArguments),
    /// Read delay and gain between the inputs: left plug alone first, then both through a Y lead
    YLead(ListenArguments),
    /// Read full scale in volts from a sine of known voltage
    Level(LevelArguments),
    /// Read noise and hum, both inputs shorted
    Noise(ListenArguments),
    /// Read the crosstalk, one input driven by a sine and the other shorted
    Crosstalk(ListenArguments),
    /// Show a profile, or list all
    Show(ShowArguments),
    /// Take in a profile from a file
    Import(ImportArguments),
    /// Delete a profile
    Delete(DeleteArguments),
}

/// Where the signal comes from and under what name its result is kept.
#[derive(Debug, Args)]
pub struct ListenArguments {
    /// Where the signal comes from.
    #[command(flatten)]
    pub source: SourceArguments,
    /// End after this many seconds of signal; Ctrl-C ends it too
    #[arg(long, value_name = "N", default_value = "60", value_parser = seconds)]
    pub seconds: f64,
    /// Keep the result under this name [default: that of the input and its rate; none for a file]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
}

/// `trimwatch profile clock`.
#[derive(Debug, Args)]
pub struct ClockArguments {
    /// Where the signal comes from.
    #[command(flatten)]
    pub source: SourceArguments,
    /// End after this many seconds; Ctrl-C ends it too
    #[arg(long, value_name = "N", default_value = "1200", value_parser = seconds)]
    pub seconds: f64,
    /// Keep the result under this name [default: that of the input and its rate; none for a file]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
}

/// `trimwatch profile level`.
#[derive(Debug, Args)]
pub struct LevelArguments {
    /// Where the signal comes from.
    #[command(flatten)]
    pub source: SourceArguments,
    /// Voltage of the sine at the input, V rms, as the multimeter shows it
    #[arg(long, value_name = "V", value_parser = volts)]
    pub volts: f64,
    /// Frequency of the sine, Hz
    #[arg(long, value_name = "HZ", value_parser = sine_hz)]
    pub frequency: f64,
    /// The multimeter's tolerance at this frequency, percent [default: 1]
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub tolerance: Option<f64>,
    /// End after this many seconds of signal; Ctrl-C ends it too
    #[arg(long, value_name = "N", default_value = "10", value_parser = seconds)]
    pub seconds: f64,
    /// Keep the result under this name [default: that of the input and its rate; none for a file]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
}

/// `trimwatch profile show`.
#[derive(Debug, Args)]
pub struct ShowArguments {
    /// A profile's name or file; without it all are listed
    pub profile: Option<String>,
}

/// `trimwatch profile import`.
#[derive(Debug, Args)]
pub struct ImportArguments {
    /// The profile's TOML file
    pub file: PathBuf,
    /// Take the place of the profile that is there of this device and rate
    #[arg(long)]
    pub replace: bool,
}

/// `trimwatch profile delete`.
#[derive(Debug, Args)]
pub struct DeleteArguments {
    /// The profile's name
    pub name: String,
}

fn volts(text: &str) -> Result<f64, String> {
    within(text, 0.001, 100.0, "V rms")
}

fn sine_hz(text: &str) -> Result<f64, String> {
    within(text, 20.0, 20_000.0, "Hz")
}

fn percent(text: &str) -> Result<f64, String> {
    within(text, 0.0, 50.0, "percent")
}
