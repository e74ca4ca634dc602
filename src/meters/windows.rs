//! Sliding means of the tone's frequency: least squares on the phase of the last seconds.

use crate::signal::regression::slope_of_series;

/// Phase of the tone, block by block, for the longest window; forgets at every fault.
#[derive(Clone, Debug)]
pub struct FrequencyWindows {
    blocks_per_s: f64,
    reference_hz: f64,
    /// Mean phase of each block against the reference, cycles; a ring.
    phase_cycles: Vec<f64>,
    at: usize,
    filled: usize,
    phase_now_cycles: f64,
}

impl FrequencyWindows {
    /// Keeps `longest_s` seconds of blocks.
    pub fn new(blocks_per_s: f64, longest_s: f64) -> Self {
        Self {
            blocks_per_s,
            reference_hz: 0.0,
            phase_cycles: vec![0.0; (longest_s * blocks_per_s).round().max(2.0) as usize],
            at: 0,
            filled: 0,
            phase_now_cycles: 0.0,
        }
    }

    /// Forgets everything; frequencies are handled as differences from `reference_hz` from now on.
    pub fn restart(&mut self, reference_hz: f64) {
        self.reference_hz = reference_hz;
        self.filled = 0;
        self.phase_now_cycles = 0.0;
    }

    /// Takes one block of frequencies in; returns the block's mean phase against the reference, cycles.
    pub fn push(&mut self, tone_hz: &[f64]) -> f64 {
        let step_s = 1.0 / (self.blocks_per_s * tone_hz.len() as f64);
        let mut sum_cycles = 0.0;
        for hz in tone_hz {
            self.phase_now_cycles += (hz - self.reference_hz) * step_s;
            sum_cycles += self.phase_now_cycles;
        }
        let mean_cycles = sum_cycles / tone_hz.len() as f64;
        self.phase_cycles[self.at] = mean_cycles;
        self.at = (self.at + 1) % self.phase_cycles.len();
        self.filled = (self.filled + 1).min(self.phase_cycles.len());
        mean_cycles
    }

    /// Blocks in a window of that length.
    pub fn blocks(&self, seconds: f64) -> usize {
        ((seconds * self.blocks_per_s).round() as usize).clamp(2, self.phase_cycles.len())
    }

    /// Mean frequency of the window of `blocks` that ended `ago` blocks before now, Hz; `None` unless it is full.
    pub fn frequency_hz(&self, blocks: usize, ago: usize) -> Option<f64> {
        if blocks + ago > self.filled {
            return None;
        }
        let length = self.phase_cycles.len();
        let first = self.at + 2 * length - ago - blocks;
        let phases = (0..blocks).map(|i| self.phase_cycles[(first + i) % length]);
        slope_of_series(phases).map(|slope| self.reference_hz + slope * self.blocks_per_s)
    }

    /// Frequencies of windows of `blocks`, every `every` blocks back from now, as far as the memory reaches.
    pub fn history_hz(&self, blocks: usize, every: usize) -> impl Iterator<Item = f64> {
        (0..)
            .map(move |i| self.frequency_hz(blocks, i * every))
            .map_while(|hz| hz)
    }

    /// Blocks since the last fault.
    pub fn filled(&self) -> usize {
        self.filled
    }
}
