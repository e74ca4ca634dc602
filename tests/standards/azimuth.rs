//! Azimuth of a delay, and what a tilted head loses: published example, calculated table, and both end to end.

use crate::{
    stage::{assert_near, measure, tape},
    synth::{stereo, tone, true_speed},
};
use trimwatch::tables::{TapeFormat, tape_format};

fn degrees(format: &TapeFormat, azimuth_arcmin: f64, tone_hz: f64) -> f64 {
    360.0 * tone_hz * format.delay_us(azimuth_arcmin) * 1e-6
}

/// J. G. McKnight, 'Azimuth in a Magnetic Tape Recorder': an error of 300 µrad (1'), 10 kHz, edge tracks of a
/// quarter-inch tape (4.0 mm apart): 45° at 95 mm/s, 22° at 190 mm/s, either sign. The paper rounds.
#[test]
fn the_published_worked_example() {
    let arcmin = 300e-6f64.to_degrees() * 60.0;
    for (name, expected) in [
        ("reel-two-track-nab-9.5", 45.0),
        ("reel-two-track-nab-19", 22.0),
    ] {
        let format = tape_format(name).unwrap();
        for sign in [1.0, -1.0] {
            let degrees = degrees(format, sign * arcmin, 10_000.0);
            assert_near(name, degrees, sign * expected, 0.8);
        }
    }
}

/// arc minutes, delay µs, degrees at 1, 3.15, 6.3 and 10 kHz, loss dB at 10 and 15 kHz: cassette, calculated from
/// 0.9 mm between tracks of 0.6 mm at 47.625 mm/s (Δt = d·tan α / v; 20·lg|sin x / x|).
const CASSETTE: [[f64; 8]; 6] = [
    [1.0, 5.5, 2.0, 6.2, 12.5, 19.8, -0.02, -0.04],
    [3.0, 16.5, 5.9, 18.7, 37.4, 59.4, -0.17, -0.39],
    [5.0, 27.5, 9.9, 31.2, 62.3, 98.9, -0.49, -1.11],
    [10.0, 55.0, 19.8, 62.3, 124.7, 197.9, -2.01, -4.85],
    [15.0, 82.5, 29.7, 93.5, 187.0, 296.8, -4.85, -13.9],
    [20.0, 109.9, 39.6, 124.7, 249.4, 395.8, -9.81, -21.0],
];

#[test]
fn the_cassette_table() {
    let format = tape_format("cassette-stereo").unwrap();
    for [
        arcmin,
        delay_us,
        at_1k,
        at_3150,
        at_6k3,
        at_10k,
        loss_10k,
        loss_15k,
    ] in CASSETTE
    {
        let what = |of| format!("{arcmin}': {of}");
        assert_near(what("µs"), format.delay_us(arcmin), delay_us, 0.06);
        assert_near(what("back"), format.azimuth_arcmin(delay_us), arcmin, 0.02);
        for (tone_hz, expected) in [
            (1000.0, at_1k),
            (3150.0, at_3150),
            (6300.0, at_6k3),
            (10_000.0, at_10k),
        ] {
            let degrees = degrees(format, arcmin, tone_hz);
            assert_near(what("degrees"), degrees, expected, 0.06);
        }
        for (tone_hz, expected) in [(10_000.0, loss_10k), (15_000.0, loss_15k)] {
            let loss_db = format.azimuth_loss_db(arcmin, tone_hz);
            // The table's last two figures stand beside a null, where a rounded 20' makes a tenth of a dB.
            let tolerance = if expected > -12.0 { 0.006 } else { 0.06 };
            assert_near(what("loss, dB"), loss_db, expected, tolerance);
        }
    }
}

/// One mono track of 1.5 mm at 10 kHz, calculated.
#[test]
fn a_wide_track_loses_more() {
    let mut mono = tape_format("cassette-stereo").unwrap().clone();
    mono.track_width_m = 1.5e-3;
    for (arcmin, expected_db) in [(3.0, -1.1), (5.0, -3.2), (6.0, -4.9)] {
        let loss_db = mono.azimuth_loss_db(arcmin, 10_000.0);
        assert_near(format!("{arcmin}'"), loss_db, expected_db, 0.06);
    }
}

/// From samples to arc minutes: each row of the table that is less than half a cycle at its tone.
#[test]
fn the_meters_read_the_table_off_a_tone() {
    for [arcmin, _, at_1k, at_3150, ..] in CASSETTE {
        for (tone_hz, expected) in [(1000.0, at_1k), (3150.0, at_3150)] {
            for sign in [1.0, -1.0] {
                let setup = tape(tone_hz);
                let delay_s = sign * setup.tape_format.delay_us(arcmin) * 1e-6;
                let wave = tone(tone_hz, 0.5, true_speed);
                let take = stereo(48_000.0, 2.5, wave, |t| wave(t - delay_s));
                let phase = measure(48_000.0, 2, &setup, &take).phase;
                let what = format!("{arcmin}' at {tone_hz} Hz, degrees");
                assert_near(what, phase.degrees.unwrap(), sign * expected, 0.06);
                let read = phase.azimuth_arcmin.unwrap();
                assert_near("arc minutes", read, sign * arcmin, 0.001);
            }
        }
    }
}
