//! What the window can be told to listen to. The caller knows the sources; the window only lists and chooses.

use super::{deck_shelf::DeckChoice, screwdrivers::Screwdrivers};
use crate::{meters::MeterSetup, source::SourceError, tables::TapeFormat, worker::Worker};
use std::path::PathBuf;

/// Called by the worker after each snapshot.
pub type Wake = Box<dyn Fn() + Send>;

/// The inputs of this computer, as the caller offers them. Both calls may take seconds (devices are probed and
/// opened), so the window makes them from a thread of its own, never while it draws.
pub trait Inputs: Send + Sync {
    /// What there is to choose from at this moment.
    fn list(&self) -> InputList;

    /// Opens one and starts a worker on it that calls `wake` after each snapshot.
    ///
    /// # Errors
    /// One line that says why it cannot be opened and what to do.
    fn open(
        &self,
        choice: &InputChoice,
        setup: &MeterSetup,
        wake: Wake,
    ) -> Result<OpenInput, SourceError>;
}

/// One choice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum InputChoice {
    /// A sound input, by the id that its entry carries.
    SoundCard {
        /// The id.
        id: String,
        /// The channels to take, counted from 1; empty: the first two.
        channels: Vec<u16>,
        /// The sample rate to ask for, Hz; `None`: the device's best.
        rate_hz: Option<u32>,
    },
    /// A recording.
    Recording(PathBuf),
    /// A simulated deck, by the id that its entry carries.
    VirtualDeck(String),
}

impl InputChoice {
    /// The same input, also when the program is started from another folder.
    #[must_use]
    pub fn from_anywhere(self) -> Self {
        match self {
            Self::Recording(path) => Self::Recording(std::path::absolute(&path).unwrap_or(path)),
            other => other,
        }
    }

    /// A short name for messages, before the source itself has told its own.
    pub fn name(&self) -> String {
        match self {
            Self::SoundCard { id, .. } | Self::VirtualDeck(id) => id.clone(),
            Self::Recording(path) => path.display().to_string(),
        }
    }
}

/// An entry of the list of sound inputs or of virtual decks.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InputEntry {
    /// What opens it.
    pub id: String,
    /// What a person calls it.
    pub title: String,
    /// Host, rates and formats, or what the deck is like; one line.
    pub detail: String,
}

/// What there is to choose from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InputList {
    /// Sound inputs.
    pub sound_cards: Vec<InputEntry>,
    /// Decks to practise on.
    pub virtual_decks: Vec<InputEntry>,
    /// Why the list may be incomplete, in one line.
    pub problem: Option<String>,
}

/// An input that runs.
pub struct OpenInput {
    /// Its worker.
    pub worker: Worker,
    /// What can be turned on it; a virtual deck has this.
    pub screwdrivers: Option<Box<dyn Screwdrivers>>,
    /// The tape format it plays, where the input knows it; a virtual deck does.
    pub tape_format: Option<TapeFormat>,
    /// The mechanism of the deck, where the input knows it; a virtual deck may.
    pub mechanism: Option<DeckChoice>,
}
