//! What the arguments mean together: raw words in, settings that can be worked with out. Files are opened here, so
//! that a wrong one is told before anything starts.

use super::{
    ConsoleError,
    arguments::{
        Bits, ChannelPick, GuidedReading, MeasureArguments, MeasureFormat, SourceArguments,
        TapeArguments, VirtualArguments, WatchArguments, WatchFormat,
    },
};
use crate::{
    guide::{Aim, GuideOf, OutputName, find_output, list_outputs, shares_a_path},
    meters::MeterSetup,
    profile::{InterfaceProfile, ProfileStore},
    source::{
        FrameSource, RunningSource, SourceError,
        paced::play_live,
        recording::Recording,
        sound_card::{self, InputChoice},
        take_writer::TakeBits,
        virtual_deck::VirtualDeck,
    },
    tables::{
        Limits, Mechanism, TapeFormat, mechanism_by_name_or_path, tape_format,
        test_tape_by_name_or_path, user_tapes_folder,
    },
};
use std::{
    path::{Path, PathBuf},
    sync::Arc,
    time::SystemTime,
};

/// Sample rate of the virtual deck where none is asked for, Hz.
pub const VIRTUAL_RATE_HZ: u32 = 48_000;

/// Tape speeds that differ by less than this part are the same (4.76 cm/s is 1 7/8 in/s).
const SAME_SPEED: f64 = 0.01;

/// What the readings are read against.
#[derive(Clone, Debug)]
pub struct Expected {
    /// For the meters.
    pub setup: MeterSetup,
    /// In words.
    pub words: String,
}

/// A source that is chosen, and open where it is a file.
pub enum SourceSetting {
    /// A live input.
    SoundCard(InputChoice),
    /// A recording or a virtual deck, to be played in real time.
    Frames(Box<dyn FrameSource>),
}

/// What `watch` works with.
pub struct WatchSettings {
    /// Where the signal comes from.
    pub source: SourceSetting,
    /// What tape plays.
    pub expected: Expected,
    /// Where the profile of a live input is looked for; `None` where one was named, or there is no such place.
    pub profiles: Option<ProfileStore>,
    /// When to end; `None`: when the signal does.
    pub seconds: Option<f64>,
    /// How to write.
    pub format: WatchFormat,
    /// The run-in log to keep.
    pub log: Option<LogSetting>,
    /// The sound guide to play.
    pub guide: Option<GuideSetting>,
}

/// A sound guide that is to be heard.
#[derive(Clone, Debug)]
pub struct GuideSetting {
    /// Its output.
    pub output: OutputName,
    /// What it guides.
    pub aim: Aim,
    /// Level of its peaks, dBFS.
    pub level_dbfs: f64,
}

/// A run-in log that is to be kept.
#[derive(Clone, Debug)]
pub struct LogSetting {
    /// Its file.
    pub path: PathBuf,
    /// Time between two readings, s.
    pub every_s: f64,
}

/// What `measure` works with.
pub struct MeasureSettings {
    /// The open recording.
    pub recording: Recording,
    /// The open recording of the deck as found.
    pub as_found: Option<Recording>,
    /// The folder for pictures.
    pub pictures: Option<PathBuf>,
    /// What tape was recorded.
    pub expected: Expected,
    /// Whether to compare both ends of the tape.
    pub ends: bool,
    /// How to write.
    pub format: MeasureFormat,
}

/// What `virtual` works with.
pub struct VirtualSettings {
    /// The deck, ready to play.
    pub deck: VirtualDeck,
    /// The file to write.
    pub out: PathBuf,
    /// Length of the take, s.
    pub seconds: f64,
    /// Sample format.
    pub bits: TakeBits,
}

impl TryFrom<WatchArguments> for WatchSettings {
    type Error = ConsoleError;

