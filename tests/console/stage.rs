//! Recordings to measure: good ones, and headers with anything in them.

use std::{
    f64::consts::TAU,
    fs,
    path::{Path, PathBuf},
};
use tempfile::TempDir;

/// A folder that goes away with the test.
pub struct Stage(TempDir);

impl Stage {
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.path(name);
        fs::write(&path, bytes).unwrap();
        path
    }

    /// A 32-bit float WAV file of these interleaved samples.
    pub fn wav(&self, name: &str, channels: u16, samples: &[f32]) -> PathBuf {
        self.file(name, &Header::float(channels, samples.len()).with(samples))
    }

    /// A stereo tone of 3150 Hz at −10 dBFS with 4 Hz flutter of ±0.1 %, and a little noise.
    pub fn tone(&self, name: &str, seconds: f64) -> PathBuf {
        let mut noise = 1_u32;
        let samples: Vec<f32> = (0..(seconds * RATE).round() as usize)
            .flat_map(|frame| {
                let t = frame as f64 / RATE;
                // The phase is the integral of 3150·(1 + 0.001·sin(2π·4·t)).
                let phase =
                    TAU * 3150.0 * (t - 0.001 / (TAU * 4.0) * ((TAU * 4.0 * t).cos() - 1.0));
                let tone = 0.316_23 * phase.sin();
                [0, 1].map(|_| {
                    noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    (tone + 1e-4 * (f64::from(noise) / f64::from(u32::MAX) - 0.5)) as f32
                })
            })
            .collect();
        self.wav(name, 2, &samples)
    }
}

pub const RATE: f64 = 48_000.0;

/// The header of a WAV file, true or false.
#[derive(Clone)]
pub struct Header {
    pub riff_bytes: u32,
    pub channels: u16,
    pub sample_rate_hz: u32,
    pub frame_bytes: u16,
    pub bits: u16,
    pub data_bytes: u32,
}

impl Header {
    pub fn float(channels: u16, samples: usize) -> Self {
        let data_bytes = 4 * samples as u32;
        Self {
            riff_bytes: 36 + data_bytes,
            channels,
            sample_rate_hz: RATE as u32,
            frame_bytes: 4 * channels,
            bits: 32,
            data_bytes,
        }
    }

    pub fn with(&self, samples: &[f32]) -> Vec<u8> {
        const FLOAT: u16 = 3;
        let mut bytes = Vec::new();
        bytes.extend(b"RIFF");
        bytes.extend(self.riff_bytes.to_le_bytes());
        bytes.extend(b"WAVEfmt ");
        bytes.extend(16_u32.to_le_bytes());
        bytes.extend(FLOAT.to_le_bytes());
        bytes.extend(self.channels.to_le_bytes());
        bytes.extend(self.sample_rate_hz.to_le_bytes());
        let bytes_a_second = self
            .sample_rate_hz
            .wrapping_mul(u32::from(self.frame_bytes));
        bytes.extend(bytes_a_second.to_le_bytes());
        bytes.extend(self.frame_bytes.to_le_bytes());
        bytes.extend(self.bits.to_le_bytes());
        bytes.extend(b"data");
        bytes.extend(self.data_bytes.to_le_bytes());
        bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
        bytes
    }
}

/// A supplied deck's text with one thing replaced.
pub fn deck_with(from: &str, to: &str) -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/plover.toml");
    let text = fs::read_to_string(file).unwrap();
    assert_eq!(
        text.matches(from).count(),
        1,
        "'{from}' is once in the deck"
    );
    text.replace(from, to)
}
