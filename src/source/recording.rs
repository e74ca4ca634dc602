//! A recording: WAV, FLAC or Ogg Vorbis, streamed with the same memory whatever its length.
//!
//! FLAC and Ogg Vorbis are read by the library. Of a WAV file we walk the chunks ourselves, because most samples
//! behind a false header are good; the library decodes them.

mod container;
mod decoding;
mod guard;
mod wav;

use super::{FrameSource, SourceError};
use crate::readings::{SourceDescription, SourceKind};
use container::{Packets, Stream, UNREADABLE_HEADER, open_stream};
use decoding::Decoding;
use guard::guarded;
use std::{io::ErrorKind, ops::RangeInclusive, path::Path};
use symphonia::{
    core::{audio::Channels, codecs::audio::AudioDecoderOptions, errors::Error as LibraryError},
    default::get_codecs,
};

/// Sample rates that are read, Hz.
pub const SAMPLE_RATES_HZ: RangeInclusive<u32> = 8_000..=384_000;
/// Channels a file may have; the meters take at most two of them.
pub const MOST_CHANNELS: usize = 64;
/// A recording that is read from its start to its end.
pub struct Recording {
    description: SourceDescription,
    packets: Packets,
    decoding: Decoding,
    /// Index in a frame of the file of each channel handed out.
    picks: Vec<usize>,
    /// Frames the file should hold, where it tells.
    promised_frames: Option<u64>,
    /// Samples of the last packet already handed out.
    used: usize,
    at_end: bool,
}

impl Recording {
    /// Opens the file. `picks` names the channels to use, counted from 1: one for mono, two for left and right;
    /// `None` takes a mono or stereo file as it is and the first two channels of any other.
    ///
    /// # Errors
    /// When there is no such file, it holds no sound that can be read, or it has no such channel.
    pub fn open(path: &Path, picks: Option<&[usize]>) -> Result<Self, SourceError> {
        open(path, picks)
            .map_err(|what| SourceError(format!("recording {}: {what}", path.display())))
    }

    /// Frames the recording should hold, where its file tells; fewer may come from a damaged one.
    pub fn total_frames(&self) -> Option<u64> {
        self.promised_frames
    }

    /// Decodes the next packet that has samples; without one, `at_end` is set and no samples are left.
    fn decode_next(&mut self) -> Result<(), SourceError> {
        self.used = 0;
        self.decoding.samples.clear();
        while self.decoding.samples.is_empty() && !self.at_end {
            // After a panic neither packets nor decoder are asked again: the recording is at its end.
            let outcome = guarded(|| match self.packets.next() {
                Ok(Some(packet)) => self.decoding.decode(&packet.as_ref()).map(|()| true),
                Ok(None) => Ok(false),
                Err(error) => Err(error),
            });
            let outcome = outcome.unwrap_or(Err(LibraryError::DecodeError("panic")));
            match outcome {
                Ok(more) => self.at_end = !more,
                Err(LibraryError::IoError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                    return Err(SourceError(format!(
                        "recording {}: reading failed after {:.1} s: {error}",
                        self.description.name,
                        self.decoding.seconds()
                    )));
                }
                // The library ends a stream that is cut off, or makes no sense from here on, with an error.
                Err(error) => {
                    self.at_end = true;
                    let seconds = self.decoding.seconds();
                    self.decoding.note_damage(|| match error {
                        LibraryError::IoError(_) => {
                            format!("the file is cut off after {seconds:.1} s")
                        }
                        _ => format!("the file cannot be read beyond {seconds:.1} s"),
                    });
                }
            }
        }
        if self.at_end {
            self.decoding.compare_with(self.promised_frames);
        }
        Ok(())
    }
}

impl FrameSource for Recording {
    fn description(&self) -> &SourceDescription {
        &self.description
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        let mut frames = 0;
        for frame in interleaved.chunks_exact_mut(self.picks.len()) {
            if self.used == self.decoding.samples.len() {
                self.decode_next()?;
                if self.decoding.samples.is_empty() {
                    break;
                }
            }
            for (sample, pick) in frame.iter_mut().zip(&self.picks) {
                *sample = self.decoding.samples[self.used + pick];
            }
            self.used += self.decoding.channels;
            frames += 1;
        }
        Ok(frames)
    }

