//! From packets to samples, and what was wrong with them.

use std::io::ErrorKind;
use symphonia::core::{
    codecs::audio::AudioDecoder, errors::Error as LibraryError, packet::PacketRef,
};

/// Damaged packets are replaced by silence, so that what follows keeps its time; at most this much in one place.
const MOST_SILENT_FRAMES: u64 = 1 << 18;

/// The decoder of a recording and its last packet.
pub(super) struct Decoding {
    pub(super) decoder: Box<dyn AudioDecoder>,
    pub(super) channels: usize,
    pub(super) sample_rate_hz: u32,
    /// Whether packets' time stamps are frame numbers from 0 without a gap in a sound file.
    pub(super) counts_frames: bool,
    /// The last packet's samples, all channels interleaved.
    pub(super) samples: Vec<f32>,
    /// Frames decoded so far, with the silence put in for damaged ones.
    pub(super) frames: u64,
    pub(super) damage: Option<String>,
}

impl Decoding {
    /// Decodes a packet into `samples`. What cannot be decoded becomes silence of the same length, so that what
    /// follows keeps its time.
    pub(super) fn decode(&mut self, packet: &PacketRef<'_>) -> Result<(), LibraryError> {
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
            let frames = bounded(packet.dur.get());
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
        bounded(starts_at.saturating_sub(self.frames))
    }

    /// At the end: whether all that was promised has come.
    pub(super) fn compare_with(&mut self, promised_frames: Option<u64>) {
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
    pub(super) fn note_damage(&mut self, words: impl FnOnce() -> String) {
        self.damage.get_or_insert_with(words);
    }

    pub(super) fn seconds(&self) -> f64 {
        self.frames as f64 / f64::from(self.sample_rate_hz)
    }
}

/// So that a false time stamp does not fill the memory. What is left out is missing before the next packet again.
fn bounded(frames: u64) -> usize {
    frames.min(MOST_SILENT_FRAMES) as usize
}
