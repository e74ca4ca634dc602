//! Speed: the tone's frequency against the one it should have.

use super::{
    gate::Use,
    last_turn::Turn,
    live_speed::{LiveSpeed, empty_windows},
    record::Record,
    step_watch::StepWatch,
    windows::FrequencyWindows,
};
use crate::{
    readings::{SpeedReading, TurnReading, Validity},
    signal::{regression::Slope, running::Running},
};

/// Means of these lengths are taken on the way to the averages: for least and greatest, and for the batches whose
/// scatter tells how well the mean is known.
const LATE_S: [f64; 2] = [QUICK_S, BATCH_S];
const QUICK_S: f64 = 0.25;
const BATCH_S: f64 = 2.0;
const QUICK: usize = 0;
const BATCH: usize = 1;
/// Least and greatest are of the quick mean, looked at this often.
const EXTREMES_EVERY_S: f64 = 0.04;
const TREND_LEAST_S: f64 = 5.0;
/// A mean known no better than this (percent, k = 2) is of a speed that runs away, not of one that wobbles.
const STEADY_WITHIN_PERCENT: f64 = 1.0;
/// A reading needs at least this long.
pub const LEAST_S: f64 = 0.5;
/// Somebody has moved the speed if it stays this far (percent) from where it was.
const MOVED_LEAST_PERCENT: f64 = 0.3;

/// The speed meter.
pub struct SpeedMeter {
    blocks_per_s: f64,
    reference_hz: f64,
    /// Multiplies a measured frequency to correct the interface's clock.
    clock_factor: f64,
    live: LiveSpeed,
    late: FrequencyWindows,
    averages: Averages,
    second: Running,
    moved: StepWatch,
}

#[derive(Clone, Default)]
struct Averages {
    phase: Slope,
    blocks: u64,
    extremes: Running,
    batches: Running,
    trend: Slope,
}

/// What the averages show, for a section that is over as well as for the present one.
#[derive(Clone, Copy, Debug, Default)]
pub struct SpeedAverages {
    /// Time averaged, seconds.
    pub seconds: f64,
    /// Mean frequency, Hz, corrected for the clock.
    pub measured_hz: Option<f64>,
}

impl SpeedMeter {
    /// A meter for `blocks_per_s` records a second.
    pub fn new(blocks_per_s: f64) -> Self {
        Self {
            blocks_per_s,
            reference_hz: 1.0,
            clock_factor: 1.0,
            live: LiveSpeed::new(blocks_per_s),
            late: FrequencyWindows::new(blocks_per_s, &LATE_S),
            averages: Averages::default(),
            second: Running::default(),
            moved: StepWatch::new(MOVED_LEAST_PERCENT),
        }
    }

    /// Reads against `reference_hz` from now on, measured frequencies corrected by `clock_factor`; restarts all.
    pub fn set_reference(&mut self, reference_hz: f64, clock_factor: f64) {
        self.reference_hz = reference_hz;
        self.clock_factor = clock_factor;
        self.live
            .restart(reference_hz, 100.0 * clock_factor / reference_hz);
        self.late.restart(reference_hz);
        self.reset();
    }

    /// Looks at this turn for the swing from now on.
    pub fn set_turn(&mut self, turn: Turn) {
        self.live.set_turn(turn);
    }

    /// Starts the averages anew.
    pub fn reset(&mut self) {
        self.begin_anew();
        self.moved.restart();
    }

    /// The same while somebody moves the speed: goes on watching for the end of it.
    pub fn begin_anew(&mut self) {
        self.averages = Averages::default();
        self.late.restart(self.reference_hz);
        self.second = Running::default();
    }

    /// Deviation percent of a measured frequency: 100·(f / f_reference − 1), clock corrected.
    pub fn percent(&self, hz: f64) -> f64 {
        percent(hz, self.reference_hz, self.clock_factor)
    }

    /// Takes the newest record in: the needle.
    pub fn push_live(&mut self, record: &Record) {
        let (reference_hz, clock_factor) = (self.reference_hz, self.clock_factor);
        self.live
            .push(record, |hz| percent(hz, reference_hz, clock_factor));
    }

