//! Readings as the meters would publish them, for decks in known states. Each is a function of stream time, so that
//! a test can let it play.

use std::f64::consts::TAU;
use trimwatch::readings::{
    ChannelLevel, Component, CyclesSettled, FlutterBands, FlutterFigures, FlutterReading, Hum,
    InputState, LevelReading, LineVerdict, NeedleReading, NeedleWow, Notice, NoticeCode,
    PhaseCandidate, PhaseLine, PhaseMethod, PhasePoint, PhaseReading, Readings, SourceDescription,
    SourceKind, SourceReading, SpeedReading, SpeedWindow, ToneReading, Trail, TurnReading,
    Validity, XyFigure,
};

/// How long a trail is, seconds.
const TRAIL_S: f64 = 30.0;
/// Values of a trail a second.
const TRAIL_RATE: f64 = 100.0;

/// A fixture: what the meters say at a stream time, in seconds.
pub type Fixture = fn(f64) -> Readings;

fn source(seconds: f64, channels: u16) -> SourceReading {
    let mut source = SourceReading::new(SourceDescription {
        kind: SourceKind::SoundCard,
        name: "USB line input".into(),
        host: Some("ALSA".into()),
        sample_format: "24-bit".into(),
        sample_rate_hz: 48_000,
        channels,
        buffer_frames: Some(512),
    });
    source.seconds = seconds;
    source.state = InputState::Running;
    source
}

/// A trail of `value` over stream time; before the start there is nothing.
fn trail(seconds: f64, value: impl Fn(f64) -> f64) -> Trail {
    let count = (seconds.clamp(0.0, TRAIL_S) * TRAIL_RATE) as usize;
    Trail {
        step_s: 1.0 / TRAIL_RATE,
        values: (0..count)
            .map(|i| value(seconds - (count - 1 - i) as f64 / TRAIL_RATE) as f32)
            .collect(),
    }
}

fn wow(t: f64, percent: f64) -> f64 {
    percent * (TAU * 0.55 * t).sin() + 0.4 * percent * (TAU * 1.3 * t + 1.0).sin()
}

fn flutter_wave(t: f64, percent: f64) -> f64 {
    wow(t, percent) + 0.5 * percent * (TAU * 6.06 * t).sin()
}

fn window(seconds: f64, deviation_percent: f64) -> SpeedWindow {
    SpeedWindow {
        seconds,
        deviation_percent: Some(deviation_percent),
        uncertainty_percent: Some(0.02 / seconds.sqrt()),
    }
}

fn speed(t: f64, offset: f64, wow_percent: f64) -> SpeedReading {
    SpeedReading {
        status: Validity::Ok,
        reference_hz: Some(3150.0),
        measured_hz: Some(3150.0 * (1.0 + offset / 100.0)),
        deviation_percent: Some(offset),
        uncertainty_percent: Some(0.012),
        min_percent: Some(offset - 1.3 * wow_percent),
        max_percent: Some(offset + 1.3 * wow_percent),
        trend_percent_per_minute: Some(-0.004),
        averaged_seconds: t,
        needle: NeedleReading {
            deviation_percent: Some(offset),
            uncertainty_percent: Some(0.02),
            seconds: 1.2,
            wow: NeedleWow::Removed,
            removed_peak_percent: Some(1.4 * wow_percent),
        },
        quick: window(0.25, offset + wow(t, wow_percent)),
        steady: window(2.0, offset + 0.1 * wow(t, wow_percent)),
        long: window(10.0, offset + 0.01 * wow(t, wow_percent)),
        last_turn: TurnReading {
            part: Some("belt".into()),
            seconds: 0.75,
            peak_to_peak_percent: Some(2.4 * wow_percent),
            min_percent: Some(offset - 1.2 * wow_percent),
            max_percent: Some(offset + 1.2 * wow_percent),
        },
        trail: trail(t, |t| offset + wow(t, wow_percent)),
    }
}

