//! Mean, spread and extremes of values that come in pieces which are joined later.

use super::evaluation::student_t;
use serde::Serialize;

/// What is known of some values. Joining two is exact (Chan, Golub and LeVeque 1979).
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Tally {
    /// How many values.
    pub count: u64,
    /// Their mean; 0 where there is none.
    pub mean: f64,
    /// Sum of their squared distances from the mean.
    squares: f64,
}

impl Tally {
    /// Takes a value in; what is no number is left out.
    pub fn push(&mut self, value: Option<f64>) {
        if let Some(mean) = value.filter(|value| value.is_finite()) {
            self.join(&Self {
                count: 1,
                mean,
                squares: 0.0,
            });
        }
    }

    /// Takes another tally in.
    pub fn join(&mut self, other: &Self) {
        let (mine, others) = (self.count as f64, other.count as f64);
        if other.count == 0 {
            return;
        }
        let apart = other.mean - self.mean;
        self.count += other.count;
        let all = mine + others;
        self.mean += apart * others / all;
        self.squares += other.squares + apart * apart * mine * others / all;
    }

    /// The mean; `None` where there is no value.
    pub fn value(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// Standard deviation (n − 1); `None` before the second value.
    pub fn deviation(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.squares / (self.count - 1) as f64).sqrt())
    }

    /// The mean and its expanded uncertainty (95 %, Student's t), if each value is worth so many independent ones
    /// (1 or less); `None` where there are not two of these.
    pub fn mean_with_uncertainty(&self, worth: f64) -> Option<(f64, f64)> {
        let independent = self.count as f64 * worth;
        let deviation = self.deviation().filter(|_| independent >= 1.5)?;
        Some((
            self.mean,
            student_t(independent - 1.0) * deviation / independent.sqrt(),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_joined_are_the_whole() {
        let values = [1.0, 4.0, -2.0, 8.5, 0.25];
        for cut in 0..=values.len() {
            let tally = |values: &[f64]| {
                let mut tally = Tally::default();
                values.iter().for_each(|value| tally.push(Some(*value)));
                tally
            };
            let mut joined = tally(&values[..cut]);
            joined.join(&tally(&values[cut..]));
            joined.push(Some(f64::NAN));
            // Python's statistics module: mean 2.35, stdev 4.052776825831889
            assert_eq!(joined.count, 5);
            assert!((joined.mean - 2.35).abs() < 1e-12);
            assert!((joined.deviation().unwrap_or_default() - 4.052_777).abs() < 1e-6);
        }
    }
}
