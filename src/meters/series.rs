//! The last values of a slow stream, in constant memory.

use crate::signal::magnitudes::greatest;

/// A ring of values, oldest first when asked.
#[derive(Clone, Debug)]
pub struct Series {
    values: Vec<f64>,
    at: usize,
    filled: usize,
}

impl Series {
    /// Keeps the last `length` values.
    pub fn new(length: usize) -> Self {
        Self {
            values: vec![0.0; length.max(1)],
            at: 0,
            filled: 0,
        }
    }

    /// Takes a value in.
    #[inline]
    pub fn push(&mut self, x: f64) {
        self.values[self.at] = x;
        self.at += 1;
        if self.at == self.values.len() {
            self.at = 0;
        }
        self.filled = (self.filled + 1).min(self.values.len());
    }

    /// Takes some values in, not more than are kept.
    pub fn extend(&mut self, values: &[f64]) {
        let (now, later) = values.split_at(values.len().min(self.values.len() - self.at));
        self.values[self.at..self.at + now.len()].copy_from_slice(now);
        self.values[..later.len()].copy_from_slice(later);
        self.at = (self.at + values.len()) % self.values.len();
        self.filled = (self.filled + values.len()).min(self.values.len());
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.filled = 0;
        self.at = 0;
    }

    /// Number of values kept.
    pub fn len(&self) -> usize {
        self.filled
    }

    /// Whether a whole length has come in.
    pub fn is_full(&self) -> bool {
        self.filled == self.values.len()
    }

    /// The value that the next push will drop; `None` while there is room.
    pub fn oldest_to_go(&self) -> Option<f64> {
        self.is_full().then(|| self.values[self.at])
    }

    /// The value that came `steps` before the newest; `None` where there were not so many.
    pub fn ago(&self, steps: usize) -> Option<f64> {
        let length = self.values.len();
        (steps < self.filled).then(|| self.values[(self.at + length - 1 - steps) % length])
    }

    /// The last `count` values (fewer where there are not so many), oldest first.
    pub fn last(&self, count: usize) -> impl Iterator<Item = f64> {
        let count = count.min(self.filled);
        // Newest values stand before `at`, older ones at the end of the room.
        let newest = count.min(self.at);
        let older = &self.values[self.values.len() - (count - newest)..];
        let newer = &self.values[self.at - newest..self.at];
        older.iter().chain(newer).copied()
    }

    /// All values in no particular order.
    pub fn unordered(&self) -> &[f64] {
        &self.values[..self.filled]
    }

    /// Mean of the values; 0 where there are none.
    pub fn mean(&self) -> f64 {
        self.unordered().iter().sum::<f64>() / self.filled.max(1) as f64
    }

    /// Greatest of the magnitudes; 0 where there are none.
    pub fn greatest(&self) -> f64 {
        greatest(self.unordered())
    }

    /// All values, oldest first.
    pub fn to_vec(&self) -> Vec<f64> {
        let mut values = Vec::with_capacity(self.filled);
        values.extend(self.last(self.filled));
        values
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_at_once_are_the_same_as_one_by_one() {
        let (mut one_by_one, mut at_once) = (Series::new(10), Series::new(10));
        for count in [3, 10, 0, 6, 1, 9, 10, 4] {
            let values: Vec<f64> = (0..count).map(|i| f64::from(count * 7 + i)).collect();
            values.iter().for_each(|x| one_by_one.push(*x));
            at_once.extend(&values);
            assert_eq!(at_once.to_vec(), one_by_one.to_vec());
            assert_eq!(at_once.len(), one_by_one.len());
        }
    }
}
