//! Delay and gain between the two inputs, from one signal in both of them through a Y lead.
//!
//! Tones one after another (any generator will do; the lowest below 1 kHz, the highest above 5 kHz) or noise. The phase
//! between the inputs is a straight line over frequency: its slope is the delay, an offset of half a turn is a lead with
//! its poles exchanged. What the tones leave beside that line is the inputs' own unlikeness, and goes into the
//! uncertainty.
//!
//! Two plugs with the same signal cannot tell which is which. So the left plug goes in first, alone: a signal that then
//! comes in on the right shows that the leads (or the channels picked) are swapped.

use super::{
    frames::{Frame, Frames},
    tones::{Line, Run, Tone, Tones},
};
use crate::signal::{cross_spectrum::CrossSpectrum, running::Running};
use std::f64::consts::{PI, TAU};

/// Windows of at least this length.
const WINDOW_S: f64 = 0.1;
/// Signal is above this mean square: −70 dBFS.
const SIGNAL_POWER: f64 = 0.5e-7;
/// A signal is on one input alone if the other is this far (power ratio, 20 dB) below.
const ALONE: f64 = 0.01;
/// Windows after which it is.
const ALONE_WINDOWS: u32 = 8;
/// The lowest tone settles polarity and whole cycles only below this, Hz.
const LOW_TONE_HZ: f64 = 1000.0;
/// The highest tone must be above this, Hz: how unlike the inputs are shows between it and the lowest.
const HIGH_TONE_HZ: f64 = 5000.0;
/// Delays looked for in noise, seconds.
const MOST_DELAY_S: f64 = 1e-3;
/// Noise in both inputs is the same signal at this coherence.
const LEAST_COHERENCE: f64 = 0.95;
/// Noise windows that are needed: some seconds.
const LEAST_NOISE_WINDOWS: u64 = 60;
/// Of noise the gain is read from here up: hum lies below.
const NOISE_FROM_HZ: f64 = 200.0;
/// No two figures are better than this, whatever the scatter says (arithmetic, drift of the analogue parts). Common
/// practice, no source.
const DELAY_FLOOR_US: f64 = 0.002;
const GAIN_FLOOR_DB: f64 = 0.001;

/// What the left plug alone showed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Leads {
    /// The left plug was never alone.
    #[default]
    NotChecked,
    /// Left is left.
    Straight,
    /// What was plugged in left came in on the right.
    Swapped,
}

impl Leads {
    /// In words, as shown and as kept in a profile.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NotChecked => "not checked",
            Self::Straight => "straight",
            Self::Swapped => "swapped",
        }
    }
}

/// How far the measurement is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum YLeadState {
    /// Nothing comes in.
    #[default]
    NoSignal,
    /// One input only carries the signal at the moment.
    OneInput,
    /// Signal on both, not enough of it yet.
    Listening,
    /// There are tones, but none low enough to settle polarity and whole cycles.
    NeedsLowTone,
    /// There are tones, but none high enough to show how alike the inputs are over frequency.
    NeedsHighTone,
    /// The inputs carry different signals.
    InputsDiffer,
    /// The figures stand.
    Done,
}

impl YLeadState {
    /// What the technician should do.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoSignal => "no signal: plug the left lead in, alone at first",
            Self::OneInput => "signal on one input: now plug the other in too",
            Self::Listening => "listening: several tones one after another, or noise",
            Self::NeedsLowTone => {
                "play a tone below 1 kHz too: it settles polarity and whole cycles"
            }
            Self::NeedsHighTone => "play a tone above 5 kHz too: it shows how alike the inputs are",
            Self::InputsDiffer => "the inputs carry different signals: use one source and a Y lead",
            Self::Done => "done",
        }
    }
}

/// What one tone says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TonePair {
    /// Its frequency by the interface's clock, Hz.
    pub hz: f64,
    /// Delay of the right input, µs.
    pub delay_us: f64,
    /// Left minus right, dB.
    pub gain_db: f64,
}

/// Delay and gain between the inputs. Uncertainties are expanded (k = 2).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct YLeadReading {
    /// How far it is; the figures stand only with [`YLeadState::Done`].
    pub state: YLeadState,
    /// Delay of the right input, µs; positive = right later.
    pub skew_us: Option<f64>,
    /// Uncertainty of `skew_us`, µs.
    pub skew_uncertainty_us: Option<f64>,
    /// Left minus right for the same signal, dB.
    pub gain_db: Option<f64>,
    /// Uncertainty of `gain_db`, dB.
    pub gain_uncertainty_db: Option<f64>,
    /// Whether one input is upside down against the other.
    pub opposite_polarity: bool,
    /// Whether left is left.
    pub leads: Leads,
    /// The tones it was read from; empty for noise.
    pub tones: Vec<TonePair>,
}

