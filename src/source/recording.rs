//! A recording: WAV, FLAC or Ogg Vorbis, streamed with the same memory whatever its length.
//!
//! FLAC and Ogg Vorbis are read by the library. Of a WAV file we walk the chunks ourselves, because most samples
//! behind a false header are good; the library decodes them.

mod wav;

use super::{FrameSource, SourceError};
use crate::readings::{SourceDescription, SourceKind};
use std::{
    fs::File,
    io::{BufReader, ErrorKind, Read, Seek, SeekFrom},
    ops::RangeInclusive,
    path::Path,
};
use symphonia::{
    core::{
        audio::Channels,
        codecs::audio::{
            AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions, well_known,
        },
        errors::Error as LibraryError,
        formats::{FormatOptions, FormatReader, TrackType},
        io::{MediaSourceStream, MediaSourceStreamOptions},
        packet::PacketRef,
        units::{Duration, Timestamp},
    },
    default::{
        formats::{FlacReader, OggReader},
        get_codecs,
    },
};

/// Sample rates that are read, Hz.
pub const SAMPLE_RATES_HZ: RangeInclusive<u32> = 8_000..=384_000;
/// Channels a file may have; the meters take at most two of them.
pub const MOST_CHANNELS: usize = 64;
/// Frames decoded at a time from a WAV file.
const WAV_PACKET_FRAMES: usize = 2048;
/// Damaged packets are replaced by silence, so that what follows keeps its time; at most this much in one place.
const MOST_SILENCE_S: u64 = 10;

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
            let outcome = match self.packets.next() {
                Ok(Some(packet)) => self.decoding.decode(&packet.as_ref()),
                Ok(None) => {
                    self.at_end = true;
                    Ok(())
                }
                Err(error) => Err(error),
            };
            match outcome {
                Ok(()) => {}
                Err(LibraryError::IoError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                    return Err(SourceError(format!(
                        "recording {}: reading failed after {:.1} s: {error}",
                        self.description.name,
                        self.decoding.seconds()
                    )));
                }
                // The library signals a stream that is cut off, or makes no sense from here on, as an error.
                Err(_) => {
                    self.at_end = true;
                    let seconds = self.decoding.seconds();
                    self.decoding
                        .note_damage(|| format!("the file is cut off after {seconds:.1} s"));
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

/// From packets to samples, and what was wrong with them.
struct Decoding {
    decoder: Box<dyn AudioDecoder>,
    channels: usize,
    sample_rate_hz: u32,
    /// Whether packets' time stamps are frame numbers from 0 without a gap in a sound file.
    counts_frames: bool,
    /// The last packet's samples, all channels interleaved.
    samples: Vec<f32>,
    /// Frames decoded so far, with the silence put in for damaged ones.
    frames: u64,
    damage: Option<String>,
}

impl Decoding {
    /// Decodes a packet into `samples`. What cannot be decoded becomes silence of the same length, so that what
    /// follows keeps its time.
    fn decode(&mut self, packet: &PacketRef<'_>) -> Result<(), LibraryError> {
        let missing = self.missing_before(packet);
        let decoded = match self.decoder.decode_ref(packet) {
            Ok(audio) if audio.spec().channels().count() == self.channels => {
                audio.copy_to_vec_interleaved(&mut self.samples);
                true
            }
            Err(LibraryError::IoError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                return Err(LibraryError::IoError(error));
            }
            Ok(_) | Err(_) => false,
        };
        if !decoded || missing > 0 {
            let seconds = self.seconds();
            self.note_damage(|| {
                format!("the file is damaged, first at {seconds:.1} s; silence stands where it cannot be read")
            });
        }
        if !decoded {
            let frames = self.bounded_frames(packet.dur.get());
            self.samples.resize(frames * self.channels, 0.0);
        }
        let silence = std::iter::repeat_n(0.0, missing * self.channels);
        self.samples.splice(..0, silence);
        self.frames += (self.samples.len() / self.channels) as u64;
        Ok(())
    }

    /// Frames that the container left out before this packet because it could not make sense of them.
    fn missing_before(&self, packet: &PacketRef<'_>) -> usize {
        if !self.counts_frames {
            return 0;
        }
        let starts_at = u64::try_from(packet.pts.get()).unwrap_or(0);
        self.bounded_frames(starts_at.saturating_sub(self.frames))
    }

    fn bounded_frames(&self, frames: u64) -> usize {
        let most = MOST_SILENCE_S * u64::from(self.sample_rate_hz);
        usize::try_from(frames.min(most)).unwrap_or(0)
    }

    /// At the end: whether all that was promised has come.
    fn compare_with(&mut self, promised_frames: Option<u64>) {
        if let Some(promised) = promised_frames.filter(|&promised| promised > self.frames) {
            let all = promised as f64 / f64::from(self.sample_rate_hz);
            let there = self.seconds();
            self.note_damage(|| {
                format!(
                    "the file is cut off: its header promises {all:.1} s, {there:.1} s are there"
                )
            });
        }
    }

    /// Keeps the first damage found: what follows is often its consequence.
    fn note_damage(&mut self, words: impl FnOnce() -> String) {
        self.damage.get_or_insert_with(words);
    }

    fn seconds(&self) -> f64 {
        self.frames as f64 / f64::from(self.sample_rate_hz)
    }
}

fn open(path: &Path, picks: Option<&[usize]>) -> Result<Recording, String> {
    let mut file = open_file(path)?;
    let mut start = Vec::new();
    file.by_ref()
        .take(12)
        .read_to_end(&mut start)
        .and_then(|_| file.seek(SeekFrom::Start(0)))
        .map_err(|error| format!("cannot be read: {error}"))?;
    let stream = match start.as_slice() {
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'A', b'V', b'E']
        | [b'R', b'F', b'6', b'4', _, _, _, _, b'W', b'A', b'V', b'E']
        | [b'B', b'W', b'6', b'4', _, _, _, _, b'W', b'A', b'V', b'E'] => Stream::wav(file)?,
        [b'f', b'L', b'a', b'C', ..] => Stream::flac(file)?,
        [b'O', b'g', b'g', b'S', ..] => Stream::ogg(file)?,
        [] => return Err("the file is empty".into()),
        _ => return Err(
            "this is not a WAV, FLAC or Ogg Vorbis file; give one of these, or convert it to 24-bit WAV"
                .into(),
        ),
    };
    stream.into_recording(path, picks)
}

fn open_file(path: &Path) -> Result<File, String> {
    let because = |error: std::io::Error| match error.kind() {
        ErrorKind::NotFound => "there is no such file; check the path".into(),
        ErrorKind::PermissionDenied => {
            "you have no permission to read it; change its permissions or copy it".into()
        }
        _ => format!("cannot be opened: {error}"),
    };
    // Asked before opening: opening a named pipe would wait for its writer.
    let metadata = std::fs::metadata(path).map_err(because)?;
    if metadata.is_dir() {
        return Err("this is a folder; give a WAV, FLAC or Ogg Vorbis file in it".into());
    }
    if !metadata.is_file() {
        return Err(
            "this is not a regular file; save the take to a WAV, FLAC or Ogg Vorbis file".into(),
        );
    }
    File::open(path).map_err(because)
}

/// One packet, owned or lent by its container.
enum PacketOf<'p> {
    Wav(PacketRef<'p>),
    Library(symphonia::core::packet::Packet),
}

impl PacketOf<'_> {
    fn as_ref(&self) -> PacketRef<'_> {
        match self {
            Self::Wav(packet) => PacketRef::new(0, packet.pts, packet.dur, packet.data),
            Self::Library(packet) => packet.as_packet_ref(),
        }
    }
}

