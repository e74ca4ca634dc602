//! The chunk structure of a WAV file, read without trust.
//!
//! Only the structure is read here (the library decodes the samples): recorders that lost power, ran over 4 GiB or
//! were cut off leave headers that contradict the file, and most of their samples are still good. RF64 and BW64
//! (EBU Tech 3306, ITU-R BS.2088) are the same structure with 64-bit sizes in a `ds64` chunk.

use std::io::{Read, Seek, SeekFrom};

/// How one sample is stored; all little-endian.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    Int16,
    Int24,
    Int32,
    Float32,
    Float64,
}

impl Encoding {
    pub(super) const fn bytes(self) -> u16 {
        match self {
            Self::Int16 => 2,
            Self::Int24 => 3,
            Self::Int32 | Self::Float32 => 4,
            Self::Float64 => 8,
        }
    }

    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Int16 => "16-bit",
            Self::Int24 => "24-bit",
            Self::Int32 => "32-bit",
            Self::Float32 => "32-bit float",
            Self::Float64 => "64-bit float",
        }
    }
}

/// What the `fmt ` chunk says, checked against itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Format {
    pub(super) encoding: Encoding,
    pub(super) channels: u16,
    pub(super) sample_rate_hz: u32,
}

impl Format {
    pub(super) fn frame_bytes(self) -> u64 {
        u64::from(self.encoding.bytes()) * u64::from(self.channels)
    }

    fn seconds(self, bytes: u64) -> f64 {
        (bytes / self.frame_bytes()) as f64 / f64::from(self.sample_rate_hz.max(1))
    }
}

/// Where the samples are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    pub(super) format: Format,
    /// Offset of the first frame in the file.
    pub(super) data_start: u64,
    /// Whole frames that are really there.
    pub(super) frames: u64,
    /// Where the header contradicts the file, in words.
    pub(super) damage: Option<String>,
}

/// A size field that means 'look in `ds64`' or, in a plain WAV, 'written to a pipe, length unknown'.
const SIZE_ELSEWHERE: u32 = u32::MAX;
const CHUNK_HEADER_BYTES: u64 = 8;
const RIFF_HEADER_BYTES: u64 = 12;
const FORMAT_PCM: u16 = 1;
const FORMAT_FLOAT: u16 = 3;
const FORMAT_EXTENSIBLE: u16 = 0xfffe;
/// The tail common to the GUIDs of all extensible sub-formats; the first two bytes are the plain format code.
const SUBFORMAT_TAIL: [u8; 14] = [
    0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xaa, 0x00, 0x38, 0x9b, 0x71,
];

/// Walks the chunks of a file of `file_bytes` bytes up to its samples.
///
/// # Errors
/// One line without the file's name: why no sample can be read.
pub(super) fn read_layout(
    file: &mut (impl Read + Seek),
    file_bytes: u64,
) -> Result<Layout, String> {
    let mut walk = Walk { file, file_bytes };
    let mut format = None;
    let mut long_data_bytes = None;
    let mut at = RIFF_HEADER_BYTES;
    while let Some(chunk) = walk.chunk_at(at)? {
        match &chunk.id {
            b"fmt " => format = Some(walk.format(&chunk)?),
            b"ds64" => long_data_bytes = walk.long_data_bytes(&chunk)?,
            b"data" => {
                let format =
                    format.ok_or("its samples come before any 'fmt ' chunk that describes them")?;
                let claimed = match chunk.bytes {
                    SIZE_ELSEWHERE => long_data_bytes,
                    bytes => Some(u64::from(bytes)),
                };
                return walk.data(format, chunk.body, claimed);
            }
            _ => {}
        }
        at = chunk.end();
    }
    Err(if at > file_bytes {
        "a chunk before its samples claims to reach beyond the end of the file"
    } else {
        "it has a WAV header but no 'data' chunk, so no samples"
    }
    .into())
}

struct Chunk {
    id: [u8; 4],
    bytes: u32,
    body: u64,
}

impl Chunk {
    /// Where the next chunk starts: chunks are padded to even lengths.
    fn end(&self) -> u64 {
        self.body + u64::from(self.bytes) + u64::from(self.bytes & 1)
    }
}

struct Walk<'f, F> {
    file: &'f mut F,
    file_bytes: u64,
}

