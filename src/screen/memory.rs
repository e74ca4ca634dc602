//! What the window remembers from one run to the next: input, tape, tape format, mechanism, theme and the keys of a foot
//! switch, in a small TOML file in the user's own settings folder. A file that cannot be used is told and replaced, never
//! a reason not to start.

use super::{
    deck_shelf::DeckChoice, foot_keys::FootKeys, inputs::InputChoice, model::tape,
    tape_shelf::TapeList,
};
use crate::meters::MeterSetup;
use directories::ProjectDirs;
use eframe::egui::{Key, Theme};
use serde::{Deserialize, Serialize};
use std::{
    fs, io,
    path::{Path, PathBuf},
};

const HEADER: &str =
    "# What the window of trimwatch remembers. It may be deleted: the window then asks anew.\n\n";

/// What is remembered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Remembered {
    /// The input used last.
    pub input: Option<InputChoice>,
    /// Light or dark; `None`: as the system has it.
    pub theme: Option<Theme>,
    /// The mechanism used last.
    pub mechanism: Option<DeckChoice>,
    /// Number of the job open last.
    pub job: Option<String>,
    /// The keys of a foot switch.
    pub foot: FootKeys,
    /// Name of the tape format used last.
    pub tape_format: Option<String>,
    /// The tape used last.
    pub tape: Option<RememberedTape>,
    /// Whether the window has led through the first steps, or was told not to.
    pub was_led: bool,
}

/// A tape: by its name where it is a listed one, and what was typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RememberedTape {
    /// Name of the listed tape.
    pub name: Option<String>,
    /// Its tone, Hz; `None`: no tape.
    pub tone_hz: Option<f64>,
    /// Correction to the tone, percent.
    #[serde(default)]
    pub correction_percent: f64,
    /// Tolerance of the tone, percent.
    pub tolerance_percent: Option<f64>,
}

impl RememberedTape {
    /// The tape in use.
    pub fn of(setup: &MeterSetup, tapes: &TapeList) -> Self {
        Self {
            name: tape::chosen(setup, tapes).map(|tape| tape.name.clone()),
            tone_hz: setup.tone_hz,
            correction_percent: setup.tone_correction_percent,
            tolerance_percent: setup.tone_tolerance_percent,
        }
    }

    /// The settings `before` with this tape.
    ///
    /// # Errors
    /// One line: the tape is not listed any more.
    pub fn put_into(&self, before: MeterSetup, tapes: &TapeList) -> Result<MeterSetup, String> {
        let setup = match &self.name {
            Some(name) => {
                let tape = tapes.all().find(|tape| tape.name == *name).ok_or_else(|| {
                    format!("the tape '{name}' that was used last is gone: press t and choose one")
                })?;
                before.with_tape(tape)
            }
            None => MeterSetup {
                tone_hz: self.tone_hz,
                tape_tones: Vec::new(),
                ..before
            },
        };
        Ok(MeterSetup {
            tone_correction_percent: self.correction_percent,
            tone_tolerance_percent: self.tolerance_percent,
            ..setup
        })
    }
}

/// The file in which it stands.
#[derive(Clone, Debug)]
pub struct Memory {
    path: PathBuf,
}

#[derive(Serialize, Deserialize, Default)]
struct File {
    #[serde(default)]
    was_led: bool,
    theme: Option<StoredTheme>,
    job: Option<String>,
    tape_format: Option<String>,
    tape: Option<RememberedTape>,
    input: Option<StoredInput>,
    mechanism: Option<StoredDeck>,
    #[serde(skip_serializing_if = "Option::is_none")]
    foot: Option<StoredFoot>,
}

/// The keys of a foot switch, by their names.
#[derive(Serialize, Deserialize)]
struct StoredFoot {
    take: Option<StoredKey>,
    next: Option<StoredKey>,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
struct StoredKey(Key);

impl TryFrom<String> for StoredKey {
    type Error = String;

