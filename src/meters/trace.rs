//! The trail behind a needle: the last half minute of a value, thinned out for the screen.

use super::series::Series;
use crate::readings::Trail;

/// Collects a trail.
#[derive(Clone, Debug)]
pub struct Trace {
    series: Series,
    every: usize,
    phase: usize,
    step_s: f64,
}

impl Trace {
    /// `seconds` of values that come `rate_hz` times a second, every `every`th kept.
    pub fn new(seconds: f64, rate_hz: f64, every: usize) -> Self {
        let every = every.max(1);
        Self {
            series: Series::new((seconds * rate_hz / every as f64).ceil() as usize),
            every,
            phase: 0,
            step_s: every as f64 / rate_hz,
        }
    }

    /// Takes a value in.
    #[inline]
    pub fn push(&mut self, x: f64) {
        self.push_with(|| x);
    }

    /// Takes a value in that is only worked out if it is kept.
    #[inline]
    pub fn push_with(&mut self, value: impl FnOnce() -> f64) {
        self.phase += 1;
        if self.phase >= self.every {
            self.phase = 0;
            self.series.push(value());
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.series.clear();
        self.phase = 0;
    }

    /// Takes `count` values' worth of nothing in.
    pub fn push_gap(&mut self, count: usize) {
        for _ in 0..count {
            self.push(f64::NAN);
        }
    }

    /// From one value to the next, seconds.
    pub fn step_s(&self) -> f64 {
        self.step_s
    }

    /// The last `count` values (fewer where there are not so many), oldest first.
    pub fn last(&self, count: usize) -> impl Iterator<Item = f64> {
        self.series.last(count)
    }

    /// The trail for the screen.
    pub fn trail(&self) -> Trail {
        Trail {
            step_s: self.step_s,
            values: self
                .series
                .last(self.series.len())
                .map(|x| x as f32)
                .collect(),
        }
    }
}