fn figures(peak_percent: f64) -> FlutterFigures {
    FlutterFigures {
        quasi_peak_percent: Some(0.86 * peak_percent),
        quasi_peak_max_percent: Some(1.25 * peak_percent),
        two_sigma_percent: Some(0.93 * peak_percent),
        rms_percent: Some(0.47 * peak_percent),
        pointer_percent: Some(peak_percent),
        recent_two_sigma_percent: Some(0.95 * peak_percent),
    }
}

fn component(rate_hz: f64, peak_percent: f64, part: Option<&str>, order: u32) -> Component {
    Component {
        rate_hz,
        peak_percent,
        part: part.map(Into::into),
        order: part.map(|_| order),
    }
}

fn flutter(t: f64, peak_percent: f64) -> FlutterReading {
    let pointer = move |t: f64| peak_percent * (1.0 + 0.18 * (TAU * 0.21 * t).sin());
    let mut weighted = figures(peak_percent);
    weighted.pointer_percent = Some(pointer(t));
    FlutterReading {
        status: Validity::Ok,
        weighted,
        unweighted: figures(1.6 * peak_percent),
        bands: FlutterBands {
            drift_rms_percent: Some(0.2 * peak_percent),
            wow_rms_percent: Some(0.5 * peak_percent),
            flutter_rms_percent: Some(0.31 * peak_percent),
            scrape_rms_percent: Some(0.15 * peak_percent),
            scrape_upper_hz: Some(1200.0),
        },
        components: vec![
            component(0.55, 0.62 * peak_percent, Some("take-up reel"), 1),
            component(6.06, 0.41 * peak_percent, Some("capstan"), 1),
            component(1.3, 0.25 * peak_percent, Some("pinch roller"), 1),
            component(12.12, 0.11 * peak_percent, Some("capstan"), 2),
            component(48.3, 0.05 * peak_percent, None, 1),
        ],
        resolution_hz: Some(0.05),
        averaged_seconds: t,
        trail: trail(t, |t| flutter_wave(t, 0.8 * peak_percent)),
        pointer_trail: trail(t, pointer),
    }
}

fn channel(t: f64, dbfs: f64) -> ChannelLevel {
    ChannelLevel {
        rms_dbfs: Some(dbfs),
        peak_dbfs: Some(dbfs + 0.3),
        tone_dbfs: Some(dbfs - 0.02),
        quick_rms_dbfs: Some(dbfs + 0.05),
        recent_peak_dbfs: Some(dbfs + 0.2),
        vu_dbfs: Some(dbfs),
        ppm_i_dbfs: Some(dbfs + 0.1),
        ppm_ii_dbfs: Some(dbfs + 0.1),
        hum: Some(Hum {
            mains_hz: 50.0,
            fundamental_dbfs: dbfs - 52.0,
            total_dbfs: dbfs - 49.5,
        }),
        trail: trail(t, |t| dbfs + 0.25 * (TAU * 0.4 * t).sin()),
        ..ChannelLevel::default()
    }
}

fn level(t: f64, left_dbfs: f64, right_dbfs: f64) -> LevelReading {
    LevelReading {
        status: Validity::Ok,
        left: channel(t, left_dbfs),
        right: channel(t + 0.7, right_dbfs),
        balance_db: Some(left_dbfs - right_dbfs),
        balance_uncertainty_db: None,
        quick_balance_db: Some(left_dbfs - right_dbfs + 0.04),
        steadiness_db_rms: Some(0.12),
        steadiness_db_peak_to_peak: Some(0.6),
        dropouts: 2,
        deepest_dropout_db: Some(14.2),
        longest_dropout_ms: Some(23.0),
    }
}

