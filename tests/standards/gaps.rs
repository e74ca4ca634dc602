//! Samples that are missing are counted, spoil the windows they fall in, and nothing else.

use crate::{
    live_path::{Delivery, SAMPLE_RATE_HZ, live},
    stage::{Bench, TONE_HZ, assert_near, has, tape},
    synth::{fluttering, stereo, tone},
};
use trimwatch::readings::NoticeCode;

/// 1.5 % fast, with wow; long enough for everything.
fn take() -> Vec<f32> {
    let wave = tone(TONE_HZ * 1.015, 0.4, fluttering([(4.0, 0.05)]));
    stereo(SAMPLE_RATE_HZ, 24.0, wave, |t| wave(t - 1e-5))
}

fn frames(take: &[f32], from_s: f64, to_s: f64) -> &[f32] {
    let at = |s: f64| 2 * (s * SAMPLE_RATE_HZ) as usize;
    &take[at(from_s)..at(to_s)]
}

#[test]
fn a_gap_in_the_ring_is_counted_and_told() {
    let take = take();
    let readings = live(&[
        Delivery::Frames(frames(&take, 0.0, 4.0)),
        Delivery::Gap(Some(1234)),
        Delivery::Frames(frames(&take, 4.1234, 8.0)),
        Delivery::Gap(None),
        Delivery::Frames(frames(&take, 8.2, 12.0)),
    ]);
    assert_eq!(readings.source.lost_frames, 1234);
    assert_eq!(readings.source.gaps, 2);
    assert!(has(&readings, NoticeCode::LostSamples));
    let percent = readings.speed.deviation_percent.unwrap();
    assert_near("speed over all, %", percent, 1.5, 0.002);
    assert_eq!(readings.level.dropouts, 0, "a gap is no dropout");
}

#[test]
fn a_gap_spoils_its_windows_and_later_ones_are_right() {
    let take = take();
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    let before = bench.feed(frames(&take, 0.0, 12.0)).now();
    assert_near(
        "10 s mean, %",
        before.speed.long.deviation_percent.unwrap(),
        1.5,
        0.002,
    );
    bench.bank.mark_gap();
    // From elsewhere in the tone: the phase jumps.
    let after = bench.feed(frames(&take, 12.0301, 12.2)).now().speed;
    assert_eq!(after.quick.deviation_percent, None);
    assert_eq!(after.steady.deviation_percent, None);
    assert_eq!(after.long.deviation_percent, None);
    let later = bench.feed(frames(&take, 12.2, 15.0)).now().speed;
    let steady = later.steady.deviation_percent.unwrap();
    assert_near("2 s mean, %", steady, 1.5, 0.002);
    assert_eq!(later.long.deviation_percent, None);
    let end = bench.feed(frames(&take, 15.0, 24.0)).over();
    assert_near("speed, %", end.speed.deviation_percent.unwrap(), 1.5, 0.001);
    let extremes = [end.speed.min_percent, end.speed.max_percent];
    for extreme in extremes {
        assert_near("0.25 s means, %", extreme.unwrap(), 1.5, 0.03);
    }
    let flutter = end.flutter.unweighted;
    let maximum = flutter.quasi_peak_max_percent.unwrap();
    assert_near("quasi-peak maximum, %", maximum, 0.05, 0.002);
    assert_near("delay, µs", end.phase.delay_us.unwrap(), 10.0, 0.01);
    let wander = end.phase.wander_peak_to_peak_degrees.unwrap();
    assert!(wander < 0.1, "wander: {wander}°");
}
