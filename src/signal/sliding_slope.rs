//! Least-squares slope of the last values of a stream, a few operations a value whatever the length.

/// The sums behind the slope of the last `length` values. The values themselves are kept by the caller, who also says
/// which one leaves: several lengths can share one ring.
#[derive(Clone, Debug)]
pub struct SlidingSlope {
    length: usize,
    filled: usize,
    /// Σ y and Σ i·y, i = 0 for the oldest, y counted from `base`.
    sum: f64,
    moment: f64,
    base: f64,
    to_renewal: usize,
}

impl SlidingSlope {
    /// For the last `length` values, two at least.
    pub fn new(length: usize) -> Self {
        let length = length.max(2);
        Self {
            length,
            filled: 0,
            sum: 0.0,
            moment: 0.0,
            base: 0.0,
            to_renewal: length,
        }
    }

    /// How many values it spans.
    pub fn length(&self) -> usize {
        self.length
    }

    /// Forgets everything.
    pub fn restart(&mut self) {
        *self = Self::new(self.length);
    }

    /// Takes a value in. `leaving` is the one that came `length` values before it, where there were so many.
    pub fn push(&mut self, y: f64, leaving: Option<f64>) {
        if self.filled == 0 {
            self.base = y;
        }
        let y = y - self.base;
        match leaving {
            Some(oldest) if self.filled == self.length => {
                // All others move one place down.
                self.sum -= oldest - self.base;
                self.moment -= self.sum;
                self.sum += y;
                self.moment += (self.length - 1) as f64 * y;
            }
            _ => {
                self.sum += y;
                self.moment += self.filled as f64 * y;
                self.filled += 1;
            }
        }
        self.to_renewal = self.to_renewal.saturating_sub(1);
    }

    /// Whether the sums have run on for so long that rounding should be swept out of them: once a length.
    pub fn wants_renewal(&self) -> bool {
        self.to_renewal == 0
    }

    /// Works the sums out anew from the values, oldest first: the last `length` of them.
    pub fn renew(&mut self, values: impl Iterator<Item = f64>) {
        let length = self.length;
        self.restart();
        for y in values.take(length) {
            self.push(y, None);
        }
        // The newest is the least far from those to come.
        self.to_renewal = length;
    }

    /// The slope, a step of the stream; `None` until `length` values have come in.
    pub fn slope(&self) -> Option<f64> {
        let count = self.length as f64;
        let centre = (count - 1.0) / 2.0;
        (self.filled == self.length)
            .then(|| (self.moment - centre * self.sum) / (count * (count * count - 1.0) / 12.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::regression::slope_of_series;

    #[test]
    fn is_the_slope_of_the_last_values_however_long_it_runs() {
        let length = 40;
        let mut sliding = SlidingSlope::new(length);
        let mut values = Vec::new();
        for i in 0..200_000 {
            let t = f64::from(i);
            values.push(1e3 + 15.0 * t + (0.01 * t).sin() + 0.3 * (1.7 * t).cos());
            let newest = values.len() - 1;
            let leaving = newest.checked_sub(length).map(|at| values[at]);
            sliding.push(values[newest], leaving);
            if sliding.wants_renewal() {
                sliding.renew(values[values.len() - length..].iter().copied());
            }
            if i % 997 == 0 && values.len() >= length {
                let exact = slope_of_series(values[values.len() - length..].iter().copied());
                let error = sliding.slope().zip(exact).map(|(a, b)| (a - b).abs());
                assert!(error.is_some_and(|error| error < 1e-9), "{i}: {error:?}");
            }
        }
    }

    #[test]
    fn is_none_until_it_is_full() {
        let mut sliding = SlidingSlope::new(3);
        for (i, slope) in [None, None, Some(2.0)].into_iter().enumerate() {
            sliding.push(2.0 * i as f64, None);
            assert_eq!(sliding.slope(), slope);
        }
    }
}