    fn try_from(arguments: WatchArguments) -> Result<Self, ConsoleError> {
        let (source, its_format) = SourceSetting::resolve(arguments.source)?;
        let mut expected = Expected::resolve(&arguments.tape, its_format)?;
        if let Some(name) = &arguments.profile {
            let rate_hz = match &source {
                SourceSetting::Frames(source) => Some(source.description().sample_rate_hz),
                SourceSetting::SoundCard(choice) => choice.sample_rate_hz,
            };
            expected.read_through(name, rate_hz)?;
        }
        let live = matches!(source, SourceSetting::SoundCard(_));
        let finds_its_own = live && arguments.profile.is_none();
        let guide = arguments
            .guide
            .zip(arguments.guide_of)
            .map(|(output, of)| {
                let same_card = arguments.guide_same_card;
                GuideSetting::resolve(&output, of, arguments.guide_level, same_card, &source)
            })
            .transpose()?;
        Ok(Self {
            guide,
            source,
            expected,
            profiles: finds_its_own.then(ProfileStore::of_the_user).flatten(),
            seconds: arguments.seconds,
            format: arguments.format,
            log: arguments.log.map(|path| LogSetting {
                path,
                every_s: arguments.log_every,
            }),
        })
    }
}

impl TryFrom<MeasureArguments> for MeasureSettings {
    type Error = ConsoleError;

    fn try_from(arguments: MeasureArguments) -> Result<Self, ConsoleError> {
        let mut expected = Expected::resolve(&arguments.tape, None)?;
        let recording = open_recording(&arguments.recording, arguments.channels.as_ref())?;
        if let Some(name) = &arguments.profile {
            let rate_hz = recording.description().sample_rate_hz;
            expected.read_through(name, Some(rate_hz))?;
        }
        expected.check_rate(recording.description().sample_rate_hz)?;
        let as_found = arguments
            .as_found
            .map(|take| open_recording(&take, arguments.channels.as_ref()))
            .transpose()?;
        if let Some(take) = &as_found {
            expected.check_rate(take.description().sample_rate_hz)?;
        }
        expected.setup.spectra_shown |= as_found.is_some() || arguments.pictures.is_some();
        Ok(Self {
            recording,
            as_found,
            pictures: arguments.pictures,
            expected,
            ends: arguments.ends,
            format: arguments.format,
        })
    }
}

impl TryFrom<VirtualArguments> for VirtualSettings {
    type Error = ConsoleError;

    fn try_from(arguments: VirtualArguments) -> Result<Self, ConsoleError> {
        let same_file = |path: &Path| path.canonicalize().ok();
        if same_file(&arguments.deck).is_some_and(|deck| same_file(&arguments.out) == Some(deck)) {
            return Err(ConsoleError::Refused(format!(
                "--out {} is the deck itself; name another file",
                arguments.out.display()
            )));
        }
        Ok(Self {
            deck: open_deck(&arguments.deck, Some(arguments.rate))?,
            out: arguments.out,
            seconds: arguments.seconds,
            bits: match arguments.bits {
                Bits::B16 => TakeBits::Dithered16,
                Bits::B24 => TakeBits::Int24,
                Bits::B32f => TakeBits::Float32,
            },
        })
    }
}

impl Expected {
    /// Settles tape and format. `source_format` is the format the source itself knows (a virtual deck's); an argument
    /// goes before it.
    ///
    /// # Errors
    /// When there is no tape or no format of that name.
    pub fn resolve(
        arguments: &TapeArguments,
        source_format: Option<&TapeFormat>,
    ) -> Result<Self, ConsoleError> {
        let mut setup = MeterSetup::new()?;
        let mut its_format = None;
        let mut tape_words = "the nearer of 3000 and 3150 Hz".to_owned();
        if let Some(name) = &arguments.tape {
            let tape = test_tape_by_name_or_path(name, user_tapes_folder().as_deref())?;
            setup = setup.with_tape(&tape);
            its_format = tape.tape_format.as_deref().map(tape_format).transpose()?;
            tape_words = format!("test tape '{}'", tape.title);
        }
        if let Some(tone_hz) = arguments.tone {
            setup.tone_hz = Some(tone_hz);
            tape_words = format!("a tone of {tone_hz} Hz");
        }
        if let Some(name) = &arguments.tape_format {
            setup.tape_format = tape_format(name)?.clone();
        } else if let Some(format) = its_format.or(source_format) {
            setup.tape_format = format.clone();
        }
        let mut words = format!("{tape_words}; {}", setup.tape_format.title);
        if let Some(deck) = &arguments.deck {
            let mechanism = mechanism_by_name_or_path(&deck.to_string_lossy())?;
            if arguments.tape_format.is_some() {
                check_speed(&mechanism, &setup.tape_format)?;
            }
            words = format!("{words}; mechanism '{}'", mechanism.title);
            setup.mechanism = Some(Arc::new(mechanism));
            setup.spectra_shown = true;
        }
        Ok(Self { setup, words })
    }

