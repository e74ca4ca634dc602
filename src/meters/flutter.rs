//! Wow and flutter: the deviation's variation about its mean, weighted and not, in peak, two-sigma and rms terms.

use super::{gate::Use, record::Record, series::Series, trace::Trace};
use crate::{
    readings::{FlutterBands, FlutterFigures, FlutterReading, Validity},
    signal::{
        biquad::Cascade, demodulator::BLOCK, quantile::MagnitudeHistogram, quasi_peak::QuasiPeak,
        running::Running, step_equaliser::StepEqualiser, weighting::wow_flutter_weighting,
    },
};

/// Band of the unweighted reading (IEC 60386 / DIN 45507; from memory), Hz.
const LOW_HZ: f64 = 0.2;
const HIGH_HZ: f64 = 200.0;
/// Edge of the weighted path, Hz. The standard's table ends at 200 Hz; its slope continued would let two and a half
/// times as much of white noise's power through as the table's band holds (frequency noise rises with the rate as
/// fast as the slope falls). An eighth-order edge here costs a line at 200 Hz 0.09 dB, and leaves noise 15 % in rms.
const WEIGHTED_EDGE_HZ: f64 = 255.0;
/// Filters settle this long before anything is counted: above the 5 s of observation that AES6 asks for.
pub const SETTLING_S: f64 = 6.0;
/// After a bridged dropout the detectors rest this long.
const REST_S: f64 = 0.25;
/// The value exceeded 5 % of the time is the two-sigma reading.
const TWO_SIGMA_EXCEEDED: f64 = 0.05;
/// Borders of the bands, Hz.
const DRIFT_HZ: f64 = 0.5;
const WOW_HZ: f64 = 6.0;
/// The bands and the waves for the screen are taken at about this rate.
const SLOW_RATE_HZ: f64 = 500.0;
const RECENT_S: f64 = 10.0;

/// One path (weighted or not) of detectors.
struct Path {
    quasi_peak: QuasiPeak,
    pointer: Running,
    histogram: MagnitudeHistogram,
    squares: Running,
    recent: Series,
    recent_histogram: MagnitudeHistogram,
}

impl Path {
    fn new(rate_hz: f64, recent_rate_hz: f64) -> Self {
        Self {
            quasi_peak: QuasiPeak::new(rate_hz),
            pointer: Running::default(),
            histogram: MagnitudeHistogram::default(),
            squares: Running::default(),
            recent: Series::new((RECENT_S * recent_rate_hz) as usize),
            recent_histogram: MagnitudeHistogram::default(),
        }
    }

    fn reset(&mut self) {
        self.pointer = Running::default();
        self.histogram.clear();
        self.squares = Running::default();
    }

    #[inline]
    fn push(&mut self, percent: f64, count: bool) {
        let pointer = self.quasi_peak.push(percent);
        if count {
            self.pointer.push(pointer);
            self.histogram.push(percent);
            self.squares.push(percent);
        }
    }

    fn push_recent(&mut self, percent: f64) {
        if let Some(oldest) = self.recent.oldest_to_go() {
            self.recent_histogram.take_back(oldest);
        }
        self.recent.push(percent);
        self.recent_histogram.push(percent);
    }

    fn figures(&self) -> FlutterFigures {
        FlutterFigures {
            quasi_peak_percent: self.pointer.mean(),
            quasi_peak_max_percent: self.pointer.max(),
            two_sigma_percent: self.histogram.exceeded_by(TWO_SIGMA_EXCEEDED),
            rms_percent: self.squares.rms(),
            pointer_percent: Some(self.quasi_peak.pointer()),
            recent_two_sigma_percent: self
                .recent
                .is_full()
                .then(|| self.recent_histogram.exceeded_by(TWO_SIGMA_EXCEEDED))
                .flatten(),
        }
    }
}

/// The flutter meter.
pub struct FlutterMeter {
    rate_hz: f64,
    reference_hz: f64,
    filters: Filters,
    weighted: Path,
    unweighted: Path,
    bands: [Running; 4],
    scrape_upper_hz: Option<f64>,
    running: bool,
    settled_samples: u64,
    rest_samples: u64,
    counted_samples: u64,
    decimation: usize,
    phase: usize,
    wave: Trace,
    pointer: Trace,
}

