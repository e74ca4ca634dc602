//! The sound outputs of this computer: listed and chosen by name, and kept apart from the input in use.

use super::GuideError;
use crate::source::sound_card::{NoAnswer, quiet_alsa, with_host, with_patience};
use cpal::{
    ErrorKind,
    traits::{DeviceTrait, HostTrait},
};
use std::{str::FromStr, time::Duration};

/// A sound system that takes longer to name its outputs is left out.
const LISTING_PATIENCE: Duration = Duration::from_secs(5);
/// ALSA names that lead nowhere, or to a server that complains on the terminal when it is merely asked.
const ALSA_NO_OUTPUTS: [&str; 9] = [
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

/// A sound output by its names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutputName {
    /// What chooses it; stays the same from start to start.
    pub id: String,
    /// Its sound system.
    pub host: String,
    /// What a person calls it.
    pub name: String,
}

/// The outputs of this computer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OutputList {
    /// The outputs, by sound system.
    pub outputs: Vec<OutputName>,
    /// In words, which sound systems could not be asked, and why.
    pub notes: Vec<String>,
}

/// Lists the outputs of all sound systems. May take some seconds.
pub fn list_outputs() -> OutputList {
    let mut list = OutputList::default();
    for host_id in cpal::available_hosts() {
        let answer = with_patience("list outputs", LISTING_PATIENCE, move || names(host_id));
        let host = host_id.name();
        match answer {
            Ok(Ok(names)) => {
                for name in names {
                    if list.outputs.iter().all(|other| other.id != name.id) {
                        list.outputs.push(name);
                    }
                }
            }
            Ok(Err(error)) => list
                .notes
                .push(format!("{host} cannot list its outputs: {error}")),
            Err(NoAnswer::TooLate) => list.notes.push(format!(
                "{host} does not answer within {} s: restart its sound server",
                LISTING_PATIENCE.as_secs()
            )),
            Err(NoAnswer::Failed) => list
                .notes
                .push(format!("{host} failed while it listed its outputs")),
        }
    }
    list
}

fn names(host_id: cpal::HostId) -> Result<Vec<OutputName>, cpal::Error> {
    quiet_alsa();
    let devices = with_host(host_id, cpal::Host::output_devices)?;
    Ok(devices
        .filter_map(|device| {
            let id = device.id().ok()?;
            let is_alsa = host_id.name() == "ALSA";
            if is_alsa && ALSA_NO_OUTPUTS.contains(&id.id()) {
                return None;
            }
            Some(OutputName {
                id: id.to_string(),
                host: host_id.name().to_owned(),
                name: device.description().ok()?.name().trim().to_owned(),
            })
        })
        .collect())
}

/// The device of that name, if it is there. May hang.
pub(super) fn device(name: &OutputName) -> Result<cpal::Device, GuideError> {
    quiet_alsa();
    let id = cpal::DeviceId::from_str(&name.id)
        .map_err(|error| GuideError(format!("'{}' is no id of an output: {error}", name.id)))?;
    with_host(id.host(), |host| {
        let mut outputs = host.output_devices()?;
        outputs
            .find(|device| device.id().as_ref() == Ok(&id))
            .ok_or_else(|| cpal::Error::new(ErrorKind::DeviceNotAvailable))
    })
    .map_err(|_| GuideError(format!("the output {} is not connected", name.name)))
}

/// Finds the one output that `wanted` names: by its whole id, by the part behind the sound system's or the whole name,
/// else by any part that no other output has. There is no default.
///
/// # Errors
/// When none or several fit; the text names the candidates.
pub fn find_output(outputs: &[OutputName], wanted: &str) -> Result<OutputName, GuideError> {
    let wanted_lower = wanted.trim().to_lowercase();
    let id = |output: &OutputName| output.id.to_lowercase();
    let name = |output: &OutputName| output.name.to_lowercase();
    let tiers: [&dyn Fn(&OutputName) -> bool; 3] = [
        &|output| id(output) == wanted_lower,
        &|output| {
            let behind = id(output)
                .split_once(':')
                .map(|(_, behind)| behind.to_owned());
            behind.as_deref() == Some(&wanted_lower) || name(output) == wanted_lower
        },
        &|output| {
            !wanted_lower.is_empty()
                && (id(output).contains(&wanted_lower) || name(output).contains(&wanted_lower))
        },
    ];
    for fits in tiers {
        let fitting: Vec<_> = outputs.iter().filter(|output| fits(output)).collect();
        match fitting[..] {
            [] => {}
            [output] => return Ok(output.clone()),
            _ => {
                return Err(GuideError(format!(
                    "'{wanted}' fits {} outputs, give more of the id: {}",
                    fitting.len(),
                    listed(&fitting)
                )));
            }
        }
    }
    Err(GuideError(format!(
        "there is no output '{wanted}'; 'trimwatch outputs' shows them: {}",
        listed(&outputs.iter().collect::<Vec<_>>())
    )))
}

