//! The command line as it is typed: raw words, checked each by itself. What they mean together is settled in
//! `settings`.

mod jobs;
mod profile;
mod sheet;

pub use jobs::{
    BackupArguments, ExportArguments, ExportFormat, JobImportArguments, JobsArguments,
    StoreArguments,
};
pub use profile::{
    ClockArguments, DeleteArguments, ImportArguments, LevelArguments, ListenArguments,
    ProfileArguments, ProfileStep, ShowArguments,
};
pub use sheet::{PaperChoice, SheetArguments};

use crate::{
    guide::{MAX_LEVEL_DBFS, MIN_LEVEL_DBFS},
    source::sound_card::SampleFormat,
};
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Live speed, flutter, level and azimuth of a tape deck's line output.
#[derive(Debug, Parser)]
#[command(
    name = "trimwatch",
    version,
    about = "Watch a tape deck's line output while its trimmers are turned: speed, wow and flutter, level, azimuth",
    after_help = "Without a command the window opens.\n\n\
        Exit codes: 0 with readings; 1 the signal gave no valid reading;\n\
        2 wrong usage or unreadable input.",
    args_conflicts_with_subcommands = true,
    disable_help_subcommand = true,
    max_term_width = 80
)]
pub struct Arguments {
    /// What to do; the window when absent.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// What the window opens with.
    #[command(flatten)]
    pub window: WindowArguments,
}

/// The commands besides the window.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// List the sound inputs with their rates and formats
    Inputs,
    /// List the sound outputs, for the sound guide
    Outputs,
    /// Show the readings live
    Watch(WatchArguments),
    /// Read a recording as fast as possible and print its readings
    Measure(MeasureArguments),
    /// Write a take of a simulated deck
    Virtual(VirtualArguments),
    /// Measure the interface itself, step by step, and keep what is found
    Profile(ProfileArguments),
    /// Say what a run-in log shows: trend, steadiness, warm-up, events
    RunIn(RunInArguments),
    /// List the jobs in the record, search them, or show one
    Jobs(JobsArguments),
    /// Write a job as a file
    Export(ExportArguments),
    /// Take in jobs that 'export' wrote
    Import(JobImportArguments),
    /// Copy the whole record of jobs into one file
    Backup(BackupArguments),
    /// Write a job's sheet for the owner: a page in plain words, a technical page
    Sheet(SheetArguments),
}

/// `trimwatch` alone.
#[derive(Debug, Args)]
pub struct WindowArguments {
    /// Where the signal comes from.
    #[command(flatten)]
    pub source: SourceArguments,
    /// What tape plays.
    #[command(flatten)]
    pub tape: TapeArguments,
}

/// `trimwatch watch`.
#[derive(Debug, Args)]
pub struct WatchArguments {
    /// Where the signal comes from.
    #[command(flatten)]
    pub source: SourceArguments,
    /// What tape plays.
    #[command(flatten)]
    pub tape: TapeArguments,
    /// Interface profile, by name or file [default: the one of the input and its rate]
    #[arg(long, value_name = "NAME")]
    pub profile: Option<String>,
    /// End after this many seconds of signal (5 s later where none comes)
    #[arg(long, value_name = "N", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// How the readings are written
    #[arg(long, value_enum, default_value_t = WatchFormat::Text)]
    pub format: WatchFormat,
    /// Keep a run-in log in this file; one that is there is gone on with
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Time between two readings of the log, s
    #[arg(long, value_name = "N", default_value = "5", value_parser = log_every_s, requires = "log")]
    pub log_every: f64,
    /// Play a sound guide on this output: its id, or any part that fits only one ('trimwatch outputs')
    #[arg(long, value_name = "OUTPUT", requires = "guide_of")]
    pub guide: Option<String>,
    /// What it guides: pips that cease in the target; high ones: too high, low ones: too low
    #[arg(long, value_enum, value_name = "READING", requires = "guide")]
    pub guide_of: Option<GuidedReading>,
    /// Level of its pips, dBFS, at most -20
    #[arg(long, value_name = "DBFS", default_value = "-40", value_parser = guide_level_dbfs, requires = "guide", allow_negative_numbers = true)]
    pub guide_level: f64,
    /// Allow an output of the card that the deck's signal comes from
    #[arg(long, requires = "guide")]
    pub guide_same_card: bool,
}

/// What a sound guide can be of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum GuidedReading {
    /// Speed: high pips when fast
    Speed,
    /// Azimuth: high pips when the right channel is later
    Azimuth,
    /// Balance: high pips when left is louder
    Balance,
}

