//! IEC 60386 / DIN 45507: what the quasi-peak indicator reads of unidirectional pulses, one a second, against a 4 Hz
//! sine of the same peak-to-peak value.
//!
//! 60 ms, 100 ms and the fall stand in a published abstract of AES6-1982; 10 ms, 30 ms and all tolerances are values
//! from memory. Whether the pulses enter before or after the weighting is not settled: both paths are held to it.

use crate::{
    stage::{Bench, TONE_HZ, assert_near, measure, tape},
    synth::{fluttering, mono, pulsing, tone},
};
use trimwatch::readings::FlutterReading;

/// Pulse ms, reading %, tolerance %.
const TABLE: [(f64, f64, f64); 4] = [
    (10.0, 21.0, 3.0),
    (30.0, 62.0, 6.0),
    (60.0, 90.0, 6.0),
    (100.0, 100.0, 4.0),
];
const FALL: (f64, f64) = (40.0, 4.0);
const PEAK_TO_PEAK_PERCENT: f64 = 0.5;

fn of_a_sine(sample_rate_hz: f64) -> FlutterReading {
    let sine = fluttering([(4.0, PEAK_TO_PEAK_PERCENT / 2.0)]);
    let take = mono(sample_rate_hz, 12.0, tone(TONE_HZ, 0.5, sine));
    let flutter = measure(sample_rate_hz, 1, &tape(TONE_HZ), &take).flutter;
    assert!(flutter.status.is_ok(), "{}", flutter.status);
    flutter
}

#[test]
fn pulses_of_each_length() {
    for sample_rate_hz in [44_100.0, 48_000.0, 96_000.0] {
        let sine = of_a_sine(sample_rate_hz);
        for (pulse_ms, expected, tolerance) in TABLE {
            let pulses = pulsing(PEAK_TO_PEAK_PERCENT, pulse_ms * 1e-3);
            let take = mono(sample_rate_hz, 14.0, tone(TONE_HZ, 0.5, pulses));
            let read = measure(sample_rate_hz, 1, &tape(TONE_HZ), &take).flutter;
            assert!(
                read.status.is_ok(),
                "{pulse_ms} ms at {sample_rate_hz} Hz: {}",
                read.status
            );
            for (path, pulse, sine) in [
                ("weighted", read.weighted, sine.weighted),
                ("unweighted", read.unweighted, sine.unweighted),
            ] {
                let percent = 100.0 * pulse.quasi_peak_max_percent.unwrap()
                    / sine.quasi_peak_percent.unwrap();
                let what = format!("{path}, {pulse_ms} ms at {sample_rate_hz} Hz, %");
                assert_near(what, percent, expected, tolerance);
            }
        }
    }
}

/// Between pulses of 100 ms the pointer falls to 40 % of where it stood.
#[test]
fn the_pointer_falls_between_pulses() {
    let sample_rate_hz = 48_000.0;
    let pulses = pulsing(PEAK_TO_PEAK_PERCENT, 0.1);
    let take = mono(sample_rate_hz, 14.0, tone(TONE_HZ, 0.5, pulses));
    let (before, last) = take.split_at(take.len() - 2 * sample_rate_hz as usize);
    let mut bench = Bench::new(sample_rate_hz, 1, &tape(TONE_HZ));
    bench.feed(before);
    let (mut weighted, mut unweighted) = (Vec::new(), Vec::new());
    for piece in last.chunks(192) {
        let flutter = bench.feed(piece).now().flutter;
        weighted.push(flutter.weighted.pointer_percent.unwrap());
        unweighted.push(flutter.unweighted.pointer_percent.unwrap());
    }
    for (path, pointer) in [("weighted", weighted), ("unweighted", unweighted)] {
        let greatest = pointer.iter().copied().fold(0.0, f64::max);
        let least = pointer.iter().copied().fold(f64::MAX, f64::min);
        let percent = 100.0 * least / greatest;
        assert_near(format!("{path} falls to, %"), percent, FALL.0, FALL.1);
    }
}
