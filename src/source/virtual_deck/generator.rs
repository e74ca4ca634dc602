//! The sequences behind broadband signals: pink noise and programme, limited to the band that is heard.

use super::{
    knots::{KNOTS_HZ, spline_response},
    programme::Programme,
    random::{Chance, Purpose},
};
use std::f64::consts::{FRAC_1_SQRT_2, PI, TAU};

/// Below this, signals fall by 6 dB an octave: nothing there is heard, and running sums stay small.
const LOWEST_HZ: f64 = 10.0;
/// Upper limit of the band, and as a part of the sample rate: the interface's anti-alias filter, put before the
/// head (both are linear). With the steepness below, what folds back to 0.42 of the rate is 50 dB down.
const HIGHEST_HZ: f64 = 20_000.0;
const HIGHEST_PER_SAMPLE_RATE: f64 = 0.354;
/// Second-order sections of the upper limit.
const SECTIONS: usize = 4;

/// A sequence of numbers at [`KNOTS_HZ`] that a [`super::knots::KnotSignal`] is made of.
pub(super) struct Generator {
    source: Source,
    band: Band,
    scale: f64,
}

enum Source {
    Pink(Box<Pink>),
    Programme(Box<Programme>),
}

/// Top of the band at a sample rate, Hz.
fn highest_hz(sample_rate_hz: f64) -> f64 {
    HIGHEST_HZ.min(HIGHEST_PER_SAMPLE_RATE * sample_rate_hz)
}

impl Generator {
    /// Pink noise whose level when it is read (with an ideal head) is `level_dbfs`.
    pub(super) fn pink(seed: u64, level_dbfs: f64, sample_rate_hz: f64) -> Self {
        let band = Band::new(highest_hz(sample_rate_hz));
        let pink = Pink::new(Chance::new(seed, Purpose::PinkNoise));
        Self {
            scale: rms(level_dbfs) / pink.rms_through(&band),
            source: Source::Pink(Box::new(pink)),
            band,
        }
    }

    /// Programme of about that level.
    pub(super) fn programme(seed: u64, level_dbfs: f64, sample_rate_hz: f64) -> Self {
        let band = Band::new(highest_hz(sample_rate_hz));
        let programme = Programme::new(seed, &band);
        Self {
            scale: rms(level_dbfs) / programme.rms(),
            source: Source::Programme(Box::new(programme)),
            band,
        }
    }

    pub(super) fn next(&mut self) -> f64 {
        let raw = match &mut self.source {
            Source::Pink(pink) => pink.next(),
            Source::Programme(programme) => programme.next(),
        };
        self.scale * self.band.filter(raw)
    }
}

/// A level's rms value: a sine whose peaks reach 1 has 0 dBFS.
pub(super) fn rms(level_dbfs: f64) -> f64 {
    10_f64.powf(level_dbfs / 20.0) * FRAC_1_SQRT_2
}

/// White noise through alternating poles and zeros, two octaves from pole to pole: −3 dB an octave within ±0.5 dB
/// from 10 Hz to 20 kHz.
pub(super) struct Pink {
    chance: Chance,
    sections: [FirstOrder; 7],
}

impl Pink {
    const LOWEST_POLE_HZ: f64 = 5.0;

    pub(super) fn new(chance: Chance) -> Self {
        Self {
            chance,
            sections: std::array::from_fn(|i| {
                let pole_hz = Self::LOWEST_POLE_HZ * 4_f64.powi(i as i32);
                FirstOrder::new(pole_hz, 2.0 * pole_hz)
            }),
        }
    }

    pub(super) fn next(&mut self) -> f64 {
        let white = self.chance.gaussian();
        self.sections
            .iter_mut()
            .fold(white, |value, section| section.filter(value))
    }

    /// Its rms when it has gone through the band's limits and is read from the tape. That follows from the filters
    /// alone: white noise of variance 1 spreads evenly up to half the knot rate.
    pub(super) fn rms_through(&self, band: &Band) -> f64 {
        const STEP_HZ: f64 = 2.0;
        let bins = (KNOTS_HZ / 2.0 / STEP_HZ) as u32;
        let frequencies = (0..bins).map(|bin| (f64::from(bin) + 0.5) * STEP_HZ);
        let power: f64 = frequencies
            .map(|f| self.power_at(f) * band.power_at(f) * spline_response(f).powi(2))
            .sum();
        (power / f64::from(bins)).sqrt()
    }

