//! AES17: 0 dBFS is the rms level of a sine whose peaks just reach full scale (997 Hz is its tone; from memory).

use crate::{
    stage::{assert_near, measure, tape},
    synth::{mono, tone, true_speed},
};
use std::f64::consts::TAU;
use trimwatch::readings::{LevelReading, Validity};

fn level(sample_rate_hz: f64, wave: impl Fn(f64) -> f64) -> LevelReading {
    let take = mono(sample_rate_hz, 3.0, wave);
    measure(sample_rate_hz, 1, &tape(3150.0), &take).level
}

#[test]
fn a_full_scale_sine_reads_zero() {
    for sample_rate_hz in [44_100.0, 48_000.0, 96_000.0, 192_000.0] {
        let level = level(sample_rate_hz, tone(997.0, 1.0, true_speed));
        assert_eq!(level.status, Validity::Ok, "at {sample_rate_hz} Hz");
        let left = level.left;
        assert_near("rms, dBFS", left.rms_dbfs.unwrap(), 0.0, 0.01);
        assert_near("tone, dBFS", left.tone_dbfs.unwrap(), 0.0, 0.01);
        assert_near("peak, dB", left.peak_dbfs.unwrap(), 0.0, 0.05);
        assert_near("VU, dB", left.vu_dbfs.unwrap(), 0.0, 0.05);
        assert_near("PPM I, dB", left.ppm_i_dbfs.unwrap(), 0.0, 0.3);
        assert_near("PPM II, dB", left.ppm_ii_dbfs.unwrap(), 0.0, 0.3);
    }
}

#[test]
fn levels_are_true_far_below_full_scale() {
    for level_dbfs in [-6.0, -20.0, -40.0, -60.0] {
        let amplitude = 10f64.powf(level_dbfs / 20.0);
        let left = level(48_000.0, tone(997.0, amplitude, true_speed)).left;
        assert_near("rms, dBFS", left.rms_dbfs.unwrap(), level_dbfs, 0.01);
        assert_near("peak, dB", left.peak_dbfs.unwrap(), level_dbfs, 0.05);
    }
}

/// A tone at a quarter of the rate, sampled 45° off its tops: every sample is 3 dB below the peak.
#[test]
fn the_peak_between_samples_is_found() {
    let level = level(48_000.0, |t| (TAU * (12_000.0 * t + 0.125)).sin());
    assert_near("rms, dBFS", level.left.rms_dbfs.unwrap(), 0.0, 0.01);
    assert_near("peak, dB", level.left.peak_dbfs.unwrap(), 0.0, 0.1);
}

/// dBV and dBu: with 2 V rms at full scale, a tone at −20 dBFS is 0.2 V. 0 dBu is 1 mW in 600 Ω.
#[test]
fn a_calibrated_interface_gives_volts() {
    let mut setup = tape(3150.0);
    setup.full_scale_volts_rms = Some(2.0);
    let take = mono(48_000.0, 3.0, tone(3150.0, 0.1, true_speed));
    let left = measure(48_000.0, 1, &setup, &take).level.left;
    assert_near("dBV", left.level_dbv.unwrap(), 20.0 * 0.2f64.log10(), 0.01);
    let dbu = 20.0 * (0.2 / 0.6f64.sqrt()).log10();
    assert_near("dBu", left.level_dbu.unwrap(), dbu, 0.01);
}
