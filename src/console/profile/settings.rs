//! What the arguments of `trimwatch profile` mean together.

use super::super::{
    ConsoleError,
    arguments::{ListenArguments, ProfileArguments, ProfileStep, SourceArguments},
    settings::SourceSetting,
};
use crate::profile::{
    ListenFor, ProfileStore,
    level::{DEFAULT_METER_TOLERANCE_PERCENT, KnownSine},
};
use std::path::PathBuf;

/// What `profile` works with.
pub struct ProfileSettings {
    pub(super) step: Step,
    pub(super) store: ProfileStore,
}

/// One step.
pub(super) enum Step {
    Measure(Measurement, Keeping),
    List,
    Show(String),
    Import { file: PathBuf, replace: bool },
    Delete(String),
}

/// A step that measures.
pub(super) enum Measurement {
    Clock {
        source: SourceSetting,
        seconds: f64,
    },
    Listen {
        to: ListenFor,
        source: SourceSetting,
        seconds: f64,
    },
    Level {
        source: SourceSetting,
        seconds: f64,
        sine: KnownSine,
    },
}

/// Under what name a result is kept.
pub(super) struct Keeping {
    pub(super) name: Option<String>,
}

impl Keeping {
    /// # Errors
    /// When it cannot be a name.
    fn under(name: Option<String>) -> Result<Self, ConsoleError> {
        if let Some(name) = &name {
            ProfileStore::check_name(name)?;
        }
        Ok(Self { name })
    }
}

impl TryFrom<ProfileArguments> for ProfileSettings {
    type Error = ConsoleError;

    fn try_from(arguments: ProfileArguments) -> Result<Self, ConsoleError> {
        let store = ProfileStore::of_the_user().ok_or_else(|| {
            ConsoleError::Refused(
                "this system names no data folder for you; set HOME, profiles are kept there"
                    .into(),
            )
        })?;
        Ok(Self {
            step: step(arguments.step)?,
            store,
        })
    }
}

fn step(step: ProfileStep) -> Result<Step, ConsoleError> {
    Ok(match step {
        ProfileStep::Clock(arguments) => {
            if let Some(path) = &arguments.source.recording {
                return Err(ConsoleError::Refused(format!(
                    "{}: a recording does not tell when its samples were taken; the clock is read from a live input",
                    path.display()
                )));
            }
            let source = source(arguments.source)?;
            let measurement = Measurement::Clock {
                source,
                seconds: arguments.seconds,
            };
            Step::Measure(measurement, Keeping::under(arguments.name)?)
        }
        ProfileStep::YLead(arguments) => listening(arguments, ListenFor::YLead)?,
        ProfileStep::Noise(arguments) => listening(arguments, ListenFor::Noise)?,
        ProfileStep::Crosstalk(arguments) => listening(arguments, ListenFor::Crosstalk)?,
        ProfileStep::Level(arguments) => {
            let sine = KnownSine {
                volts_rms: arguments.volts,
                tolerance_percent: arguments
                    .tolerance
                    .unwrap_or(DEFAULT_METER_TOLERANCE_PERCENT),
                hz: arguments.frequency,
            };
            let measurement = Measurement::Level {
                source: source(arguments.source)?,
                seconds: arguments.seconds,
                sine,
            };
            Step::Measure(measurement, Keeping::under(arguments.name)?)
        }
        ProfileStep::Show(arguments) => arguments.profile.map_or(Step::List, Step::Show),
        ProfileStep::Import(arguments) => Step::Import {
            file: arguments.file,
            replace: arguments.replace,
        },
        ProfileStep::Delete(arguments) => Step::Delete(arguments.name),
    })
}

fn listening(arguments: ListenArguments, to: ListenFor) -> Result<Step, ConsoleError> {
    let measurement = Measurement::Listen {
        to,
        source: source(arguments.source)?,
        seconds: arguments.seconds,
    };
    Ok(Step::Measure(measurement, Keeping::under(arguments.name)?))
}

fn source(arguments: SourceArguments) -> Result<SourceSetting, ConsoleError> {
    Ok(SourceSetting::resolve(arguments)?.0)
}
