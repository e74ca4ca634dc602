//! Signals from closed formulas: nothing is integrated step by step, so the truth is known to rounding.

use rand_distr::{Distribution as _, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng as _, SeedableRng as _};
use std::f64::consts::TAU;

/// Tape that runs true: the place on it at time `t`, in seconds of nominal speed.
pub fn true_speed(t: f64) -> f64 {
    t
}

/// Tape that runs with sinusoidal flutter: each line is (rate Hz, peak percent), its deviation
/// `peak·sin(2π·rate·t)`, its integral `−peak/(2π·rate)·cos(2π·rate·t)`.
pub fn fluttering<const N: usize>(lines: [(f64, f64); N]) -> impl Fn(f64) -> f64 + Copy {
    move |t| {
        let flutter = lines.iter().map(|(rate_hz, percent)| {
            let w = TAU * rate_hz;
            -percent / 100.0 / w * (w * t).cos()
        });
        t + flutter.sum::<f64>()
    }
}

/// Tape that runs fast by `percent` for `pulse_s` at the start of each second.
pub fn pulsing(percent: f64, pulse_s: f64) -> impl Fn(f64) -> f64 + Copy {
    move |t| t + percent / 100.0 * (t.floor() * pulse_s + t.fract().min(pulse_s))
}

/// Tape that runs fast by `percent` from `from_s` on.
pub fn stepping(percent: f64, from_s: f64) -> impl Fn(f64) -> f64 + Copy {
    move |t| t + percent / 100.0 * (t - from_s).max(0.0)
}

/// A tone of that amplitude, read off a tape.
pub fn tone(
    hz: f64,
    amplitude: f64,
    tape: impl Fn(f64) -> f64 + Copy,
) -> impl Fn(f64) -> f64 + Copy {
    move |t| amplitude * (TAU * (hz * tape(t)).fract()).sin()
}

/// One channel.
pub fn mono(sample_rate_hz: f64, seconds: f64, wave: impl Fn(f64) -> f64) -> Vec<f32> {
    (0..(seconds * sample_rate_hz).round() as usize)
        .map(|i| wave(i as f64 / sample_rate_hz) as f32)
        .collect()
}

/// Two channels, interleaved.
pub fn stereo(
    sample_rate_hz: f64,
    seconds: f64,
    left: impl Fn(f64) -> f64,
    right: impl Fn(f64) -> f64,
) -> Vec<f32> {
    (0..(seconds * sample_rate_hz).round() as usize)
        .flat_map(|i| {
            let t = i as f64 / sample_rate_hz;
            [left(t) as f32, right(t) as f32]
        })
        .collect()
}

/// White Gaussian noise, the same for the same seed on every machine.
pub struct Noise(Pcg64Mcg);

impl Noise {
    pub fn new(seed: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed))
    }

    /// The next sample, of standard deviation 1.
    pub fn next(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// The next sample of triangular dither, within ±1 step.
    pub fn triangular(&mut self) -> f64 {
        let mut uniform = || f64::from(self.0.next_u32()) / f64::from(u32::MAX);
        uniform() - uniform()
    }

    /// Adds noise of that standard deviation to every sample, on each channel its own.
    pub fn add(&mut self, samples: &mut [f32], sigma: f64) {
        for sample in samples {
            *sample = (f64::from(*sample) + sigma * self.next()) as f32;
        }
    }
}
