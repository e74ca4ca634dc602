//! Samples that are no numbers, or absurd ones, never make a reading that is none.

use crate::{
    stage::{Bench, TONE_HZ, assert_near, has, tape},
    synth::{Noise, stereo, tone, true_speed},
};
use rand_pcg::{
    Pcg64Mcg,
    rand_core::{Rng as _, SeedableRng as _},
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

/// A tenth of a second to two seconds of something, drawn at random.
fn anything(random: &mut Pcg64Mcg, sample_rate_hz: f64, channels: u16) -> Vec<f32> {
    let mut draw = |from: f64, to: f64| {
        from + (to - from) * f64::from(random.next_u32()) / f64::from(u32::MAX)
    };
    let seconds = draw(0.1, 2.0);
    let hz = sample_rate_hz * 10f64.powf(draw(-3.5, -0.3));
    let amplitude = 10f64.powf(draw(-5.0, 0.5));
    let late_s = draw(-1e-4, 1e-4);
    let kind = draw(0.0, 6.0) as u32;
    let mut noise = Noise::new(draw(0.0, 1e9) as u64);
    let frames = (seconds * sample_rate_hz) as usize;
    (0..frames * usize::from(channels))
        .map(|i| {
            let t = (i / usize::from(channels)) as f64 / sample_rate_hz;
            let t = t - late_s * (i % usize::from(channels)) as f64;
            let sine = amplitude * (std::f64::consts::TAU * hz * t).sin();
            let sample = match kind {
                0 => 0.0,
                1 => amplitude * noise.next(),
                2 => sine.clamp(-0.5 * amplitude, 0.5 * amplitude),
                3 => sine + 0.01 * amplitude * noise.next(),
                4 if i % 97 == 0 => f64::from(BAD[i / 97 % BAD.len()]),
                _ => sine,
            };
            sample as f32
        })
        .collect()
}

/// Where a group is not valid it has no averaged number; where it is, its numbers make sense together.
#[track_caller]
fn assert_sound(readings: &Readings) {
    assert_all_numbers(readings);
    let speed = &readings.speed;
    assert_eq!(speed.status.is_ok(), speed.deviation_percent.is_some());
    if let (Some(least), Some(greatest)) = (speed.min_percent, speed.max_percent) {
        assert!(least <= greatest);
    }
    let flutter = &readings.flutter;
    assert_eq!(
        flutter.status.is_ok(),
        flutter.weighted.rms_percent.is_some()
    );
    if let Some(maximum) = flutter.unweighted.quasi_peak_max_percent {
        assert!(maximum >= flutter.unweighted.quasi_peak_percent.unwrap());
    }
    let phase = &readings.phase;
    assert_eq!(phase.status.is_ok(), phase.delay_us.is_some());
    if let Some(degrees) = phase.degrees {
        assert!((-180.0..=180.0).contains(&degrees));
        assert_eq!(phase.ambiguous, phase.candidates.len() > 1, "{phase:?}");
    }
    if let Some(loss_db) = phase.mono_sum_loss_db {
        assert!(loss_db <= 1e-9);
    }
    if let Some(coherence) = phase.coherence {
        assert!((0.0..=1.0).contains(&coherence));
    }
}

#[test]
fn whatever_comes_the_readings_are_sound() {
    for seed in 0..60 {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let sample_rate_hz = [8_000.0, 22_050.0, 48_000.0][seed as usize % 3];
        let channels = 1 + (seed % 2) as u16;
        let mut bench = Bench::new(sample_rate_hz, channels, &tape(TONE_HZ));
        for _ in 0..12 {
            let piece = anything(&mut random, sample_rate_hz, channels);
            assert_sound(&bench.feed(&piece).now());
            if random.next_u32().is_multiple_of(4) {
                bench.bank.mark_gap();
            }
            if random.next_u32().is_multiple_of(8) {
                bench.bank.reset_averages();
                assert_sound(&bench.now());
            }
        }
        assert_sound(&bench.over());
    }
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
