//! What the tests read signals with: least squares, no spectra.

use std::f64::consts::TAU;
use trimwatch::source::FrameSource;

/// The next `frames` frames of a stereo source.
pub fn read_stereo(source: &mut dyn FrameSource, frames: usize) -> Vec<[f32; 2]> {
    let mut samples = vec![[0.0; 2]; frames];
    assert_eq!(source.read(samples.as_flattened_mut()).unwrap(), frames);
    samples
}

/// Everything a source has, however long.
pub fn read_all(source: &mut dyn FrameSource) -> Vec<f32> {
    let channels = usize::from(source.description().channels);
    let mut all = Vec::new();
    let mut block = vec![0.0; 1000 * channels];
    loop {
        let frames = source.read(&mut block).unwrap();
        all.extend_from_slice(&block[..frames * channels]);
        if frames == 0 {
            return all;
        }
    }
}

/// One channel as `f64`.
pub fn channel(frames: &[[f32; 2]], channel: usize) -> Vec<f64> {
    frames
        .iter()
        .map(|frame| f64::from(frame[channel]))
        .collect()
}

/// A sine fitted by least squares.
#[derive(Clone, Copy, Debug)]
pub struct Sine {
    pub amplitude: f64,
    /// Of a sine (not a cosine) at sample 0.
    pub phase_turns: f64,
}

impl Sine {
    pub fn dbfs(self) -> f64 {
        20.0 * self.amplitude.log10()
    }
}

/// The sine of that frequency (cycles a sample) nearest to the samples.
pub fn fit_sine(samples: &[f64], cycles_a_sample: f64) -> Sine {
    let (mut ss, mut cc, mut sc, mut xs, mut xc) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (n, x) in samples.iter().enumerate() {
        let (sin, cos) = (TAU * (cycles_a_sample * n as f64).fract()).sin_cos();
        ss += sin * sin;
        cc += cos * cos;
        sc += sin * cos;
        xs += x * sin;
        xc += x * cos;
    }
    let determinant = ss * cc - sc * sc;
    let a = (xs * cc - xc * sc) / determinant;
    let b = (xc * ss - xs * sc) / determinant;
    Sine {
        amplitude: a.hypot(b),
        phase_turns: b.atan2(a) / TAU,
    }
}

/// Turns wrapped to ±1/2.
pub fn wrap(turns: f64) -> f64 {
    turns - turns.round()
}

/// Frequency of a steady tone, cycles a sample, from the phases of its two halves. `near` must be right within half
/// a cycle over half the samples.
pub fn fit_frequency(samples: &[f64], near: f64) -> f64 {
    let half = samples.len() / 2;
    let first = fit_sine(&samples[..half], near);
    let second = fit_sine(&samples[half..2 * half], near);
    let expected = near * half as f64;
    near + wrap(second.phase_turns - first.phase_turns - expected) / half as f64
}

pub fn rms(samples: &[f64]) -> f64 {
    (samples.iter().map(|x| x * x).sum::<f64>() / samples.len() as f64).sqrt()
}

/// Rms level by the convention that a sine with peaks of 1 has 0 dBFS.
pub fn level_dbfs(samples: &[f64]) -> f64 {
    20.0 * (rms(samples) * 2.0_f64.sqrt()).log10()
}

/// Speed deviation from `carrier` (cycles a sample), as fractions, one value each `step` samples: the phase advance
/// of the carrier averaged with a Hann window of `window` samples.
pub fn speed(samples: &[f64], carrier: f64, window: usize, step: usize) -> Vec<f64> {
    let weights: Vec<f64> = (0..window)
        .map(|n| 0.5 - 0.5 * (TAU * (n as f64 + 0.5) / window as f64).cos())
        .collect();
    let phase_at = |start: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, weight) in weights.iter().enumerate() {
            let (sin, cos) = (TAU * (carrier * (start + n) as f64).fract()).sin_cos();
            re += weight * samples[start + n] * cos;
            im -= weight * samples[start + n] * sin;
        }
        im.atan2(re) / TAU
    };
    let starts = (0..samples.len().saturating_sub(window)).step_by(step);
    let phases: Vec<f64> = starts.map(phase_at).collect();
    let advances = phases.windows(2).map(|pair| wrap(pair[1] - pair[0]));
    advances
        .map(|turns| turns / (carrier * step as f64))
        .collect()
}

/// Mean power near a frequency (cycles a sample), in Hann windows half overlapping.
pub fn power_at(samples: &[f64], cycles_a_sample: f64, window: usize) -> f64 {
    let turns: Vec<(f64, f64)> = (0..window)
        .map(|n| {
            let weight = 0.5 - 0.5 * (TAU * (n as f64 + 0.5) / window as f64).cos();
            let (sin, cos) = (TAU * (cycles_a_sample * n as f64).fract()).sin_cos();
            (weight * sin, weight * cos)
        })
        .collect();
    let starts = (0..samples.len().saturating_sub(window)).step_by(window / 2);
    let count = starts.len() as f64;
    let power = starts.map(|start| {
        let (mut re, mut im) = (0.0, 0.0);
        for ((sin, cos), sample) in turns.iter().zip(&samples[start..]) {
            re += cos * sample;
            im += sin * sample;
        }
        re * re + im * im
    });
    power.sum::<f64>() / count
}
