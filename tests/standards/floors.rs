//! What is read of a tone without flutter: no more than the noise beside it makes.
//!
//! White noise of variance σ² over half the sample rate fs, beside a tone of amplitude A at f0: its part in quadrature
//! to the tone turns the tone's phase by its size over A. With η = A²/2σ² the phase has the one-sided density
//! 2/(η·fs) rad²/Hz, the same at every rate r from zero up; a phase's rate of change is r times as large in Hz, so the
//! deviation has (100·r/f0)²·2/(η·fs) %²/Hz. (The noise of frequency modulation that rises with the rate: S. O. Rice,
//! 'Statistical properties of a sine wave plus random noise', Bell System Technical Journal 27, 1948; from memory.) Two
//! channels with noise of their own, weighted alike, halve it.
//!
//! The readings collect it from 0.2 to 200 Hz, the band of IEC 60386 and the reach of its weighting table (from
//! memory). `tests/reference/noise_floor.py` works the same figures out with numpy, another interpolation of the table
//! and a simulated demodulator.

use crate::{
    stage::{TONE_HZ, assert_near, measure, tape},
    synth::{Noise, fluttering, mono, stereo, tone, true_speed},
    weighting,
};
use trimwatch::readings::{FlutterReading, Validity};

const SAMPLE_RATE_HZ: f64 = 48_000.0;
/// The project's bar, over what the noise makes.
const BAR: f64 = 1.2;
/// The table's band is the least that a reading of noise can hold, but for luck: the rms of so long a take is known
/// within 1.5 % (one standard error).
const LEAST: f64 = 0.94;
const SECONDS: f64 = 22.0;

/// rms deviation that noise makes, percent: (weighted, unweighted), for η·channels.
fn made_by_noise_percent(eta: f64, tone_hz: f64, sample_rate_hz: f64) -> (f64, f64) {
    const STEP_HZ: f64 = 0.01;
    let scale = 100.0 / tone_hz * (2.0 / (eta * sample_rate_hz)).sqrt();
    let rates = (0..20_000).map(|i| (f64::from(i) + 0.5) * STEP_HZ);
    let (weighted, unweighted) = rates.filter(|hz| *hz > 0.2).fold((0.0, 0.0), |sums, hz| {
        let power = hz * hz * STEP_HZ;
        let gain = 10f64.powf(weighting::table_db(hz) / 10.0);
        (sums.0 + gain * power, sums.1 + power)
    });
    (scale * weighted.sqrt(), scale * unweighted.sqrt())
}

/// `noise_floor.py` at 40 dB, 3150 Hz, 48 kHz, one channel. It takes the table as a monotone cubic; straight lines hang
/// 0.8 % below that.
#[test]
fn the_expectation_is_numpys() {
    let (weighted, unweighted) = made_by_noise_percent(1e4, 3150.0, 48_000.0);
    assert_near("weighted, %", weighted, 3.735e-4, 0.04e-4);
    assert_near("unweighted, %", unweighted, 3.346e-3, 0.002e-3);
}

#[track_caller]
fn reads_what_noise_makes(what: &str, flutter: &FlutterReading, made: (f64, f64)) {
    assert_eq!(flutter.status, Validity::Ok, "{what}");
    let paths = [
        ("weighted", &flutter.weighted, made.0),
        ("unweighted", &flutter.unweighted, made.1),
    ];
    for (path, figures, made) in paths {
        let ratio = figures.rms_percent.unwrap() / made;
        assert!(
            (LEAST..=BAR).contains(&ratio),
            "{what}, {path}: {ratio} times what noise makes, {made} %"
        );
    }
}

#[test]
fn noise_makes_the_flutter_that_it_must() {
    for (snr_db, tone_hz) in [(40.0, 3150.0), (50.0, 3000.0), (60.0, 3150.0)] {
        let eta = 10f64.powf(snr_db / 10.0);
        let wave = tone(tone_hz, 0.4, true_speed);
        for channels in [1, 2] {
            let mut take = match channels {
                1 => mono(SAMPLE_RATE_HZ, SECONDS, wave),
                _ => stereo(SAMPLE_RATE_HZ, SECONDS, wave, wave),
            };
            Noise::new(21).add(&mut take, 0.4 / (2.0 * eta).sqrt());
            let flutter = measure(SAMPLE_RATE_HZ, channels, &tape(tone_hz), &take).flutter;
            let made = made_by_noise_percent(f64::from(channels) * eta, tone_hz, SAMPLE_RATE_HZ);
            let what = format!("{snr_db} dB, {tone_hz} Hz, channels {channels}");
            reads_what_noise_makes(&what, &flutter, made);
        }
    }
}

/// A tone in samples of `bits`, with the triangular dither of two steps that makes their error white.
fn in_bits(bits: u32, dithered: bool, sample_rate_hz: f64, wave: impl Fn(f64) -> f64) -> Vec<f32> {
    let step = 2f64.powi(1 - bits.cast_signed());
    let mut noise = Noise::new(12);
    let mut take = mono(sample_rate_hz, SECONDS, wave);
    for sample in &mut take {
        let dither = if dithered { noise.triangular() } else { 0.0 };
        // Steps of 24 bits fit an f32 exactly.
        *sample = ((f64::from(*sample) / step + dither).round() * step) as f32;
    }
    take
}

/// The project's bar for both speed tones. The tone is not dithered: the error of its samples repeats with it, and
/// makes lines of its own.
#[test]
fn an_ideal_24_bit_tone_has_no_flutter() {
    for (tone_hz, sample_rate_hz) in [
        (3150.0, 48_000.0),
        (3000.0, 48_000.0),
        (3150.0, 44_100.0),
        (3000.0, 96_000.0),
    ] {
        let wave = tone(tone_hz, 0.5, true_speed);
        let take = in_bits(24, false, sample_rate_hz, wave);
        let flutter = measure(sample_rate_hz, 1, &tape(tone_hz), &take).flutter;
        let rms = flutter.weighted.rms_percent.unwrap();
        assert!(rms <= 0.000_05, "{tone_hz} Hz at {sample_rate_hz}: {rms} %");
    }
}

/// −20 dBFS in 16 bits: rounding leaves the variance of 1/12 step², the dither (two uniform widths of a step) 2/12
/// more (textbook), a quarter of a step squared together: white, and 76 dB below the tone.
#[test]
fn sixteen_bits_add_their_dither_and_no_more() {
    let amplitude = 0.1;
    let wave = tone(TONE_HZ, amplitude, true_speed);
    let take = in_bits(16, true, SAMPLE_RATE_HZ, wave);
    let flutter = measure(SAMPLE_RATE_HZ, 1, &tape(TONE_HZ), &take).flutter;
    let step = 2f64.powi(-15);
    let eta = amplitude * amplitude / 2.0 / (step * step / 4.0);
    let made = made_by_noise_percent(eta, TONE_HZ, SAMPLE_RATE_HZ);
    reads_what_noise_makes("16 bits", &flutter, made);
}

#[test]
fn sixteen_bits_are_enough_for_a_good_deck() {
    let wave = tone(TONE_HZ, 0.1, fluttering([(4.0, 0.02)]));
    let take = in_bits(16, true, SAMPLE_RATE_HZ, wave);
    let weighted = measure(SAMPLE_RATE_HZ, 1, &tape(TONE_HZ), &take)
        .flutter
        .weighted;
    let rms = weighted.rms_percent.unwrap();
    assert_near("rms, %", rms, 0.02 / 2f64.sqrt(), 0.000_1);
}
