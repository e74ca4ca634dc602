//! Wow and flutter: the deviation's variation about its mean, weighted and not, in peak, two-sigma and rms terms.

use super::{gate::Use, record::Record, series::Series, trace::Trace};
use crate::{
    readings::{FlutterBands, FlutterFigures, FlutterReading, Validity},
    signal::{
        biquad::Cascade,
        demodulator::BLOCK,
        pipeline::{self, Pipeline},
        quantile::MagnitudeHistogram,
        quasi_peak::QuasiPeak,
        running::Running,
        step_equaliser::StepEqualiser,
        totals::Totals,
        weighting::wow_flutter_weighting,
    },
};
use std::ops::Range;

/// Band of the unweighted reading (IEC 60386 / DIN 45507; from memory), Hz.
const LOW_HZ: f64 = 0.2;
const HIGH_HZ: f64 = 200.0;
/// Edge of the weighted path, Hz. The standard's table ends at 200 Hz; its slope continued would let two and a half
/// times as much of white noise's power through as the table's band holds (frequency noise rises with the rate as
/// fast as the slope falls). An eighth-order edge here costs a line at 200 Hz 0.09 dB, and leaves noise 15 % in rms.
const WEIGHTED_EDGE_HZ: f64 = 255.0;
/// Orders of the filters at these edges and at that of the scrape band.
const UPPER_ORDER: usize = 8;
const LOWER_ORDER: usize = 3;
const SCRAPE_ORDER: usize = 6;
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
    pointer: Totals,
    histogram: MagnitudeHistogram,
    squares: Totals,
    recent: Series,
    recent_histogram: MagnitudeHistogram,
}

impl Path {
    fn new(rate_hz: f64, recent_rate_hz: f64) -> Self {
        Self {
            quasi_peak: QuasiPeak::new(rate_hz),
            pointer: Totals::default(),
            histogram: MagnitudeHistogram::default(),
            squares: Totals::default(),
            recent: Series::new((RECENT_S * recent_rate_hz) as usize),
            recent_histogram: MagnitudeHistogram::default(),
        }
    }

    fn reset(&mut self) {
        self.pointer = Totals::default();
        self.histogram.clear();
        self.squares = Totals::default();
    }

    /// Takes where the pointer stood and the deviations that brought it there in.
    fn count(&mut self, pointer: &[f64], percent: &[f64]) {
        self.pointer.extend(pointer);
        self.squares.extend(percent);
        self.histogram.extend(percent);
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
    bands: [Running; 3],
    scrape: Totals,
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
    /// The upper edge of the weighted path.
    weighted_edge: [Pipeline; 1],
    /// The unweighted band, its upper edge first; the weighting; the scrape band.
    fast: [Pipeline; 3],
    drift: Cascade,
    wow: [Cascade; 2],
    flutter: Cascade,
    /// Makes up for the droop of a frequency read as the phase step between two samples.
    scrape_gain: StepEqualiser,
}

impl Filters {
    fn new(rate_hz: f64, slow_rate_hz: f64, scrape_upper_hz: f64) -> Self {
        Self {
            weighted_edge: [Pipeline::new(&[&Cascade::butterworth_low_pass(
                UPPER_ORDER,
                WEIGHTED_EDGE_HZ,
                rate_hz,
            )])],
            fast: [
                Pipeline::new(&[
                    &Cascade::butterworth_low_pass(UPPER_ORDER, HIGH_HZ, rate_hz),
                    &Cascade::butterworth_high_pass(LOWER_ORDER, LOW_HZ, rate_hz),
                ]),
                Pipeline::new(&[&wow_flutter_weighting(rate_hz)]),
                Pipeline::new(&[
                    &Cascade::butterworth_high_pass(UPPER_ORDER, HIGH_HZ, rate_hz),
                    &Cascade::butterworth_low_pass(SCRAPE_ORDER, scrape_upper_hz, rate_hz),
                ]),
            ],
            drift: Cascade::butterworth_low_pass(4, DRIFT_HZ, slow_rate_hz),
            wow: [
                Cascade::butterworth_high_pass(4, DRIFT_HZ, slow_rate_hz),
                Cascade::butterworth_low_pass(4, WOW_HZ, slow_rate_hz),
            ],
            flutter: Cascade::butterworth_high_pass(4, WOW_HZ, slow_rate_hz),
            scrape_gain: StepEqualiser::default(),
        }
    }

