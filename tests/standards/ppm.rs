//! IEC 60268-10, peak programme meters: what bursts of a 5 kHz tone read against the steady tone, and the return.
//!
//! Type I: its return is published, its burst readings and all tolerances are values from memory. Type II: the list of
//! bursts is published, the tolerances are from memory.

use crate::{
    stage::assert_near,
    synth::{mono, tone, true_speed},
};
use trimwatch::signal::ballistics::PpmPair;

const RATES_HZ: [f64; 4] = [44_100.0, 48_000.0, 96_000.0, 192_000.0];
/// Burst ms, dB, tolerance dB.
const TYPE_I: [(f64, f64, f64); 4] = [
    (10.0, -1.0, 0.5),
    (5.0, -2.0, 1.0),
    (3.0, -4.0, 1.0),
    (0.4, -15.0, 4.0),
];
const TYPE_II: [(f64, f64, f64); 5] = [
    (100.0, 0.0, 0.5),
    (10.0, -2.5, 0.5),
    (5.0, -4.0, 0.5),
    (1.5, -9.0, 1.0),
    (0.5, -17.0, 2.0),
];

/// Both types after each sample: `burst_s` of a full-scale 5 kHz tone, then silence up to `seconds`.
fn read(sample_rate_hz: f64, burst_s: f64, seconds: f64) -> Vec<[f64; 2]> {
    let wave = tone(5000.0, 1.0, true_speed);
    // A hair less, so that rounding never adds a sample to the burst.
    let gated = |t: f64| if t < burst_s - 1e-9 { wave(t) } else { 0.0 };
    let mut ppm = PpmPair::new(sample_rate_hz);
    mono(sample_rate_hz, seconds, gated)
        .into_iter()
        .map(|sample| {
            let sample = [f64::from(sample)];
            ppm.process(&sample, &sample);
            [ppm.type_i(0), ppm.type_ii(0)]
        })
        .collect()
}

fn db(reading: f64) -> f64 {
    20.0 * reading.log10()
}

fn bursts(table: &[(f64, f64, f64)], kind: usize) {
    for sample_rate_hz in RATES_HZ {
        let steady = read(sample_rate_hz, 2.0, 2.0).last().unwrap()[kind];
        assert_near("steady tone, dB", db(steady), 0.0, 0.1);
        for &(burst_ms, expected_db, tolerance_db) in table {
            let burst_s = burst_ms * 1e-3;
            let readings = read(sample_rate_hz, burst_s, burst_s + 0.02);
            let greatest = readings.iter().map(|both| both[kind]).fold(0.0, f64::max);
            let what = format!("{burst_ms} ms at {sample_rate_hz} Hz, dB");
            assert_near(what, db(greatest / steady), expected_db, tolerance_db);
        }
    }
}

/// Seconds from the end of a long burst until the reading has fallen by `fall_db`.
fn return_s(sample_rate_hz: f64, kind: usize, fall_db: f64) -> f64 {
    let readings = read(sample_rate_hz, 1.0, 5.0);
    let end = sample_rate_hz as usize;
    let target = readings[end - 1][kind] * 10f64.powf(-fall_db / 20.0);
    let fallen = readings[end..].iter().position(|both| both[kind] <= target);
    fallen.unwrap() as f64 / sample_rate_hz
}

#[test]
fn type_i_bursts() {
    bursts(&TYPE_I, 0);
}

#[test]
fn type_ii_bursts() {
    bursts(&TYPE_II, 1);
}

#[test]
fn returns() {
    for sample_rate_hz in RATES_HZ {
        assert_near("Type I, 20 dB", return_s(sample_rate_hz, 0, 20.0), 1.7, 0.3);
        assert_near(
            "Type II, 24 dB",
            return_s(sample_rate_hz, 1, 24.0),
            2.8,
            0.3,
        );
    }
}

#[test]
fn the_channels_do_not_touch_each_other() {
    let loud = mono(48_000.0, 0.1, tone(5000.0, 1.0, true_speed));
    let loud: Vec<f64> = loud.into_iter().map(f64::from).collect();
    let silent = vec![0.0; loud.len()];
    let mut ppm = PpmPair::new(48_000.0);
    ppm.process(&loud, &silent);
    assert!(ppm.type_i(0) > 0.9 && ppm.type_ii(0) > 0.9);
    assert_eq!((ppm.type_i(1), ppm.type_ii(1)), (0.0, 0.0));
}
