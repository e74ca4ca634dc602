//! What is known of the interface and of the tape, in the readings: taken out of the figures, and in their uncertainty.

use std::f64::consts::TAU;
use trimwatch::{
    meters::{ExpectedTone, InputPair, LevelReference, MeterBank, MeterSetup},
    profile::{ClockFigure, InterfaceProfile, LevelFigure, PairFigure},
    readings::{NoticeCode, Readings, SourceDescription, SourceKind, SourceReading, Validity},
    tables::TestTape,
};

const RATE_HZ: f64 = 48_000.0;

fn description() -> SourceDescription {
    SourceDescription {
        kind: SourceKind::SoundCard,
        name: "Bench interface".into(),
        host: Some("ALSA".into()),
        sample_format: "24-bit".into(),
        sample_rate_hz: RATE_HZ as u32,
        channels: 2,
        buffer_frames: None,
    }
}

fn read(setup: &MeterSetup, seconds: f64, wave: impl Fn(f64) -> [f64; 2]) -> Readings {
    let samples: Vec<f32> = (0..(seconds * RATE_HZ) as usize)
        .flat_map(|i| wave(i as f64 / RATE_HZ).map(|x| x as f32))
        .collect();
    let mut bank = MeterBank::new(RATE_HZ, 2, setup);
    bank.process(&samples);
    bank.final_readings(SourceReading::new(description()))
}

fn sine(hz: f64, t: f64) -> f64 {
    0.3 * (TAU * hz * t).sin()
}

/// A tone, with the right channel that much later and the left one that much louder.
fn pair(hz: f64, delay_us: f64, gain_db: f64) -> impl Fn(f64) -> [f64; 2] {
    let gain = 10f64.powf(gain_db / 20.0);
    move |t| [gain * sine(hz, t), sine(hz, t - 1e-6 * delay_us)]
}

fn tape(hz: f64) -> MeterSetup {
    MeterSetup {
        tone_hz: Some(hz),
        ..MeterSetup::new().unwrap()
    }
}

fn measured(skew_us: f64, gain_db: f64) -> InputPair {
    InputPair {
        measured: true,
        skew_us,
        skew_tolerance_us: 0.01,
        gain_db,
        gain_tolerance_db: 0.004,
        opposite_polarity: false,
    }
}

#[track_caller]
fn assert_near(value: Option<f64>, expected: f64, tolerance: f64) {
    let value = value.unwrap();
    assert!(
        (value - expected).abs() <= tolerance,
        "{value} instead of {expected} ± {tolerance}"
    );
}

fn notice(readings: &Readings, code: NoticeCode) -> Option<&str> {
    let mut notices = readings.notices.iter();
    notices
        .find(|notice| notice.code == code)
        .map(|notice| notice.message.as_str())
}

#[test]
fn skew_and_gain_of_the_inputs_are_taken_out_to_the_last_digit() {
    // The deck itself: right 3 µs later, left 0.2 dB louder.
    for hz in [1000.0, 3150.0, 10_000.0] {
        let setup = MeterSetup {
            inputs: measured(7.3, 0.42),
            ..tape(hz)
        };
        let readings = read(&setup, 4.0, pair(hz, 7.3 + 3.0, 0.42 + 0.2));
        assert_near(readings.phase.delay_us, 3.0, 0.02);
        assert_near(readings.phase.degrees, 360.0 * hz * 3e-6, 0.02);
        assert_near(
            readings.phase.azimuth_arcmin,
            setup.tape_format.azimuth_arcmin(3.0),
            0.01,
        );
        assert_near(
            readings.phase.mono_sum_loss_db,
            20.0 * (TAU * hz * 1.5e-6).cos().log10(),
            0.01,
        );
        assert_near(readings.level.balance_db, 0.2, 0.01);
        assert_near(readings.level.balance_uncertainty_db, 0.004, 1e-9);
        assert!(readings.phase.delay_uncertainty_us.unwrap() >= 0.01);
    }
}

#[test]
fn they_are_taken_out_of_needle_and_trail_too() {
    let setup = MeterSetup {
        inputs: measured(7.3, 0.42),
        ..tape(3150.0)
    };
    let mut bank = MeterBank::new(RATE_HZ, 2, &setup);
    let wave = pair(3150.0, 10.3, 0.62);
    let samples: Vec<f32> = (0..4 * RATE_HZ as usize)
        .flat_map(|i| wave(i as f64 / RATE_HZ).map(|x| x as f32))
        .collect();
    bank.process(&samples);
    let readings = bank.readings(SourceReading::new(description()));
    assert_near(readings.phase.quick_delay_us, 3.0, 0.05);
    assert_near(readings.level.quick_balance_db, 0.2, 0.01);
    let last = readings.phase.trail.values.last().copied().map(f64::from);
    assert_near(last, 3.0, 0.05);
}