/// The container: a row of packets.
enum Packets {
    Wav {
        file: BufReader<File>,
        frame_bytes: usize,
        frames_left: u64,
        bytes: Vec<u8>,
    },
    Library {
        reader: Box<dyn FormatReader>,
        track_id: u32,
    },
}

impl Packets {
    fn next(&mut self) -> Result<Option<PacketOf<'_>>, LibraryError> {
        match self {
            Self::Wav {
                file,
                frame_bytes,
                frames_left,
                bytes,
            } => {
                let frames = (*frames_left).min(WAV_PACKET_FRAMES as u64);
                if frames == 0 {
                    return Ok(None);
                }
                bytes.resize(WAV_PACKET_FRAMES * *frame_bytes, 0);
                let packet = &mut bytes[..frames as usize * *frame_bytes];
                file.read_exact(packet)?;
                *frames_left -= frames;
                Ok(Some(PacketOf::Wav(PacketRef::new(
                    0,
                    Timestamp::new(0),
                    Duration::from(frames),
                    packet,
                ))))
            }
            Self::Library { reader, track_id } => loop {
                match reader.next_packet()? {
                    Some(packet) if packet.track_id == *track_id => {
                        return Ok(Some(PacketOf::Library(packet)));
                    }
                    Some(_) => {}
                    None => return Ok(None),
                }
            },
        }
    }
}

/// A container that was opened, and what its samples are.
struct Stream {
    packets: Packets,
    /// See [`Decoding::counts_frames`].
    counts_frames: bool,
    codec: AudioCodecParameters,
    sample_format: String,
    promised_frames: Option<u64>,
    damage: Option<String>,
}