    /// Takes the interface's errors out, by the profile of that name or file.
    ///
    /// # Errors
    /// When there is none, or it is of another sample rate than `rate_hz`.
    fn read_through(&mut self, name: &str, rate_hz: Option<u32>) -> Result<(), ConsoleError> {
        let store = ProfileStore::of_the_user().unwrap_or_else(|| ProfileStore::at(""));
        let profile = store.load(name)?;
        if let Some(rate_hz) = rate_hz.filter(|&rate_hz| rate_hz != profile.sample_rate_hz) {
            return Err(ConsoleError::Refused(format!(
                "the profile '{name}' is for {} Hz and the signal has {rate_hz} Hz; measure one for that rate",
                profile.sample_rate_hz
            )));
        }
        self.setup = self.setup.clone().with_profile(&profile);
        self.words += &profile_words(name, &profile);
        Ok(())
    }

    fn check_rate(&self, sample_rate_hz: u32) -> Result<(), ConsoleError> {
        match self.setup.tone_hz {
            Some(tone_hz) if tone_hz >= f64::from(sample_rate_hz) / 2.0 => {
                Err(ConsoleError::Refused(format!(
                    "a tone of {tone_hz} Hz cannot be in a signal of {sample_rate_hz} samples a second; \
                     it must be below half of that"
                )))
            }
            _ => Ok(()),
        }
    }
}

impl GuideSetting {
    /// Finds the output, and keeps it apart from the input in use.
    fn resolve(
        output: &str,
        of: GuidedReading,
        level_dbfs: f64,
        same_card: bool,
        source: &SourceSetting,
    ) -> Result<Self, ConsoleError> {
        let output = find_output(&list_outputs().outputs, output)?;
        if let SourceSetting::SoundCard(choice) = source
            && !same_card
            && shares_a_path(&output, &sound_card::input_id(choice)?)
        {
            return Err(ConsoleError::Refused(format!(
                "the output {} belongs to the card that the deck's signal comes from, and could be heard in it: choose \
                 another, or add --guide-same-card if it cannot",
                output.name
            )));
        }
        let of = match of {
            GuidedReading::Speed => GuideOf::Speed,
            GuidedReading::Azimuth => GuideOf::Azimuth,
            GuidedReading::Balance => GuideOf::Balance,
        };
        Ok(Self {
            output,
            aim: Aim::new(of, &Limits::supplied()?),
            level_dbfs,
        })
    }
}

/// `; interface profile 'name', 3 days ago`.
fn profile_words(name: &str, profile: &InterfaceProfile) -> String {
    let age = profile.age_in_words(SystemTime::now());
    let age = age.map_or_else(String::new, |age| format!(", measured {age}"));
    format!("; interface profile '{name}'{age}")
}

/// A tape format of another speed than the mechanism's would have all rates wrong.
fn check_speed(mechanism: &Mechanism, format: &TapeFormat) -> Result<(), ConsoleError> {
    let ratio = format.tape_speed_m_per_s / mechanism.tape_speed_m_per_s;
    if (ratio - 1.0).abs() < SAME_SPEED {
        return Ok(());
    }
    Err(ConsoleError::Refused(format!(
        "the deck '{}' has a tape speed of {} m/s and the tape format '{}' one of {} m/s; give those that belong together",
        mechanism.name, mechanism.tape_speed_m_per_s, format.name, format.tape_speed_m_per_s
    )))
}

