//! WAV files written byte by byte, so that every field can lie.

/// What a WAV header says.
#[derive(Clone, Debug)]
pub struct Header {
    pub code: u16,
    pub channels: u16,
    pub sample_rate_hz: u32,
    pub bits: u16,
    pub extensible: bool,
    /// Instead of the true frame size.
    pub frame_bytes: Option<u16>,
    /// Instead of the true sizes.
    pub data_bytes: Option<u32>,
    pub riff_bytes: Option<u32>,
    /// Chunks before and after the samples.
    pub before: Vec<u8>,
    pub after: Vec<u8>,
}

pub const PCM: u16 = 1;
pub const FLOAT: u16 = 3;

impl Header {
    pub fn new(code: u16, bits: u16, channels: u16, sample_rate_hz: u32) -> Self {
        Self {
            code,
            channels,
            sample_rate_hz,
            bits,
            extensible: false,
            frame_bytes: None,
            data_bytes: None,
            riff_bytes: None,
            before: Vec::new(),
            after: Vec::new(),
        }
    }

    /// The file with these bytes of samples.
    pub fn file(&self, samples: &[u8]) -> Vec<u8> {
        let frame_bytes = self
            .frame_bytes
            .unwrap_or_else(|| self.channels.wrapping_mul(self.bits / 8));
        let code = if self.extensible { 0xfffe } else { self.code };
        let mut format = Vec::new();
        format.extend(code.to_le_bytes());
        format.extend(self.channels.to_le_bytes());
        format.extend(self.sample_rate_hz.to_le_bytes());
        format.extend(
            self.sample_rate_hz
                .wrapping_mul(u32::from(frame_bytes))
                .to_le_bytes(),
        );
        format.extend(frame_bytes.to_le_bytes());
        format.extend(self.bits.to_le_bytes());
        if self.extensible {
            format.extend(22_u16.to_le_bytes());
            format.extend(self.bits.to_le_bytes());
            format.extend(3_u32.to_le_bytes());
            format.extend(self.code.to_le_bytes());
            format.extend([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
        }
        let mut body = b"WAVE".to_vec();
        body.extend(chunk(b"fmt ", &format));
        body.extend(&self.before);
        body.extend(b"data");
        body.extend(
            self.data_bytes
                .unwrap_or(samples.len() as u32)
                .to_le_bytes(),
        );
        body.extend(samples);
        body.extend(std::iter::repeat_n(0, samples.len() % 2));
        body.extend(&self.after);
        let mut file = b"RIFF".to_vec();
        file.extend(self.riff_bytes.unwrap_or(body.len() as u32).to_le_bytes());
        file.extend(body);
        file
    }
}

/// One chunk, padded to an even length.
pub fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut chunk = id.to_vec();
    chunk.extend((body.len() as u32).to_le_bytes());
    chunk.extend(body);
    chunk.extend(std::iter::repeat_n(0, body.len() % 2));
    chunk
}

/// 16-bit samples as bytes.
pub fn bytes_of_i16(samples: &[i16]) -> Vec<u8> {
    samples
        .iter()
        .flat_map(|sample| sample.to_le_bytes())
        .collect()
}
