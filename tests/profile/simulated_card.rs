//! A card whose clock is off by a known figure, on a busy computer whose clock is not always right.

use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, Exp1, StandardNormal};
use rand_pcg::Pcg64Mcg;
use std::time::Duration;
use trimwatch::{
    profile::clock::{ClockObservation, ClockWatch},
    readings::ClockReading,
};

/// Nominal rate, Hz.
pub const RATE_HZ: f64 = 48_000.0;
/// The true error of the card's clock, ppm.
pub const ERROR_PPM: f64 = 37.0;

/// How late a block is handed over.
#[derive(Clone, Copy, Debug)]
pub enum Jitter {
    /// Exponential, of that mean, seconds.
    Exponential(f64),
    /// Evenly between nothing and that, seconds.
    Even(f64),
    /// As a sine of that period, seconds, between nothing and 1 ms, beside an exponential one of 0.2 ms: a load that
    /// comes and goes.
    Load(f64),
    /// Normal, of that standard deviation, seconds, about 3 of them: no sharp edge.
    Normal(f64),
}

/// What the computer's clock does, beside running.
#[derive(Clone, Copy, Debug)]
pub enum Wall {
    /// Nothing.
    Right,
    /// It is set at that time, by so many seconds.
    Set(f64, f64),
    /// It runs at another rate for a while: from, to, ppm.
    Slewed(f64, f64, f64),
    /// It was off and comes back: ppm at the beginning, time constant in seconds.
    Settling(f64, f64),
    /// Its rate swings: ppm, period in seconds.
    Swinging(f64, f64),
}

impl Wall {
    /// Its error at true time `t`, seconds.
    fn error_s(self, t: f64) -> f64 {
        match self {
            Self::Right => 0.0,
            Self::Set(at, by) => {
                if t < at {
                    0.0
                } else {
                    by
                }
            }
            Self::Slewed(from, to, ppm) => 1e-6 * ppm * (t.clamp(from, to) - from),
            Self::Settling(ppm, time) => 1e-6 * ppm * time * (1.0 - (-t / time).exp()),
            Self::Swinging(ppm, period) => {
                let w = std::f64::consts::TAU / period;
                1e-6 * ppm / w * (1.0 - (w * t).cos())
            }
        }
    }
}

/// One capture.
#[derive(Clone, Copy, Debug)]
pub struct Capture {
    pub seconds: f64,
    pub block_frames: u64,
    pub jitter: Jitter,
    pub wall: Wall,
    /// The computer sleeps from the first for the second, seconds; the card stands still, and so does the steady clock
    /// if the third says so.
    pub suspended: Option<(f64, f64, bool)>,
    /// At that time so many frames are lost and nobody tells.
    pub lost: Option<(f64, u64)>,
}

impl Capture {
    /// 20 minutes, blocks of 512 frames handed over up to 2 ms late, a clock that is right.
    pub fn honest() -> Self {
        Self {
            seconds: 1200.0,
            block_frames: 512,
            jitter: Jitter::Even(0.002),
            wall: Wall::Right,
            suspended: None,
            lost: None,
        }
    }

    /// What the watch makes of it.
    pub fn read(&self, seed: u64) -> ClockReading {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let mut watch = ClockWatch::new(RATE_HZ);
        let block_s = self.block_frames as f64 / (RATE_HZ * (1.0 + 1e-6 * ERROR_PPM));
        // The worker starts at any point of a block; the wall clock at any time.
        let start_s = random.random_range(0.0..0.1);
        let epoch_s = 1.7e9 + random.random_range(0.0..1e6);
        let (mut blocks, mut arrived_s) = (0u64, self.late(&mut random, 0.0));
        let mut t = start_s;
        let mut slept_s = 0.0;
        let mut lost_frames = 0;
        while t < self.seconds {
            // 4 ms between two looks, and what the scheduler adds; now and then it adds a lot.
            let exponential: f64 = Exp1.sample(&mut random);
            let rarely = random.random_range(0.0..1.0) < 1e-3;
            t += 0.004 + if rarely { 1e-2 } else { 8e-5 } * exponential;
            if let Some((from, sleep_s, _)) = self.suspended
                && slept_s == 0.0
                && t > from
            {
                slept_s = sleep_s;
            }
            if let Some((from, frames)) = self.lost
                && t > from
            {
                lost_frames = frames;
            }
            while (blocks + 1) as f64 * block_s + arrived_s < t {
                blocks += 1;
                arrived_s = self.late(&mut random, t);
            }
            let wall_t = t + slept_s;
            let steady_sleeps = self.suspended.is_some_and(|(.., stands)| stands);
            watch.observe(ClockObservation {
                frames: (blocks * self.block_frames).saturating_sub(lost_frames),
                wall: Duration::from_secs_f64(epoch_s + wall_t + self.wall.error_s(wall_t)),
                steady: Duration::from_secs_f64(if steady_sleeps { t } else { wall_t }),
            });
        }
        watch.reading()
    }

    fn late(&self, random: &mut Pcg64Mcg, t: f64) -> f64 {
        let exponential: f64 = Exp1.sample(random);
        match self.jitter {
            Jitter::Exponential(mean_s) => mean_s * exponential,
            Jitter::Even(most_s) => random.random_range(0.0..most_s),
            Jitter::Load(period_s) => {
                let load = (std::f64::consts::TAU * t / period_s).sin();
                5e-4 * (1.0 + load) + 2e-4 * exponential
            }
            Jitter::Normal(sigma_s) => {
                let normal: f64 = StandardNormal.sample(random);
                sigma_s * (3.0 + normal).max(0.0)
            }
        }
    }
}
