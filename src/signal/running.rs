//! Mean, spread and extremes of a stream, updated one value at a time (Welford's recurrence).

/// Running statistics in constant memory.
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

    /// Takes some values in. Their own mean and spread are worked out first and then joined to those of all before
    /// (Chan, Golub and LeVeque 1983): one division where [`Running::push`] takes one a value.
    pub fn extend(&mut self, values: &[f64]) {
        if values.is_empty() {
            return;
        }
        let before = self.count as f64;
        let new = values.len() as f64;
        let mean = values.iter().sum::<f64>() / new;
        let mut squares = 0.0;
        for &x in values {
            squares += (x - mean) * (x - mean);
            self.min = if x < self.min { x } else { self.min };
            self.max = if x > self.max { x } else { self.max };
        }
        let apart = mean - self.mean;
        let share = new / (before + new);
        self.count += values.len() as u64;
        self.mean += share * apart;
        self.squares += squares + share * before * apart * apart;
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_at_once_are_the_same_as_one_by_one() {
        let value = |i: usize| 1e3 + (i as f64 * 0.37).sin();
        let (mut one_by_one, mut at_once) = (Running::default(), Running::default());
        let mut next = 0;
        for count in [0, 1, 16, 3, 16, 500, 16] {
            let values: Vec<f64> = (next..next + count).map(value).collect();
            next += count;
            values.iter().for_each(|x| one_by_one.push(*x));
            at_once.extend(&values);
            let near = |f: fn(&Running) -> Option<f64>| match (f(&one_by_one), f(&at_once)) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9 * a.abs().max(1e-3), "{a} {b}"),
                (a, b) => assert_eq!(a, b),
            };
            assert_eq!(one_by_one.count(), at_once.count());
            [Running::mean, Running::rms, Running::deviation].map(near);
            [Running::min, Running::max].map(near);
        }
    }
}