fn listed(outputs: &[&OutputName]) -> String {
    const NAMED: usize = 6;
    let mut text = outputs
        .iter()
        .take(NAMED)
        .map(|output| output.id.clone())
        .collect::<Vec<_>>()
        .join(", ");
    if outputs.is_empty() {
        text.push_str("none at all");
    }
    if let Some(more @ 1..) = outputs.len().checked_sub(NAMED) {
        text += &format!(" and {more} more");
    }
    text
}

/// Whether what is played on `output` may come back in `input` (an input's id): the input listens to that output, or
/// both are of one card, whose mixer or a lead may join them.
pub fn shares_a_path(output: &OutputName, input_id: &str) -> bool {
    let behind = |id: &str| {
        let device = id.split_once(':').map_or(id, |(_, device)| device);
        device.to_lowercase()
    };
    let (output, input) = (behind(&output.id), behind(input_id));
    if input == output || input.strip_suffix(".monitor") == Some(&output) {
        return true;
    }
    let card = |device: &str| {
        if let Some((_, card)) = device.split_once("card=") {
            return card.split(',').next().map(str::to_owned);
        }
        let server = device
            .strip_prefix("alsa_input.")
            .or_else(|| device.strip_prefix("alsa_output."))?;
        // What follows the last dot is the profile: analog-stereo and the like.
        server.rsplit_once('.').map(|(card, _)| card.to_owned())
    };
    card(&output).is_some() && card(&output) == card(&input)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn output(id: &str, name: &str) -> OutputName {
        OutputName {
            id: id.into(),
            host: "a sound system".into(),
            name: name.into(),
        }
    }

    #[test]
    fn an_output_is_found_by_any_part_that_is_its_own() {
        let outputs = [
            output("alsa:hw:CARD=Bench,DEV=0", "Bench"),
            output("alsa:hw:CARD=Phones,DEV=0", "Phones"),
            output("pulseaudio:phones", "Phones of the bench"),
        ];
        for (wanted, id) in [
            ("alsa:hw:card=bench,dev=0", "alsa:hw:CARD=Bench,DEV=0"),
            ("PHONES OF", "pulseaudio:phones"),
            ("CARD=Ph", "alsa:hw:CARD=Phones,DEV=0"),
        ] {
            assert_eq!(find_output(&outputs, wanted).expect("one fits").id, id);
        }
        let several = find_output(&outputs, "hw:").expect_err("two fit").0;
        assert!(
            several.contains("2 outputs") && several.contains("CARD=Bench"),
            "{several}"
        );
        for wanted in ["", "speaker"] {
            let none = find_output(&outputs, wanted).expect_err("none fits").0;
            assert!(none.contains("trimwatch outputs"), "{none}");
        }
        assert!(
            find_output(&[], "x")
                .expect_err("none")
                .0
                .contains("none at all")
        );
    }

    #[test]
    fn what_could_come_back_in_the_input_is_seen() {
        for (out, input) in [
            ("pulseaudio:deck", "pulseaudio:deck.monitor"),
            ("alsa:hw:CARD=Bench,DEV=0", "alsa:plughw:CARD=Bench,DEV=1"),
            (
                "pulseaudio:alsa_output.usb-Bench-00.analog-stereo",
                "pulseaudio:alsa_input.usb-Bench-00.iec958-stereo",
            ),
            ("alsa:default", "alsa:default"),
        ] {
            assert!(shares_a_path(&output(out, ""), input), "{out} {input}");
        }
        for (out, input) in [
            ("pulseaudio:phones", "pulseaudio:deck.monitor"),
            ("alsa:hw:CARD=Phones,DEV=0", "alsa:hw:CARD=Bench,DEV=0"),
            ("alsa:pulse", "alsa:hw:CARD=Bench,DEV=0"),
        ] {
            assert!(!shares_a_path(&output(out, ""), input), "{out} {input}");
        }
    }
}
