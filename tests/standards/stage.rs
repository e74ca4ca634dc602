//! What every test needs around a meter bank.

use trimwatch::{
    meters::{MeterBank, MeterSetup},
    readings::{NoticeCode, Readings, SourceDescription, SourceKind, SourceReading},
};

/// The speed tone of IEC 60386, Hz.
pub const TONE_HZ: f64 = 3150.0;

/// Settings for a tape with that tone, default tape format (cassette).
pub fn tape(tone_hz: f64) -> MeterSetup {
    MeterSetup {
        tone_hz: Some(tone_hz),
        ..MeterSetup::new().unwrap()
    }
}

pub fn description(sample_rate_hz: f64, channels: u16) -> SourceDescription {
    SourceDescription {
        kind: SourceKind::Recording,
        name: "formula".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: sample_rate_hz as u32,
        channels,
        buffer_frames: None,
    }
}

pub fn source(sample_rate_hz: f64, channels: u16) -> SourceReading {
    SourceReading::new(description(sample_rate_hz, channels))
}

/// A meter bank with the source it stands for.
pub struct Bench {
    pub bank: MeterBank,
    source: SourceReading,
}

impl Bench {
    pub fn new(sample_rate_hz: f64, channels: u16, setup: &MeterSetup) -> Self {
        Self {
            bank: MeterBank::new(sample_rate_hz, usize::from(channels), setup),
            source: source(sample_rate_hz, channels),
        }
    }

    pub fn feed(&mut self, interleaved: &[f32]) -> &mut Self {
        self.bank.process(interleaved);
        self
    }

    /// Readings of the moment.
    pub fn now(&mut self) -> Readings {
        self.bank.readings(self.source.clone())
    }

    /// Readings of a take that is over.
    pub fn over(&mut self) -> Readings {
        self.bank.final_readings(self.source.clone())
    }
}

/// Final readings of a take.
pub fn measure(
    sample_rate_hz: f64,
    channels: u16,
    setup: &MeterSetup,
    interleaved: &[f32],
) -> Readings {
    Bench::new(sample_rate_hz, channels, setup)
        .feed(interleaved)
        .over()
}

pub fn has(readings: &Readings, code: NoticeCode) -> bool {
    readings.notices.iter().any(|notice| notice.code == code)
}

pub fn json(readings: &Readings) -> String {
    serde_json::to_string(readings).unwrap()
}

/// `value` lies within `tolerance` of `expected`; the failure says what was read.
#[track_caller]
pub fn assert_near(what: impl std::fmt::Display, value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{what}: {value} instead of {expected} ± {tolerance}"
    );
}
