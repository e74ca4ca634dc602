//! The sound systems of this computer, through cpal.

use super::{
    choosing::StreamPlan,
    input::{InputDevice, InputName, NativeFormat, OfferedFormat, SampleFormat},
    patience::{NoAnswer, with_patience},
    stream,
    supervisor::OpenStream,
    {ALSA_HOST, PULSE_HOST},
};
use crate::source::SourceError;
use cpal::{
    ErrorKind,
    traits::{DeviceTrait, HostTrait},
};
use std::{
    str::FromStr,
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};

/// A sound system that takes longer to name its inputs is left out.
const LISTING_PATIENCE: Duration = Duration::from_secs(5);
/// ALSA names that are no inputs: they convert, discard, or lead to a server that complains on the terminal when it
/// is merely asked.
const ALSA_NO_INPUTS: [&str; 9] = [
    "null",
    "lavrate",
    "samplerate",
    "speexrate",
    "speex",
    "upmix",
    "vdownmix",
    "jack",
    "oss",
];

/// What the choosing and the supervisor need of the sound systems; a test puts its own in.
pub(super) trait SoundHosts: Send + Sync + 'static {
    /// The names of all inputs, and in words what could not be asked.
    fn inputs(&self) -> (Vec<InputName>, Vec<String>);
    /// The input that the system would choose.
    fn default_input(&self) -> Option<InputName>;
    /// What an input can do.
    fn inspect(&self, name: &InputName) -> Result<InputDevice, SourceError>;
    /// Opens an input and starts it. May hang.
    fn start(&self, plan: &StreamPlan) -> Result<OpenStream, SourceError>;
}

/// The real ones.
#[derive(Debug, Default)]
pub(super) struct CpalHosts;

impl SoundHosts for CpalHosts {
    fn inputs(&self) -> (Vec<InputName>, Vec<String>) {
        let mut inputs = Vec::new();
        let mut notes = Vec::new();
        for host_id in cpal::available_hosts() {
            let answer = with_patience("list inputs", LISTING_PATIENCE, move || {
                input_names(host_id)
            });
            let name = host_id.name();
            match answer {
                Ok(Ok(names)) => inputs.extend(names),
                Ok(Err(error)) => notes.push(format!("{name} cannot list its inputs: {error}")),
                Err(NoAnswer::TooLate) => notes.push(format!(
                    "{name} does not answer within {} s: restart its sound server",
                    LISTING_PATIENCE.as_secs()
                )),
                Err(NoAnswer::Failed) => {
                    notes.push(format!("{name} failed while it listed its inputs"))
                }
            }
        }
        (without_doubles(inputs), notes)
    }

    fn default_input(&self) -> Option<InputName> {
        cpal::available_hosts().into_iter().find_map(|host_id| {
            with_patience("list inputs", LISTING_PATIENCE, move || {
                quiet_alsa();
                with_host(host_id, |host| {
                    host.default_input_device()
                        .ok_or_else(|| cpal::Error::new(ErrorKind::DeviceNotAvailable))
                })
                .ok()
                .and_then(|device| input_name(host_id, &device))
            })
            .ok()
            .flatten()
        })
    }

    fn inspect(&self, name: &InputName) -> Result<InputDevice, SourceError> {
        quiet_alsa();
        inspect_device(name.clone(), &find_device(name)?)
    }

    fn start(&self, plan: &StreamPlan) -> Result<OpenStream, SourceError> {
        quiet_alsa();
        stream::start(&find_device(&plan.name)?, plan)
    }
}

fn input_names(host_id: cpal::HostId) -> Result<Vec<InputName>, cpal::Error> {
    quiet_alsa();
    let devices = with_host(host_id, cpal::Host::input_devices)?;
    Ok(devices
        .filter_map(|device| input_name(host_id, &device))
        .collect())
}

fn input_name(host_id: cpal::HostId, device: &cpal::Device) -> Option<InputName> {
    let id = device.id().ok()?;
    if host_id.name() == ALSA_HOST && ALSA_NO_INPUTS.contains(&id.id()) {
        return None;
    }
    let description = device.description().ok()?;
    let name = description.name().trim().to_owned();
    // The first of ALSA's lines is the name again.
    let detail: Vec<_> = description
        .extended()
        .map(str::trim)
        .filter(|line| !line.is_empty() && *line != name)
        .collect();
    Some(InputName {
        id: id.to_string(),
        host: host_id.name().to_owned(),
        detail: detail.join("; "),
        name,
    })
}

/// ALSA names hardware twice, by the card's name and by its number. The number may be another one tomorrow.
fn without_doubles(inputs: Vec<InputName>) -> Vec<InputName> {
    let numbered = |input: &InputName| {
        input
            .id
            .split_once("CARD=")
            .is_some_and(|(_, card)| card.starts_with(|first: char| first.is_ascii_digit()))
    };
    let kind = |input: &InputName| input.id.split("CARD=").next().map(str::to_owned);
    let mut kept: Vec<InputName> = Vec::new();
    for input in &inputs {
        let named_twin = numbered(input)
            && inputs.iter().any(|other| {
                !numbered(other)
                    && kind(other) == kind(input)
                    && other.description() == input.description()
            });
        let repeated = kept.iter().any(|other| other.id == input.id);
        if !named_twin && !repeated {
            kept.push(input.clone());
        }
    }
    kept
}

