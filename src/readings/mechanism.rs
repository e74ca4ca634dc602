//! The mechanism read from the sound: spectra, lines, which part they belong to, once-round traces, steadiness,
//! and what changed since as found.
//!
//! Every number is finished: a view scales it to pixels and computes no measurement. Large arrays stand behind
//! [`Arc`] and are left out of the serialised form. Sizes are peak values of a sine ('0.05 % peak'), speed in
//! percent of the reference speed, phase in degrees, level in dB. Uncertainties are expanded (k = 2).

use super::Validity;
use serde::Serialize;
use std::sync::Arc;

/// A shorter series says nothing of the mechanism, s.
pub const LEAST_SECONDS: f64 = 2.0;
/// Turns of a part that its mean turn needs.
pub const LEAST_TURNS: f64 = 4.0;

/// A value and its expanded uncertainty (k = 2), in the unit of the field that holds it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Expanded uncertainty (k = 2): the random part of the reading, from the number of independent averages.
    pub uncertainty: f64,
}

/// What a spectrum, a line or a trace is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Speed deviation, percent.
    #[default]
    Speed,
    /// Interchannel phase, degrees; positive = right later.
    Phase,
    /// Level of the left channel, dB about its mean.
    LevelLeft,
    /// Level of the right channel, dB about its mean.
    LevelRight,
}

impl Quantity {
    /// The unit of sizes, as written behind a number.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Speed => "%",
            Self::Phase => "degrees",
            Self::LevelLeft | Self::LevelRight => "dB",
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Speed => "speed",
            Self::Phase => "phase",
            Self::LevelLeft => "level, left",
            Self::LevelRight => "level, right",
        }
    }
}

/// One amplitude spectrum on an even rate axis that starts at 0 Hz: a sine of peak size *a* shows as a peak of
/// height *a* (up to 4 % less between two bins; the exact size stands with its line).
#[derive(Clone, Debug, Default, Serialize)]
pub struct Spectrum {
    /// What it is of.
    pub quantity: Quantity,
    /// Distance of neighbouring bins, Hz; bin *i* lies at *i* × this.
    pub step_hz: f64,
    /// Two lines this far apart stand as two, Hz.
    pub resolution_hz: f64,
    /// Equivalent noise bandwidth, Hz: peak²/2 ÷ this is the power density of noise.
    pub noise_bandwidth_hz: f64,
    /// Rates from here to [`Spectrum::high_hz`] are read, Hz.
    pub low_hz: f64,
    /// Upper end of what is read, Hz.
    pub high_hz: f64,
    /// Peak size in each bin.
    #[serde(skip)]
    pub peak: Arc<[f32]>,
    /// The same through the IEC 60386 weighting; empty unless of the speed.
    #[serde(skip)]
    pub weighted_peak: Arc<[f32]>,
    /// Typical height of the random floor in each bin (square root of its mean square).
    #[serde(skip)]
    pub floor: Arc<[f32]>,
}

/// One spectral line.
#[derive(Clone, Debug, Default, Serialize)]
pub struct MotionLine {
    /// Rate, Hz.
    pub rate_hz: Estimate,
    /// Peak size in the quantity's unit, unweighted.
    pub peak: Estimate,
    /// Peak size through the IEC 60386 weighting; `None` unless of the speed.
    pub weighted_peak: Option<f64>,
    /// How fast the rate changes, Hz a second; `None` where the take is too short to say.
    pub rate_change_hz_per_s: Option<Estimate>,
    /// Power of the line over that of the random floor in one resolution, dB.
    pub above_floor_db: f64,
}

/// A part and order that a line's rate fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Candidate {
    /// The part's name.
    pub part: String,
    /// Multiple of its once-round rate.
    pub order: u32,
    /// The rate the part should show by the mechanism file at the measured speed, Hz.
    pub expected_hz: f64,
    /// How probable this candidate is, 0 to 1; with the others and 'none of them' they make 1.
    pub probability: f64,
}

