//! The guide's stream: opened on a named output, stopped softly, watched.

use super::{
    GuideError,
    callback::{GuideCallback, OutputHealth},
    controls::GuideControls,
    outputs::{self, OutputName},
};
use crate::source::sound_card::{NoAnswer, PlaybackRoute, start_detached, with_patience};
use cpal::{
    BufferSize, ErrorKind, SampleFormat, SizedSample, StreamConfig,
    traits::{DeviceTrait, StreamTrait},
};
use std::{
    sync::Arc,
    thread,
    time::{Duration, Instant},
};

/// An output that is not open by then is given up.
const OPENING_PATIENCE: Duration = Duration::from_secs(10);
/// How long a device may take to accept a stream, as far as a driver heeds it.
const DRIVER_PATIENCE: Duration = Duration::from_secs(3);
/// Length of a block asked for. Without asking, a sound server may keep two seconds of the guide in its queue, and what
/// is heard would be two seconds old.
const BLOCK_SECONDS: f64 = 0.020;
/// An output that asks for nothing for so long is lost.
const DATA_WITHIN: Duration = Duration::from_secs(3);
/// The fade-out is waited for no longer.
const STOP_WITHIN: Duration = Duration::from_millis(600);
/// What is on its way when the guide has faded out is played to its end: blocks and the server's queue.
const ON_ITS_WAY: Duration = Duration::from_millis(200);

/// A guide that can be heard. Dropping it fades it out.
pub struct GuidePlayer {
    controls: Arc<GuideControls>,
    health: Arc<OutputHealth>,
    stream: Option<cpal::Stream>,
    name: String,
    asked_frames: u64,
    asked_at: Instant,
    lost: Option<String>,
}

impl GuidePlayer {
    /// Opens an output, which then plays silence until an offset is told. Waits for it, some ten seconds at most.
    ///
    /// # Errors
    /// When it does not open; one line that says what to do.
    pub fn start(output: &OutputName, level_dbfs: f64) -> Result<Self, GuideError> {
        let controls = Arc::new(GuideControls::default());
        controls.set_level_dbfs(level_dbfs);
        let health = Arc::new(OutputHealth::default());
        let (name, for_it, its_health) = (output.clone(), controls.clone(), health.clone());
        let opened = with_patience("open output", OPENING_PATIENCE, move || {
            open(&name, &for_it, &its_health)
        });
        let stream = opened.map_err(|error| {
            GuideError(match error {
                NoAnswer::TooLate => format!(
                    "the output {} does not open within {} s: choose another",
                    output.name,
                    OPENING_PATIENCE.as_secs()
                ),
                NoAnswer::Failed => format!(
                    "the output {} cannot be opened: its driver failed",
                    output.name
                ),
            })
        })??;
        Ok(Self {
            controls,
            health,
            stream: Some(stream),
            name: output.name.clone(),
            asked_frames: 0,
            asked_at: Instant::now(),
            lost: None,
        })
    }

    /// Tells how far off the reading is (see [`GuideControls::set_offset`]); at each snapshot.
    pub fn aim(&self, offset: f32) {
        self.controls.set_offset(offset);
    }

    /// Sets the level of the pips' peaks, dBFS, at most [`super::MAX_LEVEL_DBFS`].
    pub fn set_level_dbfs(&self, level_dbfs: f64) {
        self.controls.set_level_dbfs(level_dbfs);
    }

    /// Why the guide is no longer heard, in words; `None` when all is well. A lost output is let go of for good: by the
    /// time it is back it may be turned up.
    pub fn trouble(&mut self, now: Instant) -> Option<&str> {
        if self.lost.is_none() {
            let frames = self.health.frames();
            if frames != self.asked_frames {
                self.asked_frames = frames;
                self.asked_at = now;
            }
            let silent_for = now.saturating_duration_since(self.asked_at);
            let why = self
                .health
                .fault()
                .or_else(|| (silent_for > DATA_WITHIN).then_some("it takes no more sound"));
            if let Some(why) = why {
                self.lost = Some(format!(
                    "the guide's output {} was lost ({why}): the guide is silent; start it again to hear it",
                    self.name
                ));
                self.controls.stop();
                self.let_go();
            }
        }
        self.lost.as_deref()
    }