    fn try_from(name: String) -> Result<Self, String> {
        Key::from_name(&name)
            .map(Self)
            .ok_or_else(|| format!("there is no key '{name}'"))
    }
}

impl From<StoredKey> for String {
    fn from(key: StoredKey) -> Self {
        key.0.name().into()
    }
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum StoredTheme {
    Dark,
    Light,
}

#[derive(Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum StoredInput {
    SoundCard {
        id: String,
        #[serde(default)]
        channels: Vec<u16>,
        rate_hz: Option<u32>,
    },
    Recording {
        path: PathBuf,
    },
    VirtualDeck {
        deck: String,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum StoredDeck {
    Supplied { name: String },
    File { path: PathBuf },
}

impl Memory {
    /// The file in the settings folder of the user; `None` where the system has no such folder.
    pub fn of_the_user() -> Option<Self> {
        let folders = ProjectDirs::from("", "", "trimwatch")?;
        Some(Self::at(folders.config_dir().join("window.toml")))
    }

    /// A file of that path.
    pub fn at(path: impl Into<PathBuf>) -> Self {
        Self { path: path.into() }
    }

    /// What is remembered; nothing where there is no file yet.
    ///
    /// # Errors
    /// One line that says why the file cannot be used.
    pub fn recall(&self) -> Result<Remembered, String> {
        let text = match fs::read_to_string(&self.path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return Ok(Remembered::default());
            }
            Err(error) => return Err(self.unusable(&error.to_string())),
        };
        match toml::from_str::<File>(&text) {
            Ok(file) => Ok(file.into()),
            Err(error) => {
                let line = error
                    .span()
                    .map(|span| text[..span.start].lines().count().max(1))
                    .map_or_else(String::new, |line| format!("line {line}: "));
                let why = error.message().lines().next().unwrap_or_default();
                Err(self.unusable(&format!("{line}{why}")))
            }
        }
    }

    fn unusable(&self, why: &str) -> String {
        format!(
            "{}: {why}; the window asks anew and writes the file again",
            self.path.display()
        )
    }

    /// Remembers this, instead of what was remembered before. The file is never half written.
    ///
    /// # Errors
    /// One line that says why it cannot be kept.
    pub fn keep(&self, remembered: &Remembered) -> Result<(), String> {
        let failed = |why: String| {
            let path = self.path.display();
            format!("{path}: {why}; input, tape and theme are not remembered")
        };
        let file = File::from(remembered.clone());
        let text = toml::to_string(&file).map_err(|error| failed(error.to_string()))?;
        write(&self.path, &format!("{HEADER}{text}")).map_err(|error| failed(error.to_string()))
    }
}

fn write(path: &Path, text: &str) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let unfinished = path.with_extension(format!("{}.new", std::process::id()));
    fs::write(&unfinished, text)?;
    fs::rename(&unfinished, path)
}

impl From<File> for Remembered {
    fn from(file: File) -> Self {
        Self {
            job: file.job,
            was_led: file.was_led,
            tape_format: file.tape_format,
            tape: file.tape,
            theme: file.theme.map(|theme| match theme {
                StoredTheme::Dark => Theme::Dark,
                StoredTheme::Light => Theme::Light,
            }),
            input: file.input.map(|input| match input {
                StoredInput::SoundCard {
                    id,
                    channels,
                    rate_hz,
                } => InputChoice::SoundCard {
                    id,
                    channels,
                    rate_hz,
                },
                StoredInput::Recording { path } => InputChoice::Recording(path),
                StoredInput::VirtualDeck { deck } => InputChoice::VirtualDeck(deck),
            }),
            mechanism: file.mechanism.map(|mechanism| match mechanism {
                StoredDeck::Supplied { name } => DeckChoice::Supplied(name),
                StoredDeck::File { path } => DeckChoice::File(path),
            }),
            foot: file.foot.map_or_else(FootKeys::default, |foot| FootKeys {
                take: foot.take.map(|key| key.0),
                next: foot.next.map(|key| key.0),
            }),
        }
    }
}

impl From<Remembered> for File {
    fn from(remembered: Remembered) -> Self {
        Self {
            job: remembered.job,
            was_led: remembered.was_led,
            tape_format: remembered.tape_format,
            tape: remembered.tape,
            theme: remembered.theme.map(|theme| match theme {
                Theme::Dark => StoredTheme::Dark,
                Theme::Light => StoredTheme::Light,
            }),
            input: remembered.input.map(|input| match input {
                InputChoice::SoundCard {
                    id,
                    channels,
                    rate_hz,
                } => StoredInput::SoundCard {
                    id,
                    channels,
                    rate_hz,
                },
                InputChoice::Recording(path) => StoredInput::Recording { path },
                InputChoice::VirtualDeck(deck) => StoredInput::VirtualDeck { deck },
            }),
            mechanism: remembered.mechanism.map(|mechanism| match mechanism {
                DeckChoice::Supplied(name) => StoredDeck::Supplied { name },
                DeckChoice::File(path) => StoredDeck::File { path },
            }),
            foot: (remembered.foot != FootKeys::default()).then(|| StoredFoot {
                take: remembered.foot.take.map(StoredKey),
                next: remembered.foot.next.map(StoredKey),
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::tape_shelf::TapeShelf;

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().expect("a folder")
    }

    #[test]
    fn what_is_kept_is_recalled() {
        let folder = folder();
        let memory = Memory::at(folder.path().join("deep/er/window.toml"));
        assert_eq!(memory.recall(), Ok(Remembered::default()), "the first time");
        for input in [
            InputChoice::SoundCard {
                id: "alsa:usb \"2\"".into(),
                channels: vec![3, 4],
                rate_hz: Some(96_000),
            },
            InputChoice::SoundCard {
                id: "default".into(),
                channels: vec![],
                rate_hz: None,
            },
            InputChoice::Recording("take 1.wav".into()),
            InputChoice::VirtualDeck("plover".into()),
        ] {
            let remembered = Remembered {
                mechanism: match &input {
                    InputChoice::Recording(_) => Some(DeckChoice::File("decks/mine.toml".into())),
                    InputChoice::VirtualDeck(_) => Some(DeckChoice::Supplied("plover-r4".into())),
                    InputChoice::SoundCard { .. } => None,
                },
                tape_format: Some("cassette-stereo".into()),
                tape: Some(RememberedTape {
                    name: matches!(input, InputChoice::Recording(_)).then(|| "speed-3150".into()),
                    tone_hz: Some(3150.0),
                    correction_percent: -0.04,
                    tolerance_percent: None,
                }),
                was_led: true,
                input: Some(input),
                theme: Some(Theme::Light),
                job: Some("HL-0031".into()),
                foot: FootKeys {
                    take: Some(Key::F13),
                    next: None,
                },
            };
            memory.keep(&remembered).expect("kept");
            assert_eq!(memory.recall(), Ok(remembered));
        }
        let left = fs::read_dir(folder.path().join("deep/er")).expect("folder");
        assert_eq!(left.count(), 1, "nothing unfinished is left");
    }

    #[test]
    fn a_damaged_file_is_told_with_its_line_and_written_again() {
        let folder = folder();
        let memory = Memory::at(folder.path().join("window.toml"));
        fs::write(&memory.path, "# kept\n\ntheme = \"pink\"\n").expect("written");
        let told = memory.recall().expect_err("damaged");
        assert!(told.contains("window.toml: line 3: "), "{told}");
        assert!(told.contains("pink") && !told.contains('\n'), "{told}");
        fs::write(&memory.path, "[foot]\ntake = \"Pedal\"\n").expect("written");
        let told = memory.recall().expect_err("no such key");
        assert!(
            told.contains("line 2: ") && told.contains("'Pedal'"),
            "{told}"
        );
        fs::write(&memory.path, [0xff, 0xfe, 0x00]).expect("written");
        assert!(memory.recall().is_err());
        memory.keep(&Remembered::default()).expect("kept");
        assert_eq!(memory.recall(), Ok(Remembered::default()));
    }

    #[test]
    fn a_tape_comes_back_with_what_was_typed_or_is_told_to_be_gone() {
        let tapes = TapeShelf::default().list();
        let fresh = || MeterSetup::new().expect("table");
        let mut setup = fresh().with_tape(&tapes.supplied[0]);
        setup.tone_correction_percent = 0.02;
        let tape = RememberedTape::of(&setup, &tapes);
        assert_eq!(tape.name.as_deref(), Some("speed-3150"));
        assert_eq!(tape.put_into(fresh(), &tapes), Ok(setup));
        let mut typed = fresh();
        typed.tone_hz = Some(1000.0);
        typed.tone_tolerance_percent = Some(0.3);
        let tape = RememberedTape::of(&typed, &tapes);
        assert_eq!(tape.name, None);
        let other = fresh().with_tape(&tapes.supplied[1]);
        assert_eq!(tape.put_into(other, &tapes), Ok(typed));
        let gone = RememberedTape {
            name: Some("lent-out".into()),
            ..RememberedTape::default()
        };
        let told = gone.put_into(fresh(), &tapes).expect_err("gone");
        assert!(told.contains("'lent-out'"), "{told}");
    }

    #[test]
    fn a_place_that_cannot_be_written_is_told() {
        let folder = folder();
        let in_the_way = folder.path().join("file");
        fs::write(&in_the_way, "").expect("written");
        let memory = Memory::at(in_the_way.join("window.toml"));
        let told = memory.keep(&Remembered::default()).expect_err("no folder");
        assert!(
            told.ends_with("input, tape and theme are not remembered"),
            "{told}"
        );
    }
}
