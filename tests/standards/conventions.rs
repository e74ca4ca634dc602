//! The signs and references of the readings.

use crate::{
    stage::{TONE_HZ, assert_near, json, measure, tape},
    synth::{Noise, fluttering, mono, stereo, tone, true_speed},
};
use trimwatch::{meters::MeterSetup, readings::Readings};

const SAMPLE_RATE_HZ: f64 = 48_000.0;

fn deviation(setup: &MeterSetup, hz: f64) -> f64 {
    let take = mono(SAMPLE_RATE_HZ, 4.0, tone(hz, 0.5, true_speed));
    let speed = measure(SAMPLE_RATE_HZ, 1, setup, &take).speed;
    speed.deviation_percent.unwrap()
}

#[test]
fn fast_is_positive() {
    for percent in [1.5, 0.2, -0.2, -3.0] {
        let hz = TONE_HZ * (1.0 + percent / 100.0);
        assert_near("%", deviation(&tape(TONE_HZ), hz), percent, 1e-6);
    }
}

/// f_reference = nominal × (1 + certificate's correction): a tape recorded 0.3 % high that plays 0.3 % high is right.
#[test]
fn the_certificates_correction_moves_the_reference() {
    let mut setup = tape(TONE_HZ);
    setup.tone_correction_percent = 0.3;
    assert_near("%", deviation(&setup, TONE_HZ * 1.003), 0.0, 1e-6);
}

/// A card that samples 100 ppm fast takes more samples a cycle and so sees the tone 100 ppm low.
#[test]
fn a_fast_clock_is_corrected() {
    let mut setup = tape(TONE_HZ);
    setup.clock_error_ppm = 100.0;
    let seen_hz = TONE_HZ / (1.0 + 100e-6);
    assert_near("%", deviation(&setup, seen_hz), 0.0, 1e-6);
}

/// Left is louder by 2 dB, right arrives 20 µs later.
fn lopsided() -> (impl Fn(f64) -> f64, impl Fn(f64) -> f64) {
    let wave = tone(TONE_HZ, 0.5, fluttering([(4.0, 0.05)]));
    let right = move |t: f64| 10f64.powf(-0.1) * wave(t - 20e-6);
    (wave, right)
}

fn read(left: impl Fn(f64) -> f64, right: impl Fn(f64) -> f64) -> Readings {
    let mut take = stereo(SAMPLE_RATE_HZ, 10.0, left, right);
    // The same noise on both: swapping the channels swaps it too.
    let mut noise = Noise::new(1);
    for frame in take.as_chunks_mut::<2>().0 {
        let x = 1e-4 * noise.next() as f32;
        frame[0] += x;
        frame[1] += x;
    }
    measure(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ), &take)
}

#[test]
fn right_later_and_left_louder_are_positive() {
    let (left, right) = lopsided();
    let readings = read(left, right);
    let phase = &readings.phase;
    assert_near("delay, µs", phase.delay_us.unwrap(), 20.0, 0.01);
    let degrees = 360.0 * TONE_HZ * 20e-6;
    assert_near("degrees", phase.degrees.unwrap(), degrees, 0.02);
    assert!(phase.azimuth_arcmin.unwrap() > 0.0);
    let quick_us = phase.quick_delay_us.unwrap();
    assert_near("quick delay, µs", quick_us, 20.0, 0.05);
    assert_near("balance, dB", readings.level.balance_db.unwrap(), 2.0, 0.01);
}

#[test]
fn swapped_channels_mirror() {
    let (left, right) = lopsided();
    let there = read(left, right);
    let (left, right) = lopsided();
    let back = read(right, left);
    let mirrored =
        |a: Option<f64>, b: Option<f64>| assert_near("sum", a.unwrap() + b.unwrap(), 0.0, 1e-9);
    mirrored(there.phase.delay_us, back.phase.delay_us);
    mirrored(there.phase.degrees, back.phase.degrees);
    mirrored(there.phase.azimuth_arcmin, back.phase.azimuth_arcmin);
    mirrored(there.phase.quick_degrees, back.phase.quick_degrees);
    mirrored(there.level.balance_db, back.level.balance_db);
    let same = |a: Option<f64>, b: Option<f64>| assert_near("value", a.unwrap(), b.unwrap(), 1e-9);
    same(there.speed.deviation_percent, back.speed.deviation_percent);
    same(
        there.flutter.weighted.rms_percent,
        back.flutter.weighted.rms_percent,
    );
    same(there.phase.mono_sum_loss_db, back.phase.mono_sum_loss_db);
    same(there.level.left.rms_dbfs, back.level.right.rms_dbfs);
    same(there.level.right.peak_dbfs, back.level.left.peak_dbfs);
    assert_ne!(json(&there), json(&back));
}

/// Sum of two equal channels φ apart: 20·lg|cos(φ/2)|.
#[test]
fn the_mono_sum_loses_what_the_phase_takes() {
    for degrees in [0.0, 30.0, 90.0, -120.0] {
        let wave = tone(TONE_HZ, 0.5, true_speed);
        let delay_s = degrees / 360.0 / TONE_HZ;
        let take = stereo(SAMPLE_RATE_HZ, 2.0, wave, |t| wave(t - delay_s));
        let phase = measure(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ), &take).phase;
        let expected_db = 20.0 * (degrees / 2.0).to_radians().cos().log10();
        let loss_db = phase.mono_sum_loss_db.unwrap();
        assert_near(format!("{degrees}°, dB"), loss_db, expected_db, 0.001);
        assert_near("degrees", phase.degrees.unwrap(), degrees, 0.001);
    }
}
