//! What a sound input is: the data that a list of inputs shows and that the choosing works on.

use std::{fmt, str::FromStr};

/// The lowest sample rate a live input is opened at, Hz. Below it the 10 kHz azimuth tones and the scrape band suffer.
pub const MIN_SAMPLE_RATE_HZ: u32 = 44_100;
/// The highest sample rate a live input is opened at, Hz.
pub const MAX_SAMPLE_RATE_HZ: u32 = 192_000;
/// The rates that interfaces are built for, Hz; a continuous range is shown as those of them that lie in it.
const USUAL_RATES_HZ: [u32; 6] = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000];

/// How a device delivers one sample. 24-bit samples are meant whatever container they come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SampleFormat {
    /// 32-bit float.
    F32,
    /// 64-bit float.
    F64,
    /// 32-bit signed.
    I32,
    /// 24-bit signed.
    I24,
    /// 16-bit signed.
    I16,
    /// 8-bit signed.
    I8,
    /// 32-bit, zero in the middle.
    U32,
    /// 24-bit, zero in the middle.
    U24,
    /// 16-bit, zero in the middle.
    U16,
    /// 8-bit, zero in the middle.
    U8,
}

impl SampleFormat {
    /// All of them, the one to prefer first. Meters work on 24 significant bits, so wider ones bring nothing more.
    pub const ALL: [Self; 10] = [
        Self::F32,
        Self::I32,
        Self::I24,
        Self::F64,
        Self::U32,
        Self::U24,
        Self::I16,
        Self::U16,
        Self::I8,
        Self::U8,
    ];

    /// The format as a person says it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::F32 => "32-bit float",
            Self::F64 => "64-bit float",
            Self::I32 => "32-bit",
            Self::I24 => "24-bit",
            Self::I16 => "16-bit",
            Self::I8 => "8-bit",
            Self::U32 => "32-bit unsigned",
            Self::U24 => "24-bit unsigned",
            Self::U16 => "16-bit unsigned",
            Self::U8 => "8-bit unsigned",
        }
    }

    /// The format in one short word (`f32`, `i24`, ...), as [`FromStr`] reads it.
    pub const fn short(self) -> &'static str {
        match self {
            Self::F32 => "f32",
            Self::F64 => "f64",
            Self::I32 => "i32",
            Self::I24 => "i24",
            Self::I16 => "i16",
            Self::I8 => "i8",
            Self::U32 => "u32",
            Self::U24 => "u24",
            Self::U16 => "u16",
            Self::U8 => "u8",
        }
    }

    /// `None` for what is not plain PCM (one-bit streams, 64-bit integers).
    pub(super) const fn from_cpal(format: cpal::SampleFormat) -> Option<Self> {
        use cpal::SampleFormat as Theirs;
        Some(match format {
            Theirs::F32 => Self::F32,
            Theirs::F64 => Self::F64,
            Theirs::I32 => Self::I32,
            Theirs::I24 => Self::I24,
            Theirs::I16 => Self::I16,
            Theirs::I8 => Self::I8,
            Theirs::U32 => Self::U32,
            Theirs::U24 => Self::U24,
            Theirs::U16 => Self::U16,
            Theirs::U8 => Self::U8,
            _ => return None,
        })
    }

    pub(super) const fn to_cpal(self) -> cpal::SampleFormat {
        use cpal::SampleFormat as Theirs;
        match self {
            Self::F32 => Theirs::F32,
            Self::F64 => Theirs::F64,
            Self::I32 => Theirs::I32,
            Self::I24 => Theirs::I24,
            Self::I16 => Theirs::I16,
            Self::I8 => Theirs::I8,
            Self::U32 => Theirs::U32,
            Self::U24 => Theirs::U24,
            Self::U16 => Theirs::U16,
            Self::U8 => Theirs::U8,
        }
    }

    /// Place in [`Self::ALL`]: lower is better.
    pub(super) fn rank(self) -> usize {
        Self::ALL
            .iter()
            .position(|&f| f == self)
            .unwrap_or(usize::MAX)
    }
}

impl fmt::Display for SampleFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.short())
    }
}

impl FromStr for SampleFormat {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL
            .into_iter()
            .find(|format| format.short().eq_ignore_ascii_case(text))
            .ok_or_else(|| {
                let known: Vec<_> = Self::ALL.iter().map(|format| format.short()).collect();
                format!(
                    "unknown sample format '{text}': choose one of {}",
                    known.join(", ")
                )
            })
    }
}

/// One combination that a device offers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OfferedFormat {
    /// Channels in a frame.
    pub channels: u16,
    /// Kind of sample.
    pub sample_format: SampleFormat,
    /// Lowest rate of the range, Hz.
    pub min_rate_hz: u32,
    /// Highest rate of the range, Hz.
    pub max_rate_hz: u32,
}

impl OfferedFormat {
    /// Whether the device offers this at `rate_hz`.
    pub const fn contains_rate(&self, rate_hz: u32) -> bool {
        self.min_rate_hz <= rate_hz && rate_hz <= self.max_rate_hz
    }
}