/// What a row of the table stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RowKind {
    /// A line that belongs to one part.
    Part,
    /// Parts closer together than the resolution: one line for several of them.
    Group,
    /// A line that fits several parts (or hardly any), none well enough to be named.
    Open,
    /// All lines that no part explains.
    Unexplained,
    /// What is no line: random wow and flutter, noise.
    Floor,
}

/// How sure a row is of its part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Confidence {
    /// Below 75 %: named as a possibility only.
    Possible,
    /// 75 to 95 %.
    Likely,
    /// 95 % and more.
    Firm,
}

impl Confidence {
    /// The confidence of a probability (0 to 1).
    pub fn of(probability: f64) -> Self {
        if probability >= 0.95 {
            Self::Firm
        } else if probability >= 0.75 {
            Self::Likely
        } else {
            Self::Possible
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Possible => "possible",
            Self::Likely => "likely",
            Self::Firm => "firm",
        }
    }
}

/// One row of the attribution table. The shares of all rows add up to 1.
#[derive(Clone, Debug, Serialize)]
pub struct AttributionRow {
    /// What it stands for.
    pub kind: RowKind,
    /// The row in words: 'take-up capstan', 'belt or supply reel', 'unexplained lines', 'random floor'.
    pub label: String,
    /// The part, where one is named.
    pub part: Option<String>,
    /// Multiple of the part's once-round rate, where a part is named.
    pub order: Option<u32>,
    /// The line's rate, Hz; `None` for the two rows that stand for many.
    pub rate_hz: Option<Estimate>,
    /// The line's size, peak percent; `None` for the two rows that stand for many.
    pub peak_percent: Option<Estimate>,
    /// Rms after the weighting, percent.
    pub weighted_rms_percent: f64,
    /// Share in the power of the weighted reading, 0 to 1.
    pub share: f64,
    /// Probability of the named part (of the group as a whole for a group), 0 to 1.
    pub probability: Option<f64>,
    /// The same as a word.
    pub confidence: Option<Confidence>,
    /// All parts and orders that fit the line, most probable first; the named one is among them.
    pub candidates: Vec<Candidate>,
    /// For a group: a take of this many seconds tells its members apart.
    pub seconds_to_separate: Option<f64>,
    /// Number of lines in the row.
    pub lines: usize,
    /// What became of it since as found; `None` where nothing was compared.
    pub change: Option<Change>,
}

/// All orders of one part together.
#[derive(Clone, Debug, Serialize)]
pub struct PartReading {
    /// The part's name.
    pub part: String,
    /// Its kind in words: 'capstan', 'belt'.
    pub kind: String,
    /// Once-round rate by the mechanism file at the measured speed, Hz. For a reel whose pack is not known this is
    /// the middle of its range.
    pub expected_hz: f64,
    /// From here ...
    pub expected_low_hz: f64,
    /// ... to here the rate may lie by the file's tolerance or the reel's pack, Hz.
    pub expected_high_hz: f64,
    /// Once-round rate found, Hz; `None` where no line is named after the part.
    pub found_hz: Option<Estimate>,
    /// Orders found.
    pub orders: Vec<u32>,
    /// Share of all its named lines in the power of the weighted reading, 0 to 1.
    pub share: f64,
    /// Size a first-order line would have needed to be seen at the expected rate, peak percent.
    pub least_visible_percent: Option<f64>,
    /// One sentence: what is known of the part.
    pub words: String,
    /// Once-round traces, where the part is seen: speed first, then phase and levels.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub traces: Vec<OnceRoundTrace>,
}

/// Where a part's rates lie on the axis of the spectra; one mark an order.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RateMark {
    /// Index into [`MechanismReading::parts`].
    pub part: usize,
    /// Multiple of the once-round rate.
    pub order: u32,
    /// The rate: found, else expected, Hz.
    pub rate_hz: f64,
    /// From here ...
    pub low_hz: f64,
    /// ... to here it may lie, Hz.
    pub high_hz: f64,
    /// Whether a line of the speed is named after it.
    pub seen: bool,
}