    fn settle(&mut self, percent: f64) {
        self.weighted_edge
            .iter_mut()
            .chain(&mut self.fast)
            .for_each(|filter| filter.settle(percent));
        self.drift.settle(percent);
        self.wow[0].settle(percent);
        self.wow[1].settle(0.0);
        self.flutter.settle(percent);
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
            bands: [Running::default(); 3],
            scrape: Totals::default(),
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
        self.bands = [Running::default(); 3];
        self.scrape = Totals::default();
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
        let percent = record.tone_hz.map(|hz| self.percent(hz));
        let wide_percent = record.wide_hz.map(|hz| self.percent(hz));
        let counted = self.counted();
        self.block(&percent, &wide_percent, counted);
    }

    /// Which samples of the next block count: those past the settling and the rest.
    fn counted(&mut self) -> Range<usize> {
        let settling_samples = (SETTLING_S * self.rate_hz) as u64;
        let to_settle = settling_samples.saturating_sub(self.settled_samples);
        let left_out = to_settle.max(self.rest_samples).min(BLOCK as u64);
        self.settled_samples += BLOCK as u64;
        self.rest_samples = self.rest_samples.saturating_sub(BLOCK as u64);
        self.counted_samples += BLOCK as u64 - left_out;
        left_out as usize..BLOCK
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

    fn block(
        &mut self,
        percent: &[f64; BLOCK],
        wide_percent: &[f64; BLOCK],
        counted: Range<usize>,
    ) {
        let equalised = self.filters.scrape_gain.process_block(wide_percent);
        let [edge] = pipeline::process(&mut self.filters.weighted_edge, &[*percent]);
        let [band, weighting, scrape] = pipeline::process(
            &mut self.filters.fast,
            &[*percent, edge.after_first, equalised],
        );
        let limited = band.after_first;
        let unweighted = band.after_all;
        let weighted = weighting.after_all;
        let (mut pointer, mut weighted_pointer) = ([0.0; BLOCK], [0.0; BLOCK]);
        for m in 0..BLOCK {
            pointer[m] = self.unweighted.quasi_peak.push(unweighted[m]);
            weighted_pointer[m] = self.weighted.quasi_peak.push(weighted[m]);
        }
        let range = counted.clone();
        self.unweighted
            .count(&pointer[range.clone()], &unweighted[range.clone()]);
        self.weighted
            .count(&weighted_pointer[range.clone()], &weighted[range.clone()]);
        if self.scrape_upper_hz.is_some() {
            self.scrape.extend(&scrape.after_all[range]);
        }
        for m in 0..BLOCK {
            self.phase += 1;
            if self.phase >= self.decimation {
                self.phase = 0;
                self.slow_sample(limited[m], counted.contains(&m));
                self.weighted.push_recent(weighted[m]);
                self.unweighted.push_recent(unweighted[m]);
                self.wave.push(unweighted[m]);
                self.pointer.push(weighted_pointer[m]);
            }
        }
    }

    fn slow_sample(&mut self, limited: f64, count: bool) {
        let drift = self.filters.drift.process(limited);
        let [low, high] = &mut self.filters.wow;
        let wow = high.process(low.process(limited));
        let flutter = self.filters.flutter.process(limited);
        if count {
            self.bands[0].push(drift);
            self.bands[1].push(wow);
            self.bands[2].push(flutter);
        }
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
            scrape_rms_percent: self.scrape_upper_hz.and_then(|_| self.scrape.rms()),
            scrape_upper_hz: self.scrape_upper_hz,
        };
        reading
    }
}
