//! Variation of the speed about its mean.

use super::{Trail, Validity};
use serde::Serialize;

/// The three ways of giving a size to a varying speed. All in percent of
/// the reference speed, like the deviation they describe, one-sided (±).
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct FlutterFigures {
    /// Mean of the quasi-peak indicator since the averages began (half of peak-to-peak), percent.
    pub quasi_peak_percent: Option<f64>,
    /// Maximum of the quasi-peak indicator since the averages began, percent.
    pub quasi_peak_max_percent: Option<f64>,
    /// The value exceeded 5 % of the time, percent.
    pub two_sigma_percent: Option<f64>,
    /// Root mean square, percent.
    pub rms_percent: Option<f64>,
    /// Where the quasi-peak indicator stands now, percent.
    pub pointer_percent: Option<f64>,
    /// Two-sigma value of the last 10 s, percent: follows an adjustment.
    pub recent_two_sigma_percent: Option<f64>,
}

/// Unweighted rms split by rate, percent.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct FlutterBands {
    /// Below 0.5 Hz.
    pub drift_rms_percent: Option<f64>,
    /// 0.5 to 6 Hz.
    pub wow_rms_percent: Option<f64>,
    /// 6 to 200 Hz.
    pub flutter_rms_percent: Option<f64>,
    /// Above 200 Hz, to [`FlutterBands::scrape_upper_hz`]; `None` where carrier or sample rate do not allow it.
    pub scrape_rms_percent: Option<f64>,
    /// Upper edge of the scrape band that carrier and sample rate allow, Hz.
    pub scrape_upper_hz: Option<f64>,
}

/// One spectral line of the speed deviation.
#[derive(Clone, Debug, Serialize)]
pub struct Component {
    /// Rate, Hz.
    pub rate_hz: f64,
    /// Amplitude (peak, unweighted), percent.
    pub peak_percent: f64,
    /// The rotating part it belongs to, where a deck's mechanism is known.
    pub part: Option<String>,
    /// Multiple of the part's once-round rate.
    pub order: Option<u32>,
}

/// Wow and flutter in every form.
#[derive(Clone, Debug, Default, Serialize)]
pub struct FlutterReading {
    /// Whether the numbers stand.
    pub status: Validity,
    /// Through the IEC 60386 weighting curve.
    pub weighted: FlutterFigures,
    /// 0.2 to 200 Hz, flat.
    pub unweighted: FlutterFigures,
    /// Unweighted rms split by rate.
    pub bands: FlutterBands,
    /// The strongest spectral lines of the deviation, strongest first.
    pub components: Vec<Component>,
    /// Width of a line the component search can separate, Hz.
    pub resolution_hz: Option<f64>,
    /// Time the figures cover, seconds.
    pub averaged_seconds: f64,
    /// Unweighted deviation about the mean, percent: the wave itself.
    #[serde(skip)]
    pub trail: Trail,
    /// The weighted quasi-peak pointer, percent.
    #[serde(skip)]
    pub pointer_trail: Trail,
}
