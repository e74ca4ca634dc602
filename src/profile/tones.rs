//! Tones one after another: what each of them says of the two channels.

use super::frames::Frame;
use crate::signal::running::Running;
use realfft::num_complex::Complex64;
use std::collections::VecDeque;

/// A window is a tone's if this share of its power is in one line.
const PURE: f64 = 0.9;
/// Two windows are of the same tone within this (fraction).
const SAME_WITHIN: f64 = 0.01;
/// Tones kept; a sweep would make hundreds.
const MOST_TONES: usize = 32;
/// Windows that a tone needs: over a second.
const LEAST_WINDOWS: u64 = 12;

/// One tone.
#[derive(Clone, Debug)]
pub(super) struct Tone {
    hz: Running,
    /// Sum of left × conjugate of right.
    pub(super) cross: Complex64,
    /// Sums of the powers.
    pub(super) powers: [f64; 2],
    /// Phase of each window against that of the first, radians.
    phase: Running,
    first: Complex64,
    gain_db: Running,
}

impl Tone {
    fn new(cross: Complex64) -> Self {
        Self {
            hz: Running::default(),
            cross: Complex64::ZERO,
            powers: [0.0; 2],
            phase: Running::default(),
            first: cross,
            gain_db: Running::default(),
        }
    }

    fn push(&mut self, line: &Line) {
        let Line { hz, cross, powers } = *line;
        self.hz.push(hz);
        self.cross += cross;
        self.phase.push((cross * self.first.conj()).arg());
        for (sum, power) in self.powers.iter_mut().zip(powers) {
            *sum += power;
        }
        if powers.iter().all(|&power| power > 0.0) {
            self.gain_db.push(10.0 * (powers[0] / powers[1]).log10());
        }
    }

    /// Its frequency, Hz.
    pub(super) fn hz(&self) -> f64 {
        self.hz.mean().unwrap_or(0.0)
    }

    /// Windows that are independent of each other: they overlap by half.
    pub(super) fn independent(&self) -> f64 {
        (self.hz.count() as f64 / 2.0).max(1.0)
    }

    /// Whether it lasted long enough.
    pub(super) fn is_enough(&self) -> bool {
        self.hz.count() >= LEAST_WINDOWS
    }

    /// Phase by which the right channel lags, radians, wrapped.
    pub(super) fn phase_rad(&self) -> f64 {
        self.cross.arg()
    }

    /// Standard uncertainty of [`Self::phase_rad`] by its scatter.
    pub(super) fn phase_sigma_rad(&self) -> f64 {
        self.phase.deviation().unwrap_or(0.0) / self.independent().sqrt()
    }

    /// Left minus right, dB.
    pub(super) fn gain_db(&self) -> Option<f64> {
        let [left, right] = self.powers;
        (left > 0.0 && right > 0.0).then(|| 10.0 * (left / right).log10())
    }

    /// Standard uncertainty of [`Self::gain_db`] by its scatter.
    pub(super) fn gain_sigma_db(&self) -> f64 {
        self.gain_db.deviation().unwrap_or(0.0) / self.independent().sqrt()
    }
}

/// What one window says of a line in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    hz: f64,
    cross: Complex64,
    powers: [f64; 2],
}

impl Line {
    /// The line at `hz`.
    pub(super) fn of(frame: &Frame<'_>, hz: f64) -> Self {
        Self {
            hz,
            cross: frame.line_cross(hz),
            powers: [0, 1].map(|channel| frame.line_power(channel, hz)),
        }
    }
}

/// Windows at either end of an unbroken run of them that may hold the moment in which a plug went in or a tone began: they
/// overlap by half, so that two do.
const EDGE_WINDOWS: usize = 2;

/// An unbroken run of windows with one tone; gives back those away from its edges.
#[derive(Clone, Debug, Default)]
pub(super) struct Run {
    windows: usize,
    waiting: VecDeque<Line>,
}

impl Run {
    /// Another signal, or none: what waits lies at the edge and is dropped.
    pub(super) fn end(&mut self) {
        self.windows = 0;
        self.waiting.clear();
    }

    /// Whether a window of anything that lasts, the next in the run, is beyond its first edge.
    pub(super) fn is_inside(&mut self) -> bool {
        self.windows += 1;
        self.windows > EDGE_WINDOWS
    }

    /// Takes the next window; returns the one that turns out to be away from both edges.
    pub(super) fn push(&mut self, line: Line) -> Option<Line> {
        let other = |last: &Line| (last.hz / line.hz - 1.0).abs() >= SAME_WITHIN;
        if self.waiting.back().is_some_and(other) {
            self.end();
        }
        if !self.is_inside() {
            // Kept only to tell the next tone from this one.
            self.waiting.clear();
            self.waiting.push_back(line);
            return None;
        }
        if self.windows == EDGE_WINDOWS + 1 {
            self.waiting.clear();
        }
        self.waiting.push_back(line);
        (self.waiting.len() > EDGE_WINDOWS)
            .then(|| self.waiting.pop_front())
            .flatten()
    }
}

/// The tones so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Tones(Vec<Tone>);

impl Tones {
    /// The pure line in a channel's window, Hz.
    pub(super) fn pure_line_hz(frame: &Frame<'_>, channel: usize) -> Option<f64> {
        let hz = frame.strongest_hz(channel)?;
        (frame.line_power(channel, hz) >= PURE * frame.power(channel)).then_some(hz)
    }

    /// Takes the line of a window in.
    pub(super) fn push(&mut self, line: &Line) {
        let same = |tone: &&mut Tone| (tone.hz() / line.hz - 1.0).abs() < SAME_WITHIN;
        if let Some(tone) = self.0.iter_mut().find(same) {
            tone.push(line);
        } else if self.0.len() < MOST_TONES {
            let mut tone = Tone::new(line.cross);
            tone.push(line);
            self.0.push(tone);
        }
    }

    /// Those that lasted long enough, the lowest first.
    pub(super) fn enough(&self) -> Vec<&Tone> {
        let mut tones: Vec<_> = self.0.iter().filter(|tone| tone.is_enough()).collect();
        tones.sort_by(|a, b| a.hz().total_cmp(&b.hz()));
        tones
    }
}