/// The measurement.
pub struct YLead {
    frames: Frames,
    heard: Heard,
}

struct Heard {
    tones: Tones,
    /// The tone, or the noise, in both inputs at the moment.
    tone_run: Run,
    noise_run: Run,
    noise: CrossSpectrum,
    noise_powers: [f64; 2],
    noise_gain_db: Running,
    leads: Leads,
    /// Windows in a row on one input alone, and which.
    alone: (usize, u32),
    state: YLeadState,
}

/// What a way of reading came to.
struct Figures {
    skew_us: f64,
    skew_sigma_us: f64,
    gain_db: f64,
    gain_sigma_db: f64,
    opposite_polarity: bool,
    tones: Vec<TonePair>,
}

impl YLead {
    /// For two channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64) -> Self {
        Self {
            frames: Frames::new(sample_rate_hz, WINDOW_S),
            heard: Heard {
                tones: Tones::default(),
                tone_run: Run::default(),
                noise_run: Run::default(),
                noise: CrossSpectrum::new(sample_rate_hz, f64::INFINITY),
                noise_powers: [0.0; 2],
                noise_gain_db: Running::default(),
                leads: Leads::default(),
                alone: (0, 0),
                state: YLeadState::default(),
            },
        }
    }

    /// Takes interleaved frames of both inputs in, in any pieces of whole frames.
    pub fn push(&mut self, interleaved: &[f32]) {
        let heard = &mut self.heard;
        self.frames.push(interleaved, |frame| heard.window(frame));
    }

    /// Frames are missing before the next.
    pub fn mark_gap(&mut self) {
        self.frames.mark_gap();
        self.heard.end_runs();
    }

    /// What is known so far.
    pub fn reading(&mut self) -> YLeadReading {
        self.heard.reading()
    }
}

impl Heard {
    fn window(&mut self, frame: &Frame<'_>) {
        let powers = [0, 1].map(|channel| frame.power(channel));
        let stronger = usize::from(powers[1] > powers[0]);
        if powers[stronger] < SIGNAL_POWER {
            self.state = YLeadState::NoSignal;
            self.alone = (0, 0);
            self.end_runs();
        } else if powers[1 - stronger] < ALONE * powers[stronger] {
            self.state = YLeadState::OneInput;
            self.on_one_input(stronger);
            self.end_runs();
        } else {
            self.state = YLeadState::Listening;
            self.alone = (0, 0);
            let line = [0, 1].map(|channel| Tones::pure_line_hz(frame, channel));
            match line {
                [Some(hz), Some(_)] => {
                    self.end_noise();
                    if let Some(line) = self.tone_run.push(Line::of(frame, hz)) {
                        self.tones.push(&line);
                    }
                }
                [None, None] => {
                    self.tone_run.end();
                    if self.noise_run.is_inside() {
                        self.noise_window(frame);
                    }
                }
                // A tone begins or ends.
                _ => self.end_runs(),
            }
        }
    }

    fn end_runs(&mut self) {
        self.tone_run.end();
        self.end_noise();
    }

    fn end_noise(&mut self) {
        self.noise_run.end();
        self.noise.mark_gap();
    }

    fn on_one_input(&mut self, channel: usize) {
        let (before, windows) = self.alone;
        self.alone = (channel, if before == channel { windows + 1 } else { 1 });
        if self.alone.1 >= ALONE_WINDOWS && self.leads == Leads::NotChecked {
            self.leads = if channel == 0 {
                Leads::Straight
            } else {
                Leads::Swapped
            };
        }
    }

    fn noise_window(&mut self, frame: &Frame<'_>) {
        self.noise.push(frame.newest[0], frame.newest[1]);
        let powers =
            [0, 1].map(|channel| frame.power_between(channel, NOISE_FROM_HZ, f64::INFINITY));
        for (sum, power) in self.noise_powers.iter_mut().zip(powers) {
            *sum += power;
        }
        if powers.iter().all(|&power| power > 0.0) {
            self.noise_gain_db
                .push(10.0 * (powers[0] / powers[1]).log10());
        }
    }

    fn reading(&mut self) -> YLeadReading {
        let mut reading = YLeadReading {
            state: self.state,
            leads: self.leads,
            ..YLeadReading::default()
        };
        let by_noise = match self.by_noise() {
            Ok(figures) => figures,
            Err(state) => {
                reading.state = state;
                None
            }
        };
        let by_tones = match by_tones(&self.tones.enough()) {
            Ok(figures) => figures,
            Err(state) => {
                reading.state = state;
                None
            }
        };
        let better = |a: Figures, b: Figures| {
            if a.skew_sigma_us <= b.skew_sigma_us {
                a
            } else {
                b
            }
        };
        let Some(figures) = by_tones.into_iter().chain(by_noise).reduce(better) else {
            return reading;
        };
        reading.state = YLeadState::Done;
        reading.skew_us = Some(figures.skew_us);
        reading.skew_uncertainty_us = Some((2.0 * figures.skew_sigma_us).hypot(DELAY_FLOOR_US));
        reading.gain_db = Some(figures.gain_db);
        reading.gain_uncertainty_db = Some((2.0 * figures.gain_sigma_db).hypot(GAIN_FLOOR_DB));
        reading.opposite_polarity = figures.opposite_polarity;
        reading.tones = figures.tones;
        reading
    }