    /// Takes a record from the gate in: the averages. True when someone has moved the speed.
    pub fn push_late(&mut self, record: &Record, usage: Use) -> bool {
        if usage != Use::Clean {
            self.averages.phase.break_here();
            self.late.restart(self.reference_hz);
            self.second = Running::default();
            return false;
        }
        let time_s = self.averages.blocks as f64 / self.blocks_per_s;
        let phase_cycles = self.late.push(&record.tone_hz);
        self.averages.phase.push(time_s, phase_cycles);
        self.averages.blocks += 1;
        let every = |seconds: f64| ((seconds * self.blocks_per_s) as u64).max(1);
        let is_due = |seconds: f64| self.averages.blocks.is_multiple_of(every(seconds));
        let latest_hz = |window: usize| self.late.frequency_hz(window);
        let quick_hz = is_due(EXTREMES_EVERY_S).then(|| latest_hz(QUICK)).flatten();
        let batch_hz = is_due(BATCH_S).then(|| latest_hz(BATCH)).flatten();
        let blocks_a_second = every(1.0);
        if let Some(hz) = quick_hz {
            let percent = self.percent(hz);
            self.averages.extremes.push(percent);
            self.averages.trend.push(time_s, percent);
        }
        if let Some(hz) = batch_hz {
            self.averages.batches.push(hz);
        }
        self.second.push(self.percent(record.mean_hz()));
        if self.second.count() < blocks_a_second {
            return false;
        }
        let second = std::mem::take(&mut self.second).mean();
        second.is_some_and(|percent| self.moved.push(percent))
    }

    /// The present averages.
    pub fn averages(&self) -> SpeedAverages {
        SpeedAverages {
            seconds: self.averages.blocks as f64 / self.blocks_per_s,
            measured_hz: self
                .averages
                .phase
                .slope()
                .map(|slope_hz| (self.reference_hz + slope_hz) * self.clock_factor),
        }
    }

    /// Whether the mean means something: the speed wobbles about it and does not run away.
    pub fn is_steady(&self) -> bool {
        self.scatter_percent()
            .is_none_or(|scatter| scatter < STEADY_WITHIN_PERCENT)
    }

    /// The time looked at for the swing, without numbers.
    pub fn turn_unread(&self) -> TurnReading {
        self.live.turn_unread()
    }

    /// Says that somebody looks at the live reading.
    pub fn look(&mut self) {
        self.live.look();
    }

    /// The reading; with `status` not ok it has no numbers.
    /// `tolerance_percent`: of the clock and the tape together, expanded.
    pub fn reading(&self, status: Validity, tolerance_percent: f64) -> SpeedReading {
        let averages = self.averages();
        let [quick, steady, long] = empty_windows();
        let mut reading = SpeedReading {
            status,
            averaged_seconds: averages.seconds,
            quick,
            steady,
            long,
            last_turn: self.live.turn_unread(),
            trail: self.live.trail(),
            ..SpeedReading::default()
        };
        if status.is_ok() {
            self.live.fill(&mut reading, |hz| self.percent(hz));
            self.fill_averages(&mut reading, tolerance_percent);
        }
        reading
    }

    fn fill_averages(&self, reading: &mut SpeedReading, tolerance_percent: f64) {
        let averages = self.averages();
        reading.reference_hz = Some(self.reference_hz);
        reading.measured_hz = averages.measured_hz;
        reading.deviation_percent = averages
            .measured_hz
            .map(|hz| 100.0 * (hz / self.reference_hz - 1.0));
        reading.uncertainty_percent = self
            .scatter_percent()
            .map(|scatter| scatter.hypot(tolerance_percent));
        reading.min_percent = self.averages.extremes.min();
        reading.max_percent = self.averages.extremes.max();
        reading.trend_percent_per_minute = (averages.seconds >= TREND_LEAST_S)
            .then(|| self.averages.trend.slope().map(|per_s| per_s * 60.0))
            .flatten();
    }

    /// Expanded (k = 2) uncertainty of the mean by its scatter, percent: from batches of 2 s where there are three,
    /// otherwise from the quick means, which overstates it.
    fn scatter_percent(&self) -> Option<f64> {
        let batches = &self.averages.batches;
        if batches.count() >= 3 {
            let sigma_hz = batches.deviation()? / (batches.count() as f64).sqrt();
            return Some(2.0 * 100.0 * sigma_hz / self.reference_hz);
        }
        let seconds = self.averages.blocks as f64 / self.blocks_per_s;
        let independent = (seconds / QUICK_S).max(1.0);
        Some(2.0 * self.averages.extremes.deviation()? / independent.sqrt())
    }
}

/// Deviation percent of a measured frequency.
fn percent(hz: f64, reference_hz: f64, clock_factor: f64) -> f64 {
    100.0 * (hz * clock_factor / reference_hz - 1.0)
}
