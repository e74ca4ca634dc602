//! Mean, root mean square and greatest value of a fast stream: what a flutter meter says of every sample.
//!
//! [`super::running::Running`] also knows the spread about a mean far from zero, which costs a division a value. Here
//! eight sums run side by side and are joined only when asked for.

use super::lanes::LANES;

/// The totals, in constant memory.
#[derive(Clone, Copy, Debug)]
pub struct Totals {
    count: u64,
    sums: [f64; LANES],
    squares: [f64; LANES],
    greatest: [f64; LANES],
}

impl Default for Totals {
    fn default() -> Self {
        Self {
            count: 0,
            sums: [0.0; LANES],
            squares: [0.0; LANES],
            greatest: [f64::NEG_INFINITY; LANES],
        }
    }
}

impl Totals {
    /// Takes values in.
    pub fn extend(&mut self, values: &[f64]) {
        self.count += values.len() as u64;
        let (chunks, rest) = values.as_chunks::<LANES>();
        for chunk in chunks {
            for (lane, x) in chunk.iter().enumerate() {
                self.take(lane, *x);
            }
        }
        for (lane, x) in rest.iter().enumerate() {
            self.take(lane, *x);
        }
    }

    #[inline(always)]
    fn take(&mut self, lane: usize, x: f64) {
        self.sums[lane] += x;
        self.squares[lane] += x * x;
        let greatest = &mut self.greatest[lane];
        *greatest = if x > *greatest { x } else { *greatest };
    }

    /// Number of values.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean; `None` before the first value.
    pub fn mean(&self) -> Option<f64> {
        self.over_count(&self.sums)
    }

    /// Root mean square about zero; `None` before the first value.
    pub fn rms(&self) -> Option<f64> {
        self.over_count(&self.squares).map(f64::sqrt)
    }

    /// Greatest value; `None` before the first.
    pub fn max(&self) -> Option<f64> {
        let greatest = self.greatest.iter().copied().reduce(f64::max);
        greatest.filter(|_| self.count > 0)
    }

    fn over_count(&self, sums: &[f64; LANES]) -> Option<f64> {
        (self.count > 0).then(|| sums.iter().sum::<f64>() / self.count as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::running::Running;

    #[test]
    fn are_those_of_the_values_one_by_one() {
        let value = |i: usize| 0.1 + (i as f64 * 0.37).sin();
        let (mut one_by_one, mut totals) = (Running::default(), Totals::default());
        assert_eq!(
            (totals.mean(), totals.rms(), totals.max()),
            (None, None, None)
        );
        let mut next = 0;
        for count in [0, 1, 16, 3, 16, 500, 16] {
            let values: Vec<f64> = (next..next + count).map(value).collect();
            next += count;
            values.iter().for_each(|x| one_by_one.push(*x));
            totals.extend(&values);
            let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 1e-12, "{a} {b}"),
                (a, b) => assert_eq!(a, b),
            };
            assert_eq!(one_by_one.count(), totals.count());
            near(one_by_one.mean(), totals.mean());
            near(one_by_one.rms(), totals.rms());
            near(one_by_one.max(), totals.max());
        }
    }
}
