//! What must not move a reading: hum, distortion, the other speed tone, an offset, the sample rate.

use crate::{
    stage::{TONE_HZ, assert_near, measure, tape},
    synth::{mono, stereo, tone, true_speed},
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
