//! Opens one stream on a device and starts it.

use super::{
    PULSE_HOST,
    callback::CaptureCallback,
    choosing::StreamPlan,
    health::StreamHealth,
    input::{InputName, SampleFormat},
    patience,
    sample::CaptureSample,
    sound_server::{self, RouteWatch},
    supervisor::OpenStream,
};
use crate::{
    readings::{SourceDescription, SourceKind},
    source::{
        SourceError,
        ring::{self, FrameConsumer},
    },
};
use cpal::{
    BufferSize, ErrorKind, StreamConfig,
    traits::{DeviceTrait, StreamTrait},
};
use std::{any::Any, sync::Arc, time::Duration};

/// The ring holds this much, so that a worker that is held up for a while loses nothing.
const RING_SECONDS: u32 = 2;
/// Length of a block asked for: short against the turn of a trimmer, long against the delays of a scheduler. It is
/// rounded up to a power of two, as short or odd blocks at a rate that is not the device's own gave overruns.
const BLOCK_SECONDS: f64 = 0.030;
/// How long a device may take to change its rate or to accept a stream, as far as a driver heeds it.
const DRIVER_PATIENCE: Duration = Duration::from_secs(3);

/// Opens and starts what the plan says. May hang in the driver.
///
/// # Errors
/// In words, with the device's name.
pub(super) fn start(device: &cpal::Device, plan: &StreamPlan) -> Result<OpenStream, SourceError> {
    let watch = RouteWatch::before_opening(&plan.name);
    let plan = sound_server::map_channels(plan)?;
    let opened = build(device, &plan)?;
    let played = opened.streams.iter().rev().try_for_each(StreamTrait::play);
    if let Err(error) = played {
        close(Box::new(opened.streams));
        return Err(cannot_open(&plan.name, &error));
    }
    let conversion = watch.follow(&opened.health, plan.sample_rate_hz);
    let format = plan.sample_format.words();
    Ok(OpenStream {
        description: SourceDescription {
            kind: SourceKind::SoundCard,
            name: plan.name.name.clone(),
            host: Some(plan.name.host.clone()),
            sample_format: conversion
                .map_or_else(|| format.into(), |how| format!("{format}, {how}")),
            sample_rate_hz: plan.sample_rate_hz,
            channels: if plan.picks.len() == 1 { 1 } else { 2 },
            buffer_frames: opened
                .streams
                .last()
                .and_then(|stream| stream.buffer_size().ok()),
        },
        frames: opened.frames,
        health: opened.health,
        handle: Box::new(opened.streams),
    })
}

/// Lets go of streams without waiting: dropping one whose server has died can hang for ever in its client library.
pub(super) fn close(streams: Box<dyn Any + Send>) {
    let _not_waited_for = patience::start("close input", move || drop(streams));
}

struct Opened {
    frames: FrameConsumer,
    health: Arc<StreamHealth>,
    /// The stream that captures, then the one that sets the pace if that is another.
    streams: Vec<cpal::Stream>,
}

/// The PulseAudio host's own way to ask for short blocks also makes the server's queue for us one block long, and
/// the server drops what does not fit without telling anyone (a quarter of the frames, with some block sizes).
/// Without asking, the queue is long but data come only every two seconds. So two streams are opened: the one that
/// captures has the long queue, the other asks for short blocks, which sets the pace of the source for both, and its
/// data are thrown away.
fn build(device: &cpal::Device, plan: &StreamPlan) -> Result<Opened, SourceError> {
    let wished = (f64::from(plan.sample_rate_hz) * BLOCK_SECONDS) as u32;
    let block = wished.next_power_of_two();
    if plan.name.host == PULSE_HOST {
        let mut opened = build_capture(device, plan, BufferSize::Default)
            .map_err(|error| cannot_open(&plan.name, &error))?;
        let pace = build_pace(device, plan, BufferSize::Fixed(block))
            .map_err(|error| cannot_open(&plan.name, &error))?;
        opened.streams.push(pace);
        return Ok(opened);
    }
    let sizes = [block, block / 2, block / 4].map(BufferSize::Fixed);
    for size in sizes {
        match build_capture(device, plan, size) {
            Ok(opened) => return Ok(opened),
            Err(error) if is_about_the_format(&error) => {}
            Err(error) => return Err(cannot_open(&plan.name, &error)),
        }
    }
    build_capture(device, plan, BufferSize::Default)
        .map_err(|error| cannot_open(&plan.name, &error))
}