impl Stream {
    fn wav(file: File) -> Result<Self, String> {
        let unreadable = |error| format!("cannot be read: {error}");
        let file_bytes = file.metadata().map_err(unreadable)?.len();
        let mut file = BufReader::new(file);
        let layout = wav::read_layout(&mut file, file_bytes)?;
        file.seek(SeekFrom::Start(layout.data_start))
            .map_err(unreadable)?;
        let format = layout.format;
        let mut codec = AudioCodecParameters::new();
        codec
            .for_codec(pcm_codec(format.encoding))
            .with_sample_rate(format.sample_rate_hz)
            .with_channels(Channels::Discrete(format.channels));
        Ok(Self {
            packets: Packets::Wav {
                file,
                frame_bytes: usize::from(format.encoding.bytes()) * usize::from(format.channels),
                frames_left: layout.frames,
                bytes: Vec::new(),
            },
            counts_frames: false,
            codec,
            sample_format: format.encoding.words().into(),
            promised_frames: Some(layout.frames),
            damage: layout.damage,
        })
    }

    fn flac(file: File) -> Result<Self, String> {
        let reader = FlacReader::try_new(library_stream(file), FormatOptions::default())
            .map_err(|error| damaged_header("FLAC", &error))?;
        let mut stream = Self::library(Box::new(reader), true, "FLAC")?;
        if let Some(bits) = stream.codec.bits_per_sample {
            stream.sample_format = format!("{bits}-bit FLAC");
        }
        Ok(stream)
    }

    fn ogg(file: File) -> Result<Self, String> {
        let reader = OggReader::try_new(library_stream(file), FormatOptions::default())
            .map_err(|error| damaged_header("Ogg", &error))?;
        Self::library(Box::new(reader), false, "Ogg Vorbis")
    }

    fn library(
        reader: Box<dyn FormatReader>,
        counts_frames: bool,
        words: &str,
    ) -> Result<Self, String> {
        let track = reader
            .default_track(TrackType::Audio)
            .ok_or_else(|| format!("there is no {words} sound in it"))?;
        let codec = track
            .codec_params
            .as_ref()
            .and_then(|parameters| parameters.audio())
            .cloned()
            .ok_or_else(|| format!("its {words} header does not say how to read it"))?;
        let (track_id, promised_frames) = (track.id, track.num_frames);
        Ok(Self {
            packets: Packets::Library { reader, track_id },
            counts_frames,
            codec,
            sample_format: words.into(),
            promised_frames,
            damage: None,
        })
    }

    fn into_recording(self, path: &Path, picks: Option<&[usize]>) -> Result<Recording, String> {
        let channels = self.codec.channels.as_ref().map_or(0, Channels::count);
        if channels == 0 || channels > MOST_CHANNELS {
            return Err(format!(
                "its header says {channels} channels; 1 to {MOST_CHANNELS} can be read"
            ));
        }
        let rate = self.codec.sample_rate.unwrap_or(0);
        if !SAMPLE_RATES_HZ.contains(&rate) {
            return Err(format!(
                "its header says {rate} samples a second; {} to {} can be read",
                SAMPLE_RATES_HZ.start(),
                SAMPLE_RATES_HZ.end()
            ));
        }
        let picks = resolve_picks(picks, channels)?;
        let decoder = get_codecs()
            .make_audio_decoder(&self.codec, &AudioDecoderOptions::default())
            .map_err(|error| {
                format!("its sound cannot be decoded ({error}); convert it to 24-bit WAV or FLAC")
            })?;
        let mut recording = Recording {
            description: SourceDescription {
                kind: SourceKind::Recording,
                name: name(path, &picks, channels),
                host: None,
                sample_format: self.sample_format,
                sample_rate_hz: rate,
                channels: picks.len() as u16,
                buffer_frames: None,
            },
            packets: self.packets,
            decoding: Decoding {
                decoder,
                channels,
                sample_rate_hz: rate,
                counts_frames: self.counts_frames,
                samples: Vec::new(),
                frames: 0,
                damage: self.damage,
            },
            picks,
            promised_frames: self.promised_frames,
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

const fn pcm_codec(encoding: wav::Encoding) -> AudioCodecId {
    match encoding {
        wav::Encoding::Int16 => well_known::CODEC_ID_PCM_S16LE,
        wav::Encoding::Int24 => well_known::CODEC_ID_PCM_S24LE,
        wav::Encoding::Int32 => well_known::CODEC_ID_PCM_S32LE,
        wav::Encoding::Float32 => well_known::CODEC_ID_PCM_F32LE,
        wav::Encoding::Float64 => well_known::CODEC_ID_PCM_F64LE,
    }
}

fn library_stream(file: File) -> MediaSourceStream<'static> {
    MediaSourceStream::new(Box::new(file), MediaSourceStreamOptions::default())
}

fn damaged_header(kind: &str, error: &LibraryError) -> String {
    match error {
        LibraryError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => {
            format!("the file is cut off inside its {kind} header")
        }
        error => format!("its {kind} header cannot be read ({error})"),
    }
}
