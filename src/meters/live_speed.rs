//! What the speed is now: means of the last seconds, and how much means of that length scatter.

use super::{
    last_turn::Turn, needle::Needle, record::Record, series::Series, trace::Trace,
    windows::FrequencyWindows,
};
use crate::{
    readings::{SpeedReading, SpeedWindow, Trail, TurnReading},
    signal::running::Running,
};

/// Means of these lengths, seconds: quick, steady, long.
const LENGTHS_S: [f64; 3] = [0.25, 2.0, 10.0];
/// Their scatter is taken from means this far apart...
const SCATTER_EVERY_S: f64 = 0.25;
/// ...over this long.
const SCATTER_S: f64 = 10.0;
/// Scatter stands from so many means on: quick ones are independent, steady ones overlap.
const LEAST_QUICK: usize = 4;
const LEAST_STEADY: usize = 24;
/// A quick mean this many standard deviations from a longer one has been moved.
const MOVED_SIGMAS: f64 = 3.0;
/// The trail shows means of this long: wow is seen, noise is not.
const TRAIL_STEP_S: f64 = 0.05;
const TRAIL_S: f64 = 30.0;
/// Whoever looks does so oftener than this.
const LOOKED_AT_FOR_S: f64 = 2.0;

/// The live side of the speed meter. Frequencies in Hz, as measured.
pub struct LiveSpeed {
    reference_hz: f64,
    windows: FrequencyWindows,
    /// Quick and steady means, a quarter of a second apart.
    history: [Series; 2],
    blocks_to_history: usize,
    history_blocks: usize,
    needle: Needle,
    percent_per_hz: f64,
    /// The needle is worked out while somebody looks: for so many blocks after each look.
    watched_blocks: usize,
    blocks_a_look: usize,
    trail: Trace,
    trail_step: Running,
    trail_blocks: u64,
    turn: Turn,
    /// Steps of the trail since the reference changed: those before it are deviations from another one.
    steps_of_this: usize,
}

impl LiveSpeed {
    /// For `blocks_per_s` records a second.
    pub fn new(blocks_per_s: f64) -> Self {
        let history_blocks = (SCATTER_EVERY_S * blocks_per_s).round().max(1.0) as usize;
        let trail_blocks = (TRAIL_STEP_S * blocks_per_s).round().max(1.0) as u64;
        let history = Series::new((SCATTER_S / SCATTER_EVERY_S) as usize);
        Self {
            reference_hz: 1.0,
            windows: FrequencyWindows::new(blocks_per_s, &LENGTHS_S),
            history: [history.clone(), history],
            blocks_to_history: history_blocks,
            history_blocks,
            needle: Needle::new(blocks_per_s),
            percent_per_hz: 0.0,
            watched_blocks: 0,
            blocks_a_look: (LOOKED_AT_FOR_S * blocks_per_s) as usize,
            trail: Trace::new(TRAIL_S, blocks_per_s / trail_blocks as f64, 1),
            trail_step: Running::default(),
            trail_blocks,
            turn: Turn::default(),
            steps_of_this: 0,
        }
    }

    /// Looks at this turn from now on.
    pub fn set_turn(&mut self, turn: Turn) {
        self.turn = turn;
    }

    /// Forgets all but the trail. Frequencies are handled as differences from `reference_hz` from now on; each Hz is
    /// `percent_per_hz` of deviation.
    pub fn restart(&mut self, reference_hz: f64, percent_per_hz: f64) {
        self.reference_hz = reference_hz;
        self.percent_per_hz = percent_per_hz;
        self.needle.restart(percent_per_hz);
        self.steps_of_this = 0;
        self.restart_windows();
    }

    fn restart_windows(&mut self) {
        self.windows.restart(self.reference_hz);
        self.history.iter_mut().for_each(Series::clear);
        self.blocks_to_history = self.history_blocks;
    }

    /// Takes the newest record in. `percent` turns a frequency into a deviation.
    pub fn push(&mut self, record: &Record, percent: impl Fn(f64) -> f64) {
        if record.ok {
            let phase_cycles = self.windows.push(&record.tone_hz);
            self.keep_history();
            self.push_needle(Some(phase_cycles));
            self.trail_step.push(percent(record.mean_hz()));
        } else {
            self.restart_windows();
            self.push_needle(None);
            self.trail_step.push(f64::NAN);
        }
        if self.trail_step.count() >= self.trail_blocks {
            let step = std::mem::take(&mut self.trail_step);
            self.trail.push(step.mean().unwrap_or(f64::NAN));
            self.steps_of_this = self.steps_of_this.saturating_add(1);
        }
    }

    fn push_needle(&mut self, phase_cycles: Option<f64>) {
        if self.watched_blocks == 0 {
            return;
        }
        self.watched_blocks -= 1;
        self.needle.push(phase_cycles);
    }

    /// Says that somebody looks: the needle is worked out for a while.
    pub fn look(&mut self) {
        if self.watched_blocks == 0 {
            self.needle.restart(self.percent_per_hz);
        }
        self.watched_blocks = self.blocks_a_look;
    }

