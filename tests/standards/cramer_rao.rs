//! Estimators against the Cramér–Rao bound: D. C. Rife and R. R. Boorstyn, 'Single-tone parameter estimation from
//! discrete-time observations', IEEE Trans. Inf. Theory IT-20 (5), 1974 (formulas from memory).
//!
//! For a real tone of amplitude A in white noise of variance σ², η = A²/2σ² and N samples at rate fs:
//! var f ≥ 12·fs² / ((2π)²·η·N·(N² − 1)) and, with the frequency known, var φ ≥ 1/(η·N). Two channels with noise of
//! their own halve the first; the difference of their phases has twice the second.

use crate::{
    stage::{Bench, TONE_HZ, tape},
    synth::{Noise, stereo, tone, true_speed},
};
use std::f64::consts::TAU;

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.5;
/// Takes with noise of their own, and windows that do not overlap in each.
const SEEDS: u64 = 60;
const WINDOWS: usize = 4;
const WINDOW_S: f64 = 2.0;
const PHASE_S: f64 = 1.0;
/// The lock needs this long before the first window begins.
const LEAD_S: f64 = 1.0;
/// Project's bar for the rms error over the bound. 240 windows know an rms value within 4.6 % (one sigma).
const BAR: f64 = 1.15;
/// An estimator cannot beat the bound: lower than this by chance (four sigma) would be a fault of the test.
const LEAST: f64 = 0.82;

/// Root of the mean of the squares over the bound's root, for frequency and for phase.
fn ratios(snr_db: f64) -> (f64, f64) {
    let eta = 10f64.powf(snr_db / 10.0);
    let sigma = (AMPLITUDE * AMPLITUDE / 2.0 / eta).sqrt();
    let (mut frequency, mut phase) = (Vec::new(), Vec::new());
    for seed in 0..SEEDS {
        let wave = tone(TONE_HZ, AMPLITUDE, true_speed);
        let seconds = LEAD_S + WINDOW_S * WINDOWS as f64;
        let mut take = stereo(SAMPLE_RATE_HZ, seconds, wave, wave);
        Noise::new(seed).add(&mut take, sigma);
        let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
        let (lead, rest) = take.split_at(2 * (LEAD_S * SAMPLE_RATE_HZ) as usize);
        bench.feed(lead);
        bench.bank.reset_averages();
        for (i, second) in rest
            .chunks_exact(2 * (PHASE_S * SAMPLE_RATE_HZ) as usize)
            .enumerate()
        {
            let readings = bench.feed(second).now();
            phase.push(readings.phase.degrees.unwrap().to_radians());
            bench.bank.reset_averages();
            if i % 2 == 1 {
                let percent = readings.speed.steady.deviation_percent.unwrap();
                frequency.push(percent / 100.0 * TONE_HZ);
            }
        }
    }
    let n = WINDOW_S * SAMPLE_RATE_HZ;
    let channels = 2.0;
    let frequency_bound_hz =
        SAMPLE_RATE_HZ / TAU * (12.0 / (channels * eta * n * (n * n - 1.0))).sqrt();
    let phase_bound_rad = (2.0 / (eta * PHASE_S * SAMPLE_RATE_HZ)).sqrt();
    (
        rms(&frequency) / frequency_bound_hz,
        rms(&phase) / phase_bound_rad,
    )
}

fn rms(errors: &[f64]) -> f64 {
    (errors.iter().map(|x| x * x).sum::<f64>() / errors.len() as f64).sqrt()
}

fn stays_at_the_bound(snr_db: f64) {
    let (frequency, phase) = ratios(snr_db);
    println!("SNR {snr_db} dB: frequency {frequency:.3}, phase {phase:.3} of the bound");
    assert!((LEAST..=BAR).contains(&frequency), "frequency: {frequency}");
    assert!((LEAST..=BAR).contains(&phase), "phase: {phase}");
}

#[test]
fn at_20_db() {
    stays_at_the_bound(20.0);
}

#[test]
fn at_40_db() {
    stays_at_the_bound(40.0);
}