    fn damage(&self) -> Option<&str> {
        self.decoding.damage.as_deref()
    }
}

fn open(path: &Path, picks: Option<&[usize]>) -> Result<Recording, String> {
    let stream = open_stream(path)?;
    guarded(|| recording_of(stream, path, picks)).unwrap_or_else(|| Err(UNREADABLE_HEADER.into()))
}

/// Checks what the file says of itself, and that it has a first sample.
fn recording_of(stream: Stream, path: &Path, picks: Option<&[usize]>) -> Result<Recording, String> {
    let channels = stream.codec.channels.as_ref().map_or(0, Channels::count);
    if channels == 0 || channels > MOST_CHANNELS {
        return Err(format!(
            "its header says {channels} channels; 1 to {MOST_CHANNELS} can be read"
        ));
    }
    let rate = stream.codec.sample_rate.unwrap_or(0);
    if !SAMPLE_RATES_HZ.contains(&rate) {
        return Err(format!(
            "its header says {rate} samples a second; {} to {} can be read",
            SAMPLE_RATES_HZ.start(),
            SAMPLE_RATES_HZ.end()
        ));
    }
    let picks = resolve_picks(picks, channels)?;
    let decoder = get_codecs()
        .make_audio_decoder(&stream.codec, &AudioDecoderOptions::default())
        .map_err(|error| {
            format!("its sound cannot be decoded ({error}); convert it to 24-bit WAV or FLAC")
        })?;
    let mut recording = Recording {
        description: SourceDescription {
            kind: SourceKind::Recording,
            name: name(path, &picks, channels),
            host: None,
            sample_format: stream.sample_format,
            sample_rate_hz: rate,
            channels: picks.len() as u16,
            buffer_frames: None,
        },
        packets: stream.packets,
        decoding: Decoding {
            decoder,
            channels,
            sample_rate_hz: rate,
            counts_frames: stream.counts_frames,
            samples: Vec::new(),
            frames: 0,
            damage: stream.damage,
        },
        picks,
        promised_frames: stream.promised_frames,
        used: 0,
        at_end: false,
    };
    // A file without one sample is an unreadable input, and that is known only by trying.
    recording.decode_next().map_err(|error| error.0)?;
    if recording.decoding.samples.is_empty() {
        return Err("it holds no samples that can be read".into());
    }
    Ok(recording)
}

/// The file's own name, and which of its channels are used where that is not obvious.
fn name(path: &Path, picks: &[usize], channels: usize) -> String {
    let file = path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    );
    if picks.iter().copied().eq(0..channels) {
        return file;
    }
    match picks {
        [one] => format!("{file} (channel {} of {channels})", one + 1),
        picks => {
            let numbers: Vec<_> = picks.iter().map(|pick| (pick + 1).to_string()).collect();
            format!("{file} (channels {} of {channels})", numbers.join(" and "))
        }
    }
}

/// Turns picks counted from 1 into indices.
fn resolve_picks(picks: Option<&[usize]>, channels: usize) -> Result<Vec<usize>, String> {
    let Some(picks) = picks else {
        return Ok((0..channels.min(2)).collect());
    };
    if !(1..=2).contains(&picks.len()) {
        return Err(format!(
            "{} channels were chosen; choose one, or two for left and right",
            picks.len()
        ));
    }
    if let [left, right] = picks
        && left == right
    {
        return Err(format!(
            "channel {left} was chosen twice; choose two different ones"
        ));
    }
    picks
        .iter()
        .map(|&pick| {
            pick.checked_sub(1)
                .filter(|&index| index < channels)
                .ok_or_else(|| match channels {
                    1 => format!("it has no channel {pick}, only channel 1"),
                    _ => format!("it has no channel {pick}; choose from 1 to {channels}"),
                })
        })
        .collect()
}