    /// `Ok(None)`: too little noise.
    fn by_noise(&mut self) -> Result<Option<Figures>, YLeadState> {
        let windows = self.noise_gain_db.count();
        if windows < LEAST_NOISE_WINDOWS {
            return Ok(None);
        }
        let delay = self.noise.delay(MOST_DELAY_S);
        let delay = delay
            .filter(|delay| delay.coherence >= LEAST_COHERENCE)
            .ok_or(YLeadState::InputsDiffer)?;
        let [left, right] = self.noise_powers;
        // Windows overlap by half.
        let independent = windows as f64 / 2.0;
        Ok(Some(Figures {
            skew_us: delay.delay_s * 1e6,
            skew_sigma_us: delay.uncertainty_s * 1e6,
            gain_db: 10.0 * (left / right).log10(),
            gain_sigma_db: self.noise_gain_db.deviation().unwrap_or(0.0) / independent.sqrt(),
            opposite_polarity: delay.inverted,
            tones: Vec::new(),
        }))
    }
}

/// The straight line through the tones' phases, lowest tone first. `Ok(None)`: no tone.
fn by_tones(tones: &[&Tone]) -> Result<Option<Figures>, YLeadState> {
    let (Some(lowest), Some(highest)) = (tones.first(), tones.last()) else {
        return Ok(None);
    };
    if lowest.hz() > LOW_TONE_HZ {
        return Err(YLeadState::NeedsLowTone);
    }
    if highest.hz() < HIGH_TONE_HZ {
        return Err(YLeadState::NeedsHighTone);
    }
    let opposite_polarity = lowest.phase_rad().abs() > PI / 2.0;
    let offset = if opposite_polarity { PI } else { 0.0 };
    let mut skew = SkewFit::default();
    let unwrapped: Vec<(f64, f64)> = tones
        .iter()
        .map(|tone| {
            let omega = TAU * tone.hz();
            let expected = omega * skew.delay_s();
            let from_there = tone.phase_rad() - offset - expected;
            let phase = expected + from_there - TAU * (from_there / TAU).round();
            skew.push(omega, phase);
            (omega, phase)
        })
        .collect();
    let count = tones.len() as f64;
    let delay_s = skew.delay_s();
    let squares: f64 = unwrapped
        .iter()
        .map(|(omega, phase)| (phase - omega * delay_s).powi(2))
        .sum();
    let own = tones
        .iter()
        .map(|tone| tone.phase_sigma_rad().powi(2))
        .sum::<f64>()
        / count;
    let variance = own.max(squares / (count - 1.0).max(1.0));
    let gains: Option<Vec<f64>> = tones.iter().map(|tone| tone.gain_db()).collect();
    let gains = gains.ok_or(YLeadState::InputsDiffer)?;
    let mut gain = Running::default();
    gains.iter().for_each(|&db| gain.push(db));
    let own_gain = tones
        .iter()
        .map(|tone| tone.gain_sigma_db())
        .fold(0.0, f64::max);
    Ok(Some(Figures {
        skew_us: 1e6 * delay_s,
        skew_sigma_us: 1e6 * (variance / skew.omega_squares).sqrt(),
        gain_db: gain.mean().unwrap_or(0.0),
        // At another frequency the inputs differ as much as they do between these.
        gain_sigma_db: own_gain.hypot(gain.deviation().unwrap_or(0.0)),
        opposite_polarity,
        tones: unwrapped
            .iter()
            .zip(&gains)
            .map(|((omega, phase), gain_db)| TonePair {
                hz: omega / TAU,
                delay_us: 1e6 * phase / omega,
                gain_db: *gain_db,
            })
            .collect(),
    }))
}

/// Least squares of phase = ω·delay.
#[derive(Default)]
struct SkewFit {
    omega_squares: f64,
    products: f64,
}

impl SkewFit {
    fn push(&mut self, omega: f64, phase: f64) {
        self.omega_squares += omega * omega;
        self.products += omega * phase;
    }

    fn delay_s(&self) -> f64 {
        if self.omega_squares > 0.0 {
            self.products / self.omega_squares
        } else {
            0.0
        }
    }
}
