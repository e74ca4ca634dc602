//! Everything drawn by chance, each from its own stream of the deck's seed.

use rand::RngExt;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64;

/// What the numbers are for. A separate stream each: adding a part to a deck does not change its hiss.
#[derive(Clone, Copy, Debug)]
pub(super) enum Purpose {
    LeftHiss,
    RightHiss,
    PinkNoise,
    Programme,
    ProgrammeBed,
    Dropouts,
    PartPhase(usize),
    RandomWow(usize),
    Scrape(usize),
}

impl Purpose {
    fn stream(self) -> u128 {
        let (kind, index) = match self {
            Self::LeftHiss => (0, 0),
            Self::RightHiss => (1, 0),
            Self::PinkNoise => (2, 0),
            Self::Programme => (3, 0),
            Self::ProgrammeBed => (8, 0),
            Self::Dropouts => (4, 0),
            Self::PartPhase(index) => (5, index),
            Self::RandomWow(index) => (6, index),
            Self::Scrape(index) => (7, index),
        };
        kind << 64 | index as u128
    }
}

/// A stream of random numbers that is the same for the same seed and purpose.
#[derive(Clone, Debug)]
pub(super) struct Chance(Pcg64);

impl Chance {
    pub(super) fn new(seed: u64, purpose: Purpose) -> Self {
        Self(Pcg64::new(u128::from(seed), purpose.stream()))
    }

    /// Even between 0 and 1.
    pub(super) fn even(&mut self) -> f64 {
        self.0.random()
    }

    /// Gaussian, mean 0, variance 1.
    pub(super) fn gaussian(&mut self) -> f64 {
        self.0.sample(StandardNormal)
    }

    /// One of `count` numbers from 0.
    pub(super) fn below(&mut self, count: usize) -> usize {
        ((self.even() * count as f64) as usize).min(count.saturating_sub(1))
    }
}
