//! Where the sound guide can be heard. The caller knows the devices; the window only lists and chooses.

use super::inputs::InputChoice;
use crate::guide::{GuideError, OutputName};
use std::time::Instant;

/// The sound outputs of this computer, as the caller offers them. Both calls may take seconds, so the window makes them
/// from a thread of its own, never while it draws.
pub trait Outputs: Send + Sync {
    /// What there is at this moment. `input` is the one that is measured: an output that might be heard in it is marked.
    fn list(&self, input: Option<&InputChoice>) -> OutputChoices;

    /// Opens one: silent at first, then at this level. Dropping the guide fades it out.
    ///
    /// # Errors
    /// One line that says why it cannot be opened and what to do.
    fn start(&self, output: &OutputName, level_dbfs: f64) -> Result<Box<dyn Guide>, GuideError>;
}

/// A guide that can be heard.
pub trait Guide: Send {
    /// Tells how far off the reading is: −1 to 1, 0 in the target, NaN without a reading. Without news of it the guide
    /// goes silent within half a second.
    fn aim(&self, offset: f32);

    /// Sets the level of its peaks, dBFS; limited by the guide itself.
    fn set_level_dbfs(&self, level_dbfs: f64);

    /// Why it is no longer heard, in words; `None` when all is well.
    fn trouble(&mut self, now: Instant) -> Option<String>;
}

/// One output.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutputChoice {
    /// Its names.
    pub output: OutputName,
    /// Whether it may be heard in the input that is measured: of one card with it, or what the input listens to.
    pub leads_back: bool,
}

/// What there is to choose from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OutputChoices {
    /// The outputs.
    pub outputs: Vec<OutputChoice>,
    /// Why the list may be incomplete, in one line.
    pub problem: Option<String>,
}
