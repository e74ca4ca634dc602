//! Sliding means of the tone's frequency: least squares on the phase of the last seconds.

use super::series::Series;
use crate::signal::sliding_slope::SlidingSlope;

/// Phase of the tone, block by block, over windows of several lengths; forgets at every fault.
#[derive(Clone, Debug)]
pub struct FrequencyWindows {
    blocks_per_s: f64,
    reference_hz: f64,
    /// Mean phase of each block against the reference, cycles, as far back as the longest window.
    phase_cycles: Series,
    phase_now_cycles: f64,
    windows: Vec<SlidingSlope>,
}

impl FrequencyWindows {
    /// Windows of those lengths, seconds.
    pub fn new(blocks_per_s: f64, lengths_s: &[f64]) -> Self {
        let windows: Vec<SlidingSlope> = lengths_s
            .iter()
            .map(|seconds| SlidingSlope::new((seconds * blocks_per_s).round() as usize))
            .collect();
        let longest = windows.iter().map(SlidingSlope::length).max().unwrap_or(2);
        Self {
            blocks_per_s,
            reference_hz: 0.0,
            phase_cycles: Series::new(longest + 1),
            phase_now_cycles: 0.0,
            windows,
        }
    }

    /// Forgets everything; frequencies are handled as differences from `reference_hz` from now on.
    pub fn restart(&mut self, reference_hz: f64) {
        self.reference_hz = reference_hz;
        self.phase_cycles.clear();
        self.phase_now_cycles = 0.0;
        self.windows.iter_mut().for_each(SlidingSlope::restart);
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
        self.phase_cycles.push(mean_cycles);
        for window in &mut self.windows {
            window.push(mean_cycles, self.phase_cycles.ago(window.length()));
            if window.wants_renewal() {
                window.renew(self.phase_cycles.last(window.length()));
            }
        }
        mean_cycles
    }

    /// Blocks in the window of that index.
    pub fn blocks(&self, window: usize) -> usize {
        self.windows[window].length()
    }

    /// Mean frequency of the last blocks in the window of that index, Hz; `None` unless it is full.
    pub fn frequency_hz(&self, window: usize) -> Option<f64> {
        self.windows[window]
            .slope()
            .map(|slope| self.reference_hz + slope * self.blocks_per_s)
    }
}
