//! How soon a reading follows what happens, counted in samples: the stream comes a millisecond at a time and a snapshot
//! is taken after each. What the worker's clock adds is measured by `cargo bench --bench bounds -- ring`.

use crate::{
    stage::{Bench, TONE_HZ, tape},
    synth::{stepping, stereo, tone, true_speed},
};
use trimwatch::readings::Readings;

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.4;
const PIECE: usize = 2 * 48;
/// The change comes here, and the watch ends there.
const CHANGE_S: f64 = 3.0;
const END_S: f64 = 3.5;
/// The project's bars: a step of the speed is at 90 % of the needle, a step of the phase at 90 % of its own.
const SPEED_BAR_MS: f64 = 120.0;
const PHASE_BAR_MS: f64 = 60.0;

/// Milliseconds from the change to the first snapshot in which `reading` is past 90 % of its way, there for good.
fn to_90_percent_ms(
    take: &[f32],
    from: f64,
    to: f64,
    reading: fn(&Readings) -> Option<f64>,
) -> f64 {
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    let (before, after) = take.split_at(2 * (CHANGE_S * SAMPLE_RATE_HZ) as usize);
    // The needle is worked out while somebody looks.
    for piece in before.chunks(100 * PIECE) {
        bench.feed(piece).now();
    }
    let start = reading(&bench.now()).expect("a reading before the change");
    assert!((start - from).abs() < 0.05 * (to - from).abs(), "{start}");
    let mut reached_ms = None;
    for (ms, piece) in (1u32..).zip(after.chunks_exact(PIECE)) {
        let read = reading(&bench.feed(piece).now());
        let way = read.map_or(0.0, |read| (read - from) / (to - from));
        if way < 0.9 {
            reached_ms = None;
        } else if reached_ms.is_none() {
            reached_ms = Some(f64::from(ms));
        }
    }
    reached_ms.expect("the reading follows")
}

/// The change falls on different places of the meters' own blocks (4 ms).
const SHIFTS_S: [f64; 4] = [0.0, 0.001, 0.002, 0.003];

#[test]
fn the_needle_follows_a_step_of_the_speed() {
    for shift_s in SHIFTS_S {
        for percent in [0.5, -2.0] {
            let place = stepping(percent, CHANGE_S);
            let wave = tone(TONE_HZ, AMPLITUDE, place);
            let late = |t: f64| wave(t - shift_s);
            let take = stereo(SAMPLE_RATE_HZ, END_S, late, late);
            let needle = |readings: &Readings| readings.speed.needle.deviation_percent;
            let ms = to_90_percent_ms(&take, 0.0, percent, needle) - 1e3 * shift_s;
            assert!(ms <= SPEED_BAR_MS, "{percent} %: {ms} ms");
        }
    }
}

#[test]
fn the_needle_follows_a_step_of_the_phase() {
    let wave = tone(TONE_HZ, AMPLITUDE, true_speed);
    for shift_s in SHIFTS_S {
        for degrees in [20.0, -60.0] {
            let delay_s = degrees / 360.0 / TONE_HZ;
            let right = |t: f64| {
                wave(if t < CHANGE_S + shift_s {
                    t
                } else {
                    t - delay_s
                })
            };
            let take = stereo(SAMPLE_RATE_HZ, END_S, wave, right);
            let quick = |readings: &Readings| readings.phase.quick_degrees;
            let ms = to_90_percent_ms(&take, 0.0, degrees, quick) - 1e3 * shift_s;
            assert!(ms <= PHASE_BAR_MS, "{degrees}°: {ms} ms");
        }
    }
}

/// What the meters themselves keep a sample back for: it is in the readings at the end of its block, 4 ms at most.
#[test]
fn a_sample_is_read_at_the_end_of_its_block() {
    let wave = tone(TONE_HZ, AMPLITUDE, true_speed);
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    bench.feed(&stereo(SAMPLE_RATE_HZ, 1.0, wave, wave));
    let read_dbfs = |bench: &mut Bench| {
        bench
            .now()
            .level
            .left
            .quick_rms_dbfs
            .expect("a level is read")
    };
    let quiet_dbfs = read_dbfs(&mut bench);
    let twice = |t: f64| 2.0 * wave(t);
    // The quick level is a mean of 0.3 s: one block of twice the amplitude lifts it by 0.17 dB.
    let seen_ms = stereo(SAMPLE_RATE_HZ, 0.1, twice, twice)
        .chunks_exact(PIECE)
        .position(|piece| read_dbfs(bench.feed(piece)) > quiet_dbfs + 0.15)
        .map(|pieces| pieces + 1);
    assert!(seen_ms.is_some_and(|ms| ms <= 4), "{seen_ms:?} ms");
}
