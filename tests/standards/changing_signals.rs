//! Tones that come and go, change, or are moved by a hand.

use crate::{
    stage::{Bench, TONE_HZ, assert_near, has, measure, tape},
    synth::{Noise, fluttering, mono, stepping, stereo, tone, true_speed},
};
use trimwatch::{
    meters::MeterSetup,
    readings::{NoticeCode, Validity},
};

const SAMPLE_RATE_HZ: f64 = 48_000.0;

/// The tone goes into tape noise for a while and comes back.
#[test]
fn a_tone_that_is_lost_is_not_read_and_comes_back() {
    let wave = tone(TONE_HZ * 1.01, 0.4, fluttering([(4.0, 0.05)]));
    let heard = |t: f64| {
        if (6.0..9.0).contains(&t) {
            0.0
        } else {
            wave(t)
        }
    };
    let mut take = stereo(SAMPLE_RATE_HZ, 18.0, heard, heard);
    Noise::new(2).add(&mut take, 1e-3);
    let at = |s: f64| 2 * (s * SAMPLE_RATE_HZ) as usize;
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    assert_eq!(
        bench.feed(&take[..at(5.0)]).now().speed.status,
        Validity::Ok
    );
    let lost = bench.feed(&take[at(5.0)..at(8.0)]).now();
    assert_eq!(lost.speed.status, Validity::NoTone);
    assert_eq!(lost.tone.status, Validity::NoTone);
    assert_eq!(lost.speed.quick.deviation_percent, None);
    let back = bench.feed(&take[at(8.0)..at(13.0)]).now();
    assert_eq!(back.speed.status, Validity::Ok);
    let steady = back.speed.steady.deviation_percent.unwrap();
    assert_near("2 s mean, %", steady, 1.0, 0.002);
    let end = bench.feed(&take[at(13.0)..]).over();
    assert_near(
        "over all, %",
        end.speed.deviation_percent.unwrap(),
        1.0,
        0.002,
    );
    let maximum = end.flutter.unweighted.quasi_peak_max_percent.unwrap();
    assert_near("quasi-peak maximum, %", maximum, 0.05, 0.004);
    // The noise after the tone is not taken for its harmonics.
    let third = end.tone.third_harmonic_percent.unwrap();
    assert_near("third harmonic, %", third, 0.0, 0.1);
}

/// One channel drops out once a second; whatever its phase does meanwhile, the speed is the other's.
#[test]
fn dropouts_of_one_channel_do_not_pull_the_speed() {
    let wave = tone(TONE_HZ * 1.01, 0.4, true_speed);
    let faded = |t: f64| if t.fract() < 0.1 { 0.003 } else { 1.0 };
    let right = |t: f64| faded(t) * wave(t - 40e-6);
    let mut take = stereo(SAMPLE_RATE_HZ, 12.0, wave, right);
    Noise::new(8).add(&mut take, 1e-3);
    let speed = measure(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ), &take).speed;
    for (what, read) in [
        ("10 s mean, %", speed.long.deviation_percent),
        ("mean, %", speed.deviation_percent),
    ] {
        assert_near(what, read.unwrap(), 1.0, 1e-7);
    }
}

/// Right channel 70 µs late: seven tenths of a cycle at 10 kHz, unambiguous at 1 kHz.
fn late_by_70_us(tones: &[(f64, f64)]) -> Vec<f32> {
    let mut take = Vec::new();
    for &(hz, seconds) in tones {
        let wave = tone(hz, 0.4, true_speed);
        take.extend(stereo(SAMPLE_RATE_HZ, seconds, wave, |t| wave(t - 70e-6)));
    }
    take
}

#[test]
fn a_lower_tone_settles_the_whole_cycles_of_a_higher_one() {
    let take = late_by_70_us(&[(1000.0, 4.0), (10_000.0, 4.0)]);
    let phase = Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0))
        .feed(&take)
        .now()
        .phase;
    assert_eq!(phase.status, Validity::Ok);
    assert!(!phase.ambiguous);
    assert_near("tone, Hz", phase.tone_hz.unwrap(), 10_000.0, 0.01);
    assert_near("delay, µs", phase.delay_us.unwrap(), 70.0, 0.01);
    assert_near("needle, µs", phase.quick_delay_us.unwrap(), 70.0, 0.05);
    assert_eq!(phase.candidates.len(), 1);
}

