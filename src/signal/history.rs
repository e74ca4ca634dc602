//! The newest samples of a stream, always in one piece.

/// Blocks that are appended before the samples still needed are moved to the front: one move for so many.
const BLOCKS_A_MOVE: usize = 4;

/// Keeps some samples behind the newest block. Begins with zeros.
#[derive(Clone, Debug, Default)]
pub struct History {
    room: Vec<f64>,
    kept: usize,
    end: usize,
}

impl History {
    /// Keeps `kept` samples behind blocks of at most `block`.
    pub fn new(kept: usize, block: usize) -> Self {
        Self {
            room: vec![0.0; kept + BLOCKS_A_MOVE * block],
            kept,
            end: kept,
        }
    }

    /// Takes a block in.
    pub fn push(&mut self, block: &[f64]) {
        if self.end + block.len() > self.room.len() {
            self.room.copy_within(self.end - self.kept..self.end, 0);
            self.end = self.kept;
        }
        self.room[self.end..self.end + block.len()].copy_from_slice(block);
        self.end += block.len();
    }

    /// The newest `count` samples: those of the last block and as many as are kept behind it, at most.
    pub fn newest(&self, count: usize) -> &[f64] {
        &self.room[self.end - count..self.end]
    }

    /// The samples that are kept for the next block.
    pub fn kept_mut(&mut self) -> &mut [f64] {
        &mut self.room[self.end - self.kept..self.end]
    }

    /// As many samples as there are of those that are kept here, with zeros before them, in another room.
    #[must_use]
    pub fn moved(&self, kept: usize, block: usize) -> Self {
        let mut new = Self::new(kept, block);
        let count = kept.min(self.end);
        new.room[kept - count..kept].copy_from_slice(self.newest(count));
        new
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_samples_stand_in_order_whatever_the_blocks() {
        let mut history = History::new(7, 5);
        let mut all = vec![0.0; 7];
        for i in 0..100 {
            let block: Vec<f64> = (0..1 + i % 5).map(|k| f64::from(10 * i + k)).collect();
            history.push(&block);
            all.extend_from_slice(&block);
            let count = block.len() + 7;
            assert_eq!(history.newest(count), &all[all.len() - count..]);
            assert_eq!(history.kept_mut(), &all[all.len() - 7..]);
        }
        let newest = history.newest(7).to_vec();
        for kept in [3, 7, 40] {
            let moved = history.moved(kept, 9);
            let count = kept.min(7);
            assert_eq!(moved.newest(count), &newest[7 - count..]);
            assert_eq!(moved.newest(kept).len(), kept);
        }
    }
}
