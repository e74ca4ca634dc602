//! Speed deviation from the reference.

use super::{Trail, Validity};
use serde::{Serialize, Serializer};

/// The mean over one sliding window that ends now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct SpeedWindow {
    /// Window length, seconds.
    pub seconds: f64,
    /// Mean speed deviation in the window, percent; positive = fast. `None` until the window is full and clean.
    pub deviation_percent: Option<f64>,
    /// Expanded uncertainty (k = 2) of that mean: noise and wow's scatter only, percent.
    pub uncertainty_percent: Option<f64>,
}

/// What the needle knows of the wow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NeedleWow {
    /// Too little has been heard yet; it is in the needle.
    #[default]
    Learning,
    /// What repeats is taken out of the needle.
    Removed,
    /// There is none worth taking out.
    None,
    /// It does not repeat well enough to be taken out; it is in the needle, and in its uncertainty.
    DoesNotRepeat,
}

impl NeedleWow {
    /// The state in words, as shown and as serialised.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Learning => "learning the wow",
            Self::Removed => "wow removed",
            Self::None => "no wow",
            Self::DoesNotRepeat => "wow does not repeat, not removed",
        }
    }
}

impl Serialize for NeedleWow {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}

/// The speed of the last moments with what repeats of the wow taken out: follows a trimmer at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct NeedleReading {
    /// Speed deviation, percent; positive = fast. `None` while the tone is not followed, and in a take that is over.
    pub deviation_percent: Option<f64>,
    /// Expanded uncertainty (k = 2): what of noise and wow is left in it, percent. `None` in the first seconds.
    pub uncertainty_percent: Option<f64>,
    /// Time behind it, seconds: short while the speed is moved, up to 1.6 s when it rests.
    pub seconds: f64,
    /// What became of the wow.
    pub wow: NeedleWow,
    /// Sum of the peaks of the lines taken out, percent.
    pub removed_peak_percent: Option<f64>,
}

/// How far the speed swung in the last turn of the slowest part: what a trimmer cannot take away.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TurnReading {
    /// The part whose turn it is, by its name in the mechanism; `None`: no mechanism is chosen, or none of its parts has
    /// a known turn short enough, and the time is a fixed one.
    pub part: Option<String>,
    /// Time looked at, seconds: at least one turn of the part, or the fixed time.
    pub seconds: f64,
    /// Greatest less least deviation in that time, percentage points, of means over 50 ms (so of what wobbles up to
    /// about 10 Hz, as the trail shows it). `None` until the tone has been followed for so long without a break.
    pub peak_to_peak_percent: Option<f64>,
    /// Least deviation in that time, percent; positive = fast.
    pub min_percent: Option<f64>,
    /// Greatest deviation in that time, percent; positive = fast.
    pub max_percent: Option<f64>,
}

/// Speed deviation = 100·(f_measured / f_reference − 1), percent; positive = fast.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SpeedReading {
    /// Whether the numbers stand.
    pub status: Validity,
    /// The frequency the tone should have: nominal × (1 + certificate's correction), Hz.
    pub reference_hz: Option<f64>,
    /// Mean measured frequency since the averages began, corrected for the interface's clock error, Hz.
    pub measured_hz: Option<f64>,
    /// Mean deviation since the averages began, percent.
    pub deviation_percent: Option<f64>,
    /// Expanded uncertainty (k = 2) of `deviation_percent`: scatter, clock and tape, percent.
    pub uncertainty_percent: Option<f64>,
    /// Least 0.25 s mean since the averages began, percent.
    pub min_percent: Option<f64>,
    /// Greatest 0.25 s mean since the averages began, percent.
    pub max_percent: Option<f64>,
    /// Trend since the averages began, percent a minute; `None` before 5 s.
    pub trend_percent_per_minute: Option<f64>,
    /// Time the averages cover, seconds.
    pub averaged_seconds: f64,
    /// The needle while a trimmer turns.
    pub needle: NeedleReading,
    /// 0.25 s mean.
    pub quick: SpeedWindow,
    /// 2 s mean.
    pub steady: SpeedWindow,
    /// 10 s mean.
    pub long: SpeedWindow,
    /// The swing in the last turn of the slowest part.
    pub last_turn: TurnReading,
    /// Deviation percent, band-limited to about 10 Hz: the trail behind the needle.
    #[serde(skip)]
    pub trail: Trail,
}