/// The shape of a once-round trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TraceShape {
    /// Nothing that repeats every turn stands out of the scatter.
    NotShown,
    /// Mostly first order: runs out of centre.
    Eccentric,
    /// Mostly second order: two bulges a turn.
    Oval,
    /// A narrow pulse once a turn: flat spot or dirt.
    Pulse,
    /// Several orders and no narrow pulse.
    Mixed,
}

impl TraceShape {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NotShown => "nothing shown",
            Self::Eccentric => "eccentric",
            Self::Oval => "oval",
            Self::Pulse => "flat spot or dirt",
            Self::Mixed => "several orders",
        }
    }
}

/// One harmonic of a once-round trace.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Harmonic {
    /// Order: 1 for once a turn.
    pub order: u32,
    /// Peak size in the quantity's unit.
    pub peak: Estimate,
    /// Angle of its first maximum on the trace's scale, degrees from 0 up to 360/order.
    pub maximum_at_degrees: f64,
}

/// A quantity folded at a part's tracked period: the mean turn.
///
/// Angle 0 is where the first order is greatest, because there is no mark on the part to count from; so the picture
/// stands still from one reading to the next.
#[derive(Clone, Debug, Serialize)]
pub struct OnceRoundTrace {
    /// What it is of.
    pub quantity: Quantity,
    /// Turns averaged.
    pub turns: f64,
    /// Rate at the start of the series, Hz.
    pub rate_at_start_hz: f64,
    /// Rate at its end, Hz; a reel's differs.
    pub rate_at_end_hz: f64,
    /// Angle between neighbouring values, degrees; the first stands at 0.
    pub step_degrees: f64,
    /// Mean over the turns, about the mean of the turn, in the quantity's unit.
    #[serde(skip)]
    pub mean: Arc<[f32]>,
    /// Standard deviation from turn to turn at each angle: the scatter band is mean ± this.
    #[serde(skip)]
    pub scatter: Arc<[f32]>,
    /// Expanded uncertainty (k = 2) of the mean at each angle.
    #[serde(skip)]
    pub mean_uncertainty: Arc<[f32]>,
    /// Harmonics of the mean, order 1 first.
    pub harmonics: Vec<Harmonic>,
    /// The shape.
    pub shape: TraceShape,
    /// The shape as a sentence.
    pub words: String,
    /// The figures the sentence rests on.
    pub evidence: String,
}

/// Unsteadiness of phase or level at a part's rate, and what it suggests.
#[derive(Clone, Debug, Serialize)]
pub struct SteadinessHint {
    /// Phase or a level.
    pub quantity: Quantity,
    /// The part; `None` for slow wander.
    pub part: Option<String>,
    /// Rate, Hz; `None` for slow wander.
    pub rate_hz: Option<f64>,
    /// Peak size at that rate, or rms of the slow wander, in the quantity's unit.
    pub size: Estimate,
    /// Whether `size` is an rms value (slow wander) or a peak.
    pub is_rms: bool,
    /// Share in the power of all of the quantity's variation, 0 to 1.
    pub share: f64,
    /// What it suggests, as a sentence with 'suggests' in it.
    pub suggests: String,
    /// The usual mechanical check, with its figure where there is one.
    pub check: String,
}

/// The outcome of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Smaller than as found, beyond doubt.
    Better,
    /// Greater than as found, beyond doubt.
    Worse,
    /// The difference is within what chance does.
    NoDifferenceShown,
}

impl Verdict {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Better => "better",
            Self::Worse => "worse",
            Self::NoDifferenceShown => "no difference shown",
        }
    }
}

