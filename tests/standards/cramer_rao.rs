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
use trimwatch::readings::SpeedWindow;

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.5;
/// Takes, each with noise of its own.
const SEEDS: u64 = 60;
/// The lock needs this long before the first window begins.
const LEAD_S: u32 = 1;
/// Then so many seconds are read: 10 phases and 10 quick windows, 5 steady windows, 1 long one, none overlapping.
const READ_S: u32 = 10;
/// Project's bar for the rms error over the bound.
const BAR: f64 = 1.15;
/// An estimator cannot beat the bound, but `n` errors know their rms only within 1/√(2n): so many sigmas are luck.
const SIGMAS_OF_LUCK: f64 = 4.0;

/// Errors of one estimator, and the bound of its standard deviation.
struct Errors {
    name: &'static str,
    bound: f64,
    errors: Vec<f64>,
}

impl Errors {
    /// Frequency over a window, Hz.
    fn of_frequency(name: &'static str, window_s: f64, eta: f64) -> Self {
        let n = window_s * SAMPLE_RATE_HZ;
        let channels = 2.0;
        let bound = SAMPLE_RATE_HZ / TAU * (12.0 / (channels * eta * n * (n * n - 1.0))).sqrt();
        Self {
            name,
            bound,
            errors: Vec::new(),
        }
    }

    /// Phase between the channels over a second, radians.
    fn of_phase(eta: f64) -> Self {
        Self {
            name: "phase, 1 s",
            bound: (2.0 / (eta * SAMPLE_RATE_HZ)).sqrt(),
            errors: Vec::new(),
        }
    }

    fn take(&mut self, window: SpeedWindow) {
        let percent = window.deviation_percent.unwrap();
        self.errors.push(percent / 100.0 * TONE_HZ);
    }

    #[allow(
        clippy::print_stdout,
        reason = "the ratio is of interest, and the harness holds it back unless asked"
    )]
    fn check(&self, snr_db: f64) {
        let n = self.errors.len() as f64;
        let rms = (self.errors.iter().map(|x| x * x).sum::<f64>() / n).sqrt();
        let ratio = rms / self.bound;
        println!("{snr_db} dB: {} at {ratio:.3} of the bound", self.name);
        let least = 1.0 - SIGMAS_OF_LUCK / (2.0 * n).sqrt();
        assert!((least..=BAR).contains(&ratio), "{}: {ratio}", self.name);
    }
}

fn stays_at_the_bound(snr_db: f64) {
    let eta = 10f64.powf(snr_db / 10.0);
    let sigma = (AMPLITUDE * AMPLITUDE / 2.0 / eta).sqrt();
    let mut quick = Errors::of_frequency("speed, 0.25 s", 0.25, eta);
    let mut steady = Errors::of_frequency("speed, 2 s", 2.0, eta);
    let mut long = Errors::of_frequency("speed, 10 s", 10.0, eta);
    let mut phase = Errors::of_phase(eta);
    for seed in 0..SEEDS {
        let wave = tone(TONE_HZ, AMPLITUDE, true_speed);
        let mut take = stereo(SAMPLE_RATE_HZ, f64::from(LEAD_S + READ_S), wave, wave);
        Noise::new(1000 * snr_db as u64 + seed).add(&mut take, sigma);
        let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
        let mut seconds = take.chunks_exact(2 * SAMPLE_RATE_HZ as usize);
        for second in seconds.by_ref().take(LEAD_S as usize) {
            bench.feed(second);
        }
        for (i, second) in (1..).zip(seconds) {
            bench.bank.reset_averages();
            let readings = bench.feed(second).now();
            // The averages pass the gate 0.4 s late; an error over another time counts as one over a second does.
            let scale = readings.speed.averaged_seconds.sqrt();
            phase
                .errors
                .push(scale * readings.phase.degrees.unwrap().to_radians());
            quick.take(readings.speed.quick);
            if i % 2 == 0 {
                steady.take(readings.speed.steady);
            }
            if i == READ_S {
                long.take(readings.speed.long);
            }
        }
    }
    for errors in [quick, steady, long, phase] {
        errors.check(snr_db);
    }
}

#[test]
fn at_20_db() {
    stays_at_the_bound(20.0);
}

#[test]
fn at_40_db() {
    stays_at_the_bound(40.0);
}