fn phase(t: f64, arcmin: f64, wander_arcmin: f64) -> PhaseReading {
    // Cassette: 5.5 µs to the arc minute.
    let delay = |t: f64| 5.4975 * (arcmin + wander_arcmin * (TAU * 0.9 * t).sin());
    PhaseReading {
        status: Validity::Ok,
        method: Some(PhaseMethod::Tone),
        tone_hz: Some(3150.2),
        degrees: Some(360.0 * 3150.2e-6 * 5.4975 * arcmin),
        delay_us: Some(5.4975 * arcmin),
        delay_uncertainty_us: Some(0.03),
        azimuth_arcmin: Some(arcmin),
        azimuth_uncertainty_arcmin: Some(0.3),
        tape_azimuth_arcmin: Some(0.0),
        ambiguous: false,
        cycles_settled_by: Some(CyclesSettled::OnlyCandidate),
        candidates: vec![PhaseCandidate {
            delay_us: 5.4975 * arcmin,
            azimuth_arcmin: arcmin,
        }],
        wander_rms_degrees: Some(0.42),
        wander_peak_to_peak_degrees: Some(1.9),
        wander_rate_hz: Some(0.9),
        mono_sum_loss_db: Some(-0.13),
        mono_sum_loss_10_khz_db: Some(mono_loss_db(5.4975 * arcmin)),
        coherence: Some(0.998),
        quick_degrees: Some(360.0 * 3150.2e-6 * delay(t)),
        quick_delay_us: Some(delay(t)),
        quick_azimuth_arcmin: Some(delay(t) / 5.4975),
        line: None,
        figure: None,
        trail: trail(t, delay),
    }
}

/// 20·lg|cos(π·f·Δt)| at 10 kHz.
fn mono_loss_db(delay_us: f64) -> f64 {
    let kept = (std::f64::consts::PI * 0.01 * delay_us).cos().abs();
    (20.0 * kept.log10()).max(-60.0)
}

/// An azimuth that several tones agree on, with its X–Y figure: a lag of 60° at 10 kHz.
pub fn several_tones(t: f64) -> Readings {
    let mut readings = in_tolerance(t);
    readings.phase = phase(t, 3.03, 0.2);
    readings.phase.tone_hz = Some(10_000.0);
    readings.phase.degrees = Some(60.0);
    readings.phase.quick_degrees = Some(60.0);
    readings.phase.cycles_settled_by = Some(CyclesSettled::LowerTone);
    let point = |frequency_hz: f64, off: f64| PhasePoint {
        frequency_hz,
        degrees: 360e-6 * 16.67 * frequency_hz + off,
        uncertainty_degrees: 2.2,
    };
    readings.phase.line = Some(PhaseLine {
        points: vec![
            point(315.0, 0.4),
            point(1_000.0, -0.7),
            point(3_150.0, 0.9),
            point(6_300.0, -0.5),
            point(10_000.0, 0.1),
        ],
        verdict: LineVerdict::Azimuth,
        delay_us: Some(16.67),
        delay_uncertainty_us: Some(0.61),
        intercept_degrees: Some(0.1),
        intercept_uncertainty_degrees: Some(1.6),
    });
    let points = (0..512).map(|i| {
        let angle = TAU * 0.208_37 * f64::from(i);
        let noise = 0.015 * (17.0 * angle).sin();
        [
            angle.sin() as f32,
            ((angle - TAU / 6.0).sin() + noise) as f32,
        ]
    });
    readings.phase.figure = Some(XyFigure {
        points: points.collect(),
    });
    readings
}

/// As [`several_tones`], but that a lead is reversed.
pub fn reversed_lead(t: f64) -> Readings {
    let mut readings = several_tones(t);
    if let Some(line) = &mut readings.phase.line {
        line.verdict = LineVerdict::OppositePolarity;
        line.intercept_degrees = Some(180.0);
        for point in &mut line.points {
            point.degrees += 180.0;
        }
    }
    readings
}

fn tone() -> ToneReading {
    ToneReading {
        status: Validity::Ok,
        left_hz: Some(3150.2),
        right_hz: Some(3150.2),
        snr_db: Some(61.0),
        second_harmonic_percent: Some(0.3),
        third_harmonic_percent: Some(0.8),
    }
}

/// As a deck often arrives: fast, fluttering, azimuth out, left louder.
pub fn fast_deck(t: f64) -> Readings {
    let mut readings = Readings::empty(source(t, 2));
    readings.tone = tone();
    readings.speed = speed(t, 1.83, 0.12);
    readings.flutter = flutter(t, 0.234);
    readings.level = level(t, -9.8, -12.9);
    readings.phase = phase(t, 8.4, 0.6);
    readings.notices.push(Notice::new(
        NoticeCode::Uncorrected,
        "the tape's tolerance is not known and is left out of the uncertainty; give it with the tape (t)",
    ));
    readings
}

