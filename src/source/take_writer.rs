//! Writes a source to a WAV file.

use super::{FrameSource, SourceError};
use hound::{SampleFormat, WavSpec, WavWriter};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;
use std::{fs::File, io::BufWriter, path::Path};

/// Frames read and written at a time.
const CHUNK_FRAMES: usize = 4096;
/// A WAV file's sizes are 32-bit; a little is kept for its header.
const MOST_DATA_BYTES: u64 = u32::MAX as u64 - 1024;
/// Fixed, so that the same take is the same file.
const DITHER_SEED: u128 = 0x7_1a9e;

/// How samples are stored in a take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TakeBits {
    /// 16-bit, with triangular dither of ±1 step so that the rounding is free of distortion.
    Dithered16,
    /// 24-bit, rounded.
    Int24,
    /// 32-bit float, as they come; the only one that keeps samples beyond full scale and NaN.
    Float32,
}

impl TakeBits {
    const fn spec(self) -> (u16, SampleFormat) {
        match self {
            Self::Dithered16 => (16, SampleFormat::Int),
            Self::Int24 => (24, SampleFormat::Int),
            Self::Float32 => (32, SampleFormat::Float),
        }
    }
}

/// Writes the next `seconds` of `source` to a WAV file at `path`, replacing what is there. Returns the number of
/// frames written: less than asked when the source ends before. On an error no file is left behind.
///
/// # Errors
/// When `seconds` is not a length a WAV file can have, the source cannot be read, or the file cannot be written.
pub fn write_take(
    source: &mut dyn FrameSource,
    path: &Path,
    seconds: f64,
    bits: TakeBits,
) -> Result<u64, SourceError> {
    let description = source.description();
    let frame_bytes = u64::from(description.channels) * u64::from(bits.spec().0 / 8);
    let frames = frames_in(
        seconds,
        description.sample_rate_hz,
        MOST_DATA_BYTES / frame_bytes.max(1),
    )?;
    let (bits_per_sample, sample_format) = bits.spec();
    let spec = WavSpec {
        channels: description.channels,
        sample_rate: description.sample_rate_hz,
        bits_per_sample,
        sample_format,
    };
    let writer = WavWriter::create(path, spec).map_err(|error| unwritable(path, &error))?;
    let written = Take {
        writer,
        bits,
        dither: Pcg64Mcg::new(DITHER_SEED),
        path,
    }
    .write(source, frames);
    if written.is_err() {
        // The error at hand matters more than that of removing the torso.
        let _removed = std::fs::remove_file(path);
    }
    written
}

fn frames_in(seconds: f64, sample_rate_hz: u32, most_frames: u64) -> Result<u64, SourceError> {
    let rate = f64::from(sample_rate_hz);
    let most_seconds = (most_frames as f64 / rate).floor();
    if (0.0..=most_seconds).contains(&seconds) && seconds > 0.0 {
        Ok((seconds * rate).round().max(1.0) as u64)
    } else {
        Err(SourceError(format!(
            "a take of {seconds} s cannot be written: more than 0 and up to {most_seconds} s fit in a WAV file at this rate"
        )))
    }
}

fn unwritable(path: &Path, error: &hound::Error) -> SourceError {
    SourceError(format!("cannot write {}: {error}", path.display()))
}

struct Take<'p> {
    writer: WavWriter<BufWriter<File>>,
    bits: TakeBits,
    dither: Pcg64Mcg,
    path: &'p Path,
}

impl Take<'_> {
    fn write(mut self, source: &mut dyn FrameSource, frames: u64) -> Result<u64, SourceError> {
        let channels = usize::from(source.description().channels);
        let mut chunk = vec![0.0; CHUNK_FRAMES * channels];
        let mut left = frames;
        while left > 0 {
            let wanted = left.min(CHUNK_FRAMES as u64) as usize;
            let read = source.read(&mut chunk[..wanted * channels])?;
            if read == 0 {
                break;
            }
            for &sample in &chunk[..read * channels] {
                self.write_sample(sample)
                    .map_err(|error| unwritable(self.path, &error))?;
            }
            left -= read as u64;
        }
        self.writer
            .finalize()
            .map_err(|error| unwritable(self.path, &error))?;
        Ok(frames - left)
    }

    fn write_sample(&mut self, sample: f32) -> hound::Result<()> {
        match self.bits {
            TakeBits::Dithered16 => {
                let triangular = self.dither.random::<f64>() - self.dither.random::<f64>();
                self.writer
                    .write_sample(quantised(sample, 16, triangular) as i16)
            }
            TakeBits::Int24 => self.writer.write_sample(quantised(sample, 24, 0.0)),
            TakeBits::Float32 => self.writer.write_sample(sample),
        }
    }
}

/// The nearest step to sample + `dither_steps`, limited to what `bits` hold. NaN becomes 0.
fn quantised(sample: f32, bits: u32, dither_steps: f64) -> i32 {
    let full_scale = f64::from(1_i32 << (bits - 1));
    (f64::from(sample) * full_scale + dither_steps)
        .round()
        .clamp(-full_scale, full_scale - 1.0) as i32
}
