//! Phase over frequency from samples: a delay, a reversed channel, electronics, programme; and the X–Y figure.

use crate::{
    stage::{Bench, assert_near, has, measure, tape},
    synth::{Noise, stereo},
};
use std::f64::consts::TAU;
use trimwatch::{
    meters::MeterSetup,
    readings::{LineVerdict, NoticeCode, PhaseLine},
};

const SAMPLE_RATE_HZ: f64 = 48_000.0;

/// Tones one after the other; the right channel later by a delay and by degrees that may depend on the frequency.
fn tones(tones_hz: &[f64], delay_us: f64, degrees: impl Fn(f64) -> f64) -> Vec<f32> {
    let mut take = Vec::new();
    for &hz in tones_hz {
        let wave = |t: f64| 0.3 * (TAU * hz * t).sin();
        let late_s = delay_us * 1e-6 + degrees(hz) / 360.0 / hz;
        take.extend(stereo(SAMPLE_RATE_HZ, 2.6, wave, |t| wave(t - late_s)));
    }
    Noise::new(31).add(&mut take, 3e-4);
    take
}

const TONES: [f64; 4] = [1000.0, 6300.0, 3150.0, 10_000.0];

fn line_of(take: &[f32]) -> PhaseLine {
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0));
    let line = bench.feed(take).now().phase.line;
    line.expect("a line")
}

#[test]
fn a_delay_at_several_tones_is_azimuth() {
    for delay_us in [-35.0, 4.0, 80.0] {
        let line = line_of(&tones(&TONES, delay_us, |_| 0.0));
        assert_eq!(line.verdict, LineVerdict::Azimuth, "{line:?}");
        assert_eq!(line.points.len(), 4);
        assert_near("slope, µs", line.delay_us.unwrap(), delay_us, 0.1);
        assert_near("offset, °", line.intercept_degrees.unwrap(), 0.0, 0.3);
        let of_10k = line.points.last().unwrap();
        assert_near("10 kHz, °", of_10k.degrees, 3.6 * delay_us, 0.3);
    }
}

#[test]
fn a_reversed_channel_and_electronics_are_told_from_azimuth() {
    let reversed = line_of(&tones(&TONES, 20.0, |_| 180.0));
    assert_eq!(reversed.verdict, LineVerdict::OppositePolarity);
    let shifted = line_of(&tones(&TONES, 20.0, |_| 23.0));
    assert_eq!(shifted.verdict, LineVerdict::Electronics, "{shifted:?}");
    let offset = shifted.intercept_degrees.unwrap();
    let uncertainty = shifted.intercept_uncertainty_degrees.unwrap();
    assert!((offset - 23.0).abs() <= uncertainty && uncertainty < 6.0);
    assert!(shifted.words().ends_with("electronics, not the head"));
    // A network that shifts around 3 kHz alone.
    let bent = line_of(&tones(&TONES, 20.0, |hz| {
        40.0 * (-((hz / 3000.0).ln()).powi(2)).exp()
    }));
    assert_eq!(bent.verdict, LineVerdict::NotStraight, "{bent:?}");
}

#[test]
fn the_line_is_of_one_azimuth_alone() {
    // The screw is turned while 10 kHz plays: the tones before are of another azimuth.
    let mut take = tones(&TONES, 20.0, |_| 0.0);
    let wave = |t: f64| 0.3 * (TAU * 10e3 * t).sin();
    take.extend(stereo(SAMPLE_RATE_HZ, 6.0, wave, |t| {
        wave(t - 20e-6 - 30e-6 * (0.5 * t).min(1.0))
    }));
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0));
    let phase = bench.feed(&take).now().phase;
    assert_near("followed, µs", phase.delay_us.unwrap(), 50.0, 0.2);
    assert_eq!(phase.line, None);
}

#[test]
fn programme_has_a_line_of_its_own_and_a_whole_take_keeps_the_longest() {
    let mut noise = Noise::new(33);
    let programme: Vec<f64> = (0..4 * 48_000).map(|_| 0.1 * noise.next()).collect();
    for (sign, verdict) in [
        (1.0, LineVerdict::Azimuth),
        (-1.0, LineVerdict::OppositePolarity),
    ] {
        let take: Vec<f32> = (3..programme.len())
            .flat_map(|i| [programme[i] as f32, (sign * programme[i - 3]) as f32])
            .collect();
        let line = line_of(&take);
        assert_eq!(line.verdict, verdict, "{line:?}");
        assert!(line.points.len() > 8);
        assert_near("slope, µs", line.delay_us.unwrap(), 62.5, 0.3);
    }
    let take = tones(&TONES, 20.0, |_| 0.0);
    let over = measure(SAMPLE_RATE_HZ, 2, &tape(1000.0), &take);
    assert_eq!(over.phase.line.unwrap().points.len(), 4);
    let one = tones(&[3150.0], 20.0, |_| 0.0);
    assert_eq!(
        measure(SAMPLE_RATE_HZ, 2, &tape(3150.0), &one).phase.line,
        None
    );
}

#[test]
fn the_mono_sum_is_told_for_the_tone_and_for_10_khz() {
    let take = tones(&[3150.0], 16.667, |_| 0.0);
    let readings = measure(SAMPLE_RATE_HZ, 2, &tape(3150.0), &take);
    let phase = &readings.phase;
    // 20·lg cos(π·f·Δt): 30° at 10 kHz, 9.45° at 3150 Hz.
    assert_near(
        "10 kHz, dB",
        phase.mono_sum_loss_10_khz_db.unwrap(),
        -1.25,
        0.01,
    );
    assert_near("3150 Hz, dB", phase.mono_sum_loss_db.unwrap(), -0.12, 0.01);
    assert!(!has(&readings, NoticeCode::PhaseAmbiguous));
}

#[test]
fn the_xy_figure_is_there_while_it_is_asked_for() {
    let take = tones(&[3150.0], 0.25e6 / 3150.0, |_| 0.0);
    let shown = MeterSetup {
        xy_shown: true,
        ..tape(3150.0)
    };
    for (setup, there) in [(tape(3150.0), false), (shown, true)] {
        let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &setup);
        let figure = bench.feed(&take).now().phase.figure;
        assert_eq!(figure.is_some(), there);
        for [x, y] in figure.into_iter().flat_map(|figure| figure.points) {
            assert_near("a circle", f64::from(x.hypot(y)), 1.0, 0.06);
        }
        assert_eq!(bench.over().phase.figure, None);
    }
}