/// What became of one figure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Change {
    /// As found; where nothing was found then, 0 and the size that would just have been seen as its uncertainty.
    pub as_found: Estimate,
    /// As left, likewise.
    pub as_left: Estimate,
    /// 100 × (left / found − 1), percent; `None` where nothing was found before.
    pub change_percent: Option<f64>,
    /// Better, worse, or no difference shown.
    pub verdict: Verdict,
}

/// One compared figure.
#[derive(Clone, Debug, Serialize)]
pub struct ComparisonRow {
    /// The figure in words: 'weighted rms', 'belt, order 2', 'line at 3.21 Hz'.
    pub label: String,
    /// The part, where it is one's line.
    pub part: Option<String>,
    /// Its order.
    pub order: Option<u32>,
    /// What it is of.
    pub quantity: Quantity,
    /// What became of it, in the quantity's unit (peak for lines, rms for readings).
    pub change: Change,
    /// Why no more can be said, where that needs words; empty otherwise.
    pub remark: String,
}

/// As found against as left.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// Seconds analysed as found.
    pub as_found_seconds: f64,
    /// Seconds analysed as left.
    pub as_left_seconds: f64,
    /// Readings first (weighted, then the others), then lines, by their size as found.
    pub rows: Vec<ComparisonRow>,
    /// One sentence for the whole.
    pub words: String,
}

/// A reading of the whole series with its uncertainty from the number of independent averages.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct WholeFigures {
    /// Speed, weighted (IEC 60386), rms percent.
    pub weighted_rms_percent: Estimate,
    /// Speed, 0.2 to 200 Hz, rms percent.
    pub unweighted_rms_percent: Estimate,
    /// Phase about its mean, rms degrees; `None` without two channels.
    pub phase_rms_degrees: Option<Estimate>,
    /// Levels about their means, rms dB, left and right; `None` without that channel.
    pub level_rms_db: [Option<Estimate>; 2],
}

/// Everything read of the mechanism from the last minute or so.
#[derive(Clone, Debug, Default, Serialize)]
pub struct MechanismReading {
    /// Whether the numbers stand.
    pub status: Validity,
    /// Name of the mechanism file in use; `None`: lines are found but no part is named.
    pub mechanism: Option<String>,
    /// Measured over nominal speed: what the parts' rates were scaled by.
    pub speed_ratio: f64,
    /// Length of the series analysed, s.
    pub seconds: f64,
    /// Two lines this far apart stand as two, Hz.
    pub resolution_hz: f64,
    /// Readings of the whole, with uncertainties.
    pub whole: WholeFigures,
    /// The table: attributed rows by their share, then the unexplained, then the floor.
    pub rows: Vec<AttributionRow>,
    /// Every part of the mechanism file, in its order.
    pub parts: Vec<PartReading>,
    /// Where the parts' rates lie.
    pub marks: Vec<RateMark>,
    /// All lines of the speed, largest first.
    pub speed_lines: Vec<MotionLine>,
    /// Lines of the phase, largest first.
    pub phase_lines: Vec<MotionLine>,
    /// Lines of the levels, left and right, largest first.
    pub level_lines: [Vec<MotionLine>; 2],
    /// Spectra: speed first, then phase and levels as far as they are there.
    pub spectra: Vec<Spectrum>,
    /// Speed up to the scrape band at coarse resolution, where the carrier allows it.
    pub wide_spectrum: Option<Spectrum>,
    /// Phase and level steadiness by part.
    pub steadiness: Vec<SteadinessHint>,
    /// Against as found, where that was given.
    pub comparison: Option<Comparison>,
    /// What the technician should know besides: parts that share a rate, a file that does not fit.
    pub remarks: Vec<String>,
}

impl MechanismReading {
    /// A reading with no number in it, and the reason.
    pub fn unread(status: Validity) -> Self {
        Self {
            status,
            ..Self::default()
        }
    }

    /// The spectrum of a quantity, where there is one.
    pub fn spectrum(&self, quantity: Quantity) -> Option<&Spectrum> {
        self.spectra.iter().find(|s| s.quantity == quantity)
    }
}