/// `trimwatch measure`.
#[derive(Debug, Args)]
pub struct MeasureArguments {
    /// The recording: WAV, FLAC or Ogg Vorbis
    pub recording: PathBuf,
    /// What tape was recorded.
    #[command(flatten)]
    pub tape: TapeArguments,
    /// Interface profile of the recording's interface, by name or file
    #[arg(long, value_name = "NAME")]
    pub profile: Option<String>,
    /// Channels to read, counted from 1: "3,4", or one alone [default: the first two]
    #[arg(long, value_name = "L,R", value_parser = channel_pick)]
    pub channels: Option<ChannelPick>,
    /// Instead of one reading of all, compare the first, middle and last stretch: both ends of the tape
    #[arg(long, conflicts_with_all = ["as_found", "pictures"])]
    pub ends: bool,
    /// An earlier take of the same deck to compare the mechanism with
    #[arg(long, value_name = "TAKE")]
    pub as_found: Option<PathBuf>,
    /// Write the spectra and once-round traces as SVG and PNG pictures into this folder
    #[arg(long, value_name = "DIR")]
    pub pictures: Option<PathBuf>,
    /// How the readings are written
    #[arg(long, value_enum, default_value_t = MeasureFormat::Text)]
    pub format: MeasureFormat,
}

/// `trimwatch virtual`.
#[derive(Debug, Args)]
pub struct VirtualArguments {
    /// The simulated deck: a TOML file, or the name of a supplied one
    pub deck: PathBuf,
    /// The WAV file to write
    #[arg(long, value_name = "TAKE.wav")]
    pub out: PathBuf,
    /// Length of the take, s
    #[arg(long, value_name = "N", default_value = "60", value_parser = seconds)]
    pub seconds: f64,
    /// Sample rate, Hz
    #[arg(long, value_name = "HZ", default_value = "48000", value_parser = rate_hz)]
    pub rate: u32,
    /// Sample format: 16 or 24 bits, or 32-bit float
    #[arg(long, value_enum, default_value_t = Bits::B24)]
    pub bits: Bits,
}

/// `trimwatch run-in`.
#[derive(Debug, Args)]
pub struct RunInArguments {
    /// The log that 'watch --log FILE' keeps; it may be in use
    pub log: PathBuf,
    /// How the evaluation is written
    #[arg(long, value_enum, default_value_t = MeasureFormat::Text)]
    pub format: MeasureFormat,
    /// Half the width of the band in which a speed is called steady, %
    #[arg(long, value_name = "PERCENT", default_value = "0.05", value_parser = steady_within_percent)]
    pub steady_within: f64,
    /// First add this temperature to the log, °C: room or deck, always read at the same place
    #[arg(long, value_name = "CELSIUS", value_parser = celsius, allow_negative_numbers = true)]
    pub temperature: Option<f64>,
    /// When the temperature was read, minutes after the run's start [default: now]
    #[arg(long, value_name = "MINUTES", value_parser = minutes, requires = "temperature")]
    pub at: Option<f64>,
}

/// One of three sources; the first input of the system when none is named.
#[derive(Debug, Default, Args)]
pub struct SourceArguments {
    /// Sound input: its id, or any part of id or description that fits only one
    #[arg(long, value_name = "NAME", group = "from")]
    pub input: Option<String>,
    /// Simulated deck: a TOML file, or the name of a supplied one
    #[arg(long, value_name = "FILE", group = "from")]
    pub virtual_deck: Option<PathBuf>,
    /// Recording, played at its own speed: WAV, FLAC or Ogg Vorbis
    #[arg(long, value_name = "FILE", group = "from")]
    pub recording: Option<PathBuf>,
    /// Sample rate of the input or the simulated deck, Hz [default: the input's best; 48000]
    #[arg(long, value_name = "HZ", value_parser = rate_hz, conflicts_with = "recording")]
    pub rate: Option<u32>,
    /// Channels of the input or recording, counted from 1: "3,4", or one alone [default: the first two]
    #[arg(long, value_name = "L,R", value_parser = channel_pick, conflicts_with = "virtual_deck")]
    pub channels: Option<ChannelPick>,
    /// Sample format of the input: f32, i32, i24 or i16 [default: the input's best]
    #[arg(long, value_name = "NAME", conflicts_with_all = ["virtual_deck", "recording"])]
    pub sample_format: Option<SampleFormat>,
}