struct Filters {
    upper: Cascade,
    lower: Cascade,
    weighted_edge: Cascade,
    weighting: Cascade,
    drift: Cascade,
    wow: [Cascade; 2],
    flutter: Cascade,
    scrape: [Cascade; 2],
    /// Makes up for the droop of a frequency read as the phase step between two samples.
    scrape_gain: StepEqualiser,
}

impl Filters {
    fn new(rate_hz: f64, slow_rate_hz: f64, scrape_upper_hz: f64) -> Self {
        Self {
            upper: Cascade::butterworth_low_pass(8, HIGH_HZ, rate_hz),
            lower: Cascade::butterworth_high_pass(3, LOW_HZ, rate_hz),
            weighted_edge: Cascade::butterworth_low_pass(8, WEIGHTED_EDGE_HZ, rate_hz),
            weighting: wow_flutter_weighting(rate_hz),
            drift: Cascade::butterworth_low_pass(4, DRIFT_HZ, slow_rate_hz),
            wow: [
                Cascade::butterworth_high_pass(4, DRIFT_HZ, slow_rate_hz),
                Cascade::butterworth_low_pass(4, WOW_HZ, slow_rate_hz),
            ],
            flutter: Cascade::butterworth_high_pass(4, WOW_HZ, slow_rate_hz),
            scrape: [
                Cascade::butterworth_high_pass(8, HIGH_HZ, rate_hz),
                Cascade::butterworth_low_pass(6, scrape_upper_hz, rate_hz),
            ],
            scrape_gain: StepEqualiser::default(),
        }
    }

    fn settle(&mut self, percent: f64) {
        self.upper.settle(percent);
        self.lower.settle(percent);
        self.weighted_edge.settle(percent);
        self.weighting.settle(percent);
        self.drift.settle(percent);
        self.wow[0].settle(percent);
        self.wow[1].settle(0.0);
        self.flutter.settle(percent);
        self.scrape[0].settle(percent);
        self.scrape[1].settle(0.0);
    }
}

impl FlutterMeter {
    /// A meter for deviations sampled at `rate_hz` (about 4 kHz).
    pub fn new(rate_hz: f64) -> Self {
        let decimation = (rate_hz / SLOW_RATE_HZ).round().max(1.0) as usize;
        let slow_rate_hz = rate_hz / decimation as f64;
        let trace_every = |per_s: f64| (slow_rate_hz / per_s).round().max(1.0) as usize;
        Self {
            rate_hz,
            reference_hz: 1.0,
            filters: Filters::new(rate_hz, slow_rate_hz, 0.3 * rate_hz),
            weighted: Path::new(rate_hz, slow_rate_hz),
            unweighted: Path::new(rate_hz, slow_rate_hz),
            bands: [Running::default(); 4],
            scrape_upper_hz: None,
            running: false,
            settled_samples: 0,
            rest_samples: 0,
            counted_samples: 0,
            decimation,
            phase: 0,
            wave: Trace::new(30.0, slow_rate_hz, trace_every(62.5)),
            pointer: Trace::new(30.0, slow_rate_hz, trace_every(20.0)),
        }
    }

    /// Takes deviations against `reference_hz` from now on; the wide filter carries flutter to `scrape_upper_hz`.
    pub fn set_reference(&mut self, reference_hz: f64, scrape_upper_hz: Option<f64>) {
        self.reference_hz = reference_hz;
        self.scrape_upper_hz = scrape_upper_hz.filter(|&hz| hz > 1.5 * HIGH_HZ);
        let slow_rate_hz = self.rate_hz / self.decimation as f64;
        let edge_hz = self.scrape_upper_hz.unwrap_or(0.3 * self.rate_hz);
        self.filters = Filters::new(self.rate_hz, slow_rate_hz, edge_hz.min(0.45 * self.rate_hz));
        self.restart();
    }

    /// Settles anew and starts the averages anew.
    pub fn restart(&mut self) {
        self.running = false;
        self.reset();
    }

    /// Starts the averages anew.
    pub fn reset(&mut self) {
        self.weighted.reset();
        self.unweighted.reset();
        self.bands = [Running::default(); 4];
        self.counted_samples = 0;
    }

