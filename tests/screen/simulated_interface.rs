//! An interface whose inputs differ by known figures, played ten times as fast as time goes.

use std::{
    f64::consts::TAU,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    thread,
    time::Duration,
};
use trimwatch::{
    meters::MeterSetup,
    readings::{SourceDescription, SourceKind},
    screen::{InputChoice, InputList, Inputs, OpenInput, Wake},
    source::{RunningSource, SourceError, SourceEvent, StopOnDrop, ring},
    worker::Worker,
};

/// Delay of the right input, µs.
pub const SKEW_US: f64 = 7.3;
/// Left minus right, dB.
pub const GAIN_DB: f64 = 0.42;

const RATE_HZ: u32 = 48_000;
/// Time between two blocks, and what is played in it.
const PAUSE: Duration = Duration::from_millis(10);
const BLOCK_FRAMES: usize = 4800;
/// How long the left plug is alone, and each tone is played, seconds.
const PIECE_S: f64 = 2.0;
/// The tones after that, Hz; the last one goes on.
const TONES_HZ: [f64; 4] = [400.0, 1000.0, 10_000.0, 6300.0];

/// Inputs with this one interface.
#[derive(Default)]
pub struct SimulatedInterface {
    /// Whether the generator plays; silence before.
    pub plays: Arc<AtomicBool>,
}

/// What the interface tells of itself.
pub fn description() -> SourceDescription {
    SourceDescription {
        kind: SourceKind::SoundCard,
        name: "simulated line input".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: RATE_HZ,
        channels: 2,
        buffer_frames: None,
    }
}

/// Both inputs at a time after the generator was started, seconds.
fn frame(t: f64) -> [f64; 2] {
    let piece = (t / PIECE_S) as usize;
    let Some(after) = piece.checked_sub(1) else {
        return [0.25 * (TAU * 400.0 * t).sin(), 0.0];
    };
    let hz = TONES_HZ[after.min(TONES_HZ.len() - 1)];
    let tone = |t: f64| 0.25 * (TAU * hz * t).sin();
    [
        10f64.powf(GAIN_DB / 20.0) * tone(t),
        tone(t - 1e-6 * SKEW_US),
    ]
}

impl Inputs for SimulatedInterface {
    fn list(&self) -> InputList {
        InputList::default()
    }

    fn open(
        &self,
        _: &InputChoice,
        setup: &MeterSetup,
        wake: Wake,
    ) -> Result<OpenInput, SourceError> {
        let (mut frames_in, frames) = ring::ring(2, RATE_HZ as usize);
        let (events_in, events) = crossbeam_channel::unbounded();
        let (stop, stopped) = StopOnDrop::new();
        let plays = self.plays.clone();
        thread::spawn(move || {
            let opened = SourceEvent::Opened {
                description: description(),
                frames,
            };
            events_in.send(opened).expect("the worker is there");
            let (mut played, mut noise) = (0_u64, 1_u32);
            while !stopped.load(Ordering::Acquire) {
                let on = plays.load(Ordering::Acquire);
                let block: Vec<f32> = (0..BLOCK_FRAMES as u64)
                    .flat_map(|i| {
                        let t = (played + i) as f64 / f64::from(RATE_HZ);
                        if on { frame(t) } else { [0.0; 2] }
                    })
                    .map(|x| {
                        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                        (x + 3e-5 * (f64::from(noise) / f64::from(u32::MAX) - 0.5)) as f32
                    })
                    .collect();
                played += if on { BLOCK_FRAMES as u64 } else { 0 };
                frames_in.push(&block);
                thread::sleep(PAUSE);
            }
        });
        let source = RunningSource { events, stop };
        Ok(OpenInput {
            worker: Worker::start(source, setup.clone(), wake)?,
            screwdrivers: None,
            tape_format: None,
            mechanism: None,
        })
    }
}