fn is_about_the_format(error: &cpal::Error) -> bool {
    matches!(
        error.kind(),
        ErrorKind::UnsupportedConfig | ErrorKind::InvalidInput
    )
}

fn build_capture(
    device: &cpal::Device,
    plan: &StreamPlan,
    size: BufferSize,
) -> Result<Opened, cpal::Error> {
    match plan.sample_format {
        SampleFormat::F32 => build_capture_of::<f32>(device, plan, size),
        SampleFormat::F64 => build_capture_of::<f64>(device, plan, size),
        SampleFormat::I32 => build_capture_of::<i32>(device, plan, size),
        SampleFormat::I24 => build_capture_of::<cpal::I24>(device, plan, size),
        SampleFormat::I16 => build_capture_of::<i16>(device, plan, size),
        SampleFormat::I8 => build_capture_of::<i8>(device, plan, size),
        SampleFormat::U32 => build_capture_of::<u32>(device, plan, size),
        SampleFormat::U24 => build_capture_of::<cpal::U24>(device, plan, size),
        SampleFormat::U16 => build_capture_of::<u16>(device, plan, size),
        SampleFormat::U8 => build_capture_of::<u8>(device, plan, size),
    }
}

fn build_capture_of<T: CaptureSample + cpal::SizedSample>(
    device: &cpal::Device,
    plan: &StreamPlan,
    size: BufferSize,
) -> Result<Opened, cpal::Error> {
    let capacity = (plan.sample_rate_hz * RING_SECONDS) as usize;
    let (producer, frames) = ring::ring(plan.picks.len(), capacity);
    let health = Arc::new(StreamHealth::default());
    let mut callback = CaptureCallback::new(
        producer,
        usize::from(plan.device_channels),
        &plan.picks,
        health.clone(),
    )
    .map_err(|error| cpal::Error::with_message(ErrorKind::InvalidInput, error.0))?;
    let told = health.clone();
    let stream = device.build_input_stream(
        stream_config(plan, size),
        move |data: &[T], _: &cpal::InputCallbackInfo| callback.take(data),
        move |error| told.note_stream_error(error.kind()),
        Some(DRIVER_PATIENCE),
    )?;
    Ok(Opened {
        frames,
        health,
        streams: vec![stream],
    })
}

fn build_pace(
    device: &cpal::Device,
    plan: &StreamPlan,
    size: BufferSize,
) -> Result<cpal::Stream, cpal::Error> {
    device.build_input_stream_raw(
        stream_config(plan, size),
        plan.sample_format.to_cpal(),
        |_: &cpal::Data, _: &cpal::InputCallbackInfo| {},
        // What ends this stream also ends the other one, which tells.
        |_| {},
        Some(DRIVER_PATIENCE),
    )
}

fn stream_config(plan: &StreamPlan, buffer_size: BufferSize) -> StreamConfig {
    StreamConfig {
        channels: plan.device_channels,
        sample_rate: plan.sample_rate_hz,
        buffer_size,
    }
}

/// The error of a device that does not open.
pub(super) fn cannot_open(name: &InputName, error: &cpal::Error) -> SourceError {
    SourceError(format!(
        "{} cannot be opened: {}",
        name.description(),
        explain(error)
    ))
}

/// An error of the sound system as an instruction.
pub(super) fn explain(error: &cpal::Error) -> String {
    let meaning = match error.kind() {
        ErrorKind::DeviceBusy => "another program uses it, close that program",
        ErrorKind::DeviceNotAvailable => "it is not connected or does not answer",
        ErrorKind::HostUnavailable => "its sound server is not running",
        ErrorKind::PermissionDenied => "the system refuses access, allow this program to record",
        ErrorKind::UnsupportedConfig => "it does not accept this rate and format",
        ErrorKind::UnsupportedOperation => "it is not an input",
        _ => return error.to_string(),
    };
    match error.message() {
        Some(details) => format!("{meaning} ({details})"),
        None => meaning.into(),
    }
}