#[test]
fn a_high_tone_alone_leaves_candidates_and_says_so() {
    let take = late_by_70_us(&[(10_000.0, 4.0)]);
    let readings = Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0))
        .feed(&take)
        .now();
    let phase = &readings.phase;
    assert!(phase.ambiguous);
    assert!(has(&readings, NoticeCode::PhaseAmbiguous));
    assert_near("nearest zero, µs", phase.delay_us.unwrap(), -30.0, 0.01);
    let delays: Vec<f64> = phase.candidates.iter().map(|c| c.delay_us).collect();
    // Up to 40' of azimuth (220 µs), whole cycles of 100 µs.
    for (delay, expected) in delays.iter().zip([-30.0, 70.0, -130.0, 170.0]) {
        assert_near("candidate, µs", *delay, expected, 0.01);
    }
    assert_eq!(delays.len(), 4, "{delays:?}");
}

#[test]
fn programme_settles_the_whole_cycles_too() {
    let mut noise = Noise::new(9);
    let programme: Vec<f64> = (0..4 * 48_000).map(|_| 0.1 * noise.next()).collect();
    // 72.9 µs is 3.5 samples; 62.5 µs are exactly three.
    let mut take: Vec<f32> = (3..programme.len())
        .flat_map(|i| [programme[i] as f32, programme[i - 3] as f32])
        .collect();
    let wave = tone(10_000.0, 0.4, true_speed);
    take.extend(stereo(SAMPLE_RATE_HZ, 4.0, wave, |t| wave(t - 62.5e-6)));
    let phase = Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0))
        .feed(&take)
        .now()
        .phase;
    assert!(!phase.ambiguous, "{phase:?}");
    assert_near("delay, µs", phase.delay_us.unwrap(), 62.5, 0.01);
}

/// A trimmer is turned by 1 % after 10 s: the averages begin anew at the new speed, and a notice says so.
#[test]
fn a_moved_speed_begins_the_averages_anew() {
    let wave = tone(TONE_HZ, 0.4, stepping(1.0, 10.0));
    let take = mono(SAMPLE_RATE_HZ, 20.0, wave);
    let readings = measure(SAMPLE_RATE_HZ, 1, &tape(TONE_HZ), &take);
    assert!(has(&readings, NoticeCode::SpeedMoved));
    assert_near("%", readings.speed.deviation_percent.unwrap(), 1.0, 1e-4);
    assert!(readings.speed.averaged_seconds < 9.0);
    let percent = readings.speed.min_percent.unwrap();
    assert_near("least, %", percent, 1.0, 1e-3);
}

#[test]
fn wow_and_drift_are_not_taken_for_a_hand() {
    let wave = tone(TONE_HZ, 0.4, fluttering([(0.05, 0.3), (0.6, 0.3)]));
    let take = mono(SAMPLE_RATE_HZ, 30.0, wave);
    let readings = measure(SAMPLE_RATE_HZ, 1, &tape(TONE_HZ), &take);
    assert!(!has(&readings, NoticeCode::SpeedMoved));
}

#[test]
fn the_wrong_one_of_the_two_speed_tones_raises_a_question() {
    let of = |setup: &MeterSetup, hz: f64| {
        let take = mono(SAMPLE_RATE_HZ, 4.0, tone(hz, 0.4, true_speed));
        measure(SAMPLE_RATE_HZ, 1, setup, &take)
    };
    let asked = |setup: &MeterSetup, hz| has(&of(setup, hz), NoticeCode::OtherStandardTone);
    assert!(asked(&tape(3000.0), 3160.0));
    assert!(asked(&tape(3150.0), 2990.0));
    assert!(!asked(&tape(3150.0), 3170.0));
    assert!(!asked(&tape(3000.0), 3030.0));
    // Without a word about the tape the nearest is taken, and that is said.
    let assumed = of(&MeterSetup::new().unwrap(), 3010.0);
    assert!(has(&assumed, NoticeCode::ToneAssumed));
    assert_near("Hz", assumed.speed.reference_hz.unwrap(), 3000.0, 1e-9);
}

#[test]
fn another_tone_gives_level_and_phase_but_no_speed() {
    let wave = tone(1000.0, 0.4, true_speed);
    let take = stereo(SAMPLE_RATE_HZ, 4.0, wave, wave);
    let readings = measure(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ), &take);
    assert_eq!(readings.speed.status, Validity::NotTheExpectedTone);
    assert_eq!(readings.speed.deviation_percent, None);
    assert_eq!(readings.flutter.status, Validity::NotTheExpectedTone);
    assert_eq!(readings.level.status, Validity::Ok);
    assert_eq!(readings.phase.status, Validity::Ok);
}

