//! Which input is meant, and how it is to run.

use super::{
    InputChoice,
    input::{
        InputDevice, InputName, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ, OfferedFormat, SampleFormat,
    },
};
use crate::source::SourceError;

/// Candidates named in an error before it only counts them.
const NAMED_CANDIDATES: usize = 8;
/// The rates tried first where the device does not say which is its own.
const FAMILIAR_RATES_HZ: [u32; 2] = [48_000, 44_100];

/// How an input is to be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct StreamPlan {
    pub name: InputName,
    pub sample_rate_hz: u32,
    pub sample_format: SampleFormat,
    /// Channels in the device's frames.
    pub device_channels: u16,
    /// Which of them go to the meters, counted from 0.
    pub picks: Vec<usize>,
}

/// Finds the one input that `wanted` names: by its whole id, by the device part of its id or its whole name, or by
/// any part of its id or description that no other input has. Upper and lower case are the same.
///
/// # Errors
/// When none or several fit; the text names the candidates.
pub(super) fn find_input<'a>(
    inputs: &'a [InputName],
    wanted: &str,
) -> Result<&'a InputName, SourceError> {
    let wanted_lower = wanted.trim().to_lowercase();
    if wanted_lower.is_empty() {
        return Err(SourceError(
            "the name of the input is empty: give its id or a part of it".into(),
        ));
    }
    let id = |input: &InputName| input.id.to_lowercase();
    let device_part = |input: &InputName| {
        id(input)
            .split_once(':')
            .map(|(_, device)| device.to_owned())
    };
    let tiers: [&dyn Fn(&InputName) -> bool; 3] = [
        &|input| id(input) == wanted_lower,
        &|input| {
            device_part(input).is_some_and(|part| part == wanted_lower)
                || input.name.to_lowercase() == wanted_lower
        },
        &|input| {
            id(input).contains(&wanted_lower)
                || input.description().to_lowercase().contains(&wanted_lower)
        },
    ];
    for fits in tiers {
        let fitting: Vec<_> = inputs.iter().filter(|input| fits(input)).collect();
        match fitting[..] {
            [] => {}
            [input] => return Ok(input),
            _ => {
                return Err(SourceError(format!(
                    "'{wanted}' fits {} inputs, give more of the id: {}",
                    fitting.len(),
                    listed(&fitting)
                )));
            }
        }
    }
    if inputs.is_empty() {
        return Err(SourceError(format!(
            "no sound input was found, so not '{wanted}' either: connect the interface and look again with \
             'trimwatch inputs'"
        )));
    }
    let all: Vec<_> = inputs.iter().collect();
    Err(SourceError(format!(
        "there is no input '{wanted}', only: {}",
        listed(&all)
    )))
}

fn listed(inputs: &[&InputName]) -> String {
    let mut text = inputs
        .iter()
        .take(NAMED_CANDIDATES)
        .map(|input| format!("{} ({})", input.id, input.description()))
        .collect::<Vec<_>>()
        .join(", ");
    if let Some(more @ 1..) = inputs.len().checked_sub(NAMED_CANDIDATES) {
        text += &format!(" and {more} more ('trimwatch inputs' shows all)");
    }
    text
}

/// Settles rate, format and channels on a device.
///
/// # Errors
/// When the choice cannot be met; the text says what the device offers.
pub(super) fn plan_stream(
    device: &InputDevice,
    choice: &InputChoice,
) -> Result<StreamPlan, SourceError> {
    let name = device.name.description();
    if device.offered.is_empty() {
        let why = device
            .trouble
            .as_deref()
            .unwrap_or("it offers no PCM format");
        return Err(SourceError(format!("{name} cannot be opened: {why}")));
    }
    let picks = pick_channels(device, choice)?;
    let needed = picks.iter().max().map_or(1, |&last| last + 1);
    let enough: Vec<_> = device
        .offered
        .iter()
        .filter(|offer| usize::from(offer.channels) >= needed)
        .collect();
    let sample_rate_hz = choose_rate(device, &enough, choice.sample_rate_hz)?;
    let at_rate: Vec<_> = enough
        .into_iter()
        .filter(|offer| offer.contains_rate(sample_rate_hz))
        .collect();
    let device_channels = choose_channel_count(device, &at_rate).ok_or_else(|| {
        SourceError(format!(
            "{name} does not deliver {needed} channels at {sample_rate_hz} Hz"
        ))
    })?;
    let formats: Vec<_> = at_rate
        .iter()
        .filter(|offer| offer.channels == device_channels)
        .map(|offer| offer.sample_format)
        .collect();
    Ok(StreamPlan {
        sample_format: choose_format(device, &formats, choice.sample_format)?,
        name: device.name.clone(),
        sample_rate_hz,
        device_channels,
        picks,
    })
}

