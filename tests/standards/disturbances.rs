//! What must not move a reading: hum, distortion, the other speed tone, an offset, the sample rate, coarse samples.

use crate::{
    stage::{TONE_HZ, assert_near, measure, tape},
    synth::{Noise, fluttering, mono, stereo, tone, true_speed},
};
use std::f64::consts::TAU;
use trimwatch::readings::{Readings, Validity};

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.4;

fn read(take: &[f32]) -> Readings {
    measure(SAMPLE_RATE_HZ, 1, &tape(TONE_HZ), take)
}

/// A steady tone 0.5 % slow with something beside it, at `share` of its amplitude.
fn beside(share: f64, other: impl Fn(f64) -> f64) -> Readings {
    let wave = tone(TONE_HZ * 0.995, AMPLITUDE, true_speed);
    read(&mono(SAMPLE_RATE_HZ, 12.0, |t| {
        wave(t) + share * AMPLITUDE * other(t)
    }))
}

fn sine(hz: f64) -> impl Fn(f64) -> f64 {
    move |t| (TAU * hz * t).sin()
}

#[test]
fn what_stands_beside_the_tone_does_not_pull_it() {
    let third_harmonic = sine(3.0 * TONE_HZ * 0.995);
    let readings = [
        ("hum at −30 dB", beside(0.0316, sine(50.0))),
        ("hum at −30 dB, sixth harmonic", beside(0.0316, sine(360.0))),
        ("5 % third harmonic", beside(0.05, third_harmonic)),
        ("1 % of the other speed tone", beside(0.01, sine(3000.0))),
        ("an offset", beside(0.25, |_| 1.0)),
    ];
    for (what, readings) in readings {
        let speed = &readings.speed;
        assert_eq!(speed.status, Validity::Ok, "{what}");
        for percent in [
            speed.deviation_percent,
            speed.steady.deviation_percent,
            speed.long.deviation_percent,
        ] {
            assert_near(format!("{what}, %"), percent.unwrap(), -0.5, 2e-5);
        }
    }
}

#[test]
fn every_sample_rate_reads_the_same() {
    for sample_rate_hz in [
        8_000.0, 11_025.0, 16_000.0, 22_050.0, 32_000.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0,
        176_400.0, 192_000.0, 384_000.0,
    ] {
        let wave = tone(TONE_HZ * 1.004, AMPLITUDE, true_speed);
        let take = stereo(sample_rate_hz, 3.0, wave, |t| wave(t - 30e-6));
        let readings = measure(sample_rate_hz, 2, &tape(TONE_HZ), &take);
        let what = |of| format!("{of} at {sample_rate_hz} Hz");
        let percent = readings.speed.deviation_percent.unwrap();
        assert_near(what("speed, %"), percent, 0.4, 1e-5);
        let delay_us = readings.phase.delay_us.unwrap();
        assert_near(what("delay, µs"), delay_us, 30.0, 0.001);
        let level_dbfs = readings.level.left.tone_dbfs.unwrap();
        let expected_dbfs = 20.0 * AMPLITUDE.log10();
        assert_near(what("level, dBFS"), level_dbfs, expected_dbfs, 0.02);
    }
}

/// A tone in samples of `bits`, with the triangular dither of two steps that makes their error white.
fn in_bits(bits: u32, dithered: bool, wave: impl Fn(f64) -> f64) -> Vec<f32> {
    let step = 2f64.powi(1 - bits.cast_signed());
    let mut noise = Noise::new(12);
    (0..20 * SAMPLE_RATE_HZ as u32)
        .map(|i| {
            let x = wave(f64::from(i) / SAMPLE_RATE_HZ);
            let dither = if dithered { noise.triangular() } else { 0.0 };
            ((x / step + dither).round() * step) as f32
        })
        .collect()
}

#[test]
fn an_ideal_24_bit_tone_has_no_flutter() {
    let take = in_bits(24, false, tone(TONE_HZ, 0.5, true_speed));
    let rms = read(&take).flutter.weighted.rms_percent.unwrap();
    assert!(rms <= 0.000_05, "{rms} %");
}

/// White noise phase-modulates a tone: with η = A²/2σ² its phase has the one-sided density 2/(η·fs) rad²/Hz (N samples
/// of which leave the variance 1/(η·N)), so the deviation has 2·(100·r/f)²/(η·fs) %²/Hz at rate r. The unweighted
/// reading collects it from 0.2 to 200 Hz.
#[test]
fn noise_makes_the_flutter_that_it_must() {
    for snr_db in [40.0, 50.0, 60.0] {
        let eta = 10f64.powf(snr_db / 10.0);
        let wave = tone(TONE_HZ, AMPLITUDE, true_speed);
        let mut take = mono(SAMPLE_RATE_HZ, 20.0, wave);
        Noise::new(21).add(&mut take, AMPLITUDE / (2.0 * eta).sqrt());
        let flutter = read(&take).flutter;
        // A Butterworth edge of eighth order passes r² noise as an ideal one at 200 Hz does, within 5 %.
        let must = 100.0 / TONE_HZ * (2.0 * 200f64.powi(3) / 3.0 / (eta * SAMPLE_RATE_HZ)).sqrt();
        let ratio = flutter.unweighted.rms_percent.unwrap() / must;
        assert_near(
            format!("{snr_db} dB, over what noise makes"),
            ratio,
            1.0,
            0.1,
        );
    }
}

/// Steps of 16 bits at −20 dBFS, dithered: noise 81 dB below the tone over half the sample rate.
#[test]
fn sixteen_bits_are_enough_for_a_good_deck() {
    let take = in_bits(16, true, tone(TONE_HZ, 0.1, fluttering([(4.0, 0.02)])));
    let weighted = read(&take).flutter.weighted;
    let rms = weighted.rms_percent.unwrap();
    assert_near("rms, %", rms, 0.02 / 2f64.sqrt(), 0.000_1);
}