    fn keep_history(&mut self) {
        self.blocks_to_history -= 1;
        if self.blocks_to_history > 0 {
            return;
        }
        self.blocks_to_history = self.history_blocks;
        for (window, history) in self.history.iter_mut().enumerate() {
            if let Some(hz) = self.windows.frequency_hz(window) {
                history.push(hz);
            }
        }
    }

    /// The trail of the needle, percent.
    pub fn trail(&self) -> Trail {
        self.trail.trail()
    }

    /// The time looked at for the swing, without numbers.
    pub fn turn_unread(&self) -> TurnReading {
        self.turn.unread(self.trail.step_s())
    }

    /// Fills the means in.
    pub fn fill(&self, reading: &mut SpeedReading, percent: impl Fn(f64) -> f64) {
        if self.watched_blocks > 0 {
            reading.needle = self.needle.reading();
            // The needle counts from the reference frequency as it is measured; the clock may be off.
            let at_reference = percent(self.reference_hz);
            reading.needle.deviation_percent = reading
                .needle
                .deviation_percent
                .map(|percent| percent + at_reference);
        }
        reading.last_turn = {
            // The first step since the reference changed may hold some of the one before.
            let usable = self.steps_of_this.saturating_sub(1);
            self.turn.reading(&self.trail, usable)
        };
        let newest_hz = self.windows.frequency_hz(0);
        let windows = [&mut reading.quick, &mut reading.steady, &mut reading.long];
        for (index, window) in windows.into_iter().enumerate() {
            if let Some(hz) = self.windows.frequency_hz(index) {
                window.deviation_percent = Some(percent(hz));
                window.uncertainty_percent = self.scatter_hz(index).map(|sigma_hz| {
                    let moved_hz = newest_hz.map_or(0.0, |newest_hz| self.moved_hz(newest_hz - hz));
                    100.0 * (2.0 * sigma_hz).max(moved_hz) / self.reference_hz
                });
            }
        }
    }

    /// How far the speed has been moved out of a window, where the quick mean is so far from the window's that wow does
    /// not explain it: the window is then off by as much.
    fn moved_hz(&self, way_hz: f64) -> f64 {
        let explained_hz = MOVED_SIGMAS * self.scatter_hz(0).unwrap_or(0.0);
        if way_hz.abs() > explained_hz {
            way_hz.abs()
        } else {
            0.0
        }
    }

    /// Standard deviation of means as long as that window: of such means themselves or, where too few of them are
    /// there, by the square root of the length from shorter ones, which overstates it where the speed wows.
    fn scatter_hz(&self, window: usize) -> Option<f64> {
        let enough = |of: usize, least: usize| window >= of && self.history[of].len() >= least;
        let of = if enough(1, LEAST_STEADY) {
            1
        } else if enough(0, LEAST_QUICK) {
            0
        } else {
            return None;
        };
        let mut scatter = Running::default();
        self.history[of]
            .last(usize::MAX)
            .for_each(|hz| scatter.push(hz));
        let averaging = self.windows.blocks(window) as f64 / self.windows.blocks(of) as f64;
        Some(scatter.deviation()? / averaging.sqrt())
    }
}

/// A window of each length without a number in it.
pub fn empty_windows() -> [SpeedWindow; 3] {
    LENGTHS_S.map(|seconds| SpeedWindow {
        seconds,
        ..SpeedWindow::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::demodulator::BLOCK;

    #[test]
    fn a_long_mean_that_a_step_has_left_behind_says_how_far() {
        let mut live = LiveSpeed::new(250.0);
        live.restart(3150.0, 100.0 / 3150.0);
        let percent = |hz: f64| 100.0 * (hz / 3150.0 - 1.0);
        for i in 0..5100 {
            let wow_hz = 0.6 * (f64::from(i) * 0.02).sin();
            let hz = wow_hz + if i < 5000 { 3150.0 } else { 3165.75 };
            let record = Record {
                ok: true,
                tone_hz: [hz; BLOCK],
                ..Record::default()
            };
            live.push(&record, percent);
        }
        let mut reading = SpeedReading::default();
        live.fill(&mut reading, percent);
        for window in [reading.steady, reading.long] {
            let error = window
                .deviation_percent
                .map(|percent| (percent - 0.5).abs());
            let claims = window.uncertainty_percent;
            assert!(
                error.zip(claims).is_some_and(|(e, u)| e < u + 0.02),
                "{window:?}"
            );
        }
    }

    #[test]
    fn the_trail_follows_the_needle_and_shows_holes() {
        let mut live = LiveSpeed::new(250.0);
        live.restart(3150.0, 100.0 / 3150.0);
        for i in 0..2000 {
            let record = Record {
                ok: !(1000..1050).contains(&i),
                tone_hz: [if i < 1000 { 3150.0 } else { 3181.5 }; BLOCK],
                ..Record::default()
            };
            live.push(&record, |hz| 100.0 * (hz / 3150.0 - 1.0));
        }
        let trail = live.trail();
        assert!((trail.step_s - 0.05).abs() < 0.005);
        assert_eq!(trail.values.len(), 2000 / 13);
        assert!(trail.values.iter().any(|x| x.is_nan()));
        assert!(trail.values[10].abs() < 1e-5);
        assert!(trail.values.last().is_some_and(|x| (x - 1.0).abs() < 1e-5));
    }
}