/// As a deck should leave the bench.
pub fn in_tolerance(t: f64) -> Readings {
    let mut readings = Readings::empty(source(t, 2));
    readings.tone = tone();
    readings.speed = speed(t, -0.04, 0.03);
    readings.flutter = flutter(t, 0.061);
    readings.level = level(t, -10.1, -10.4);
    readings.phase = phase(t, -0.5, 0.2);
    readings
}

/// Slow, slightly out; right channel late beyond the accepted, right louder.
pub fn slow_deck(t: f64) -> Readings {
    let mut readings = fast_deck(t);
    readings.speed = speed(t, -0.35, 0.05);
    readings.level = level(t, -13.4, -10.2);
    readings.phase = phase(t, -6.2, 0.4);
    readings.notices.clear();
    readings
}

/// Silence between the sections of the tape.
pub fn no_tone(t: f64) -> Readings {
    let mut readings = Readings::empty(source(t, 2));
    readings.tone.status = Validity::NoTone;
    readings.speed.status = Validity::NoTone;
    readings.flutter.status = Validity::NoTone;
    readings.phase.status = Validity::NoTone;
    let silent_since_s = t - 6.0;
    readings.speed.trail = trail(t, |t| if t < silent_since_s { 1.8 } else { f64::NAN });
    readings.level = level(t, -48.2, -47.9);
    readings
}

/// The input driven into its limit.
pub fn clipped(t: f64) -> Readings {
    let mut readings = fast_deck(t);
    readings.tone.status = Validity::Clipped;
    readings.speed = SpeedReading {
        status: Validity::Clipped,
        ..SpeedReading::default()
    };
    readings.flutter = FlutterReading {
        status: Validity::Clipped,
        ..FlutterReading::default()
    };
    readings.level = level(t, -1.2, -1.3);
    readings.level.left.recent_peak_dbfs = Some(0.4);
    readings.level.right.recent_peak_dbfs = Some(0.3);
    readings.notices = vec![Notice::new(
        NoticeCode::Clipping,
        "left and right clip: 118 flattened tops in the last second; lower the level at the computer's input",
    )];
    readings
}

/// A 10 kHz azimuth tape without a lower tone before it.
pub fn ambiguous(t: f64) -> Readings {
    let mut readings = fast_deck(t);
    readings.phase = phase(t, 2.1, 0.3);
    readings.phase.tone_hz = Some(10_000.0);
    readings.phase.ambiguous = true;
    readings.phase.cycles_settled_by = None;
    readings.phase.mono_sum_loss_10_khz_db = None;
    readings.phase.candidates = [2.1, -16.1, 20.3, -34.3, 38.5]
        .map(|azimuth_arcmin| PhaseCandidate {
            delay_us: 5.4975 * azimuth_arcmin,
            azimuth_arcmin,
        })
        .to_vec();
    readings.speed = SpeedReading {
        status: Validity::NotTheExpectedTone,
        ..SpeedReading::default()
    };
    readings.notices = vec![Notice::new(
        NoticeCode::PhaseAmbiguous,
        "at 10000 Hz whole cycles of 18.2 arcmin are open; play a lower tone, or the candidates are all possible",
    )];
    readings
}

/// The device was unplugged; the meters still hold what they read last.
pub fn input_lost(t: f64) -> Readings {
    let mut readings = fast_deck(t);
    readings.source.state = InputState::Lost("USB line input".into());
    readings.source.lost_frames = 4096;
    readings.source.gaps = 1;
    readings.notices = vec![Notice::new(
        NoticeCode::LostSamples,
        "4096 frames were lost in 1 gap; the windows they fell in are left out",
    )];
    readings
}

/// A mono deck on one channel.
pub fn mono(t: f64) -> Readings {
    let mut readings = in_tolerance(t);
    readings.source = source(t, 1);
    readings.tone.right_hz = None;
    readings.level.right = ChannelLevel::default();
    readings.level.balance_db = None;
    readings.level.quick_balance_db = None;
    readings.phase = PhaseReading {
        status: Validity::OneChannel,
        ..PhaseReading::default()
    };
    readings
}
