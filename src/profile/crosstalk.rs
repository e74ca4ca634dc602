//! Crosstalk of the interface: a tone in one input, the other shorted.
//!
//! What reaches the other input keeps its phase against the tone, and noise does not: the average of the products of
//! both (coherent detection) finds crosstalk far below the noise, and how far below it could not.

use super::{
    frames::Frames,
    tones::{Line, Tones},
};

/// Windows of at least this length.
const WINDOW_S: f64 = 0.1;
/// The driven input carries at least this mean square: −40 dBFS.
const DRIVEN_POWER: f64 = 0.5e-4;
/// The other is at least this far (power ratio, 20 dB) below; else it is driven, too.
const OTHER: f64 = 0.01;

/// How far the measurement is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CrosstalkState {
    /// No tone in either input.
    #[default]
    NoTone,
    /// The tone is in both.
    BothDriven,
    /// Not enough yet.
    Listening,
    /// At least one direction stands.
    Done,
}

impl CrosstalkState {
    /// What the technician should do.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoTone => "no tone: drive one input with a strong sine, short the other",
            Self::BothDriven => "the tone is in both inputs: short one of them",
            Self::Listening => "listening",
            Self::Done => "done",
        }
    }
}

/// Crosstalk at one tone, one direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crosstalk {
    /// Its frequency, Hz.
    pub hz: f64,
    /// Level in the shorted input against the driven one, dB; negative. Where `at_most`, a bound.
    pub db: f64,
    /// Whether the crosstalk drowns: it is not above `db`.
    pub at_most: bool,
}

/// Both directions so far.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CrosstalkReading {
    /// How far it is.
    pub state: CrosstalkState,
    /// From left into right, by tone.
    pub into_right: Vec<Crosstalk>,
    /// From right into left.
    pub into_left: Vec<Crosstalk>,
}

impl CrosstalkReading {
    /// The worst of a direction.
    pub fn worst(of: &[Crosstalk]) -> Option<Crosstalk> {
        of.iter().copied().max_by(|a, b| a.db.total_cmp(&b.db))
    }
}

/// The measurement.
pub struct CrosstalkWatch {
    frames: Frames,
    /// By driven input.
    tones: [Tones; 2],
    state: CrosstalkState,
}

impl CrosstalkWatch {
    /// For two channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64) -> Self {
        Self {
            frames: Frames::new(sample_rate_hz, WINDOW_S),
            tones: Default::default(),
            state: CrosstalkState::default(),
        }
    }

    /// Takes interleaved frames of both inputs in.
    pub fn push(&mut self, interleaved: &[f32]) {
        let Self { tones, state, .. } = self;
        self.frames.push(interleaved, |frame| {
            let powers = [0, 1].map(|channel| frame.power(channel));
            let driven = usize::from(powers[1] > powers[0]);
            let line = Tones::pure_line_hz(frame, driven);
            *state = match line {
                Some(hz) if powers[driven] >= DRIVEN_POWER => {
                    if frame.line_power(1 - driven, hz) < OTHER * powers[driven] {
                        tones[driven].push(&Line::of(frame, hz));
                        CrosstalkState::Listening
                    } else {
                        CrosstalkState::BothDriven
                    }
                }
                _ => CrosstalkState::NoTone,
            };
        });
    }

    /// Frames are missing before the next.
    pub fn mark_gap(&mut self) {
        self.frames.mark_gap();
    }

    /// What is known so far.
    pub fn reading(&self) -> CrosstalkReading {
        let [into_right, into_left] = [0, 1].map(|driven| self.from(driven));
        let done = !into_right.is_empty() || !into_left.is_empty();
        CrosstalkReading {
            state: if done {
                CrosstalkState::Done
            } else {
                self.state
            },
            into_right,
            into_left,
        }
    }

    fn from(&self, driven: usize) -> Vec<Crosstalk> {
        let tones = self.tones[driven].enough();
        let figures = tones.iter().map(|tone| {
            let driving = tone.powers[driven];
            let coherent = tone.cross.norm_sqr() / (driving * driving);
            // What in the other input does not follow the tone, averaged over the independent windows: the power that
            // the detection itself leaves.
            let rest = (tone.powers[1 - driven] / driving - coherent).max(0.0);
            let floor = rest / tone.independent();
            let at_most = coherent < 4.0 * floor;
            let power = if at_most {
                coherent + 4.0 * floor
            } else {
                coherent
            };
            Crosstalk {
                hz: tone.hz(),
                db: 10.0 * power.max(1e-20).log10(),
                at_most,
            }
        });
        figures.collect()
    }
}
