//! Broadband signals of the virtual deck: level, colour, and a delay that is exact without any tone.

use crate::{
    deck_model::deck_at,
    signal::{channel, level_dbfs, power_at, read_stereo},
};
use trimwatch::tables::tape_format;

fn broadband(signal: &str, azimuth_arcmin: f64) -> String {
    format!(
        "[deck]\nname = \"test\"\ntape_format = \"cassette-stereo\"\nseed = 5\n\
         [head]\nazimuth_arcmin = {azimuth_arcmin:?}\n\
         [[section]]\nname = \"noise\"\n{signal}\n"
    )
}

const SIGNALS: [&str; 2] = ["pink_noise_dbfs = -20.0", "programme_dbfs = -20.0"];

/// An azimuth whose delay is a whole number of samples makes one channel a copy of the other, sample by sample.
#[test]
fn the_right_channel_is_the_left_one_later() {
    let format = tape_format("cassette-stereo").unwrap();
    for signal in SIGNALS {
        for (rate, samples) in [(48_000, 1_i32), (48_000, -3), (192_000, 7)] {
            let delay_us = f64::from(samples) / f64::from(rate) * 1e6;
            let toml = broadband(signal, format.azimuth_arcmin(delay_us));
            let frames = read_stereo(&mut deck_at(&toml, rate), 2 * rate as usize);
            let [left, right] = [0, 1].map(|side| channel(&frames, side));
            let later = samples.unsigned_abs() as usize;
            let (early, late) = if samples > 0 {
                (left, right)
            } else {
                (right, left)
            };
            let pairs = early.iter().zip(&late[later..]);
            let worst = pairs
                .map(|(early, late)| (early - late).abs())
                .fold(0.0, f64::max);
            assert!(worst < 1e-6, "{signal} at {rate}: {worst:e}");
        }
    }
}

#[test]
fn levels_are_as_the_file_says() {
    for (signal, within_db) in SIGNALS.into_iter().zip([0.3, 1.5]) {
        for rate in [8_000, 48_000, 192_000] {
            let frames = read_stereo(
                &mut deck_at(&broadband(signal, 0.0), rate),
                20 * rate as usize,
            );
            let level = level_dbfs(&channel(&frames, 0));
            assert!(
                (level + 20.0).abs() < within_db,
                "{signal} at {rate}: {level}"
            );
            let peak = frames
                .iter()
                .map(|frame| frame[0].abs())
                .fold(0.0, f32::max);
            assert!(peak < 1.0, "{signal} at {rate}: {peak}");
        }
    }
}

#[test]
fn pink_noise_falls_three_decibels_an_octave() {
    let frames = read_stereo(
        &mut deck_at(&broadband(SIGNALS[0], 0.0), 48_000),
        60 * 48_000,
    );
    let samples = channel(&frames, 0);
    let density = |hz: f64| power_at(&samples, hz / 48_000.0, 4800);
    for octave in 0..7 {
        let hz = 100.0 * 2_f64.powi(octave);
        let fall_db = 10.0 * (density(100.0) / density(hz)).log10();
        assert!(
            (fall_db - 3.01 * f64::from(octave)).abs() < 1.3,
            "{hz} Hz: {fall_db}"
        );
    }
    // The band ends at 17 kHz: what would fold back is not there.
    assert!(density(23_000.0) < 1e-3 * density(15_000.0));
}

/// 20·lg|sin x / x| of the tables at each frequency: the head averages over the track's width.
#[test]
fn azimuth_costs_noise_the_same_level_as_a_tone() {
    let format = tape_format("cassette-stereo").unwrap();
    let noise = |azimuth: f64| {
        let mut deck = deck_at(&broadband(SIGNALS[0], azimuth), 48_000);
        channel(&read_stereo(&mut deck, 20 * 48_000), 0)
    };
    let (straight, askew) = (noise(0.0), noise(12.0));
    for hz in [1_000.0, 5_000.0, 10_000.0, 14_000.0] {
        let [before, after] = [&straight, &askew].map(|x| power_at(x, hz / 48_000.0, 960));
        let loss_db = 10.0 * (after / before).log10();
        assert!(
            (loss_db - format.azimuth_loss_db(12.0, hz)).abs() < 0.1,
            "{hz} Hz: {loss_db}"
        );
    }
}
