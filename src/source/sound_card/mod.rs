//! A live input of the computer: listed, chosen, opened, and kept open.
//!
//! [`open`] starts a supervisor that owns the stream. The audio callback only copies into the ring; whatever goes
//! wrong is noticed by the supervisor, told as an event, and the *same* input is opened again when it is back.
//! Another input is never taken in its place.

mod callback;
#[cfg(target_os = "linux")]
mod channel_layout;
mod choosing;
mod delivery;
mod health;
mod hosts;
mod input;
mod patience;
mod sample;
#[cfg(target_os = "linux")]
mod sound_server;
#[cfg(not(target_os = "linux"))]
#[path = "no_sound_server.rs"]
mod sound_server;
mod stream;
mod supervisor;

pub use callback::CaptureCallback;
pub use health::{StreamFault, StreamHealth};
pub use input::{
    InputDevice, InputName, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ, NativeFormat, OfferedFormat,
    SampleFormat,
};
pub use sample::CaptureSample;

use crate::source::{RunningSource, SourceError, StopOnDrop};
use hosts::{CpalHosts, SoundHosts};
pub(crate) use hosts::{quiet_alsa, with_host};
pub(crate) use patience::{NoAnswer, start as start_detached, with_patience};
pub(crate) use sound_server::PlaybackRoute;
use std::{
    any::Any,
    sync::Arc,
    time::{Duration, Instant},
};
use supervisor::{Door, OpenStream, Supervisor};

/// How cpal calls the hosts that need care.
const PULSE_HOST: &str = "PulseAudio";
const ALSA_HOST: &str = "ALSA";
/// An input that is not open by then is given up; an idle sound server takes two seconds.
const OPENING_PATIENCE: Duration = Duration::from_secs(10);
/// One device that takes longer to say what it offers is listed without.
const INSPECTION_PATIENCE: Duration = Duration::from_secs(3);

/// What is asked of an input. The default: the system's input, its own rate and format, the first two channels.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InputChoice {
    /// The id that [`list_inputs`] shows, or any part of id or description that fits one input only.
    pub input: Option<String>,
    /// Sample rate, Hz, from [`MIN_SAMPLE_RATE_HZ`] to [`MAX_SAMPLE_RATE_HZ`]; `None`: the device's own.
    pub sample_rate_hz: Option<u32>,
    /// One or two channels (left, right), counted from 1; `None`: the first two, or the only one.
    pub channels: Option<Vec<u16>>,
    /// Sample format; `None`: the device's own, else the best it offers.
    pub sample_format: Option<SampleFormat>,
}

/// The inputs of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputList {
    /// The inputs, by sound system.
    pub inputs: Vec<InputDevice>,
    /// In words, which sound systems could not be asked, and why.
    pub notes: Vec<String>,
}

/// Lists the inputs of all sound systems. Takes a while: every device is asked what it offers.
pub fn list_inputs() -> InputList {
    list(&system_hosts())
}

/// The whole id of the input that `choice` means, without opening it.
///
/// # Errors
/// As [`open`].
pub fn input_id(choice: &InputChoice) -> Result<String, SourceError> {
    choose(&*system_hosts(), choice).map(|name| name.id)
}

/// Opens an input and keeps it open until the result is dropped. Waits until the stream runs, for some ten seconds at most:
/// not to be called where a window is drawn. Losing the input later is not an error but a
/// [`SourceEvent::Lost`](crate::source::SourceEvent::Lost), after which the same input is opened again when it is
/// back.
///
/// # Errors
/// When no single input fits, it cannot do what is asked, or it does not open; one line that says what to do.
pub fn open(choice: &InputChoice) -> Result<RunningSource, SourceError> {
    open_with(system_hosts(), choice)
}

fn system_hosts() -> Arc<dyn SoundHosts> {
    Arc::new(CpalHosts)
}

