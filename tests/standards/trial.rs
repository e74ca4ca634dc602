//! Monte-Carlo trials of the estimators: tones in white noise, each error against its Cramér–Rao bound. The test
//! `cramer_rao` runs a few, `cargo bench --bench bounds` many.
//!
//! The bound: D. C. Rife and R. R. Boorstyn, 'Single-tone parameter estimation from discrete-time observations', IEEE
//! Trans. Inf. Theory IT-20 (5), 1974 (formulas from memory). For a real tone of amplitude A in white noise of variance
//! σ² (that is, over the whole band up to half the sample rate), η = A²/2σ² its signal-to-noise ratio and N samples at
//! rate fs, nothing known of amplitude, phase and frequency:
//!
//! - var f ≥ 12·fs² / ((2π)²·η·N·(N² − 1)). The channels' noises are independent and their tones have one frequency, so
//!   their informations add: half of this for two.
//! - The phase *between* the channels is one number that the frequency has no part in (it turns both alike), so each
//!   channel's phase counts as with the frequency known, 1/(η·N), and their difference has twice that.

use crate::{
    stage::{Bench, TONE_HZ, tape},
    synth::{Noise, stereo, tone, true_speed},
};
use std::f64::consts::TAU;
use trimwatch::readings::SpeedWindow;

pub const SAMPLE_RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.3;
/// The lock has found the tone and its filters are full before the first window begins.
const LEAD_S: f64 = 1.4;
/// The averages lie this far behind: the gate before them holds so much back.
const GATE_S: f64 = 0.4;
const PHASE_S: f64 = 1.0;
/// A take is read so often, a phase and a gate apart, so that no windows of a kind overlap: 8 phases and 8 quick
/// windows, 4 steady ones, 1 long one.
const READINGS: u32 = 8;
/// Tones are off their nominal frequency by up to so much, as decks are.
const MOST_DEVIATION: f64 = 0.02;

/// Least standard deviation of the frequency of two channels with η each, over a window.
pub fn frequency_bound_hz(eta: f64, window_s: f64, sample_rate_hz: f64) -> f64 {
    let n = window_s * sample_rate_hz;
    let channels = 2.0;
    sample_rate_hz / TAU * (12.0 / (channels * eta * n * (n * n - 1.0))).sqrt()
}

/// Least standard deviation of the phase between two channels with η each, over a window.
pub fn phase_bound_rad(eta: f64, window_s: f64, sample_rate_hz: f64) -> f64 {
    (2.0 / (eta * window_s * sample_rate_hz)).sqrt()
}

/// Errors of one estimator over many takes, and the bound of their standard deviation.
pub struct Errors {
    pub name: &'static str,
    /// Hz of frequency, or radians of phase.
    pub bound: f64,
    errors: Vec<f64>,
    /// Windows that should have had a reading and had none.
    pub refused: u32,
}

impl Errors {
    fn of_frequency(name: &'static str, window_s: f64, eta: f64) -> Self {
        Self::new(name, frequency_bound_hz(eta, window_s, SAMPLE_RATE_HZ))
    }

    fn of_phase(name: &'static str, window_s: f64, eta: f64) -> Self {
        Self::new(name, phase_bound_rad(eta, window_s, SAMPLE_RATE_HZ))
    }

    fn new(name: &'static str, bound: f64) -> Self {
        Self {
            name,
            bound,
            errors: Vec::new(),
            refused: 0,
        }
    }

    fn take(&mut self, error: Option<f64>) {
        match error {
            Some(error) => self.errors.push(error),
            None => self.refused += 1,
        }
    }

    pub fn count(&self) -> usize {
        self.errors.len()
    }

    /// rms error over the bound: what the bar of the project is for.
    pub fn ratio(&self) -> f64 {
        let squares = self.errors.iter().map(|error| error * error).sum::<f64>();
        (squares / self.errors.len() as f64).sqrt() / self.bound
    }

    /// How well that many errors know their rms: its relative standard error 1/√(2n).
    pub fn ratio_error(&self) -> f64 {
        self.ratio() / (2.0 * self.errors.len() as f64).sqrt()
    }

    /// Mean error over the bound, and the standard error of that mean.
    pub fn mean(&self) -> (f64, f64) {
        let n = self.errors.len() as f64;
        let mean = self.errors.iter().sum::<f64>() / n;
        (mean / self.bound, self.ratio() / n.sqrt())
    }

    /// Greatest error over the bound: shows a slipped cycle that an rms of many might hide.
    pub fn greatest(&self) -> f64 {
        let greatest = self.errors.iter().map(|error| error.abs());
        greatest.fold(0.0, f64::max) / self.bound
    }
}

/// The estimators on `takes` takes with that signal-to-noise ratio on each channel.
pub fn run(snr_db: f64, takes: u64) -> [Errors; 4] {
    let eta = 10f64.powf(snr_db / 10.0);
    let mut errors = [
        Errors::of_frequency("speed, 0.25 s", 0.25, eta),
        Errors::of_frequency("speed, 2 s", 2.0, eta),
        Errors::of_frequency("speed, 10 s", 10.0, eta),
        Errors::of_phase("phase, 1 s", PHASE_S, eta),
    ];
    for seed in 0..takes {
        read_take(eta, 1000 * snr_db as u64 + seed, &mut errors);
    }
    errors
}

fn read_take(eta: f64, seed: u64, [quick, steady, long, phase]: &mut [Errors; 4]) {
    let mut noise = Noise::new(seed);
    let hz = TONE_HZ * (1.0 + MOST_DEVIATION * noise.triangular());
    let lag_rad = std::f64::consts::PI * noise.triangular();
    let start_s = noise.triangular();
    let wave = tone(hz, AMPLITUDE, true_speed);
    let step_s = GATE_S + PHASE_S;
    let seconds = LEAD_S + f64::from(READINGS) * step_s;
    let left = |t: f64| wave(start_s + t);
    let right = |t: f64| wave(start_s + t - lag_rad / (TAU * hz));
    let mut take = stereo(SAMPLE_RATE_HZ, seconds, left, right);
    noise.add(&mut take, AMPLITUDE / (2.0 * eta).sqrt());

    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    let samples = |seconds: f64| 2 * (seconds * SAMPLE_RATE_HZ).round() as usize;
    let (lead, read) = take.split_at(samples(LEAD_S));
    bench.feed(lead);
    let window_error = |window: SpeedWindow| {
        let percent = window.deviation_percent?;
        Some(TONE_HZ * (1.0 + percent / 100.0) - hz)
    };
    for (i, piece) in (1..).zip(read.chunks_exact(samples(step_s))) {
        bench.bank.reset_averages();
        let readings = bench.feed(piece).now();
        let averaged_s = readings.speed.averaged_seconds;
        assert!(
            (averaged_s - PHASE_S).abs() < 0.01 || readings.phase.degrees.is_none(),
            "the phase is of {averaged_s} s"
        );
        let error_rad = |degrees: f64| {
            let error_rad = degrees.to_radians() - lag_rad;
            error_rad - TAU * (error_rad / TAU).round()
        };
        phase.take(readings.phase.degrees.map(error_rad));
        quick.take(window_error(readings.speed.quick));
        if i % 2 == 0 {
            steady.take(window_error(readings.speed.steady));
        }
        if i == READINGS {
            long.take(window_error(readings.speed.long));
        }
    }
}
