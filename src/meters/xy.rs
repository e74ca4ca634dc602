//! The newest samples of both channels, for the X–Y figure. Kept only while somebody looks at it.

use crate::readings::XyFigure;

/// Frames kept.
const FRAMES: usize = 4096;
/// Points of the figure.
const POINTS: usize = 512;
/// A tone is shown for at least so many of its cycles.
const CYCLES: f64 = 2.0;
/// Programme is shown for this long, seconds.
const PROGRAMME_S: f64 = 0.02;

/// A ring of frames.
pub struct XyRing {
    sample_rate_hz: f64,
    frames: Vec<[f32; 2]>,
    at: usize,
    filled: usize,
}

impl XyRing {
    /// For two channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64) -> Self {
        Self {
            sample_rate_hz,
            frames: vec![[0.0; 2]; FRAMES],
            at: 0,
            filled: 0,
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.filled = 0;
    }

    /// Takes a block of both channels in.
    pub fn push(&mut self, left: &[f64], right: &[f64]) {
        for (left, right) in left.iter().zip(right) {
            self.frames[self.at] = [*left as f32, *right as f32];
            self.at = (self.at + 1) % FRAMES;
        }
        self.filled = (self.filled + left.len()).min(FRAMES);
    }

    /// The figure of some cycles of a tone, or of programme; `None` before there is enough, or of silence.
    pub fn figure(&self, tone_hz: Option<f64>) -> Option<XyFigure> {
        let span_s = tone_hz.map_or(PROGRAMME_S, |hz| CYCLES / hz);
        let every = (span_s * self.sample_rate_hz / POINTS as f64).ceil() as usize;
        let every = every.clamp(1, FRAMES / POINTS);
        if self.filled < every * POINTS {
            return None;
        }
        let first = self.at + FRAMES - every * POINTS;
        let mut points: Vec<[f32; 2]> = (0..POINTS)
            .map(|i| self.frames[(first + i * every) % FRAMES])
            .collect();
        for channel in 0..2 {
            let mean = points.iter().map(|p| p[channel]).sum::<f32>() / POINTS as f32;
            let greatest = points
                .iter()
                .map(|p| (p[channel] - mean).abs())
                .fold(0.0, f32::max);
            if greatest <= 0.0 {
                return None;
            }
            for point in &mut points {
                point[channel] = (point[channel] - mean) / greatest;
            }
        }
        Some(XyFigure { points })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_quarter_cycle_is_a_circle_whatever_offset_and_level() {
        let mut ring = XyRing::new(48e3);
        assert_eq!(ring.figure(Some(1e3)), None);
        let wave = |i: usize, turns: f64| (TAU * (1e3 * i as f64 / 48e3 - turns)).sin();
        let left: Vec<f64> = (0..4800).map(|i| 0.3 + 0.5 * wave(i, 0.0)).collect();
        let right: Vec<f64> = (0..4800).map(|i| 0.02 * wave(i, 0.25)).collect();
        ring.push(&left, &right);
        let figure = ring.figure(Some(1e3)).expect("enough");
        assert_eq!(figure.points.len(), POINTS);
        for [x, y] in figure.points {
            // What is left of the mean of a broken number of cycles moves it a little.
            assert!((x.hypot(y) - 1.0).abs() < 0.05, "{x} {y}");
        }
        ring.clear();
        assert_eq!(ring.figure(None), None);
    }
}