/// How the device itself runs, before any conversion by the system.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NativeFormat {
    /// Channels the device has.
    pub channels: u16,
    /// Kind of sample.
    pub sample_format: SampleFormat,
    /// Rate, Hz.
    pub sample_rate_hz: u32,
}

/// An input by its names; nothing has been asked of the device yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputName {
    /// What opens the device again, on this computer, later: `host:device`.
    pub id: String,
    /// The sound system it belongs to (`PulseAudio`, `ALSA`, `CoreAudio`, `WASAPI`).
    pub host: String,
    /// The device's name as a person would say it.
    pub name: String,
    /// What the system says besides, in one line; often empty.
    pub detail: String,
}

impl InputName {
    /// Name and detail in one line.
    pub fn description(&self) -> String {
        if self.detail.is_empty() {
            self.name.clone()
        } else {
            format!("{}; {}", self.name, self.detail)
        }
    }
}

/// An input with what it can do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputDevice {
    /// Its names.
    pub name: InputName,
    /// Whether it is the one that is opened when none is named.
    pub is_default: bool,
    /// How the device itself runs; `None` where the sound system does not tell (ALSA).
    pub native: Option<NativeFormat>,
    /// Everything the sound system offers, partly by converting.
    pub offered: Vec<OfferedFormat>,
    /// Why it cannot be opened at the moment, if that is known.
    pub trouble: Option<String>,
}

impl InputDevice {
    /// The usual rates offered within the range trimwatch works at, and the native one, ascending, Hz.
    pub fn rates_hz(&self) -> Vec<u32> {
        let ends = self
            .offered
            .iter()
            .flat_map(|offer| [offer.min_rate_hz, offer.max_rate_hz]);
        let native = self.native.map(|native| native.sample_rate_hz);
        let mut rates: Vec<u32> = USUAL_RATES_HZ
            .into_iter()
            .chain(native)
            // A range's odd ends are rates of the device only when the range is a single rate.
            .chain(ends.filter(|&end| {
                self.offered
                    .iter()
                    .any(|offer| offer.min_rate_hz == end && offer.max_rate_hz == end)
            }))
            .filter(|rate| (MIN_SAMPLE_RATE_HZ..=MAX_SAMPLE_RATE_HZ).contains(rate))
            .filter(|&rate| self.offered.iter().any(|offer| offer.contains_rate(rate)))
            .collect();
        rates.sort_unstable();
        rates.dedup();
        rates
    }

    /// The number of channels that can be picked from: the device's own where it is known.
    pub fn channels(&self) -> u16 {
        self.native.map_or_else(
            || {
                self.offered
                    .iter()
                    .map(|offer| offer.channels)
                    .max()
                    .unwrap_or(0)
            },
            |native| native.channels,
        )
    }

    /// The sample formats offered, the preferred one first.
    pub fn sample_formats(&self) -> Vec<SampleFormat> {
        SampleFormat::ALL
            .into_iter()
            .filter(|&format| {
                self.offered
                    .iter()
                    .any(|offer| offer.sample_format == format)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offer(min_rate_hz: u32, max_rate_hz: u32) -> OfferedFormat {
        OfferedFormat {
            channels: 2,
            sample_format: SampleFormat::I16,
            min_rate_hz,
            max_rate_hz,
        }
    }

    fn device(native: Option<NativeFormat>, offered: Vec<OfferedFormat>) -> InputDevice {
        InputDevice {
            name: InputName {
                id: "alsa:hw:CARD=Bench,DEV=0".into(),
                host: "ALSA".into(),
                name: "Bench interface".into(),
                detail: String::new(),
            },
            is_default: false,
            native,
            offered,
            trouble: None,
        }
    }

    #[test]
    fn a_continuous_range_is_shown_as_the_usual_rates_in_it() {
        let rates = device(None, vec![offer(1, 768_000)]).rates_hz();
        assert_eq!(rates, USUAL_RATES_HZ);
    }

    #[test]
    fn single_rates_are_shown_as_they_are_if_trimwatch_works_at_them() {
        let offered = [16_000, 44_100, 64_000, 384_000].map(|rate| offer(rate, rate));
        assert_eq!(device(None, offered.to_vec()).rates_hz(), [44_100, 64_000]);
    }

    #[test]
    fn an_unusual_native_rate_is_shown() {
        let native = NativeFormat {
            channels: 2,
            sample_format: SampleFormat::F32,
            sample_rate_hz: 50_000,
        };
        let rates = device(Some(native), vec![offer(40_000, 60_000)]).rates_hz();
        assert_eq!(rates, [44_100, 48_000, 50_000]);
    }

    #[test]
    fn short_words_are_read_back_and_others_are_refused_with_the_list() {
        for format in SampleFormat::ALL {
            assert_eq!(format.short().to_uppercase().parse(), Ok(format));
        }
        let error = "mp3".parse::<SampleFormat>().expect_err("not PCM");
        assert!(error.contains("'mp3'") && error.contains("i24"), "{error}");
    }
}
