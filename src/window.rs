//! The window on real inputs: what the command line and the sources know, in the terms of the screen.

use jiff::tz::TimeZone;
use std::{sync::Arc, time::Instant};
use trimwatch::{
    console::{
        ConsoleError,
        arguments::{ChannelPick, SourceArguments, WindowArguments},
        settings::{Expected, open_deck, open_recording},
    },
    guide::{GuideError, GuidePlayer, OutputName, list_outputs, shares_a_path},
    meters::MeterSetup,
    profile::ProfileStore,
    screen::{
        self, Adjustable, Choice, DeckChoice, DeckShelf, FileRecord, Guide, InputChoice,
        InputEntry, InputList, Inputs, JobRecord, LogShelf, Memory, OpenInput, OutputChoice,
        OutputChoices, Outputs, ScreenOptions, Screwdrivers, TapeShelf, Wake,
    },
    source::{
        SourceError,
        paced::play_live,
        sound_card::{self, InputDevice, SampleFormat},
        virtual_deck::{Adjuster, Control, DeckControls, VirtualDeck, built_in_names},
    },
    tables::{Limits, TapeFormat, mechanism_names},
    worker::Worker,
};

/// Opens the window and runs it until it is closed.
pub fn open(arguments: WindowArguments) -> Result<(), ConsoleError> {
    let source_format = deck_format(&arguments.source)?;
    let expected = Expected::resolve(&arguments.tape, source_format)?;
    let start = start(&arguments.source)?;
    require_display()?;
    screen::run(ScreenOptions {
        inputs: Arc::new(RealInputs {
            virtual_rate_hz: arguments.source.rate,
            recording_channels: arguments.source.channels,
            sample_format: arguments.source.sample_format,
            format_is_given: arguments.tape.tape_format.is_some(),
        }),
        outputs: Arc::new(RealOutputs),
        start,
        setup: MeterSetup {
            spectra_shown: true,
            ..expected.setup
        },
        limits: Limits::supplied()?,
        theme: None,
        format_is_given: arguments.tape.tape_format.is_some() || arguments.tape.tape.is_some(),
        memory: Memory::of_the_user(),
        decks: DeckShelf::of_the_user(),
        jobs: FileRecord::of_the_user().map(|record| Box::new(record) as Box<dyn JobRecord>),
        zone: TimeZone::system(),
        logs: LogShelf::of_the_user(),
        tapes: TapeShelf::of_the_user(),
        profiles: ProfileStore::of_the_user(),
    })
    .map_err(|error| ConsoleError::Refused(error.to_string()))
}

/// Says in plain words what the window system would say in its own.
fn require_display() -> Result<(), ConsoleError> {
    let is_set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let needed = cfg!(all(unix, not(target_os = "macos")));
    if needed
        && !["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"]
            .into_iter()
            .any(is_set)
    {
        return Err(ConsoleError::Refused(
            "there is no display (neither DISPLAY nor WAYLAND_DISPLAY is set); 'trimwatch watch' shows the readings as text"
                .into(),
        ));
    }
    Ok(())
}

/// What to open at once. Files are tried now, so that a wrong name is told on the command line it stands on.
fn start(source: &SourceArguments) -> Result<Option<InputChoice>, ConsoleError> {
    if let Some(deck) = &source.virtual_deck {
        return Ok(Some(InputChoice::VirtualDeck(
            deck.to_string_lossy().into_owned(),
        )));
    }
    if let Some(path) = &source.recording {
        open_recording(path, source.channels.as_ref())?;
        return Ok(Some(InputChoice::Recording(path.clone())));
    }
    match &source.input {
        Some(id) => Ok(Some(InputChoice::SoundCard {
            id: id.clone(),
            channels: source.channels.clone().map_or_else(Vec::new, |pick| pick.0),
            rate_hz: source.rate,
        })),
        None if source.rate.is_some() || source.channels.is_some() => {
            Err(ConsoleError::Refused(
                "--rate and --channels belong to an input; name it with --input (see 'trimwatch inputs')".into(),
            ))
        }
        None => Ok(None),
    }
}

fn deck_format(source: &SourceArguments) -> Result<Option<&'static TapeFormat>, ConsoleError> {
    let Some(deck) = &source.virtual_deck else {
        return Ok(None);
    };
    Ok(Some(open_deck(deck, source.rate)?.tape_format()))
}

/// The inputs of this computer, and the decks that come with the program. What the command line asks for holds for
/// every input opened later, too.
struct RealInputs {
    virtual_rate_hz: Option<u32>,
    recording_channels: Option<ChannelPick>,
    sample_format: Option<SampleFormat>,
    /// Whether the tape format is the technician's own choice; otherwise a deck brings its own.
    format_is_given: bool,
}

