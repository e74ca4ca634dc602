//! What is played: a test tape's tone with flutter, known to the last bit.

use std::path::Path;
use trimwatch::{
    readings::{SourceDescription, SourceKind},
    source::{FrameSource, SourceError},
};

/// The tape's tone, Hz.
pub const TONE_HZ: f64 = 3150.0;
/// How fast the deck runs, percent.
const DEVIATION_PERCENT: f64 = 0.25;
/// Flutter lines: rate in Hz, peak in percent. Whole rates, so that whole seconds hold whole periods.
const FLUTTER: [(f64, f64); 2] = [(4.0, 0.1), (10.0, 0.04)];
/// The right channel arrives later, µs.
const DELAY_US: f64 = 5.0;
const LEFT_PEAK: f64 = 0.5;
const RIGHT_PEAK: f64 = 0.45;

/// Silence in the file before the take: when a stream starts, the server rewinds its sink, and what falls into the
/// rewound part is played but never reaches the monitor.
const LEAD_IN_SECONDS: f64 = 1.0;

/// How the file holds its samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bits {
    I16,
    I24,
    I32,
    F32,
}

/// A stereo take.
pub struct Take {
    pub rate_hz: u32,
    bits: Bits,
    /// Interleaved, as integers where the format has integers.
    integers: Vec<i32>,
    /// Interleaved, full scale ±1.
    pub samples: Vec<f32>,
}

impl Take {
    pub fn new(rate_hz: u32, seconds: f64, bits: Bits) -> Self {
        let frames = (f64::from(rate_hz) * seconds).round() as usize;
        let wave: Vec<f64> = (0..frames)
            .flat_map(|frame| {
                let time = frame as f64 / f64::from(rate_hz);
                [
                    LEFT_PEAK * phase(time).cos(),
                    RIGHT_PEAK * phase(time - DELAY_US * 1e-6).cos(),
                ]
            })
            .collect();
        let step = match bits {
            Bits::I16 => 32_768.0,
            Bits::I24 => 8_388_608.0,
            Bits::I32 => 2_147_483_648.0,
            Bits::F32 => 1.0,
        };
        let integers = match bits {
            Bits::F32 => Vec::new(),
            _ => wave
                .iter()
                .map(|&sample| (sample * step).round() as i32)
                .collect(),
        };
        let samples = match bits {
            Bits::F32 => wave.iter().map(|&sample| sample as f32).collect(),
            _ => integers
                .iter()
                .map(|&sample| sample as f32 / step as f32)
                .collect(),
        };
        Self {
            rate_hz,
            bits,
            integers,
            samples,
        }
    }

    pub fn write(&self, path: &Path) {
        let (bits_per_sample, sample_format) = match self.bits {
            Bits::I16 => (16, hound::SampleFormat::Int),
            Bits::I24 => (24, hound::SampleFormat::Int),
            Bits::I32 => (32, hound::SampleFormat::Int),
            Bits::F32 => (32, hound::SampleFormat::Float),
        };
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: self.rate_hz,
            bits_per_sample,
            sample_format,
        };
        let mut writer = hound::WavWriter::create(path, spec).expect("the take can be written");
        let lead_in = 2 * (f64::from(self.rate_hz) * LEAD_IN_SECONDS) as usize;
        if self.bits == Bits::F32 {
            let silence = std::iter::repeat_n(&0.0, lead_in);
            silence
                .chain(&self.samples)
                .try_for_each(|&sample| writer.write_sample(sample))
        } else {
            let silence = std::iter::repeat_n(&0, lead_in);
            silence
                .chain(&self.integers)
                .try_for_each(|&sample| writer.write_sample(sample))
        }
        .expect("the take can be written");
        writer.finalize().expect("the take can be written");
    }

    pub fn seconds(&self) -> f64 {
        (self.samples.len() / 2) as f64 / f64::from(self.rate_hz)
    }

    /// The take as a source for the meters.
    pub fn source(&self) -> TakeSource<'_> {
        TakeSource {
            description: SourceDescription {
                kind: SourceKind::Recording,
                name: "the take".into(),
                host: None,
                sample_format: "32-bit float".into(),
                sample_rate_hz: self.rate_hz,
                channels: 2,
                buffer_frames: None,
            },
            left: &self.samples,
        }
    }
}

/// The phase of the played tone, radians: the integral of its speed.
fn phase(time: f64) -> f64 {
    let wobble: f64 = FLUTTER
        .iter()
        .map(|&(rate_hz, peak_percent)| {
            let turn = std::f64::consts::TAU * rate_hz;
            peak_percent / 100.0 * (1.0 - (turn * time).cos()) / turn
        })
        .sum();
    std::f64::consts::TAU * TONE_HZ * ((1.0 + DEVIATION_PERCENT / 100.0) * time + wobble)
}

pub struct TakeSource<'a> {
    description: SourceDescription,
    left: &'a [f32],
}

impl FrameSource for TakeSource<'_> {
    fn description(&self) -> &SourceDescription {
        &self.description
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        let length = interleaved.len().min(self.left.len());
        let (now, later) = self.left.split_at(length);
        interleaved[..length].copy_from_slice(now);
        self.left = later;
        Ok(length / 2)
    }
}