fn pick_channels(device: &InputDevice, choice: &InputChoice) -> Result<Vec<usize>, SourceError> {
    let available = device.channels();
    let Some(numbers) = &choice.channels else {
        return Ok((0..usize::from(available.clamp(1, 2))).collect());
    };
    let refuse = |why: String| Err(SourceError(why));
    match numbers[..] {
        [_] => {}
        [first, second] if first != second => {}
        [first, _] => {
            return refuse(format!(
                "channel {first} is named twice: name two different ones, or one"
            ));
        }
        _ => {
            return refuse(format!(
                "{} channels were named: name two (left, right), or one",
                numbers.len()
            ));
        }
    }
    if numbers.contains(&0) {
        return refuse("there is no channel 0: channels are counted from 1".into());
    }
    if let Some(missing) = numbers.iter().find(|&&number| number > available) {
        return refuse(format!(
            "{} has no channel {missing}, it has {available}",
            device.name.description()
        ));
    }
    Ok(numbers
        .iter()
        .map(|&number| usize::from(number) - 1)
        .collect())
}

fn choose_rate(
    device: &InputDevice,
    offered: &[&OfferedFormat],
    wanted_hz: Option<u32>,
) -> Result<u32, SourceError> {
    let works = MIN_SAMPLE_RATE_HZ..=MAX_SAMPLE_RATE_HZ;
    let is_offered = |rate: &u32| offered.iter().any(|offer| offer.contains_rate(*rate));
    let name = || device.name.description();
    let rates = || {
        let rates: Vec<_> = device.rates_hz().iter().map(u32::to_string).collect();
        if rates.is_empty() {
            "no such rate".to_owned()
        } else {
            format!("{} Hz", rates.join(", "))
        }
    };
    if let Some(rate) = wanted_hz {
        if !works.contains(&rate) {
            return Err(SourceError(format!(
                "{rate} Hz is outside of the rates for a live input, \
                 {MIN_SAMPLE_RATE_HZ} to {MAX_SAMPLE_RATE_HZ} Hz: {} offers {}",
                name(),
                rates()
            )));
        }
        if !is_offered(&rate) {
            return Err(SourceError(format!(
                "{} does not run at {rate} Hz, it offers {}",
                name(),
                rates()
            )));
        }
        return Ok(rate);
    }
    let native = device.native.map(|native| native.sample_rate_hz);
    native
        .into_iter()
        .filter(|rate| works.contains(rate))
        .chain(FAMILIAR_RATES_HZ)
        .find(is_offered)
        .or_else(|| device.rates_hz().into_iter().rev().find(is_offered))
        .ok_or_else(|| {
            let fastest = offered
                .iter()
                .map(|offer| offer.max_rate_hz)
                .max()
                .unwrap_or(0);
            SourceError(format!(
                "{} runs at {fastest} Hz at most, a live input needs \
                 {MIN_SAMPLE_RATE_HZ} to {MAX_SAMPLE_RATE_HZ} Hz: choose another input",
                name()
            ))
        })
}

/// The device's own channel count, so that the system need not mix; else the fewest that are enough, but two rather
/// than one, because a system that offers both makes the one by mixing the two.
fn choose_channel_count(device: &InputDevice, offered: &[&OfferedFormat]) -> Option<u16> {
    let counts = || offered.iter().map(|offer| offer.channels);
    let native = device.native.map(|native| native.channels);
    counts()
        .find(|&count| Some(count) == native)
        .or_else(|| counts().filter(|&count| count >= 2).min())
        .or_else(|| counts().min())
}

fn choose_format(
    device: &InputDevice,
    offered: &[SampleFormat],
    wanted: Option<SampleFormat>,
) -> Result<SampleFormat, SourceError> {
    if let Some(format) = wanted {
        if offered.contains(&format) {
            return Ok(format);
        }
        let known: Vec<_> = offered.iter().map(|format| format.short()).collect();
        return Err(SourceError(format!(
            "{} does not deliver {format} samples here, it offers {}",
            device.name.description(),
            known.join(", ")
        )));
    }
    let native = device.native.map(|native| native.sample_format);
    native
        .filter(|format| offered.contains(format))
        .or_else(|| offered.iter().copied().min_by_key(|format| format.rank()))
        .ok_or_else(|| {
            SourceError(format!(
                "{} offers no PCM format",
                device.name.description()
            ))
        })
}

#[cfg(test)]
mod tests;