impl Inputs for RealInputs {
    fn list(&self) -> InputList {
        let list = sound_card::list_inputs();
        InputList {
            sound_cards: list.inputs.iter().map(input_entry).collect(),
            virtual_decks: built_in_names()
                .filter_map(|name| {
                    let deck = open_deck(name.as_ref(), self.virtual_rate_hz).ok()?;
                    Some(deck_entry(name, &deck))
                })
                .collect(),
            problem: (!list.notes.is_empty()).then(|| list.notes.join("; ")),
        }
    }

    fn open(
        &self,
        choice: &InputChoice,
        setup: &MeterSetup,
        wake: Wake,
    ) -> Result<OpenInput, SourceError> {
        let mut screwdrivers: Option<Box<dyn Screwdrivers>> = None;
        let mut tape_format = None;
        let mut mechanism = None;
        let source = match choice {
            InputChoice::SoundCard {
                id,
                channels,
                rate_hz,
            } => sound_card::open(&sound_card::InputChoice {
                input: Some(id.clone()),
                sample_rate_hz: *rate_hz,
                channels: (!channels.is_empty()).then(|| channels.clone()),
                sample_format: self.sample_format,
            })?,
            InputChoice::Recording(path) => {
                let recording = open_recording(path, self.recording_channels.as_ref())?;
                play_live(Box::new(recording), None)?
            }
            InputChoice::VirtualDeck(name) => {
                let deck = open_deck(name.as_ref(), self.virtual_rate_hz)?;
                screwdrivers = Some(Box::new(DeckScrewdrivers::new(deck.controls())));
                tape_format = (!self.format_is_given).then(|| deck.tape_format().clone());
                mechanism = deck.mechanism().map(mechanism_choice);
                play_live(Box::new(deck), None)?
            }
        };
        Ok(OpenInput {
            worker: Worker::start(source, setup.clone(), wake)?,
            screwdrivers,
            tape_format,
            mechanism,
        })
    }
}

/// The sound outputs of this computer.
struct RealOutputs;

impl Outputs for RealOutputs {
    fn list(&self, input: Option<&InputChoice>) -> OutputChoices {
        let list = list_outputs();
        let mut notes = list.notes;
        // Where the input's own card cannot be told, no output is known to be safe.
        let input = match input {
            Some(InputChoice::SoundCard { id, .. }) => {
                let choice = sound_card::InputChoice {
                    input: Some(id.clone()),
                    ..sound_card::InputChoice::default()
                };
                let id = sound_card::input_id(&choice);
                if let Err(error) = &id {
                    notes.push(format!(
                        "whose card the input is of cannot be told: {error}"
                    ));
                }
                Some(id.ok())
            }
            _ => None,
        };
        let leads_back = |output: &OutputName| match &input {
            Some(Some(id)) => shares_a_path(output, id),
            Some(None) => true,
            None => false,
        };
        OutputChoices {
            outputs: list
                .outputs
                .into_iter()
                .map(|output| OutputChoice {
                    leads_back: leads_back(&output),
                    output,
                })
                .collect(),
            problem: (!notes.is_empty()).then(|| notes.join("; ")),
        }
    }

    fn start(&self, output: &OutputName, level_dbfs: f64) -> Result<Box<dyn Guide>, GuideError> {
        Ok(Box::new(Sounding(GuidePlayer::start(output, level_dbfs)?)))
    }
}

struct Sounding(GuidePlayer);

impl Guide for Sounding {
    fn aim(&self, offset: f32) {
        self.0.aim(offset);
    }

    fn set_level_dbfs(&self, level_dbfs: f64) {
        self.0.set_level_dbfs(level_dbfs);
    }

    fn trouble(&mut self, now: Instant) -> Option<String> {
        self.0.trouble(now).map(str::to_owned)
    }
}

/// A mechanism by what a deck calls it.
fn mechanism_choice(name_or_path: &str) -> DeckChoice {
    if mechanism_names().any(|name| name == name_or_path) {
        DeckChoice::Supplied(name_or_path.into())
    } else {
        DeckChoice::File(name_or_path.into())
    }
}

fn input_entry(input: &InputDevice) -> InputEntry {
    let rates: Vec<_> = input
        .rates_hz()
        .into_iter()
        .map(|rate| format!("{} kHz", f64::from(rate) / 1000.0))
        .collect();
    let default = if input.is_default {
        ", the default"
    } else {
        ""
    };
    let detail = input.trouble.clone().unwrap_or_else(|| {
        format!(
            "{}{default}; {} channels; {}",
            input.name.host,
            input.channels(),
            rates.join(", ")
        )
    });
    InputEntry {
        id: input.name.id.clone(),
        title: input.name.description(),
        detail,
    }
}

fn deck_entry(name: &str, deck: &VirtualDeck) -> InputEntry {
    use trimwatch::source::FrameSource as _;
    InputEntry {
        id: name.into(),
        title: deck.description().name.clone(),
        detail: deck.about().into(),
    }
}

/// The adjustments of a virtual deck: what turns is a slider, what is chosen is a row of options.
struct DeckScrewdrivers {
    controls: DeckControls,
    /// Indices of what turns.
    turns: Vec<usize>,
    /// Indices of what is chosen.
    choices: Vec<usize>,
}