    fn let_go(&mut self) {
        if let Some(stream) = self.stream.take() {
            // Dropping a stream whose server has died can hang for ever.
            let _not_waited_for = start_detached("close output", move || drop(stream));
        }
    }
}

impl Drop for GuidePlayer {
    /// Fades out, and lets go of the output when it is silent; a device that takes no more sound is not waited for.
    fn drop(&mut self) {
        self.controls.stop();
        let deadline = Instant::now() + STOP_WITHIN;
        while self.stream.is_some() && !self.health.has_faded_out() && Instant::now() < deadline {
            thread::sleep(Duration::from_millis(5));
        }
        if self.stream.is_some() && self.health.has_faded_out() {
            thread::sleep(ON_ITS_WAY);
        }
        self.let_go();
    }
}

fn open(
    name: &OutputName,
    controls: &Arc<GuideControls>,
    health: &Arc<OutputHealth>,
) -> Result<cpal::Stream, GuideError> {
    let refuse = |error: cpal::Error| {
        GuideError(format!(
            "the output {} cannot be opened: {error}",
            name.name
        ))
    };
    let device = outputs::device(name)?;
    let route = PlaybackRoute::before_opening(&name.host);
    let native = device.default_output_config().map_err(refuse)?;
    let wished = (f64::from(native.sample_rate()) * BLOCK_SECONDS) as u32;
    let short = BufferSize::Fixed(wished.next_power_of_two());
    let build = |buffer_size| build(&device, &native, buffer_size, controls, health);
    // What a device does not accept as a length it may still play at its own.
    let stream = match build(short) {
        Err(error)
            if matches!(
                error.kind(),
                ErrorKind::UnsupportedConfig | ErrorKind::InvalidInput
            ) =>
        {
            build(BufferSize::Default)
        }
        opened => opened,
    }
    .map_err(refuse)?;
    stream.play().map_err(refuse)?;
    // A server moves the streams of an output that is unplugged to another one: the deck's own, maybe.
    let (watched, told) = (Arc::downgrade(health), Arc::downgrade(health));
    route.follow(
        move || watched.strong_count() == 0,
        move || {
            if let Some(health) = told.upgrade() {
                health.note_stream_error(ErrorKind::DeviceChanged);
            }
        },
    );
    Ok(stream)
}

fn build(
    device: &cpal::Device,
    native: &cpal::SupportedStreamConfig,
    buffer_size: BufferSize,
    controls: &Arc<GuideControls>,
    health: &Arc<OutputHealth>,
) -> Result<cpal::Stream, cpal::Error> {
    let config = StreamConfig {
        channels: native.channels(),
        sample_rate: native.sample_rate(),
        buffer_size,
    };
    let callback = GuideCallback::new(
        config.sample_rate,
        config.channels,
        controls.clone(),
        health.clone(),
    );
    let told = health.clone();
    match native.sample_format() {
        SampleFormat::F32 => build_of::<f32>(device, config, callback, told),
        SampleFormat::F64 => build_of::<f64>(device, config, callback, told),
        SampleFormat::I32 => build_of::<i32>(device, config, callback, told),
        SampleFormat::I24 => build_of::<cpal::I24>(device, config, callback, told),
        SampleFormat::I16 => build_of::<i16>(device, config, callback, told),
        SampleFormat::U16 => build_of::<u16>(device, config, callback, told),
        SampleFormat::U8 => build_of::<u8>(device, config, callback, told),
        other => Err(cpal::Error::with_message(
            ErrorKind::UnsupportedOperation,
            format!("it plays {other}, which the guide does not make; choose another"),
        )),
    }
}

fn build_of<T: SizedSample + cpal::FromSample<f32>>(
    device: &cpal::Device,
    config: StreamConfig,
    mut callback: GuideCallback,
    told: Arc<OutputHealth>,
) -> Result<cpal::Stream, cpal::Error> {
    device.build_output_stream(
        config,
        move |data: &mut [T], _: &cpal::OutputCallbackInfo| callback.fill(data),
        move |error| told.note_stream_error(error.kind()),
        Some(DRIVER_PATIENCE),
    )
}
