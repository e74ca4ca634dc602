//! Readings with something in every field, for the tests of the faces.

use crate::readings::{
    ChannelLevel, Component, FlutterFigures, Hum, InputState, LineVerdict, Notice, NoticeCode,
    PhaseCandidate, PhaseLine, PhaseMethod, PhasePoint, Readings, SourceDescription, SourceKind,
    SourceReading, SpeedWindow, Validity,
};

/// What is known before the first sample.
pub fn empty() -> Readings {
    let mut source = SourceReading::new(SourceDescription {
        kind: SourceKind::Recording,
        name: "take.wav".into(),
        host: None,
        sample_format: "24-bit".into(),
        sample_rate_hz: 48_000,
        channels: 2,
        buffer_frames: None,
    });
    source.state = InputState::Running;
    source.seconds = 60.0;
    Readings::empty(source)
}

/// Every field filled, the texts long.
pub fn full() -> Readings {
    let mut readings = empty();
    let source = &mut readings.source;
    source.description.name = "a take with a very long name ".repeat(5) + "\x1b[2J\n.wav";
    source.description.host = Some("a sound system".into());
    source.description.buffer_frames = Some(512);
    source.lost_frames = 123_456_789;
    source.gaps = 12_345;
    fill_tone(&mut readings);
    fill_speed(&mut readings);
    fill_flutter(&mut readings);
    fill_level(&mut readings);
    fill_phase(&mut readings);
    readings.notices = vec![
        Notice::new(
            NoticeCode::Clipping,
            "clipped samples here and there ".repeat(6),
        ),
        Notice::new(NoticeCode::ToneAssumed, "the tone is assumed"),
    ];
    readings
}

/// The same with every number of the common fields turned into one that is none.
pub fn not_finite() -> Readings {
    let mut readings = full();
    readings.tone.left_hz = Some(f64::NAN);
    readings.speed.deviation_percent = Some(f64::INFINITY);
    readings.speed.steady.deviation_percent = Some(f64::NAN);
    readings.speed.quick.deviation_percent = Some(f64::NAN);
    readings.flutter.weighted.rms_percent = Some(f64::NAN);
    readings.flutter.weighted.pointer_percent = Some(f64::NAN);
    readings.level.left.rms_dbfs = Some(f64::NEG_INFINITY);
    readings.level.left.quick_rms_dbfs = Some(f64::NEG_INFINITY);
    readings.phase.delay_us = Some(f64::NAN);
    readings.phase.quick_delay_us = Some(f64::NAN);
    readings
}

fn fill_tone(readings: &mut Readings) {
    let tone = &mut readings.tone;
    tone.status = Validity::Ok;
    tone.left_hz = Some(3165.3421);
    tone.right_hz = Some(3165.3422);
    tone.snr_db = Some(61.04);
    tone.second_harmonic_percent = Some(0.121);
    tone.third_harmonic_percent = Some(0.804);
}

fn fill_speed(readings: &mut Readings) {
    let speed = &mut readings.speed;
    speed.status = Validity::Ok;
    speed.reference_hz = Some(3150.0);
    speed.measured_hz = Some(3165.342);
    speed.deviation_percent = Some(0.487);
    speed.uncertainty_percent = Some(0.006);
    speed.min_percent = Some(0.391);
    speed.max_percent = Some(0.582);
    speed.trend_percent_per_minute = Some(-0.0123);
    speed.averaged_seconds = 58.25;
    speed.quick = window(0.25, 0.512);
    speed.steady = window(2.0, 0.49);
    speed.long = window(10.0, 0.485);
}

fn window(seconds: f64, deviation_percent: f64) -> SpeedWindow {
    SpeedWindow {
        seconds,
        deviation_percent: Some(deviation_percent),
        uncertainty_percent: Some(0.01),
    }
}