/// The tape that plays.
#[derive(Debug, Default, Args)]
pub struct TapeArguments {
    /// Test tape, by its name in calibration/tapes or your own tapes folder, or its file
    #[arg(long, value_name = "NAME", conflicts_with = "tone")]
    pub tape: Option<String>,
    /// Tone the tape carries, Hz [default: the nearer of 3000 and 3150]
    #[arg(long, value_name = "HZ", value_parser = tone_hz)]
    pub tone: Option<f64>,
    /// Tape speed and tracks, by name in calibration/tape-formats.toml [default: cassette-stereo]
    #[arg(long, value_name = "NAME")]
    pub tape_format: Option<String>,
    /// The deck's mechanism, whose parts flutter is named after: a TOML file, or a name in calibration/decks
    #[arg(long, value_name = "FILE")]
    pub deck: Option<PathBuf>,
}

/// How `watch` writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum WatchFormat {
    /// For reading: redrawn in place on a terminal, a running table elsewhere
    Text,
    /// For programs: one JSON object a line
    Jsonl,
}

/// How `measure` writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum MeasureFormat {
    /// For reading
    Text,
    /// For programs: one JSON object
    Json,
}

/// Sample format of a written take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Bits {
    /// 16-bit integers
    #[value(name = "16")]
    B16,
    /// 24-bit integers
    #[value(name = "24")]
    B24,
    /// 32-bit float
    #[value(name = "32f")]
    B32f,
}

/// One or two channels, counted from 1; left first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChannelPick(pub Vec<u16>);

fn channel_pick(text: &str) -> Result<ChannelPick, String> {
    let numbers: Result<Vec<u16>, _> = text.split(',').map(|word| word.trim().parse()).collect();
    match numbers.as_deref() {
        Ok([left, right]) if left == right => {
            Err("the two channels must differ; give one alone for mono".into())
        }
        Ok(numbers @ ([_] | [_, _])) if !numbers.contains(&0) => Ok(ChannelPick(numbers.into())),
        _ => Err("give one or two channel numbers counted from 1, such as 3,4".into()),
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    // Four weeks: anything longer is a slip of the finger, and every frame count stays exact.
    within(text, 0.001, 2_419_200.0, "s")
}

fn log_every_s(text: &str) -> Result<f64, String> {
    within(text, 1.0, 60.0, "s")
}

fn guide_level_dbfs(text: &str) -> Result<f64, String> {
    within(text, MIN_LEVEL_DBFS, MAX_LEVEL_DBFS, "dBFS")
}

fn steady_within_percent(text: &str) -> Result<f64, String> {
    within(text, 0.001, 5.0, "%")
}

fn celsius(text: &str) -> Result<f64, String> {
    within(text, -40.0, 150.0, "°C")
}

fn minutes(text: &str) -> Result<f64, String> {
    within(text, 0.0, 40_320.0, "minutes")
}

fn tone_hz(text: &str) -> Result<f64, String> {
    within(text, 20.0, 100_000.0, "Hz")
}

fn rate_hz(text: &str) -> Result<u32, String> {
    let rate = within(text, 8_000.0, 384_000.0, "Hz")?;
    if rate.fract() == 0.0 {
        Ok(rate as u32)
    } else {
        Err("a sample rate is a whole number of Hz".into())
    }
}

fn within(text: &str, least: f64, most: f64, unit: &str) -> Result<f64, String> {
    text.trim()
        .parse::<f64>()
        .ok()
        .filter(|value| (least..=most).contains(value))
        .ok_or_else(|| format!("give a number from {least} to {most} ({unit})"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[test]
    fn the_definition_is_sound() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn one_or_two_channels_are_picked_counted_from_one() {
        assert_eq!(channel_pick("3,4"), Ok(ChannelPick(vec![3, 4])));
        assert_eq!(channel_pick("4, 3"), Ok(ChannelPick(vec![4, 3])));
        assert_eq!(channel_pick("1"), Ok(ChannelPick(vec![1])));
        for wrong in ["", "0", "1,0", "2,2", "1,2,3", "a", "-1", "1;2"] {
            assert!(channel_pick(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn numbers_out_of_range_are_refused() {
        for wrong in ["", "NaN", "inf", "-1", "0", "1e99", "3 s"] {
            assert!(seconds(wrong).is_err(), "{wrong}");
            assert!(tone_hz(wrong).is_err(), "{wrong}");
            assert!(rate_hz(wrong).is_err(), "{wrong}");
        }
        assert_eq!(rate_hz("44100"), Ok(44_100));
        assert!(rate_hz("44100.5").is_err());
        assert_eq!(tone_hz("3150"), Ok(3150.0));
    }
}