    /// Takes a record from the gate in. `ahead_hz`: what the stream will be like, where one begins.
    pub fn push(&mut self, record: &Record, usage: Use, ahead_hz: Option<f64>) {
        match usage {
            Use::Broken => {
                self.running = false;
                self.wave.push_gap(BLOCK.div_ceil(self.decimation));
                self.pointer.push_gap(BLOCK.div_ceil(self.decimation));
                return;
            }
            Use::Bridged => self.rest_samples = (REST_S * self.rate_hz) as u64,
            Use::Clean => {}
        }
        if !self.running {
            self.start(ahead_hz.unwrap_or_else(|| record.mean_hz()));
        }
        let settling_samples = (SETTLING_S * self.rate_hz) as u64;
        for (tone_hz, wide_hz) in record.tone_hz.iter().zip(&record.wide_hz) {
            let percent = self.percent(*tone_hz);
            let wide_percent = self.percent(*wide_hz);
            let count = self.settled_samples >= settling_samples && self.rest_samples == 0;
            self.settled_samples += 1;
            self.rest_samples = self.rest_samples.saturating_sub(1);
            self.counted_samples += u64::from(count);
            self.sample(percent, wide_percent, count);
        }
    }

    fn percent(&self, hz: f64) -> f64 {
        100.0 * (hz / self.reference_hz - 1.0)
    }

    fn start(&mut self, hz: f64) {
        let percent = self.percent(hz);
        self.filters.settle(percent);
        self.weighted.quasi_peak.restart();
        self.unweighted.quasi_peak.restart();
        self.running = true;
        self.settled_samples = 0;
        self.rest_samples = 0;
    }

    #[inline]
    fn sample(&mut self, percent: f64, wide_percent: f64, count: bool) {
        let limited = self.filters.upper.process(percent);
        let unweighted = self.filters.lower.process(limited);
        let within_table = self.filters.weighted_edge.process(percent);
        let weighted = self.filters.weighting.process(within_table);
        self.unweighted.push(unweighted, count);
        self.weighted.push(weighted, count);
        if self.scrape_upper_hz.is_some() {
            let [low, high] = &mut self.filters.scrape;
            let equalised = self.filters.scrape_gain.process(wide_percent);
            let scrape = high.process(low.process(equalised));
            if count {
                self.bands[3].push(scrape);
            }
        }
        self.phase += 1;
        if self.phase >= self.decimation {
            self.phase = 0;
            self.slow_sample(limited, unweighted, weighted, count);
        }
    }

    fn slow_sample(&mut self, limited: f64, unweighted: f64, weighted: f64, count: bool) {
        let drift = self.filters.drift.process(limited);
        let [low, high] = &mut self.filters.wow;
        let wow = high.process(low.process(limited));
        let flutter = self.filters.flutter.process(limited);
        if count {
            self.bands[0].push(drift);
            self.bands[1].push(wow);
            self.bands[2].push(flutter);
        }
        self.weighted.push_recent(weighted);
        self.unweighted.push_recent(unweighted);
        self.wave.push(unweighted);
        self.pointer.push(self.weighted.quasi_peak.pointer());
    }

    /// Whether figures stand: settled, and something counted.
    pub fn is_settled(&self) -> bool {
        self.counted_samples as f64 >= 0.5 * self.rate_hz
    }

    /// Whether the pointers themselves are past their settling.
    pub fn is_running(&self) -> bool {
        self.running
    }

    /// The reading; with `status` not ok it has no numbers. Its components come from elsewhere.
    pub fn reading(&self, status: Validity) -> FlutterReading {
        let mut reading = FlutterReading {
            status,
            averaged_seconds: self.counted_samples as f64 / self.rate_hz,
            trail: self.wave.trail(),
            pointer_trail: self.pointer.trail(),
            ..FlutterReading::default()
        };
        if !status.is_ok() {
            return reading;
        }
        reading.weighted = self.weighted.figures();
        reading.unweighted = self.unweighted.figures();
        reading.bands = FlutterBands {
            drift_rms_percent: self.bands[0].deviation(),
            wow_rms_percent: self.bands[1].rms(),
            flutter_rms_percent: self.bands[2].rms(),
            scrape_rms_percent: self.scrape_upper_hz.and_then(|_| self.bands[3].rms()),
            scrape_upper_hz: self.scrape_upper_hz,
        };
        reading
    }
}