#[test]
fn a_skew_near_half_a_cycle_does_not_tear_phase_and_trail_apart() {
    // 49 µs of skew turn a 10 kHz tone by 176 degrees.
    let setup = MeterSetup {
        inputs: measured(49.0, 0.0),
        ..tape(10_000.0)
    };
    let readings = read(&setup, 4.0, pair(10_000.0, 49.0 + 3.0, 0.0));
    assert_near(readings.phase.delay_us, 3.0, 0.02);
    let trail = readings
        .phase
        .trail
        .values
        .iter()
        .copied()
        .filter(|us| us.is_finite());
    for us in trail {
        assert!((f64::from(us) - 3.0).abs() < 0.5, "{us}");
    }
}

#[test]
fn programme_is_read_behind_the_inputs_too() {
    let lines: Vec<(f64, f64)> = (0..100)
        .map(|i| (200.0 + 171.3 * f64::from(i), f64::from(i * i)))
        .collect();
    let noise = |t: f64| {
        0.02 * lines
            .iter()
            .map(|(hz, p)| (TAU * hz * t + p).sin())
            .sum::<f64>()
    };
    let setup = MeterSetup {
        inputs: measured(7.3, 0.42),
        ..tape(3150.0)
    };
    let readings = read(&setup, 4.0, |t| [noise(t), noise(t - 10.3e-6)]);
    assert_eq!(readings.phase.status, Validity::Ok);
    assert_near(readings.phase.delay_us, 3.0, 0.05);
}

#[test]
fn an_input_that_is_upside_down_is_turned_over() {
    let upside_down = |t: f64| [sine(3150.0, t), -sine(3150.0, t - 3e-6)];
    let inputs = InputPair {
        opposite_polarity: true,
        ..measured(0.0, 0.0)
    };
    let readings = read(
        &MeterSetup {
            inputs,
            ..tape(3150.0)
        },
        4.0,
        upside_down,
    );
    assert_near(readings.phase.delay_us, 3.0, 0.02);
    let readings = read(&tape(3150.0), 4.0, upside_down);
    assert!(readings.phase.degrees.unwrap().abs() > 170.0);
}

#[test]
fn without_a_profile_the_readings_say_so_and_allow_for_what_may_be() {
    let readings = read(&tape(3150.0), 4.0, pair(3150.0, 0.0, 0.0));
    let message = notice(&readings, NoticeCode::Uncorrected).unwrap();
    for words in ["uncorrected", "±50 ppm", "±0.5 µs", "±0.5 dB"] {
        assert!(message.contains(words), "{message}");
    }
    assert!(readings.phase.delay_uncertainty_us.unwrap() >= 0.5);
    assert_near(readings.level.balance_uncertainty_db, 0.5, 1e-9);
    assert!(readings.speed.uncertainty_percent.unwrap() >= 0.005);
}

fn profile() -> InterfaceProfile {
    let measured = "2026-03-01T10:00:00Z".parse().unwrap();
    InterfaceProfile {
        clock: Some(ClockFigure {
            error_ppm: 37.0,
            uncertainty_ppm: 0.4,
            seconds: 1200.0,
            computer_clock: "synchronised".into(),
            measured,
        }),
        inputs: Some(PairFigure {
            skew_us: 7.3,
            skew_uncertainty_us: 0.01,
            gain_db: 0.42,
            gain_uncertainty_db: 0.004,
            opposite_polarity: false,
            leads: "straight".into(),
            tones_hz: vec![400.0, 10_000.0],
            measured,
        }),
        level: Some(LevelFigure {
            left_full_scale_volts_rms: Some(2.0),
            right_full_scale_volts_rms: None,
            uncertainty_percent: 1.0,
            typed_volts_rms: 0.5,
            tone_hz: 400.0,
            measured,
        }),
        ..InterfaceProfile::new(&description())
    }
}

