//! Tones one after another: what each of them says of the two channels.

use super::frames::Frame;
use crate::signal::running::Running;
use realfft::num_complex::Complex64;

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

    fn push(&mut self, frame: &Frame<'_>, hz: f64) {
        let cross = frame.line_cross(hz);
        let powers = [0, 1].map(|channel| frame.line_power(channel, hz));
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

/// The tones so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Tones(Vec<Tone>);

impl Tones {
    /// The pure line in a channel's window, Hz.
    pub(super) fn pure_line_hz(frame: &Frame<'_>, channel: usize) -> Option<f64> {
        let hz = frame.strongest_hz(channel)?;
        (frame.line_power(channel, hz) >= PURE * frame.power(channel)).then_some(hz)
    }

    /// Takes the line at `hz` of a window in.
    pub(super) fn push(&mut self, frame: &Frame<'_>, hz: f64) {
        let same = |tone: &&mut Tone| (tone.hz() / hz - 1.0).abs() < SAME_WITHIN;
        if let Some(tone) = self.0.iter_mut().find(same) {
            tone.push(frame, hz);
        } else if self.0.len() < MOST_TONES {
            let mut tone = Tone::new(frame.line_cross(hz));
            tone.push(frame, hz);
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