    fn power_at(&self, frequency_hz: f64) -> f64 {
        let sections = self.sections.iter();
        sections
            .map(|section| section.power_at(frequency_hz))
            .product()
    }
}

/// One pole and one zero, both where exp(−2πf/R) puts them.
struct FirstOrder {
    pole: f64,
    zero: f64,
    before: f64,
    output: f64,
}

impl FirstOrder {
    fn new(pole_hz: f64, zero_hz: f64) -> Self {
        let place = |hz: f64| (-TAU * hz / KNOTS_HZ).exp();
        Self {
            pole: place(pole_hz),
            zero: place(zero_hz),
            before: 0.0,
            output: 0.0,
        }
    }

    fn filter(&mut self, input: f64) -> f64 {
        self.output = self.pole * self.output + input - self.zero * self.before;
        self.before = input;
        self.output
    }

    fn power_at(&self, frequency_hz: f64) -> f64 {
        let cos = (TAU * frequency_hz / KNOTS_HZ).cos();
        let distance = |root: f64| 1.0 - 2.0 * root * cos + root * root;
        distance(self.zero) / distance(self.pole)
    }
}

/// The band's lower and upper limits: first-order and Butterworth, both by the bilinear transform.
pub(super) struct Band {
    low: FirstOrder,
    low_gain: f64,
    high: [Biquad; SECTIONS],
    /// The upper limit, Hz, and what the bilinear transform makes of it.
    highest_hz: f64,
    warped_highest: f64,
}

impl Band {
    fn new(highest_hz: f64) -> Self {
        let low = FirstOrder {
            zero: 1.0,
            ..FirstOrder::new(LOWEST_HZ, 0.0)
        };
        let warped_highest = (PI * highest_hz / KNOTS_HZ).tan();
        Self {
            low_gain: 0.5 * (1.0 + low.pole),
            low,
            high: std::array::from_fn(|i| {
                let angle = PI * (2 * i + 1) as f64 / (4 * SECTIONS) as f64;
                Biquad::low_pass(warped_highest, 2.0 * angle.sin())
            }),
            highest_hz,
            warped_highest,
        }
    }

    pub(super) const fn highest_hz(&self) -> f64 {
        self.highest_hz
    }

    fn filter(&mut self, input: f64) -> f64 {
        let value = self.low_gain * self.low.filter(input);
        let sections = self.high.iter_mut();
        sections.fold(value, |value, section| section.filter(value))
    }

    fn power_at(&self, frequency_hz: f64) -> f64 {
        let warped = (PI * frequency_hz / KNOTS_HZ).tan() / self.warped_highest;
        let high = 1.0 / (1.0 + warped.powi(4 * SECTIONS as i32));
        self.low_gain.powi(2) * self.low.power_at(frequency_hz) * high
    }
}

/// A second-order low-pass of unity gain at 0 Hz.
struct Biquad {
    gain: f64,
    a1: f64,
    a2: f64,
    s1: f64,
    s2: f64,
}

impl Biquad {
    /// `k` is the prewarped corner tan(πf/R), `damping` 1/Q.
    fn low_pass(k: f64, damping: f64) -> Self {
        let norm = 1.0 / (1.0 + damping * k + k * k);
        Self {
            gain: k * k * norm,
            a1: 2.0 * (k * k - 1.0) * norm,
            a2: (1.0 - damping * k + k * k) * norm,
            s1: 0.0,
            s2: 0.0,
        }
    }

    /// Transposed direct form II; the numerator is 1, 2, 1.
    fn filter(&mut self, input: f64) -> f64 {
        let driven = self.gain * input;
        let output = driven + self.s1;
        self.s1 = 2.0 * driven - self.a1 * output + self.s2;
        self.s2 = driven - self.a2 * output;
        output
    }
}