#[test]
fn a_whole_profile_corrects_speed_phase_balance_and_volts() {
    let setup = tape(3150.0).with_profile(&profile());
    // A card that is 37 ppm fast hears a true tone 37 ppm low.
    let heard_hz = 3150.0 / (1.0 + 37e-6);
    let readings = read(&setup, 6.0, pair(heard_hz, 7.3, 0.42));
    assert_near(readings.speed.deviation_percent, 0.0, 1e-4);
    // The clock's part of the uncertainty is what it may move from day to day, not 50 ppm.
    assert!(readings.speed.uncertainty_percent.unwrap() < 0.001);
    assert_near(readings.phase.delay_us, 0.0, 0.02);
    assert_near(readings.level.balance_db, 0.0, 0.01);
    assert_eq!(notice(&readings, NoticeCode::Uncorrected), None);
    // Both inputs carry the same voltage; the left one's full scale is 2 V.
    let left_dbfs = readings.level.left.tone_dbfs.unwrap();
    let expected_dbv = left_dbfs + 20.0 * 2f64.log10();
    assert_near(readings.level.left.level_dbv, expected_dbv, 1e-9);
    assert_near(readings.level.right.level_dbv, expected_dbv, 0.01);
    // dBFS stay the converter's.
    assert_near(readings.level.right.tone_dbfs, left_dbfs - 0.42, 0.01);
}

#[test]
fn a_profile_against_a_clock_that_was_not_synchronised_keeps_its_doubt() {
    let mut profile = profile();
    profile.clock.as_mut().unwrap().computer_clock = "not synchronised".into();
    let readings = read(
        &tape(3150.0).with_profile(&profile),
        4.0,
        pair(3150.0, 7.3, 0.42),
    );
    assert!(readings.speed.uncertainty_percent.unwrap() >= 0.005);
    assert!(
        notice(&readings, NoticeCode::Uncorrected)
            .unwrap()
            .contains("ppm")
    );
}

#[test]
fn settings_that_change_on_the_way_hold_from_then_on() {
    let mut bank = MeterBank::new(RATE_HZ, 2, &tape(3150.0));
    let wave = pair(3150.0, 10.3, 0.62);
    let samples: Vec<f32> = (0..4 * RATE_HZ as usize)
        .flat_map(|i| wave(i as f64 / RATE_HZ).map(|x| x as f32))
        .collect();
    bank.process(&samples);
    bank.change_setup(&MeterSetup {
        inputs: measured(7.3, 0.42),
        ..tape(3150.0)
    });
    bank.process(&samples);
    let readings = bank.final_readings(SourceReading::new(description()));
    assert_near(readings.phase.delay_us, 3.0, 0.02);
    assert_near(readings.level.balance_db, 0.2, 0.01);
}

/// A tape as its certificate may have it.
fn certified() -> TestTape {
    let text = r#"
[[tape]]
name = "mine"
title = "Mine"
fluxivity_nwb_per_m = 250.0
source = "invented"
[[tape.tone]]
hz = 3150.0
use = "speed"
level_db = 0.0
frequency_correction_percent = -0.1
frequency_tolerance_percent = 0.05
[[tape.tone]]
hz = 315.0
use = "level"
level_db = 0.0
level_correction_db = 0.3
[[tape.tone]]
hz = 10000.0
use = "azimuth"
level_db = -10.0
level_correction_db = -0.2
azimuth_correction_arcmin = 0.5
azimuth_tolerance_arcmin = 1.0
frequency_correction_percent = 0.2
"#;
    TestTape::parse_all("mine.toml", text).unwrap().remove(0)
}

#[test]
fn each_tone_of_a_tape_is_read_with_its_own_certificate() {
    let setup = MeterSetup {
        inputs: measured(0.0, 0.0),
        ..MeterSetup::new().unwrap().with_tape(&certified())
    };
    let speed = read(&setup, 6.0, pair(3150.0, 0.0, 0.0));
    assert_near(speed.speed.reference_hz, 3150.0 * 0.999, 1e-9);
    assert_near(
        speed.speed.deviation_percent,
        100.0 * (1.0 / 0.999 - 1.0),
        1e-4,
    );
    assert!(speed.speed.uncertainty_percent.unwrap() >= 0.05);
    let azimuth = read(&setup, 6.0, pair(10_020.0, 0.0, 0.0));
    assert_near(azimuth.speed.deviation_percent, 0.0, 1e-4);
    // A head that stands true on this tape has an azimuth of its own: minus the tape's.
    assert_near(azimuth.phase.azimuth_arcmin, -0.5, 0.01);
    assert_near(azimuth.phase.delay_us, 0.0, 0.01);
    assert_near(azimuth.phase.azimuth_uncertainty_arcmin, 1.0, 0.01);
}

