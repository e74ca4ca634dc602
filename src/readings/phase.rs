//! Interchannel phase, delay and azimuth.

use super::{PhaseLine, Trail, Validity, XyFigure};
use serde::Serialize;

/// What the phase was read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PhaseMethod {
    /// The locked tone.
    Tone,
    /// Broadband programme or noise, by cross-correlation.
    Programme,
}

/// What settled the whole cycles of a tone's phase.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CyclesSettled {
    /// Only one delay is within the azimuth that the tape format makes plausible.
    OnlyCandidate,
    /// A lower tone heard before it.
    LowerTone,
    /// Broadband programme or noise heard before it.
    Programme,
    /// The tone's level on both channels while the screw turned.
    Level,
}

impl CyclesSettled {
    /// In a few words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::OnlyCandidate => "the only place possible",
            Self::LowerTone => "a lower tone before",
            Self::Programme => "programme before",
            Self::Level => "the level in turning",
        }
    }
}

/// One delay that the fine phase allows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PhaseCandidate {
    /// Delay of the right channel, µs.
    pub delay_us: f64,
    /// The azimuth that makes it, arc minutes.
    pub azimuth_arcmin: f64,
}

/// Interchannel phase. Positive delay, degrees and arc minutes: the right channel arrives later.
#[derive(Clone, Debug, Default, Serialize)]
pub struct PhaseReading {
    /// Whether the numbers stand.
    pub status: Validity,
    /// What it was read from.
    pub method: Option<PhaseMethod>,
    /// The tone it was read at, Hz; `None` for programme.
    pub tone_hz: Option<f64>,
    /// Phase = 360·f·delay wrapped to (−180, 180], degrees; `None` for programme.
    pub degrees: Option<f64>,
    /// Interchannel delay, µs; what the interface adds is taken out where it is known.
    pub delay_us: Option<f64>,
    /// Expanded uncertainty (k = 2) of `delay_us`, µs: noise, wander, and the interface's own delay.
    pub delay_uncertainty_us: Option<f64>,
    /// Azimuth: tan α = v·Δt / d for the tape format in use, less that of the tape by its certificate, arc minutes.
    pub azimuth_arcmin: Option<f64>,
    /// Expanded uncertainty (k = 2) of `azimuth_arcmin`, arc minutes: that of the delay and the tape's own.
    pub azimuth_uncertainty_arcmin: Option<f64>,
    /// Azimuth that the tape was recorded with by its certificate, arc minutes: what is taken out of `azimuth_arcmin`.
    pub tape_azimuth_arcmin: Option<f64>,
    /// Whether whole cycles are still open; then the numbers are the candidate nearest zero ('fine only').
    pub ambiguous: bool,
    /// What settled the whole cycles of the tone; `None` while they are open, and for programme, which has none.
    pub cycles_settled_by: Option<CyclesSettled>,
    /// The delays still possible, nearest zero first; one entry when resolved.
    pub candidates: Vec<PhaseCandidate>,
    /// Standard deviation of the phase over time, degrees.
    pub wander_rms_degrees: Option<f64>,
    /// Greatest minus least phase, degrees.
    pub wander_peak_to_peak_degrees: Option<f64>,
    /// Rate of the strongest line in the wander, Hz.
    pub wander_rate_hz: Option<f64>,
    /// Level of the mono sum against in-phase channels of the same levels, dB; 0 = nothing lost, negative = lost.
    pub mono_sum_loss_db: Option<f64>,
    /// What a mono sum of equal channels would lose at 10 kHz with this azimuth, dB (zero or negative, −60 at the least):
    /// 20·lg|cos(π·f·Δt)|; `None` while whole cycles are open.
    pub mono_sum_loss_10_khz_db: Option<f64>,
    /// How alike the channels are at the frequencies used: 0 (nothing in common) to 1.
    pub coherence: Option<f64>,
    /// Phase of the last 30 ms or so, degrees: the needle while a screw turns.
    pub quick_degrees: Option<f64>,
    /// Delay of the last 30 ms or so (with the whole cycles of `delay_us`), µs.
    pub quick_delay_us: Option<f64>,
    /// The azimuth of `quick_delay_us`, arc minutes.
    pub quick_azimuth_arcmin: Option<f64>,
    /// Phase over frequency, where more than one tone or programme was heard at this azimuth.
    pub line: Option<PhaseLine>,
    /// The X–Y figure of the moment, while somebody looks at it.
    #[serde(skip)]
    pub figure: Option<XyFigure>,
    /// Quick delay over time, µs.
    #[serde(skip)]
    pub trail: Trail,
}

impl PhaseReading {
    /// A reading with no number in it, and the reason.
    pub fn unread(status: Validity) -> Self {
        Self {
            status,
            ..Self::default()
        }
    }
}