fn fill_flutter(readings: &mut Readings) {
    let flutter = &mut readings.flutter;
    flutter.status = Validity::Ok;
    flutter.weighted = figures(0.1521);
    flutter.unweighted = figures(0.3024);
    flutter.bands.drift_rms_percent = Some(0.0101);
    flutter.bands.wow_rms_percent = Some(0.1003);
    flutter.bands.flutter_rms_percent = Some(0.0805);
    flutter.bands.scrape_rms_percent = Some(0.0207);
    flutter.bands.scrape_upper_hz = Some(1200.0);
    flutter.components = vec![
        Component {
            rate_hz: 6.0612,
            peak_percent: 0.0521,
            part: Some("take-up capstan with a rather long name for a small part".into()),
            order: Some(3),
        },
        Component {
            rate_hz: 1.1688,
            peak_percent: 0.0402,
            part: None,
            order: None,
        },
    ];
    flutter.averaged_seconds = 55.5;
}

fn figures(peak_percent: f64) -> FlutterFigures {
    FlutterFigures {
        quasi_peak_percent: Some(peak_percent),
        quasi_peak_max_percent: Some(1.2 * peak_percent),
        two_sigma_percent: Some(0.9 * peak_percent),
        rms_percent: Some(0.5 * peak_percent),
        pointer_percent: Some(peak_percent),
        recent_two_sigma_percent: Some(0.91 * peak_percent),
    }
}

fn fill_level(readings: &mut Readings) {
    let level = &mut readings.level;
    level.status = Validity::Ok;
    level.left = channel(-10.03);
    level.right = channel(-110.44);
    level.balance_db = Some(100.41);
    level.quick_balance_db = Some(100.43);
    level.steadiness_db_rms = Some(0.05);
    level.steadiness_db_peak_to_peak = Some(0.31);
    level.dropouts = 3;
    level.deepest_dropout_db = Some(24.3);
    level.longest_dropout_ms = Some(48.2);
}

fn channel(rms_dbfs: f64) -> ChannelLevel {
    ChannelLevel {
        rms_dbfs: Some(rms_dbfs),
        peak_dbfs: Some(rms_dbfs + 0.5),
        tone_dbfs: Some(rms_dbfs - 0.01),
        quick_rms_dbfs: Some(rms_dbfs),
        recent_peak_dbfs: Some(rms_dbfs + 0.4),
        hum: Some(Hum {
            mains_hz: 50.0,
            fundamental_dbfs: -72.0,
            total_dbfs: -70.6,
        }),
        ..ChannelLevel::default()
    }
}

fn fill_phase(readings: &mut Readings) {
    let phase = &mut readings.phase;
    phase.status = Validity::Ok;
    phase.method = Some(PhaseMethod::Tone);
    phase.tone_hz = Some(3165.342);
    phase.degrees = Some(-135.24);
    phase.delay_us = Some(-118.683);
    phase.delay_uncertainty_us = Some(0.021);
    phase.azimuth_uncertainty_arcmin = Some(0.17);
    phase.azimuth_arcmin = Some(-21.59);
    phase.ambiguous = true;
    phase.candidates = [0, 1, -1, 2, -2, 3, -3, 4, -4]
        .into_iter()
        .map(|cycle| PhaseCandidate {
            delay_us: -118.683 + 315.92 * f64::from(cycle),
            azimuth_arcmin: -21.59 + 57.47 * f64::from(cycle),
        })
        .collect();
    phase.wander_rms_degrees = Some(1.24);
    phase.wander_peak_to_peak_degrees = Some(6.31);
    phase.wander_rate_hz = Some(0.51);
    phase.mono_sum_loss_db = Some(-8.37);
    phase.coherence = Some(0.998);
    phase.tape_azimuth_arcmin = Some(0.0);
    phase.mono_sum_loss_10_khz_db = Some(-60.0);
    phase.line = Some(PhaseLine {
        points: [315.0, 1000.0, 3165.3]
            .map(|frequency_hz| PhasePoint {
                frequency_hz,
                degrees: -0.0427 * frequency_hz,
                uncertainty_degrees: 2.1,
            })
            .to_vec(),
        verdict: LineVerdict::NotStraight,
        delay_us: Some(-118.68),
        delay_uncertainty_us: Some(1.9),
        intercept_degrees: Some(-0.4),
        intercept_uncertainty_degrees: Some(1.7),
    });
    phase.quick_degrees = Some(-135.9);
    phase.quick_delay_us = Some(-119.26);
    phase.quick_azimuth_arcmin = Some(-21.7);
}
