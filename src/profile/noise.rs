//! The interface's own noise and hum, with both inputs shorted.

use super::frames::{Frame, Frames};

/// Long windows: the harmonics of 50 and 60 Hz must lie apart.
const WINDOW_S: f64 = 1.0;
/// Bandwidth of the noise figure, Hz (20 Hz to 20 kHz).
const BAND_HZ: [f64; 2] = [20.0, 20_000.0];
/// Windows needed: about two and a half seconds.
const LEAST_WINDOWS: f64 = 4.0;
/// Harmonics of the mains that count as hum.
const HARMONICS: usize = 6;
/// Hum stands out if it is this far (power ratio, 6 dB) above the noise beside it.
const PROMINENT: f64 = 4.0;
/// Above this (mean square, −40 dBFS) the inputs are not shorted.
const LOUD_POWER: f64 = 0.5e-4;
/// Mean square of a full-scale sine.
const FULL_SCALE_POWER: f64 = 0.5;

/// How far the measurement is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NoiseState {
    /// Not enough yet.
    #[default]
    Listening,
    /// Something plays.
    NotShorted,
    /// Exact zeros: nothing comes from the converter at all.
    Dead,
    /// The figures stand.
    Done,
}

impl NoiseState {
    /// What the technician should do.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Listening => "listening: leave both inputs shorted",
            Self::NotShorted => "something comes in: short both inputs with plugs",
            Self::Dead => {
                "exact zeros: check the input chosen, its mute and the permission to record"
            }
            Self::Done => "done",
        }
    }
}

/// Hum of an input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HumFigure {
    /// Mains frequency, 50 or 60 Hz.
    pub mains_hz: f64,
    /// Power sum of the fundamental and harmonics 2 to 6, dBFS.
    pub total_dbfs: f64,
}

/// Noise of one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputNoise {
    /// From 20 Hz to 20 kHz (or half the sample rate), unweighted, hum included, dBFS rms.
    pub rms_dbfs: f64,
    /// The same A-weighted (IEC 61672-1), dBFS rms.
    pub a_weighted_dbfs: f64,
    /// Hum, where it stands out of the noise.
    pub hum: Option<HumFigure>,
}

/// Noise of both inputs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct NoiseReading {
    /// How far it is; the figures stand only with [`NoiseState::Done`].
    pub state: NoiseState,
    /// Left and right.
    pub inputs: Option<[InputNoise; 2]>,
    /// Time behind it, seconds.
    pub seconds: f64,
}

/// The measurement.
pub struct SelfNoise {
    frames: Frames,
    sums: [Sums; 2],
    windows: f64,
    window_s: f64,
    loud: bool,
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    rms: f64,
    a_weighted: f64,
    /// For 50 and 60 Hz: power at the harmonics, and what the noise beside them would put there.
    hum: [[f64; 2]; 2],
}

impl SelfNoise {
    /// For two channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64) -> Self {
        let length = ((WINDOW_S * sample_rate_hz) as usize).next_power_of_two();
        Self {
            frames: Frames::new(sample_rate_hz, WINDOW_S),
            sums: [Sums::default(); 2],
            windows: 0.0,
            window_s: length as f64 / sample_rate_hz,
            loud: false,
        }
    }

    /// Takes interleaved frames of both inputs in. A window with a signal in it begins the measurement anew.
    pub fn push(&mut self, interleaved: &[f32]) {
        let Self {
            sums,
            windows,
            loud,
            ..
        } = self;
        self.frames.push(interleaved, |frame| {
            *loud = (0..2).any(|channel| frame.power(channel) > LOUD_POWER);
            if *loud {
                *sums = [Sums::default(); 2];
                *windows = 0.0;
                return;
            }
            *windows += 1.0;
            for (channel, sums) in sums.iter_mut().enumerate() {
                sums.push(frame, channel);
            }
        });
    }

    /// Frames are missing before the next.
    pub fn mark_gap(&mut self) {
        self.frames.mark_gap();
    }

    /// What is known so far.
    pub fn reading(&self) -> NoiseReading {
        let seconds = (self.windows + 1.0) / 2.0 * self.window_s;
        let state = if self.loud {
            NoiseState::NotShorted
        } else if self.windows < LEAST_WINDOWS {
            NoiseState::Listening
        } else if self.sums.iter().any(|sums| sums.rms <= 0.0) {
            NoiseState::Dead
        } else {
            NoiseState::Done
        };
        NoiseReading {
            state,
            inputs: (state == NoiseState::Done)
                .then(|| self.sums.map(|sums| sums.of(self.windows))),
            seconds,
        }
    }
}

impl Sums {
    fn push(&mut self, frame: &Frame<'_>, channel: usize) {
        self.rms += frame.power_between(channel, BAND_HZ[0], BAND_HZ[1]);
        self.a_weighted += frame.weighted_power(channel, BAND_HZ, a_weight);
        for (mains_hz, [hum, beside]) in [50.0, 60.0].into_iter().zip(&mut self.hum) {
            let width_hz = frame.lobe_hz();
            for harmonic in 1..=HARMONICS {
                let hz = mains_hz * harmonic as f64;
                *hum += frame.line_power(channel, hz);
                // A strip on either side, a quarter of the line's width; the quieter, as in the other may lie a line
                // of the other mains frequency.
                let around = [hz - 1.75 * width_hz, hz + 1.75 * width_hz].map(|hz| {
                    frame.power_between(channel, hz - width_hz / 4.0, hz + width_hz / 4.0)
                });
                *beside += 4.0 * around[0].min(around[1]);
            }
        }
    }

    fn of(&self, windows: f64) -> InputNoise {
        let dbfs = |power: f64| 10.0 * (power / windows / FULL_SCALE_POWER).log10();
        let stands_out = |[hum, beside]: [f64; 2]| hum > PROMINENT * beside;
        let stronger = usize::from(self.hum[1][0] > self.hum[0][0]);
        InputNoise {
            rms_dbfs: dbfs(self.rms),
            a_weighted_dbfs: dbfs(self.a_weighted),
            hum: stands_out(self.hum[stronger]).then(|| HumFigure {
                mains_hz: [50.0, 60.0][stronger],
                total_dbfs: dbfs(self.hum[stronger][0]),
            }),
        }
    }
}

/// A-weighting as a power factor, by the formula of IEC 61672-1 (1 at 1 kHz).
fn a_weight(hz: f64) -> f64 {
    let square = hz * hz;
    let response = 12_194f64.powi(2) * square * square
        / ((square + 20.6f64.powi(2))
            * (square + 12_194f64.powi(2))
            * ((square + 107.7f64.powi(2)) * (square + 737.9f64.powi(2))).sqrt());
    // +2.00 dB of the formula.
    response * response * 10f64.powf(0.2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of IEC 61672-1 for exact frequencies 1000·10^(n/10).
    #[test]
    fn a_weighting_is_the_table() {
        for (n, db) in [
            (-15, -39.4),
            (-10, -19.1),
            (-5, -6.6),
            (0, 0.0),
            (4, 1.3),
            (5, 1.2),
            (10, -2.5),
            (13, -9.3),
        ] {
            let hz = 1000.0 * 10f64.powf(f64::from(n) / 10.0);
            let read_db = 10.0 * a_weight(hz).log10();
            assert!(
                (read_db - db).abs() < 0.06,
                "{hz}: {read_db} instead of {db}"
            );
        }
    }
}