impl SourceSetting {
    /// Settles the source, and the tape format it knows by itself. The command line lets through one source at most.
    pub(super) fn resolve(
        arguments: SourceArguments,
    ) -> Result<(Self, Option<&'static TapeFormat>), SourceError> {
        if let Some(deck) = arguments.virtual_deck {
            let deck = open_deck(&deck, arguments.rate)?;
            let format = deck.tape_format();
            return Ok((Self::Frames(Box::new(deck)), Some(format)));
        }
        if let Some(path) = arguments.recording {
            let recording = open_recording(&path, arguments.channels.as_ref())?;
            return Ok((Self::Frames(Box::new(recording)), None));
        }
        let choice = InputChoice {
            input: arguments.input,
            sample_rate_hz: arguments.rate,
            channels: arguments.channels.map(|pick| pick.0),
            sample_format: arguments.sample_format,
        };
        Ok((Self::SoundCard(choice), None))
    }

    /// What a person calls it.
    pub fn name(&self) -> String {
        match self {
            Self::SoundCard(choice) => match &choice.input {
                Some(name) => format!("the input '{name}'"),
                None => "the default input".into(),
            },
            Self::Frames(source) => source.description().name.clone(),
        }
    }

    /// Starts it: it runs in real time from now on.
    ///
    /// # Errors
    /// When the input cannot be opened.
    pub fn start(self) -> Result<RunningSource, SourceError> {
        match self {
            Self::SoundCard(choice) => sound_card::open(&choice),
            Self::Frames(source) => play_live(source, None),
        }
    }
}

/// Opens a recording, with the channels that were picked.
///
/// # Errors
/// When it cannot be read or has no such channels.
pub fn open_recording(
    path: &Path,
    channels: Option<&ChannelPick>,
) -> Result<Recording, SourceError> {
    let picks: Option<Vec<usize>> =
        channels.map(|pick| pick.0.iter().map(|&number| number.into()).collect());
    Recording::open(path, picks.as_deref())
}

/// Opens a virtual deck by its name or its file.
///
/// # Errors
/// When there is none or it cannot be read.
pub fn open_deck(deck: &Path, sample_rate_hz: Option<u32>) -> Result<VirtualDeck, SourceError> {
    VirtualDeck::by_name_or_path(
        &deck.to_string_lossy(),
        sample_rate_hz.unwrap_or(VIRTUAL_RATE_HZ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tape(tape: Option<&str>, tone: Option<f64>, tape_format: Option<&str>) -> TapeArguments {
        TapeArguments {
            tape: tape.map(Into::into),
            tone,
            tape_format: tape_format.map(Into::into),
            deck: None,
        }
    }

    #[test]
    fn the_tape_decides_the_tone_and_the_format_the_tracks() {
        let arguments = tape(Some("speed-3000"), None, Some("reel-stereo-iec-19"));
        let expected = Expected::resolve(&arguments, None).expect("both exist");
        assert_eq!(expected.setup.tone_hz, Some(3000.0));
        assert_eq!(expected.setup.tape_format.name, "reel-stereo-iec-19");
        assert!(expected.words.contains("3000 Hz") && expected.words.contains("IEC"));
    }

    #[test]
    fn an_argument_goes_before_what_the_source_knows() {
        let reel = tape_format("reel-stereo-iec-38").expect("exists");
        let known = Expected::resolve(&tape(None, None, None), Some(reel)).expect("resolves");
        assert_eq!(known.setup.tape_format.name, "reel-stereo-iec-38");
        let told = tape(None, Some(1000.0), Some("cassette-stereo"));
        let told = Expected::resolve(&told, Some(reel)).expect("resolves");
        assert_eq!(told.setup.tape_format.name, "cassette-stereo");
        assert_eq!(told.setup.tone_hz, Some(1000.0));
    }

    #[test]
    fn names_that_do_not_exist_are_answered_with_those_that_do() {
        for (arguments, wrong, right) in [
            (tape(Some("speed-9"), None, None), "speed-9", "speed-3150"),
            (tape(None, None, Some("vhs")), "vhs", "cassette-stereo"),
        ] {
            let error = Expected::resolve(&arguments, None).expect_err("no such thing");
            let line = error.line();
            assert!(line.contains(wrong) && line.contains(right), "{line}");
        }
    }

    #[test]
    fn a_tone_the_sample_rate_cannot_carry_is_refused() {
        let expected = Expected::resolve(&tape(None, Some(10_000.0), None), None).expect("fine");
        assert!(expected.check_rate(16_000).is_err());
        assert!(expected.check_rate(20_000).is_err());
        assert!(expected.check_rate(44_100).is_ok());
    }
}