impl DeckScrewdrivers {
    fn new(controls: DeckControls) -> Self {
        let (turns, choices) = (0..controls.all().len())
            .partition(|&index| matches!(controls.all()[index].adjuster, Adjuster::Turn { .. }));
        Self {
            controls,
            turns,
            choices,
        }
    }

    /// The control at place `at` of `indices`.
    fn control(&self, indices: &[usize], at: usize) -> Option<&Control> {
        self.controls.all().get(*indices.get(at)?)
    }

    fn all<'a>(&'a self, indices: &'a [usize]) -> impl Iterator<Item = &'a Control> {
        (0..indices.len()).filter_map(|at| self.control(indices, at))
    }
}

impl Screwdrivers for DeckScrewdrivers {
    fn list(&self) -> Vec<Adjustable> {
        self.all(&self.turns).filter_map(adjustable).collect()
    }

    fn set(&mut self, index: usize, value: f64) {
        if let Some(control) = self.control(&self.turns, index) {
            // The screen keeps to the range it was given.
            let _within_range = control.set(value);
        }
    }

    fn choices(&self) -> Vec<Choice> {
        self.all(&self.choices).filter_map(choice).collect()
    }

    fn choose(&mut self, index: usize, option: usize) {
        if let Some(control) = self.control(&self.choices, index) {
            let _one_of_its_own = control.set(option as f64);
        }
    }
}

fn adjustable(control: &Control) -> Option<Adjustable> {
    match &control.adjuster {
        Adjuster::Turn {
            least,
            greatest,
            unit,
            ..
        } => Some(Adjustable {
            name: capitalised(&control.name),
            unit: (*unit).into(),
            min: *least,
            max: *greatest,
            value: control.value(),
        }),
        Adjuster::Choose(_) => None,
    }
}

fn choice(control: &Control) -> Option<Choice> {
    match &control.adjuster {
        Adjuster::Choose(names) => Some(Choice {
            name: capitalised(&control.name),
            options: names.clone(),
            chosen: control.value() as usize,
        }),
        Adjuster::Turn { .. } => None,
    }
}

fn capitalised(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn screwdrivers() -> DeckScrewdrivers {
        let deck = open_deck("finch-as-found".as_ref(), None).expect("a supplied deck");
        DeckScrewdrivers::new(deck.controls())
    }

    #[test]
    fn what_turns_on_the_deck_turns_in_the_window() {
        let mut screwdrivers = screwdrivers();
        let before = screwdrivers.list();
        let names: Vec<_> = before.iter().map(|item| item.name.as_str()).collect();
        assert_eq!(
            names,
            [
                "Speed trimmer",
                "Azimuth screw",
                "Left output",
                "Right output"
            ]
        );
        screwdrivers.set(1, 7.5);
        assert_eq!(screwdrivers.list()[1].value, 7.5);
        assert_eq!(screwdrivers.list()[0], before[0], "the others stay");
        screwdrivers.set(1, 1e9);
        assert_eq!(screwdrivers.list()[1].value, 7.5, "out of range");
    }

    #[test]
    fn an_option_is_taken_and_the_others_stay() {
        let mut screwdrivers = screwdrivers();
        let before = screwdrivers.choices();
        let belt = before.iter().position(|choice| choice.name == "Belt");
        let belt = belt.expect("the belt can be replaced");
        assert_eq!(before[belt].options, ["as found", "replaced"]);
        assert_eq!(before[belt].chosen, 0);
        screwdrivers.choose(belt, 1);
        let after = screwdrivers.choices();
        assert_eq!(after[belt].chosen, 1);
        assert_eq!(after[belt + 1], before[belt + 1]);
        screwdrivers.choose(belt, 7);
        assert_eq!(screwdrivers.choices(), after, "there is no such option");
    }

    #[test]
    fn every_supplied_deck_opens_with_a_title_and_what_ails_it() {
        for name in built_in_names() {
            let deck = open_deck(name.as_ref(), None).expect("a supplied deck");
            let entry = deck_entry(name, &deck);
            assert!(
                !entry.title.is_empty() && !entry.detail.is_empty(),
                "{name}"
            );
            let choice = mechanism_choice(deck.mechanism().expect("it names its mechanism"));
            let mechanism = DeckShelf::default().open(&choice).expect("a supplied one");
            let speed = mechanism.tape_speed_m_per_s / deck.tape_format().tape_speed_m_per_s;
            assert!((speed - 1.0).abs() < 0.01, "{name}: {}", mechanism.title);
        }
    }

    #[test]
    fn an_input_option_without_an_input_is_refused() {
        let source = SourceArguments {
            rate: Some(96_000),
            ..SourceArguments::default()
        };
        assert!(start(&source).is_err());
        assert!(matches!(start(&SourceArguments::default()), Ok(None)));
    }
}
