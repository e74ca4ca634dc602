//! Samples that are no numbers, or absurd ones, never make a reading that is none.

use crate::{
    stage::{Bench, TONE_HZ, assert_near, has, tape},
    synth::{stereo, tone, true_speed},
};
use trimwatch::readings::{NoticeCode, Readings, Trail};

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const BAD: [f32; 6] = [
    f32::NAN,
    f32::INFINITY,
    f32::NEG_INFINITY,
    f32::MAX,
    f32::MIN_POSITIVE / 2.0,
    -f32::MAX,
];

/// Every number of the readings but the trails (whose gaps are NaN by design) is one. JSON would hide it: it writes
/// NaN as null.
#[track_caller]
fn assert_all_numbers(readings: &Readings) {
    let mut readings = readings.clone();
    for trail in [
        &mut readings.speed.trail,
        &mut readings.flutter.trail,
        &mut readings.flutter.pointer_trail,
        &mut readings.level.left.trail,
        &mut readings.level.right.trail,
        &mut readings.phase.trail,
    ] {
        *trail = Trail::default();
    }
    let words = format!("{readings:?}");
    let odd = words
        .split(|c: char| !c.is_alphanumeric())
        .find(|word| ["NaN", "inf"].contains(word));
    assert_eq!(odd, None, "{words}");
}

fn good(seconds: f64) -> Vec<f32> {
    let wave = tone(TONE_HZ, 0.5, true_speed);
    stereo(SAMPLE_RATE_HZ, seconds, wave, wave)
}

#[test]
fn nothing_but_bad_samples() {
    for bad in BAD {
        let take = vec![bad; 2 * SAMPLE_RATE_HZ as usize];
        let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
        for piece in take.chunks(9600) {
            assert_all_numbers(&bench.feed(piece).now());
        }
        assert_all_numbers(&bench.over());
    }
}

#[test]
fn bad_samples_in_a_good_tone_are_counted_and_got_over() {
    for bad in BAD {
        let mut take = good(6.0);
        for sample in take[2 * 48_000..].iter_mut().take(200) {
            *sample = bad;
        }
        let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
        for piece in take.chunks(9600) {
            assert_all_numbers(&bench.feed(piece).now());
        }
        let now = bench.now();
        let steady = now.speed.steady.deviation_percent;
        assert_near(format!("{bad}: speed, %"), steady.unwrap(), 0.0, 1e-4);
        assert_eq!(has(&now, NoticeCode::BadSamples), !bad.is_finite());
        assert_all_numbers(&bench.over());
    }
}

/// Exactly as many as there were, and what stands in for them is silence.
#[test]
fn the_notice_counts_them() {
    let mut take = good(3.0);
    for sample in take.iter_mut().step_by(20_000) {
        *sample = f32::NAN;
    }
    let count = take.iter().filter(|x| x.is_nan()).count();
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    let readings = bench.feed(&take).over();
    let said = readings
        .notices
        .iter()
        .find(|notice| notice.code == NoticeCode::BadSamples);
    assert!(said.unwrap().message.starts_with(&format!("{count} ")));
}

#[test]
fn a_single_frame_or_none_is_no_reading() {
    for frames in [0, 1, 191, 193] {
        let take = &good(0.1)[..2 * frames];
        let readings = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ))
            .feed(take)
            .over();
        assert_all_numbers(&readings);
        assert!(!readings.speed.status.is_ok());
        assert_eq!(readings.speed.deviation_percent, None);
    }
}
