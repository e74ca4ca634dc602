//! Snapshots for the tests beside the code.

use crate::readings::{
    InputState, Readings, SourceDescription, SourceKind, SourceReading, Validity,
};

/// A steady tone with readings in every field the log keeps.
pub fn snapshot() -> Readings {
    let mut source = SourceReading::new(SourceDescription {
        kind: SourceKind::SoundCard,
        name: "line input".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: 48_000,
        channels: 2,
        buffer_frames: None,
    });
    source.state = InputState::Running;
    let mut readings = Readings::unread(source, Validity::Ok);
    readings.tone.snr_db = Some(50.0);
    readings.speed.quick.deviation_percent = Some(0.1);
    readings.flutter.weighted.recent_two_sigma_percent = Some(0.08);
    readings.flutter.weighted.pointer_percent = Some(0.09);
    readings.level.left.quick_rms_dbfs = Some(-12.0);
    readings.level.right.quick_rms_dbfs = Some(-12.5);
    readings.level.quick_balance_db = Some(0.5);
    readings.phase.quick_delay_us = Some(11.0);
    readings.phase.quick_azimuth_arcmin = Some(2.0);
    readings
}
