//! How well the wow is foretold, judged on moments the model had not seen.

use super::super::series::Series;
use crate::signal::steps::median;

/// Moments whose mean is foretold to judge the model: a quarter of a second.
pub(super) const TRIAL: usize = 16;
/// Trials that judge it.
const TRIALS: usize = 8;
const LEAST_TRIALS: usize = 4;

/// Quarter-second means of the deviation without and with what the model foretold, each against the one before it.
pub(super) struct Trial {
    sums: [f64; 2],
    count: usize,
    means: Option<[f64; 2]>,
    differences: [Series; 2],
}

impl Trial {
    pub(super) fn new() -> Self {
        Self {
            sums: [0.0; 2],
            count: 0,
            means: None,
            differences: [Series::new(TRIALS), Series::new(TRIALS)],
        }
    }

    pub(super) fn push(&mut self, raw: f64, left: f64) {
        self.sums[0] += raw;
        self.sums[1] += left;
        self.count += 1;
        if self.count < TRIAL {
            return;
        }
        let means = self.sums.map(|sum| sum / TRIAL as f64);
        if let Some(before) = self.means.replace(means) {
            for (i, differences) in self.differences.iter_mut().enumerate() {
                differences.push((means[i] - before[i]).abs());
            }
        }
        self.sums = [0.0; 2];
        self.count = 0;
    }

    pub(super) fn break_here(&mut self) {
        self.sums = [0.0; 2];
        self.count = 0;
        self.means = None;
    }

    /// Usual differences without and with the model; `None` until there are enough.
    pub(super) fn usual(&self) -> Option<[f64; 2]> {
        (self.differences[0].len() >= LEAST_TRIALS)
            .then(|| [0, 1].map(|i: usize| median(self.differences[i].unordered())))
    }

    /// Whether all the trials that judge have been made.
    pub(super) fn is_full(&self) -> bool {
        self.differences[0].is_full()
    }
}