fn list(hosts: &Arc<dyn SoundHosts>) -> InputList {
    let (names, notes) = hosts.inputs();
    let default = hosts.default_input();
    let inputs = names.into_iter().filter_map(|name| {
        let is_default = default
            .as_ref()
            .is_some_and(|default| default.id == name.id);
        // What cannot be inspected is no input at the moment; there are many such names on every computer.
        let mut input = inspect(hosts, &name).ok()?;
        input.is_default = is_default;
        Some(input)
    });
    InputList {
        inputs: inputs.collect(),
        notes,
    }
}

fn inspect(hosts: &Arc<dyn SoundHosts>, name: &InputName) -> Result<InputDevice, SourceError> {
    let (asked, asked_name) = (hosts.clone(), name.clone());
    let answer = with_patience("inspect input", INSPECTION_PATIENCE, move || {
        asked.inspect(&asked_name)
    });
    let trouble = match answer {
        Ok(answer) => return answer,
        Err(NoAnswer::TooLate) => "it does not answer, unplug it and plug it in again",
        Err(NoAnswer::Failed) => "its driver failed",
    };
    Ok(InputDevice {
        name: name.clone(),
        is_default: false,
        native: None,
        offered: Vec::new(),
        trouble: Some(trouble.into()),
    })
}

fn open_with(
    hosts: Arc<dyn SoundHosts>,
    choice: &InputChoice,
) -> Result<RunningSource, SourceError> {
    let name = choose(&*hosts, choice)?;
    let target = Target {
        name,
        choice: choice.clone(),
        hosts,
    };
    let opening = target.clone();
    let stream = with_patience("open input", OPENING_PATIENCE, move || opening.open_now()).map_err(|error| {
        let problem = match error {
            NoAnswer::TooLate => format!(
                "delivers no samples within {} s: check that it is switched on and not muted or suspended",
                OPENING_PATIENCE.as_secs()
            ),
            NoAnswer::Failed => "cannot be opened: its driver failed".into(),
        };
        SourceError(format!("{} {problem}", target.name.description()))
    })??;
    let (events_in, events) = crossbeam_channel::unbounded();
    let (stop, stopped) = StopOnDrop::new();
    supervisor::run(
        Supervisor::new(target, events_in, stream, Instant::now()),
        stopped,
    )?;
    Ok(RunningSource { events, stop })
}

/// Settles which input is meant. From here on it is known by its whole id, also where the default was asked for.
fn choose(hosts: &dyn SoundHosts, choice: &InputChoice) -> Result<InputName, SourceError> {
    let Some(wanted) = &choice.input else {
        return hosts.default_input().ok_or_else(|| {
            SourceError(
                "the system names no default sound input: connect the interface, or choose one of \
                 'trimwatch inputs'"
                    .into(),
            )
        });
    };
    let (inputs, notes) = hosts.inputs();
    choosing::find_input(&inputs, wanted)
        .cloned()
        .map_err(|error| {
            SourceError(
                [error.0]
                    .into_iter()
                    .chain(notes)
                    .collect::<Vec<_>>()
                    .join("; "),
            )
        })
}

/// The input that is kept open.
#[derive(Clone)]
struct Target {
    name: InputName,
    choice: InputChoice,
    hosts: Arc<dyn SoundHosts>,
}

impl Target {
    /// Opens it, with its rate and format settled anew: it may have come back with others. May hang.
    fn open_now(&self) -> Result<OpenStream, SourceError> {
        let device = self.hosts.inspect(&self.name)?;
        let plan = choosing::plan_stream(&device, &self.choice)?;
        self.hosts.start(&plan)
    }
}

impl Door for Target {
    fn open(&mut self) -> crossbeam_channel::Receiver<Result<OpenStream, SourceError>> {
        let target = self.clone();
        patience::start("open input", move || {
            // Who is waited for is said already.
            let name = target.name.description();
            target
                .open_now()
                .map_err(|error| match error.0.strip_prefix(&name) {
                    Some(what) => SourceError(format!("it{what}")),
                    None => error,
                })
        })
    }

    fn close(&mut self, handle: Box<dyn Any + Send>) {
        stream::close(handle);
    }
}

#[cfg(test)]
mod tests;