/// 1 kHz, then 10 kHz whose right channel is moved by `move_us` at once, 8 s into it.
fn azimuth_moved_by(move_us: f64) -> trimwatch::readings::PhaseReading {
    let mut take = Vec::new();
    for (hz, seconds) in [(1_000.0, 5.0), (10_000.0, 20.0)] {
        let wave = tone(hz, 0.3, true_speed);
        let right = |t: f64| {
            let moved = hz > 5_000.0 && t >= 8.0;
            wave(t - if moved { move_us * 1e-6 } else { 0.0 })
        };
        take.extend(stereo(SAMPLE_RATE_HZ, seconds, wave, right));
    }
    Noise::new(21).add(&mut take, 1e-4);
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0));
    bench.feed(&take).now().phase
}

/// A turn of the screw that may have gone over a whole cycle opens the cycles again; a small one does not. The
/// averages are of the new place alone.
#[test]
fn a_leap_of_the_azimuth_is_fine_only_and_a_turn_is_followed() {
    let turned = azimuth_moved_by(20.0);
    assert!(!turned.ambiguous);
    assert_near("delay, µs", turned.delay_us.unwrap(), 20.0, 0.05);
    let wander = turned.wander_rms_degrees.unwrap();
    assert_near("wander after a turn, degrees", wander, 0.0, 0.1);
    let leapt = azimuth_moved_by(52.2);
    assert!(leapt.ambiguous);
    let nearest = |us: f64| {
        leapt
            .candidates
            .iter()
            .any(|c| (c.delay_us - us).abs() < 0.05)
    };
    assert!(nearest(52.2) && nearest(-47.8), "{:?}", leapt.candidates);
}

/// Moved to where the phase's angle is cut: it stands still there too, and is averaged.
#[test]
fn a_phase_moved_to_180_degrees_comes_to_rest() {
    let half_cycle_s = 0.5 / TONE_HZ;
    let wave = tone(TONE_HZ, 0.4, true_speed);
    let right = |t: f64| {
        let wander_s = 0.02 * half_cycle_s * (3.0 * t).sin();
        let delay_s = if t < 6.0 { 0.5 } else { 1.0 } * half_cycle_s + wander_s;
        wave(t - delay_s)
    };
    let take = stereo(SAMPLE_RATE_HZ, 16.0, wave, right);
    let (moving, resting) = take.split_at(2 * (11.0 * SAMPLE_RATE_HZ) as usize);
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    bench.feed(moving);
    for piece in resting.chunks(2 * 4800) {
        let phase = bench.feed(piece).now().phase;
        assert_eq!(phase.status, Validity::Ok);
        assert!(phase.degrees.unwrap().abs() > 170.0);
    }
}

/// Noise that both channels share is read, and no longer when it has stopped.
#[test]
fn a_programme_that_has_stopped_is_not_read_on() {
    let mut random = Noise::new(22);
    let shared = |level: f32, random: &mut Noise| -> Vec<f32> {
        let one = |random: &mut Noise| level * random.next() as f32;
        (0..(6.0 * SAMPLE_RATE_HZ) as usize)
            .flat_map(|_| {
                let sample = one(random);
                [sample, sample]
            })
            .collect()
    };
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    let playing = shared(0.1, &mut random);
    assert_eq!(bench.feed(&playing).now().phase.status, Validity::Ok);
    let mut hiss = vec![0.0; playing.len()];
    Noise::new(23).add(&mut hiss, 1e-4);
    let blank = bench.feed(&hiss).now().phase;
    assert_ne!(blank.status, Validity::Ok);
    assert_eq!(blank.delay_us, None);
    assert_eq!(bench.over().phase.status, Validity::Ok, "of the whole take");
}

/// A 315 Hz level tone beside the mains' sixth harmonic: no hum is read out of the tone itself.
#[test]
fn a_low_tone_is_not_taken_for_hum() {
    let wave = tone(319.5, 0.3, true_speed);
    let hummed = |t: f64| wave(t) + 1e-4 * (std::f64::consts::TAU * 50.0 * t).sin();
    let take = stereo(SAMPLE_RATE_HZ, 6.0, hummed, hummed);
    let hum = measure(SAMPLE_RATE_HZ, 2, &tape(315.0), &take)
        .level
        .left
        .hum;
    // 1e-4 of full scale is −80 dBFS.
    assert_near("hum, dBFS", hum.unwrap().total_dbfs, -80.0, 1.5);
}