#[test]
fn the_level_tapes_correction_enters_what_is_referred_to_it() {
    // The level tone was at −10.46 dBFS, and by its certificate is 0.3 dB stronger than 250 nWb/m.
    let level_reference = Some(LevelReference {
        left_dbfs: -10.46,
        right_dbfs: -10.46,
        fluxivity_nwb_per_m: 250.0,
        correction_db: 0.3,
    });
    let setup = MeterSetup {
        level_reference,
        ..MeterSetup::new().unwrap().with_tape(&certified())
    };
    // The same tone again is 0.3 dB over the nominal fluxivity, and as the tape says.
    let dbfs = 20.0 * 0.3f64.log10();
    let level = read(&setup, 4.0, pair(315.0, 0.0, 0.0)).level;
    assert_near(
        level.left.relative_to_reference_db,
        dbfs + 10.46 + 0.3,
        0.01,
    );
    assert_near(level.left.from_tape_db, dbfs + 10.46, 0.01);
    // The azimuth tone should read −10.2 dB.
    let level = read(&setup, 4.0, |t| {
        pair(10_000.0, 0.0, 0.0)(t).map(|x| x * 10f64.powf(-0.5))
    })
    .level;
    assert_near(
        level.left.from_tape_db,
        dbfs - 10.0 + 10.46 + 0.3 + 10.2,
        0.02,
    );
}

#[test]
fn a_tone_typed_goes_before_the_tapes_own() {
    let mut setup = MeterSetup::new().unwrap().with_tape(&certified());
    setup.tone_hz = Some(1000.0);
    setup.tone_correction_percent = 0.0;
    let expected = setup.expected_tone(3100.0, &[3000.0, 3150.0]);
    assert_eq!(
        expected,
        ExpectedTone {
            nominal_hz: 1000.0,
            ..expected
        }
    );
    assert_eq!(expected.reference_hz(), 1000.0);
}

#[test]
fn which_of_two_tapes_plays_is_a_question_with_both_figures() {
    let asked = |setup: &MeterSetup, hz: f64| {
        let readings = read(setup, 4.0, pair(hz, 0.0, 0.0));
        notice(&readings, NoticeCode::OtherStandardTone).map(str::to_owned)
    };
    // A 3150 Hz tape on a deck 4.6 % slow, or a 3000 Hz tape on one that is nearly right?
    let question = asked(&tape(3150.0), 3005.0).unwrap();
    for figure in ["3005 Hz", "3150 Hz", "-4.60 %", "3000 Hz", "+0.17 %", "?"] {
        assert!(question.contains(figure), "{figure} in {question}");
    }
    // The reverse.
    let question = asked(&tape(3000.0), 3143.0).unwrap();
    assert!(
        question.contains("+4.77 %") && question.contains("-0.22 %"),
        "{question}"
    );
    // No tape chosen and a deck far off: either.
    let none = MeterSetup::new().unwrap();
    let question = asked(&none, 3085.0).unwrap();
    assert!(
        question.contains("-2.06 %") && question.contains("+2.83 %"),
        "{question}"
    );
    // For a window that puts it with its answers.
    let put = |setup: &MeterSetup, hz: f64| read(setup, 4.0, pair(hz, 0.0, 0.0)).tape_question;
    let question = put(&none, 3085.0).unwrap();
    assert_eq!((question.taken_hz, question.other_hz), (3150.0, 3000.0));
    assert!((question.measured_hz - 3085.0).abs() < 0.01, "{question:?}");
    assert!(
        (question.taken_deviation_percent + 2.063).abs() < 0.001,
        "{question:?}"
    );
    assert!(
        (question.other_deviation_percent - 2.833).abs() < 0.001,
        "{question:?}"
    );
    // Once it is answered it is not asked again, whatever the answer.
    for answer_hz in [3000.0, 3150.0] {
        let answered = MeterSetup {
            tape_is_certain: true,
            ..tape(answer_hz)
        };
        assert_eq!(put(&answered, 3085.0), None);
        assert_eq!(asked(&answered, 3085.0), None);
    }
    // What is plain is not asked.
    assert_eq!(put(&tape(3150.0), 3170.0), None);
    assert_eq!(asked(&tape(3150.0), 3170.0), None);
    assert_eq!(asked(&none, 3010.0), None);
    assert_eq!(asked(&tape(1000.0), 1003.0), None);
}
