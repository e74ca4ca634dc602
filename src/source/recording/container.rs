//! Files and what they contain: a row of packets and how to decode them.

use super::{guard::guarded, wav};
use std::{
    fs::File,
    io::{BufReader, ErrorKind, Read, Seek, SeekFrom},
    path::Path,
};
use symphonia::{
    core::{
        audio::Channels,
        codecs::audio::{AudioCodecId, AudioCodecParameters, well_known},
        errors::Error as LibraryError,
        formats::{FormatOptions, FormatReader, TrackType},
        io::{MediaSourceStream, MediaSourceStreamOptions},
        packet::{Packet, PacketRef},
        units::{Duration, Timestamp},
    },
    default::formats::{FlacReader, OggReader},
};

/// Frames decoded at a time from a WAV file.
const WAV_PACKET_FRAMES: usize = 2048;
pub(super) const UNREADABLE_HEADER: &str = "its header makes no sense";

/// Opens a container of the kind that the file's first bytes tell; its name does not matter.
///
/// # Errors
/// One line without the file's name.
pub(super) fn open_stream(path: &Path) -> Result<Stream, String> {
    let mut file = open_file(path)?;
    let mut start = Vec::new();
    file.by_ref()
        .take(12)
        .read_to_end(&mut start)
        .and_then(|_| file.seek(SeekFrom::Start(0)))
        .map_err(|error| format!("cannot be read: {error}"))?;
    match start.as_slice() {
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'A', b'V', b'E']
        | [b'R', b'F', b'6', b'4', _, _, _, _, b'W', b'A', b'V', b'E']
        | [b'B', b'W', b'6', b'4', _, _, _, _, b'W', b'A', b'V', b'E'] => Stream::wav(file),
        [b'f', b'L', b'a', b'C', ..] => Stream::flac(file),
        [b'O', b'g', b'g', b'S', ..] => Stream::ogg(file),
        [] => Err("the file is empty".into()),
        _ => Err(
            "this is not a WAV, FLAC or Ogg Vorbis file; give one of these, or convert it to 24-bit WAV"
                .into(),
        ),
    }
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
pub(super) enum PacketOf<'p> {
    Wav(PacketRef<'p>),
    Library(Packet),
}

impl PacketOf<'_> {
    pub(super) fn as_ref(&self) -> PacketRef<'_> {
        match self {
            Self::Wav(packet) => PacketRef::new(0, packet.pts, packet.dur, packet.data),
            Self::Library(packet) => packet.as_packet_ref(),
        }
    }
}

/// The container: a row of packets.
pub(super) enum Packets {
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
    pub(super) fn next(&mut self) -> Result<Option<PacketOf<'_>>, LibraryError> {
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
pub(super) struct Stream {
    pub(super) packets: Packets,
    /// See `Decoding::counts_frames`.
    pub(super) counts_frames: bool,
    pub(super) codec: AudioCodecParameters,
    pub(super) sample_format: String,
    pub(super) promised_frames: Option<u64>,
    pub(super) damage: Option<String>,
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
        let open = || FlacReader::try_new(library_stream(file), FormatOptions::default());
        let reader = guarded(open)
            .ok_or(UNREADABLE_HEADER)?
            .map_err(|error| damaged_header("FLAC", &error))?;
        let mut stream = Self::library(Box::new(reader), true, "FLAC")?;
        if let Some(bits) = stream.codec.bits_per_sample {
            stream.sample_format = format!("{bits}-bit FLAC");
        }
        Ok(stream)
    }

    fn ogg(file: File) -> Result<Self, String> {
        let open = || OggReader::try_new(library_stream(file), FormatOptions::default());
        let reader = guarded(open)
            .ok_or(UNREADABLE_HEADER)?
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