impl<F: Read + Seek> Walk<'_, F> {
    /// The bytes at that place; `None` when the file ends first.
    fn bytes_at<const N: usize>(&mut self, at: u64) -> Result<Option<[u8; N]>, String> {
        if at.saturating_add(N as u64) > self.file_bytes {
            return Ok(None);
        }
        let mut bytes = [0; N];
        self.file
            .seek(SeekFrom::Start(at))
            .and_then(|_| self.file.read_exact(&mut bytes))
            .map_err(|error| format!("cannot be read: {error}"))?;
        Ok(Some(bytes))
    }

    fn chunk_at(&mut self, at: u64) -> Result<Option<Chunk>, String> {
        let header: Option<[u8; CHUNK_HEADER_BYTES as usize]> = self.bytes_at(at)?;
        Ok(header.map(|header| Chunk {
            id: [header[0], header[1], header[2], header[3]],
            bytes: u32_at(&header, 4),
            body: at + CHUNK_HEADER_BYTES,
        }))
    }

    /// The `ds64` chunk: the RIFF's own size, then the size of `data`, 64 bits each.
    fn long_data_bytes(&mut self, chunk: &Chunk) -> Result<Option<u64>, String> {
        let body: Option<[u8; 16]> = self.bytes_at(chunk.body)?;
        Ok(body.map(|body| u64::from(u32_at(&body, 8)) | u64::from(u32_at(&body, 12)) << 32))
    }

    fn format(&mut self, chunk: &Chunk) -> Result<Format, String> {
        const BASIC: usize = 16;
        const EXTENDED: usize = 40;
        let too_short = "its 'fmt ' chunk is cut short";
        if (chunk.bytes as usize) < BASIC {
            return Err(too_short.into());
        }
        let basic: [u8; BASIC] = self.bytes_at(chunk.body)?.ok_or(too_short)?;
        let mut code = u16_at(&basic, 0);
        if code == FORMAT_EXTENSIBLE {
            if (chunk.bytes as usize) < EXTENDED {
                return Err(too_short.into());
            }
            let extended: [u8; EXTENDED] = self.bytes_at(chunk.body)?.ok_or(too_short)?;
            if extended[26..] != SUBFORMAT_TAIL {
                return Err("it holds a kind of sound that is not plain samples; convert it to 24-bit WAV or FLAC".into());
            }
            code = u16_at(&extended, 24);
        }
        let bits = u16_at(&basic, 14);
        let encoding = match (code, bits) {
            (FORMAT_PCM, 16) => Encoding::Int16,
            (FORMAT_PCM, 24) => Encoding::Int24,
            (FORMAT_PCM, 32) => Encoding::Int32,
            (FORMAT_FLOAT, 32) => Encoding::Float32,
            (FORMAT_FLOAT, 64) => Encoding::Float64,
            (FORMAT_PCM | FORMAT_FLOAT, _) => {
                return Err(format!(
                    "its header says {bits} bits a sample; 16, 24, 32 and 32 or 64 float can be read"
                ));
            }
            _ => {
                return Err(format!(
                    "it holds compressed sound (format code {code}); convert it to 24-bit WAV or FLAC"
                ));
            }
        };
        let format = Format {
            encoding,
            channels: u16_at(&basic, 2),
            sample_rate_hz: u32_at(&basic, 4),
        };
        let claimed_frame_bytes = u16_at(&basic, 12);
        if format.channels == 0 {
            return Err("its header says 0 channels".into());
        }
        if u64::from(claimed_frame_bytes) != format.frame_bytes() {
            return Err(format!(
                "its header contradicts itself: {} x {} make frames of {} bytes, and it says {claimed_frame_bytes}",
                format.channels,
                encoding.words(),
                format.frame_bytes()
            ));
        }
        Ok(format)
    }

    /// Weighs what the header claims against what the file holds. `claimed` is `None` where it gives no length.
    fn data(
        &mut self,
        format: Format,
        data_start: u64,
        claimed: Option<u64>,
    ) -> Result<Layout, String> {
        let present = self.file_bytes.saturating_sub(data_start);
        let (bytes, damage) = match claimed {
            None => (present, None),
            Some(claimed) if claimed > present => {
                let (promised, there) = (format.seconds(claimed), format.seconds(present));
                let damage = format!(
                    "the file is cut off: its header promises {promised:.1} s, {there:.1} s are there"
                );
                (present, Some(damage))
            }
            Some(claimed) if !self.only_chunks_from(data_start + claimed, format)? => {
                let counted = format.seconds(claimed);
                let why = match claimed {
                    0 => "the recorder never completed the file's header".into(),
                    _ => format!(
                        "the file's header counts {counted:.1} s of samples, but more follow"
                    ),
                };
                let there = format.seconds(present);
                (
                    present,
                    Some(format!("{why}; read to its end, {there:.1} s")),
                )
            }
            Some(claimed) => (claimed, None),
        };
        let frames = bytes / format.frame_bytes();
        if frames == 0 {
            return Err("it holds no samples".into());
        }
        Ok(Layout {
            format,
            data_start,
            frames,
            damage,
        })
    }

    /// Whether what follows the samples is a chain of chunks, or too little to be a frame.
    fn only_chunks_from(&mut self, data_end: u64, format: Format) -> Result<bool, String> {
        // The pad byte after an odd length is forgotten by some writers: both places are tried.
        for mut at in [data_end + (data_end & 1), data_end] {
            loop {
                if at.saturating_add(format.frame_bytes().max(CHUNK_HEADER_BYTES)) > self.file_bytes
                {
                    return Ok(true);
                }
                match self.chunk_at(at)? {
                    Some(chunk)
                        if is_chunk_id(chunk.id)
                            && chunk.body + u64::from(chunk.bytes) <= self.file_bytes =>
                    {
                        at = chunk.end();
                    }
                    _ => break,
                }
            }
        }
        Ok(false)
    }
}

/// Chunk ids are printable ASCII; samples are so only by chance.
fn is_chunk_id(id: [u8; 4]) -> bool {
    id.iter().all(|byte| (b' '..=b'~').contains(byte))
}

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]])
}
