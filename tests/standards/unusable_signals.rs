//! Signals that a reading cannot or must not be taken from, and the words that say so.

use crate::{
    stage::{Bench, TONE_HZ, assert_near, has, measure, tape},
    synth::{Noise, fluttering, mono, stereo, tone, true_speed},
};
use trimwatch::readings::{NoticeCode, PhaseMethod, Readings, Validity};

const SAMPLE_RATE_HZ: f64 = 48_000.0;

fn read(take: &[f32]) -> Readings {
    measure(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ), take)
}

fn both(wave: impl Fn(f64) -> f64) -> Vec<f32> {
    stereo(SAMPLE_RATE_HZ, 5.0, &wave, &wave)
}

/// Cut at the converter's limit, and cut in the deck 6 dB below it.
#[test]
fn a_clipped_tone_is_called_clipped() {
    let wave = tone(TONE_HZ, 1.0, fluttering([(4.0, 0.05)]));
    for limit in [1.0, 0.5] {
        let cut = both(|t| (1.4 * limit * wave(t)).clamp(-limit, limit));
        let readings = read(&cut);
        assert!(has(&readings, NoticeCode::Clipping), "at {limit}");
        assert_eq!(readings.level.status, Validity::Clipped, "at {limit}");
        assert_eq!(readings.speed.status, Validity::Clipped, "at {limit}");
        assert_eq!(readings.speed.deviation_percent, None);
        let whole = read(&both(|t| limit * wave(t)));
        assert!(!has(&whole, NoticeCode::Clipping), "uncut at {limit}");
        assert_eq!(whole.speed.status, Validity::Ok);
    }
}

/// 3150 Hz has 14 samples a cycle at 44.1 kHz, 3000 Hz 16 at 48 kHz: the same few for ever, whatever their phase.
#[test]
fn a_whole_number_of_samples_a_cycle_is_not_clipping() {
    for (sample_rate_hz, tone_hz) in [(44_100.0, 3150.0), (48_000.0, 3000.0), (48_000.0, 8000.0)] {
        let cycle_samples = sample_rate_hz / tone_hz;
        for part in [0.0, 0.25, 0.5, 0.75] {
            let wave = tone(tone_hz, 0.7, true_speed);
            let take = mono(sample_rate_hz, 2.0, |t| wave(t + part / sample_rate_hz));
            let readings = measure(sample_rate_hz, 1, &tape(tone_hz), &take);
            let what = format!("{cycle_samples} samples a cycle, shifted by {part}");
            assert!(!has(&readings, NoticeCode::Clipping), "{what}");
            assert_eq!(readings.speed.status, Validity::Ok, "{what}");
        }
    }
}

/// Both kinds of silence: a quiet deck and a dead input.
#[test]
fn silence_is_no_signal_and_exact_zeros_are_a_dead_input() {
    let dead = read(&both(|_| 0.0));
    assert_eq!(dead.level.status, Validity::NoSignal);
    assert_eq!(dead.speed.status, Validity::NoSignal);
    assert!(!dead.any_valid());
    assert!(has(&dead, NoticeCode::DigitalSilence));
    let mut hiss = both(|_| 0.0);
    Noise::new(4).add(&mut hiss, 1e-6);
    let quiet = read(&hiss);
    assert_eq!(quiet.level.status, Validity::NoSignal);
    assert!(!has(&quiet, NoticeCode::DigitalSilence));
}

#[test]
fn noise_is_no_tone() {
    let mut hiss = both(|_| 0.0);
    Noise::new(4).add(&mut hiss, 0.1);
    let readings = read(&hiss);
    assert_eq!(readings.speed.status, Validity::NoTone);
    assert_eq!(readings.speed.deviation_percent, None);
    assert_eq!(readings.level.status, Validity::Ok);
    // The channels have noise of their own: no delay is to be had from it.
    assert_eq!(readings.phase.status, Validity::ChannelsDiffer);
    assert_eq!(readings.phase.delay_us, None);
}

/// Programme, upside down on the right and two samples later.
#[test]
fn opposite_polarity_in_programme_is_said_and_does_not_spoil_the_delay() {
    let mut noise = Noise::new(6);
    let programme: Vec<f64> = (0..5 * 48_000).map(|_| 0.1 * noise.next()).collect();
    for (sign, inverted) in [(1.0, false), (-1.0, true)] {
        let take: Vec<f32> = (2..programme.len())
            .flat_map(|i| [programme[i] as f32, (sign * programme[i - 2]) as f32])
            .collect();
        let readings = read(&take);
        assert_eq!(readings.phase.method, Some(PhaseMethod::Programme));
        let delay_us = readings.phase.delay_us.unwrap();
        assert_near("delay, µs", delay_us, 2e6 / SAMPLE_RATE_HZ, 0.01);
        assert_eq!(has(&readings, NoticeCode::OppositePolarity), inverted);
    }
}

#[test]
fn one_dead_channel_leaves_speed_and_takes_phase() {
    let wave = tone(TONE_HZ * 0.995, 0.4, true_speed);
    for dead_right in [true, false] {
        let take = if dead_right {
            stereo(SAMPLE_RATE_HZ, 5.0, wave, |_| 0.0)
        } else {
            stereo(SAMPLE_RATE_HZ, 5.0, |_| 0.0, wave)
        };
        let readings = read(&take);
        assert_near("%", readings.speed.deviation_percent.unwrap(), -0.5, 1e-4);
        assert_eq!(readings.phase.status, Validity::OneChannel);
        assert_eq!(readings.phase.degrees, None);
        assert!(has(&readings, NoticeCode::OneChannel));
    }
}

#[test]
fn mono_has_no_phase_and_says_so() {
    let take = mono(SAMPLE_RATE_HZ, 4.0, tone(TONE_HZ, 0.4, true_speed));
    let readings = Bench::new(SAMPLE_RATE_HZ, 1, &tape(TONE_HZ))
        .feed(&take)
        .over();
    assert_eq!(readings.phase.status, Validity::OneChannel);
    assert!(has(&readings, NoticeCode::OneChannel));
    assert_eq!(readings.level.balance_db, None);
}

#[test]
fn a_take_of_half_a_second_is_too_short() {
    let wave = tone(TONE_HZ, 0.4, true_speed);
    let readings = read(&stereo(SAMPLE_RATE_HZ, 0.5, wave, wave));
    assert_eq!(readings.speed.status, Validity::TooShort);
    assert_eq!(readings.flutter.status, Validity::TooShort);
}

/// A sweep is a tone that moves too much to be read.
#[test]
fn a_sweep_gives_no_speed() {
    let take = both(|t| 0.4 * (std::f64::consts::TAU * (500.0 * t + 400.0 * t * t)).sin());
    let readings = read(&take);
    assert!(!readings.speed.status.is_ok(), "{:?}", readings.speed);
    assert_eq!(readings.speed.deviation_percent, None);
}
