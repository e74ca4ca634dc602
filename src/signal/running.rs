//! Mean, spread and extremes of a stream, updated one value at a time.

/// A running mean alone: what a power needs, and no division until it is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mean {
    count: u64,
    sum: f64,
}

impl Mean {
    /// Takes one value in.
    #[inline]
    pub fn push(&mut self, x: f64) {
        self.count += 1;
        self.sum += x;
    }

    /// The mean; `None` before the first value.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }
}

/// Running statistics in constant memory (Welford's recurrence).
#[derive(Clone, Copy, Debug)]
pub struct Running {
    count: u64,
    mean: f64,
    squares: f64,
    min: f64,
    max: f64,
}

impl Default for Running {
    fn default() -> Self {
        Self {
            count: 0,
            mean: 0.0,
            squares: 0.0,
            min: f64::INFINITY,
            max: f64::NEG_INFINITY,
        }
    }
}

impl Running {
    /// Takes one value in.
    #[inline]
    pub fn push(&mut self, x: f64) {
        self.count += 1;
        let from_old_mean = x - self.mean;
        self.mean += from_old_mean / self.count as f64;
        self.squares += from_old_mean * (x - self.mean);
        self.min = self.min.min(x);
        self.max = self.max.max(x);
    }

    /// Number of values.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean; `None` before the first value.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// Root mean square about zero; `None` before the first value.
    pub fn rms(&self) -> Option<f64> {
        self.mean()
            .map(|mean| (self.squares / self.count as f64 + mean * mean).sqrt())
    }

    /// Standard deviation about the mean (n − 1); `None` before the second value.
    pub fn deviation(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.squares / (self.count - 1) as f64).sqrt())
    }

    /// Least value; `None` before the first.
    pub fn min(&self) -> Option<f64> {
        (self.count > 0).then_some(self.min)
    }

    /// Greatest value; `None` before the first.
    pub fn max(&self) -> Option<f64> {
        (self.count > 0).then_some(self.max)
    }
}