fn find_device(name: &InputName) -> Result<cpal::Device, SourceError> {
    let id = cpal::DeviceId::from_str(&name.id)
        .map_err(|error| SourceError(format!("'{}' is no id of an input: {error}", name.id)))?;
    device_by_id(&id).ok_or_else(|| SourceError(format!("{} is not connected", name.description())))
}

fn device_by_id(id: &cpal::DeviceId) -> Option<cpal::Device> {
    with_host(id.host(), |host| {
        host.device_by_id(id)
            .filter(DeviceTrait::supports_input)
            // An output may have the same id.
            .or_else(|| {
                let mut inputs = host.input_devices().ok()?;
                inputs.find(|device| device.id().as_ref() == Ok(id))
            })
            // ALSA's default is not always among the names it lists.
            .or_else(|| {
                let default = host.default_input_device()?;
                (id.host().name() == ALSA_HOST && default.id().as_ref() == Ok(id))
                    .then_some(default)
            })
            .ok_or_else(|| cpal::Error::new(ErrorKind::DeviceNotAvailable))
    })
    .ok()
}

fn inspect_device(name: InputName, device: &cpal::Device) -> Result<InputDevice, SourceError> {
    // ALSA does not tell how the hardware runs: what cpal calls its default there is a guess from what is offered.
    let native = (name.host != ALSA_HOST)
        .then(|| device.default_input_config().ok())
        .flatten()
        .and_then(|config| {
            Some(NativeFormat {
                channels: config.channels(),
                sample_format: SampleFormat::from_cpal(config.sample_format())?,
                sample_rate_hz: config.sample_rate(),
            })
        });
    let (offered, trouble) = match device.supported_input_configs() {
        Ok(configs) => {
            let offered: Vec<_> = configs
                .filter_map(|config| offered_format(&config))
                .collect();
            let trouble = offered.is_empty().then_some(
                "it offers no format that can be read; try its 'plughw' entry or the one of the sound server",
            );
            (offered, trouble.map(str::to_owned))
        }
        // It is there, and may be free in a moment.
        Err(error)
            if matches!(
                error.kind(),
                ErrorKind::DeviceBusy | ErrorKind::PermissionDenied
            ) =>
        {
            (Vec::new(), Some(stream::explain(&error)))
        }
        Err(error) => return Err(stream::cannot_open(&name, &error)),
    };
    Ok(InputDevice {
        name,
        is_default: false,
        native,
        offered,
        trouble,
    })
}

fn offered_format(config: &cpal::SupportedStreamConfigRange) -> Option<OfferedFormat> {
    Some(OfferedFormat {
        channels: config.channels(),
        sample_format: SampleFormat::from_cpal(config.sample_format())?,
        min_rate_hz: config.min_sample_rate(),
        max_rate_hz: config.max_sample_rate(),
    })
}

/// The connection to the PulseAudio server, kept: each new one would leave a thread and a socket behind in the
/// client library, and the server has room for few.
static PULSE: Mutex<Option<Arc<cpal::Host>>> = Mutex::new(None);

/// Calls `ask` with the host, anew where the kept connection has died with its server.
pub(crate) fn with_host<T>(
    host_id: cpal::HostId,
    ask: impl Fn(&cpal::Host) -> Result<T, cpal::Error>,
) -> Result<T, cpal::Error> {
    if host_id.name() != PULSE_HOST {
        return ask(&cpal::host_from_id(host_id)?);
    }
    // The lock is not held while the server is asked: it may never answer.
    let kept = PULSE.lock().unwrap_or_else(PoisonError::into_inner).clone();
    // A refusal of `ask` says nothing about the connection, so that is tried by itself.
    if let Some(host) = kept.filter(|host| host.devices().is_ok()) {
        return ask(&host);
    }
    let host = Arc::new(cpal::host_from_id(host_id)?);
    *PULSE.lock().unwrap_or_else(PoisonError::into_inner) = Some(host.clone());
    ask(&host)
}

/// From now on libasound does not print on stderr from this thread what went wrong: it tries things out that fail on
/// every computer, and what matters comes back as an error anyway.
pub(crate) fn quiet_alsa() {
    #[cfg(target_os = "linux")]
    let _unheard = alsa::Output::local_error_handler();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_known_by_name_is_not_listed_by_its_number_too() {
        let name = |id: &str, name: &str, detail: &str| InputName {
            id: id.into(),
            host: ALSA_HOST.into(),
            name: name.into(),
            detail: detail.into(),
        };
        let listed = without_doubles(vec![
            name("alsa:default", "Default", ""),
            name("alsa:hw:CARD=Bench,DEV=0", "Bench", "Direct"),
            name("alsa:default", "Default", ""),
            name("alsa:hw:CARD=1,DEV=0", "Bench", "Direct"),
            name("alsa:plughw:CARD=1,DEV=0", "Bench", "Direct"),
            name("alsa:hw:CARD=2,DEV=0", "Other", "Direct"),
        ]);
        let ids: Vec<_> = listed.iter().map(|input| input.id.as_str()).collect();
        let expected = [
            "alsa:default",
            "alsa:hw:CARD=Bench,DEV=0",
            "alsa:plughw:CARD=1,DEV=0",
            "alsa:hw:CARD=2,DEV=0",
        ];
        assert_eq!(ids, expected);
    }
}
