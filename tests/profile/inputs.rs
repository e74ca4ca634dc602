//! Delay, gain, polarity, leads, noise and crosstalk of simulated inputs, against the figures they were made with.

use rand::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};
use rand_pcg::Pcg64Mcg;
use std::f64::consts::TAU;
use trimwatch::profile::{
    crosstalk::{CrosstalkReading, CrosstalkState, CrosstalkWatch},
    noise::{NoiseState, SelfNoise},
    y_lead::{Leads, YLead, YLeadReading, YLeadState},
};

const RATE_HZ: f64 = 48_000.0;
/// The inputs' own errors in these tests.
const SKEW_US: f64 = 7.3;
const GAIN_DB: f64 = 0.42;

fn ratio(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

/// Interleaved samples of both channels, with noise of that level (dBFS rms) in each.
fn take(seconds: f64, noise_dbfs: f64, wave: impl Fn(f64) -> [f64; 2]) -> Vec<f32> {
    let mut random = Pcg64Mcg::seed_from_u64(11);
    let noise = ratio(noise_dbfs) / 2f64.sqrt();
    (0..(seconds * RATE_HZ) as usize)
        .flat_map(|i| {
            wave(i as f64 / RATE_HZ).map(|x| {
                let normal: f64 = StandardNormal.sample(&mut random);
                (x + noise * normal) as f32
            })
        })
        .collect()
}

fn sine(hz: f64, t: f64) -> f64 {
    0.3 * (TAU * hz * t).sin()
}

/// A tone through a Y lead into inputs with those errors; `polarity` is that of the right one.
fn tone_pair(hz: f64, seconds: f64, polarity: f64) -> Vec<f32> {
    take(seconds, -90.0, |t| {
        [
            ratio(GAIN_DB) * sine(hz, t),
            polarity * sine(hz, t - 1e-6 * SKEW_US),
        ]
    })
}

fn read(pieces: &[Vec<f32>]) -> YLeadReading {
    let mut lead = YLead::new(RATE_HZ);
    for samples in pieces {
        // Odd pieces of whole frames, as a live input delivers them.
        samples.chunks(2 * 333).for_each(|piece| lead.push(piece));
    }
    lead.reading()
}

#[track_caller]
fn assert_removed(reading: &YLeadReading) {
    assert_eq!(reading.state, YLeadState::Done, "{reading:?}");
    let skew_error = reading.skew_us.unwrap() - SKEW_US;
    let gain_error = reading.gain_db.unwrap() - GAIN_DB;
    assert!(skew_error.abs() < 0.02, "{reading:?}");
    assert!(gain_error.abs() < 0.01, "{reading:?}");
    let (skew, gain) = (
        reading.skew_uncertainty_us.unwrap(),
        reading.gain_uncertainty_db.unwrap(),
    );
    assert!(skew_error.abs() <= skew && skew < 0.05, "{reading:?}");
    assert!(gain_error.abs() <= gain && gain < 0.02, "{reading:?}");
}

#[test]
fn tones_one_after_another_give_delay_and_gain() {
    for polarity in [1.0, -1.0] {
        let pieces =
            [400.0, 1000.0, 3150.0, 10_000.0, 6300.0].map(|hz| tone_pair(hz, 2.5, polarity));
        let reading = read(&pieces);
        assert_removed(&reading);
        assert_eq!(reading.opposite_polarity, polarity < 0.0);
        assert_eq!(reading.tones.len(), 5);
        for tone in &reading.tones {
            assert!((tone.delay_us - SKEW_US).abs() < 0.1, "{tone:?}");
            assert!((tone.gain_db - GAIN_DB).abs() < 0.01, "{tone:?}");
        }
    }
}

/// Noise with an exact delay: many sines of random phase.
fn noise_pair(seconds: f64, polarity: f64) -> Vec<f32> {
    let mut random = Pcg64Mcg::seed_from_u64(3);
    let sines: Vec<(f64, f64)> = (0..100)
        .map(|i| {
            let phase: f64 = StandardNormal.sample(&mut random);
            (150.0 + 185.1 * f64::from(i), 10.0 * phase)
        })
        .collect();
    let noise = move |t: f64| {
        let sum: f64 = sines
            .iter()
            .map(|(hz, phase)| (TAU * hz * t + phase).sin())
            .sum();
        0.02 * sum
    };
    take(seconds, -90.0, |t| {
        [
            ratio(GAIN_DB) * noise(t),
            polarity * noise(t - 1e-6 * SKEW_US),
        ]
    })
}

#[test]
fn noise_gives_them_too() {
    for polarity in [1.0, -1.0] {
        let reading = read(&[noise_pair(6.5, polarity)]);
        assert_removed(&reading);
        assert_eq!(reading.opposite_polarity, polarity < 0.0);
        assert!(reading.tones.is_empty());
    }
}

#[test]
fn the_left_plug_alone_tells_whether_the_leads_are_swapped() {
    let alone = |channel: usize| {
        take(2.0, -90.0, |t| {
            let mut both = [0.0; 2];
            both[channel] = sine(400.0, t);
            both
        })
    };
    for (channel, leads) in [(0, Leads::Straight), (1, Leads::Swapped)] {
        let reading = read(&[alone(channel)]);
        assert_eq!(
            (reading.state, reading.leads),
            (YLeadState::OneInput, leads)
        );
        // What comes later, also the other plug alone, does not change it.
        let reading = read(&[
            alone(channel),
            tone_pair(400.0, 2.5, 1.0),
            tone_pair(6300.0, 2.5, 1.0),
            alone(1 - channel),
        ]);
        assert_eq!((reading.state, reading.leads), (YLeadState::Done, leads));
    }
    assert_eq!(read(&[tone_pair(400.0, 2.5, 1.0)]).leads, Leads::NotChecked);
}

/// While the right plug goes in, its input carries the tone for a part of a window: that must not count.
#[test]
fn plugs_that_go_in_and_out_while_a_tone_plays_do_not_move_the_figures() {
    for plugged_at_s in [1.0, 1.013, 1.031, 1.07] {
        let plugging = take(4.0, -90.0, |t| {
            let [left, right] = [
                ratio(GAIN_DB) * sine(400.0, t),
                sine(400.0, t - 1e-6 * SKEW_US),
            ];
            let in_both = (plugged_at_s..3.5).contains(&t);
            [left, if in_both { right } else { 0.0 }]
        });
        let reading = read(&[plugging, tone_pair(6300.0, 2.5, 1.0)]);
        assert_removed(&reading);
        assert_eq!(reading.leads, Leads::Straight);
    }
}

#[test]
fn without_a_low_tone_whole_cycles_are_open_and_no_figure_is_given() {
    let reading = read(&[tone_pair(10_000.0, 2.5, 1.0)]);
    assert_eq!(
        (reading.state, reading.skew_us),
        (YLeadState::NeedsLowTone, None)
    );
}

#[test]
fn low_tones_alone_do_not_show_how_alike_the_inputs_are() {
    let reading = read(&[tone_pair(400.0, 2.5, 1.0), tone_pair(1000.0, 2.5, 1.0)]);
    assert_eq!(
        (reading.state, reading.gain_db),
        (YLeadState::NeedsHighTone, None)
    );
}

#[test]
fn a_delay_of_many_cycles_is_unwrapped_from_the_lowest_tone_up() {
    let skew_us = 180.0;
    let pieces = [400.0, 1000.0, 2500.0, 6300.0]
        .map(|hz| take(2.5, -90.0, |t| [sine(hz, t), sine(hz, t - 1e-6 * skew_us)]));
    let reading = read(&pieces);
    assert!(
        (reading.skew_us.unwrap() - skew_us).abs() < 0.02,
        "{reading:?}"
    );
}

#[test]
fn inputs_that_differ_from_tone_to_tone_make_the_figure_unsure() {
    let pieces = [(400.0, 0.0), (1000.0, 0.0), (10_000.0, 0.2)]
        .map(|(hz, more_db)| take(2.5, -90.0, |t| [ratio(more_db) * sine(hz, t), sine(hz, t)]));
    let reading = read(&pieces);
    let error = (reading.gain_db.unwrap() - 0.2).abs();
    assert!(error <= reading.gain_uncertainty_db.unwrap(), "{reading:?}");
}

#[test]
fn different_signals_and_silence_are_told_apart() {
    assert_eq!(
        read(&[take(3.0, -100.0, |_| [0.0; 2])]).state,
        YLeadState::NoSignal
    );
    assert_eq!(
        read(&[take(8.0, -20.0, |_| [0.0; 2])]).state,
        YLeadState::InputsDiffer
    );
}

#[test]
fn self_noise_is_that_of_the_generator_and_hum_is_found_in_it() {
    // White noise of −80 dBFS to 24 kHz has 20/24 of its power between 20 Hz and 20 kHz.
    let expected_dbfs = -80.0 + 10.0 * (19_980.0 / 24_000f64).log10();
    for mains_hz in [50.0, 60.0] {
        let samples = take(8.0, -80.0, |t| {
            // 100 Hz (120 Hz) of −90 dBFS on the right input.
            [0.0, ratio(-90.0) * (TAU * 2.0 * mains_hz * t).sin()]
        });
        let mut noise = SelfNoise::new(RATE_HZ);
        samples.chunks(2 * 1000).for_each(|piece| noise.push(piece));
        let reading = noise.reading();
        assert_eq!(reading.state, NoiseState::Done);
        let [left, right] = reading.inputs.unwrap();
        assert!((left.rms_dbfs - expected_dbfs).abs() < 0.1, "{reading:?}");
        assert_eq!(left.hum, None);
        let hum = right.hum.unwrap();
        assert_eq!(hum.mains_hz, mains_hz);
        assert!((hum.total_dbfs + 90.0).abs() < 0.3, "{hum:?}");
        assert!(left.a_weighted_dbfs < left.rms_dbfs);
    }
}

#[test]
fn noise_needs_shorted_inputs_that_are_alive() {
    let state = |samples: Vec<f32>| {
        let mut noise = SelfNoise::new(RATE_HZ);
        noise.push(&samples);
        noise.reading().state
    };
    assert_eq!(
        state(take(6.0, -80.0, |t| [0.0, sine(400.0, t)])),
        NoiseState::NotShorted
    );
    assert_eq!(state(vec![0.0; 2 * 48_000 * 6]), NoiseState::Dead);
    assert_eq!(state(vec![0.0; 2 * 48_000]), NoiseState::Listening);
}

fn crosstalk(samples: &[f32]) -> CrosstalkReading {
    let mut watch = CrosstalkWatch::new(RATE_HZ);
    samples.chunks(2 * 777).for_each(|piece| watch.push(piece));
    watch.reading()
}

#[test]
fn crosstalk_is_read_below_the_noise() {
    // −95 dB of a −10 dBFS tone is −105 dBFS: below the noise of −90 dBFS.
    let reading = crosstalk(&take(10.0, -90.0, |t| {
        [sine(1000.0, t), ratio(-95.0) * sine(1000.0, t - 1e-5)]
    }));
    assert_eq!(reading.state, CrosstalkState::Done);
    assert!(reading.into_left.is_empty());
    let [figure] = reading.into_right[..] else {
        panic!("{reading:?}")
    };
    assert!(
        !figure.at_most && (figure.db + 95.0).abs() < 1.0,
        "{figure:?}"
    );
}

#[test]
fn no_crosstalk_is_told_as_a_bound() {
    let reading = crosstalk(&take(10.0, -90.0, |t| [0.0, sine(1000.0, t)]));
    let [figure] = reading.into_left[..] else {
        panic!("{reading:?}")
    };
    assert!(figure.at_most && figure.db < -95.0, "{figure:?}");
}

#[test]
fn crosstalk_needs_one_driven_input() {
    assert_eq!(
        crosstalk(&take(2.0, -90.0, |_| [0.0; 2])).state,
        CrosstalkState::NoTone
    );
    let both = take(2.0, -90.0, |t| [sine(1000.0, t), sine(1000.0, t)]);
    assert_eq!(crosstalk(&both).state, CrosstalkState::BothDriven);
}
