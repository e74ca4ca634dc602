//! Speed: the tone's frequency against the one it should have.

use super::{
    MeterSetup, gate::Use, record::Record, step_watch::StepWatch, trace::Trace,
    windows::FrequencyWindows,
};
use crate::{
    readings::{SpeedReading, SpeedWindow, Validity},
    signal::{regression::Slope, running::Running},
};

const QUICK_S: f64 = 0.25;
const STEADY_S: f64 = 2.0;
const LONG_S: f64 = 10.0;
/// Least and greatest are of the quick mean, looked at this often.
const EXTREMES_EVERY_S: f64 = 0.04;
/// The trail shows means of this long: wow is seen, noise is not.
const TRAIL_STEP_S: f64 = 0.05;
const TRAIL_S: f64 = 30.0;
/// Batches whose scatter tells how well the mean is known.
const BATCH_S: f64 = 2.0;
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
    live: FrequencyWindows,
    late: FrequencyWindows,
    averages: Averages,
    second: Running,
    moved: StepWatch,
    trail: Trace,
    trail_step: Running,
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
            live: FrequencyWindows::new(blocks_per_s, LONG_S),
            late: FrequencyWindows::new(blocks_per_s, BATCH_S),
            averages: Averages::default(),
            second: Running::default(),
            moved: StepWatch::new(MOVED_LEAST_PERCENT),
            trail: Trace::new(TRAIL_S, blocks_per_s / trail_blocks(blocks_per_s) as f64, 1),
            trail_step: Running::default(),
        }
    }

    /// Reads against `reference_hz` from now on, measured frequencies corrected by `clock_factor`; restarts all.
    pub fn set_reference(&mut self, reference_hz: f64, clock_factor: f64) {
        self.reference_hz = reference_hz;
        self.clock_factor = clock_factor;
        self.live.restart(reference_hz);
        self.late.restart(reference_hz);
        self.reset();
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
        100.0 * (hz * self.clock_factor / self.reference_hz - 1.0)
    }

    /// Takes the newest record in: the needle.
    pub fn push_live(&mut self, record: &Record) {
        if record.ok {
            self.live.push(&record.tone_hz);
            self.trail_step.push(self.percent(record.mean_hz()));
        } else {
            self.live.restart(self.reference_hz);
            self.trail_step.push(f64::NAN);
        }
        if self.trail_step.count() >= trail_blocks(self.blocks_per_s) {
            let step = std::mem::take(&mut self.trail_step);
            self.trail.push(step.mean().unwrap_or(f64::NAN));
        }
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
        let latest_hz = |seconds: f64| self.late.frequency_hz(self.late.blocks(seconds), 0);
        let quick_hz = is_due(EXTREMES_EVERY_S)
            .then(|| latest_hz(QUICK_S))
            .flatten();
        let batch_hz = is_due(BATCH_S).then(|| latest_hz(BATCH_S)).flatten();
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

    /// The reading; with `status` not ok it has no numbers.
    pub fn reading(&self, status: Validity, setup: &MeterSetup) -> SpeedReading {
        let averages = self.averages();
        let mut reading = SpeedReading {
            status,
            averaged_seconds: averages.seconds,
            quick: empty_window(QUICK_S),
            steady: empty_window(STEADY_S),
            long: empty_window(LONG_S),
            trail: self.trail.trail(),
            ..SpeedReading::default()
        };
        if status.is_ok() {
            self.fill_windows(&mut reading);
            self.fill_averages(&mut reading, setup);
        }
        reading
    }

    fn fill_averages(&self, reading: &mut SpeedReading, setup: &MeterSetup) {
        let averages = self.averages();
        reading.reference_hz = Some(self.reference_hz);
        reading.measured_hz = averages.measured_hz;
        reading.deviation_percent = averages
            .measured_hz
            .map(|hz| 100.0 * (hz / self.reference_hz - 1.0));
        reading.uncertainty_percent = self.scatter_percent().map(|scatter| {
            let clock = setup.clock_tolerance_ppm * 1e-4;
            let tape = setup.tone_tolerance_percent.unwrap_or(0.0);
            scatter.hypot(clock).hypot(tape)
        });
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

    fn fill_windows(&self, reading: &mut SpeedReading) {
        let quarter = self.live.blocks(QUICK_S);
        for window in [&mut reading.quick, &mut reading.steady, &mut reading.long] {
            let blocks = self.live.blocks(window.seconds);
            let Some(hz) = self.live.frequency_hz(blocks, 0) else {
                continue;
            };
            window.deviation_percent = Some(self.percent(hz));
            // The scatter of windows of this length; where only one fits, that of the longest that repeat.
            let scatter_of = blocks.min(self.live.filled() / 5).max(quarter);
            let mut scatter = Running::default();
            let history = self.live.history_hz(scatter_of, quarter);
            history.for_each(|hz| scatter.push(hz));
            let averaging = (blocks as f64 / scatter_of as f64).sqrt();
            window.uncertainty_percent = (scatter.count() >= 4)
                .then(|| scatter.deviation())
                .flatten()
                .map(|sigma_hz| 2.0 * 100.0 * sigma_hz / averaging / self.reference_hz);
        }
    }
}

/// Blocks in a step of the trail.
fn trail_blocks(blocks_per_s: f64) -> u64 {
    (TRAIL_STEP_S * blocks_per_s).round().max(1.0) as u64
}

fn empty_window(seconds: f64) -> SpeedWindow {
    SpeedWindow {
        seconds,
        ..SpeedWindow::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::demodulator::BLOCK;

    #[test]
    fn the_trail_follows_the_needle_and_shows_holes() {
        let blocks_per_s = 250.0;
        let mut meter = SpeedMeter::new(blocks_per_s);
        meter.set_reference(3150.0, 1.0);
        for i in 0..2000 {
            let record = Record {
                ok: !(1000..1050).contains(&i),
                tone_hz: [if i < 1000 { 3150.0 } else { 3181.5 }; BLOCK],
                ..Record::default()
            };
            meter.push_live(&record);
        }
        let trail = meter.trail.trail();
        assert!((trail.step_s - 0.05).abs() < 0.005);
        assert_eq!(trail.values.len(), 2000 / 13);
        assert!(trail.values.iter().any(|x| x.is_nan()));
        assert!(trail.values[10].abs() < 1e-5);
        assert!(trail.values.last().is_some_and(|x| (x - 1.0).abs() < 1e-5));
    }
}
