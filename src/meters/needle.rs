//! The needle that does not wait for the wow: the speed of the last moments with what repeats taken out.
//!
//! Three steps. (1) A model of the periodic wow ([`WowModel`]) is fitted anew twice a second and foretells the wow from
//! there. (2) What is left is averaged over windows from 50 ms to 1.6 s. (3) Of these the longest is shown that agrees
//! with all shorter ones within their scatter: the rule of the intersection of confidence intervals (Goldenshluger and
//! Nemirovski 1997). So the needle leaps with a trimmer and rests when it rests.
//!
//! It never invents. How well the model foretold is judged on moments it had not seen: where that is little better
//! than no model it is not used, and where it is worse than it was on what it had seen, the uncertainty grows by as
//! much.

mod trial;

use self::trial::{TRIAL, Trial};
use super::series::Series;
use crate::{
    readings::{NeedleReading, NeedleWow},
    signal::{
        sliding_slope::SlidingSlope,
        steps::{MEDIAN_MAGNITUDE, SIDE_S, level, median},
        wow_model::{self, WowModel},
    },
};
use std::f64::consts::{PI, SQRT_2, TAU};

/// Blocks in a moment: about 16 ms.
const MOMENT_BLOCKS: usize = 4;
/// What the model learns from.
const MEMORY_S: f64 = 16.0;
/// The model is fitted anew this often.
const REFIT_S: f64 = 0.5;
/// Windows that are averaged over, moments.
const WINDOWS: [usize; 6] = [3, 6, 12, 25, 50, 100];
/// Before anything is known of the scatter, this one is shown.
const FIRST_WINDOW: usize = 1;
/// Width of the confidence intervals, standard deviations.
const AGREE_SIGMAS: f64 = 3.0;
/// Trimmers are not turned by less: percent.
const LEAST_STEP_PERCENT: f64 = 0.015;
/// Scatter stands from so many windows side by side on.
const LEAST_PAIRS: usize = 4;
/// No reading is surer than this, percent: rounding.
const LEAST_SIGMA_PERCENT: f64 = 1e-6;
/// Standard uncertainty of a line that the model takes out, as a share of it.
const MODEL_SHARE: f64 = 0.01;
/// The model is used where what it leaves scatters less than this share of what it was given.
const WORTH: f64 = 0.7;
/// Below this (percent) there is nothing worth taking out.
const NO_WOW_PERCENT: f64 = 0.001;
/// A hole in the stream up to this long is bridged by what the model foretells, seconds.
const LONGEST_HOLE_S: f64 = 2.0;

/// The needle. Values are deviations in percent of the reference it was restarted with.
pub struct Needle {
    moments_per_s: f64,
    cycles_to_percent: f64,
    /// The moment that is being collected, and the one before it: mean phase, cycles.
    phase_sum_cycles: f64,
    blocks: usize,
    last_phase_cycles: Option<f64>,
    hole_moments: usize,
    /// Deviation, moment by moment; and what is left of it.
    memory: Series,
    rest: Series,
    foretold: Series,
    model: WowModel,
    used: bool,
    to_refit: usize,
    windows: Vec<Window>,
    /// Sum of the rest: its mean slope over a window is the window's mean.
    rest_sum: f64,
    rest_sums: Series,
    trial: Trial,
    /// What the trials say of a sure thing: the uncertainty is this much greater than the rest alone would make it.
    caution: f64,
}

struct Window {
    slope: SlidingSlope,
    sigma_percent: Option<f64>,
}

impl Needle {
    /// For `blocks_per_s` records a second. Allocates.
    pub fn new(blocks_per_s: f64) -> Self {
        let moments_per_s = blocks_per_s / MOMENT_BLOCKS as f64;
        let memory = (MEMORY_S * moments_per_s) as usize;
        let longest = WINDOWS.iter().copied().max().unwrap_or(2) + 1;
        Self {
            moments_per_s,
            cycles_to_percent: 0.0,
            phase_sum_cycles: 0.0,
            blocks: 0,
            last_phase_cycles: None,
            hole_moments: 0,
            memory: Series::new(memory),
            rest: Series::new(memory),
            foretold: Series::new(memory),
            model: WowModel::new(moments_per_s, memory, LEAST_STEP_PERCENT),
            used: false,
            to_refit: 0,
            windows: WINDOWS
                .iter()
                .map(|moments| Window {
                    // A window of so many steps of the sum has one value more.
                    slope: SlidingSlope::new(moments + 1),
                    sigma_percent: None,
                })
                .collect(),
            rest_sum: 0.0,
            rest_sums: Series::new(longest + 1),
            trial: Trial::new(),
            caution: 1.0,
        }
    }

    /// Forgets everything. `percent_per_hz` turns a frequency into a deviation.
    pub fn restart(&mut self, percent_per_hz: f64) {
        self.cycles_to_percent = percent_per_hz * self.moments_per_s;
        self.hole_moments = 0;
        self.memory.clear();
        self.rest.clear();
        self.foretold.clear();
        self.model.clear();
        self.used = false;
        self.to_refit = 0;
        self.trial = Trial::new();
        self.caution = 1.0;
        self.restart_windows();
        for window in &mut self.windows {
            window.sigma_percent = None;
        }
        self.begin_moment();
    }

    fn begin_moment(&mut self) {
        self.phase_sum_cycles = 0.0;
        self.blocks = 0;
        self.last_phase_cycles = None;
    }

    fn restart_windows(&mut self) {
        self.rest_sum = 0.0;
        self.rest_sums.clear();
        for window in &mut self.windows {
            window.slope.restart();
        }
        self.push_sum();
    }

    /// Takes the mean phase of a block in, cycles against the reference; `None`: the tone could not be followed.
    pub fn push(&mut self, phase_cycles: Option<f64>) {
        match phase_cycles {
            Some(phase_cycles) => self.phase_sum_cycles += phase_cycles,
            None => self.phase_sum_cycles = f64::NAN,
        }
        self.blocks += 1;
        if self.blocks < MOMENT_BLOCKS {
            return;
        }
        let phase_cycles = self.phase_sum_cycles / MOMENT_BLOCKS as f64;
        self.phase_sum_cycles = 0.0;
        self.blocks = 0;
        let last = self.last_phase_cycles.take();
        self.last_phase_cycles = phase_cycles.is_finite().then_some(phase_cycles);
        match last {
            Some(last) if phase_cycles.is_finite() => {
                self.moment((phase_cycles - last) * self.cycles_to_percent);
            }
            _ => self.hole(),
        }
    }

    fn moment(&mut self, percent: f64) {
        self.hole_moments = 0;
        let foretold = self.foretell();
        self.trial.push(percent, percent - foretold);
        let rest = percent - if self.used { foretold } else { 0.0 };
        self.memory.push(percent);
        self.rest.push(rest);
        self.rest_sum += rest;
        self.push_sum();
        self.count_down();
    }

    /// The wow of this moment.
    fn foretell(&mut self) -> f64 {
        let level = self.chosen().map(|(_, mean)| mean);
        let foretold = self.model.next(level.unwrap_or(0.0));
        self.foretold.push(foretold);
        foretold
    }

    fn count_down(&mut self) {
        if self.to_refit > 0 {
            self.to_refit -= 1;
        } else {
            self.to_refit = (REFIT_S * self.moments_per_s) as usize;
            self.refit();
        }
    }

    /// A moment without a value: the model turns on, and a short hole in its memory is filled with what it foretells.
    fn hole(&mut self) {
        self.hole_moments += 1;
        let before = self.windows[FIRST_WINDOW].slope.slope();
        let foretold = self.foretell();
        if self.memory.len() == 0 {
            return;
        }
        if self.hole_moments as f64 > LONGEST_HOLE_S * self.moments_per_s {
            self.restart(self.cycles_to_percent / self.moments_per_s);
            return;
        }
        let rest = before.or_else(|| self.rest.ago(0)).unwrap_or(0.0);
        self.memory
            .push(rest + if self.used { foretold } else { 0.0 });
        self.rest.push(rest);
        self.trial.break_here();
        self.restart_windows();
    }

    fn push_sum(&mut self) {
        self.rest_sums.push(self.rest_sum);
        for window in &mut self.windows {
            let slope = &mut window.slope;
            slope.push(self.rest_sum, self.rest_sums.ago(slope.length()));
            if slope.wants_renewal() {
                slope.renew(self.rest_sums.last(slope.length()));
            }
        }
    }

    fn refit(&mut self) {
        let memory = self.memory.to_vec();
        if (memory.len() as f64) < wow_model::LEAST_S * self.moments_per_s {
            return;
        }
        let usual = self.trial.usual();
        let foretold = self.model.refit(&memory, &self.foretold.to_vec());
        self.foretold.clear();
        foretold.iter().for_each(|x| self.foretold.push(*x));
        // Until the trials are over, nothing is taken out: a model that has foretold nothing yet may be anything.
        let worth = usual.is_some_and(|[raw, left]| raw > NO_WOW_PERCENT && left < WORTH * raw);
        if usual.is_some() && !worth && usual.is_some_and(|[raw, _]| raw > NO_WOW_PERCENT) {
            self.forget_the_older_half();
        }
        self.used = worth;
        self.renew_rest();
        self.judge(usual);
    }

    /// What does not repeat may have done so before something was changed: the model gets a chance to learn it anew.
    fn forget_the_older_half(&mut self) {
        let least = (2.0 * wow_model::LEAST_S * self.moments_per_s) as usize;
        let keep = self.memory.len() / 2;
        if keep < least / 2 || !self.trial.is_full() {
            return;
        }
        let newer: Vec<f64> = self.memory.last(keep).collect();
        self.memory.clear();
        newer.iter().for_each(|x| self.memory.push(*x));
        let newer: Vec<f64> = self.foretold.last(keep).collect();
        self.foretold.clear();
        newer.iter().for_each(|x| self.foretold.push(*x));
        self.trial = Trial::new();
    }

    /// The rest of the whole memory by the present model.
    fn renew_rest(&mut self) {
        let used = f64::from(u8::from(self.used));
        let values = self.memory.last(usize::MAX);
        let rest: Vec<f64> = values
            .zip(self.foretold.last(usize::MAX))
            .map(|(x, foretold)| x - used * foretold)
            .collect();
        // The windows hold no more than there was since the last hole.
        let whole = self.rest_sums.len() - 1;
        self.rest.clear();
        rest.iter().for_each(|x| self.rest.push(*x));
        self.restart_windows();
        for x in &rest[rest.len().saturating_sub(whole)..] {
            self.rest_sum += x;
            self.push_sum();
        }
    }

    /// How much windows of each length scatter, and how much that is to be trusted.
    fn judge(&mut self, usual: Option<[f64; 2]>) {
        let rest = self.rest.to_vec();
        // A move in the last moments cannot be told from wow yet.
        let seen = rest
            .len()
            .saturating_sub((SIDE_S * self.moments_per_s) as usize);
        let rest = &rest[..seen];
        let level = level(rest, self.moments_per_s, LEAST_STEP_PERCENT);
        let still: Vec<f64> = rest
            .iter()
            .zip(&level)
            .map(|(x, level)| x - level)
            .collect();
        let mut shorter: Option<f64> = None;
        for window in &mut self.windows {
            let moments = window.slope.length() - 1;
            let about_the_level = spread(&still, moments);
            let own = scatter_of_neighbours(rest, moments).map(|sigma| sigma.max(about_the_level));
            // Too few to tell: no surer than a shorter one.
            let sigma = own.or(shorter);
            window.sigma_percent = sigma.map(|sigma| sigma.max(LEAST_SIGMA_PERCENT));
            shorter = sigma;
        }
        let seen = usual_difference(&still, TRIAL);
        self.caution = match (usual, self.used) {
            (Some([_, left]), true) if seen > 0.0 => (left / seen).max(1.0),
            _ => 1.0,
        };
    }

    /// The reading.
    pub fn reading(&self) -> NeedleReading {
        let mut reading = NeedleReading {
            wow: self.wow(),
            removed_peak_percent: self
                .used
                .then(|| self.model.lines().map(|line| line.amplitude).sum()),
            ..NeedleReading::default()
        };
        let Some((window, percent)) = self.chosen() else {
            return reading;
        };
        reading.deviation_percent = Some(percent);
        reading.seconds = (window.slope.length() - 1) as f64 / self.moments_per_s;
        reading.uncertainty_percent = window
            .sigma_percent
            .map(|sigma| 2.0 * self.doubt_percent(window, sigma * self.caution));
        reading
    }

    /// Standard deviation of a window's mean with what the model may leave in it, percent.
    fn doubt_percent(&self, window: &Window, sigma_percent: f64) -> f64 {
        let mut doubt = sigma_percent;
        if self.used {
            let window_s = (window.slope.length() - 1) as f64 / self.moments_per_s;
            for line in self.model.lines() {
                // Turns that may or may not be the part's own; the window averages over what is faster than itself.
                let open = (0.5 * TAU * line.rate_hz * self.model.ahead_s().abs()).min(1.0);
                let passed = (1.0 / (PI * line.rate_hz * window_s)).min(1.0);
                doubt = doubt.hypot(line.amplitude * passed * open.max(MODEL_SHARE));
            }
        }
        doubt
    }

    /// The longest window that agrees with all shorter ones, and its mean.
    fn chosen(&self) -> Option<(&Window, f64)> {
        let mut bounds = (f64::NEG_INFINITY, f64::INFINITY);
        let mut chosen = None;
        for (index, window) in self.windows.iter().enumerate() {
            let Some(mean) = window.slope.slope() else {
                break;
            };
            let Some(sigma) = window.sigma_percent else {
                if index <= FIRST_WINDOW {
                    chosen = Some((window, mean));
                    continue;
                }
                break;
            };
            if self.wow_is_in() && index > FIRST_WINDOW {
                // Averaging wow out takes longer than a hand waits: it is left in, and in the uncertainty.
                break;
            }
            let reach = AGREE_SIGMAS * self.doubt_percent(window, sigma);
            bounds = (bounds.0.max(mean - reach), bounds.1.min(mean + reach));
            if bounds.0 > bounds.1 && !self.wow_is_in() {
                break;
            }
            chosen = Some((window, mean));
        }
        chosen
    }

    fn wow_is_in(&self) -> bool {
        matches!(self.wow(), NeedleWow::Learning | NeedleWow::DoesNotRepeat)
    }

    fn wow(&self) -> NeedleWow {
        match self.trial.usual() {
            _ if self.used => NeedleWow::Removed,
            Some([raw, _]) if raw <= NO_WOW_PERCENT => NeedleWow::None,
            Some(_)
                if self.memory.len() as f64 >= 2.0 * wow_model::LEAST_S * self.moments_per_s =>
            {
                NeedleWow::DoesNotRepeat
            }
            _ => NeedleWow::Learning,
        }
    }
}

/// Standard deviation of the mean of `moments` values, from neighbouring windows' differences; their median, so that
/// the few in which something was moved do not count.
fn scatter_of_neighbours(rest: &[f64], moments: usize) -> Option<f64> {
    let pairs = rest.len() / moments;
    (pairs > LEAST_PAIRS).then(|| usual_difference(rest, moments) / MEDIAN_MAGNITUDE / SQRT_2)
}

/// Standard deviation of the means of `moments` values about zero, from their median. Their slow part, which neighbours
/// share, is in it.
fn spread(still: &[f64], moments: usize) -> f64 {
    let magnitudes: Vec<f64> = still
        .rchunks_exact(moments)
        .map(|chunk| (chunk.iter().sum::<f64>() / moments as f64).abs())
        .collect();
    median(&magnitudes) / MEDIAN_MAGNITUDE
}

/// Median difference of neighbouring means of `moments` values.
fn usual_difference(values: &[f64], moments: usize) -> f64 {
    let means: Vec<f64> = values
        .rchunks_exact(moments)
        .map(|chunk| chunk.iter().sum::<f64>() / moments as f64)
        .collect();
    let differences: Vec<f64> = means
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .collect();
    median(&differences)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BLOCKS_PER_S: f64 = 250.0;

    /// A needle fed with a deviation (percent of 3150 Hz) that is given for a time in seconds.
    struct Deck {
        needle: Needle,
        time_s: f64,
        phase_cycles: f64,
    }

    impl Deck {
        fn new() -> Self {
            let mut needle = Needle::new(BLOCKS_PER_S);
            needle.restart(100.0 / 3150.0);
            Self {
                needle,
                time_s: 0.0,
                phase_cycles: 0.0,
            }
        }

        fn play(&mut self, seconds: f64, percent: impl Fn(f64) -> f64) {
            for _ in 0..(seconds * BLOCKS_PER_S) as usize {
                self.time_s += 1.0 / BLOCKS_PER_S;
                self.phase_cycles += 31.5 * percent(self.time_s) / BLOCKS_PER_S;
                self.needle.push(Some(self.phase_cycles));
            }
        }

        fn percent(&self) -> f64 {
            let reading = self.needle.reading();
            reading.deviation_percent.unwrap_or(f64::NAN)
        }
    }

    fn wow(t: f64) -> f64 {
        let line = |hz: f64, phase: f64| 0.1 * (TAU * hz * t + phase).sin();
        line(0.6, 0.3) + line(1.2, 2.0) + line(6.0, 4.0)
    }

    /// What wanders about without ever repeating: many unrelated slow lines.
    fn wander(t: f64) -> f64 {
        (1..40)
            .map(|k| {
                let k = f64::from(k);
                0.03 * (TAU * (0.31 * k + 0.07 * k.sqrt()) * t + k * k).sin() / k.sqrt()
            })
            .sum()
    }

    #[test]
    fn half_a_second_after_a_step_it_stands_at_the_new_mean_within_a_hundredth_of_a_percent() {
        for step in [0.5, -0.3, 0.05] {
            let mut deck = Deck::new();
            deck.play(12.0, |t| 0.7 + wow(t));
            assert_eq!(deck.needle.reading().wow, NeedleWow::Removed);
            deck.play(0.5, |t| 0.7 + step + wow(t));
            let error = deck.percent() - 0.7 - step;
            assert!(error.abs() < 0.01, "{step}: {error}");
            let uncertainty = deck.needle.reading().uncertainty_percent;
            assert!(
                uncertainty.is_some_and(|u| error.abs() < u && u < 0.03),
                "{uncertainty:?}"
            );
        }
    }

    #[test]
    fn a_step_is_at_nine_tenths_in_a_tenth_of_a_second() {
        for before in [wow as fn(f64) -> f64, |_| 0.0] {
            let mut deck = Deck::new();
            deck.play(10.0, before);
            deck.play(0.1, |t| 0.4 + before(t));
            assert!(deck.percent() > 0.36, "{}", deck.percent());
        }
    }

    #[test]
    fn steps_alone_are_no_wow() {
        let mut deck = Deck::new();
        let level =
            |t: f64| 0.1 * (t / 2.5).floor() * if (t / 2.5) as i32 % 2 == 0 { 1.0 } else { -1.0 };
        for _ in 0..60 {
            deck.play(0.5, level);
            let reading = deck.needle.reading();
            let removed = reading.removed_peak_percent.unwrap_or(0.0);
            assert!(removed < 0.005, "{} s: {reading:?}", deck.time_s);
        }
    }

    #[test]
    fn what_does_not_repeat_stays_in_and_in_the_uncertainty() {
        let mut deck = Deck::new();
        deck.play(10.0, wander);
        let (mut outside, mut looks) = (0, 0);
        for _ in 0..100 {
            deck.play(0.31, wander);
            let reading = deck.needle.reading();
            let uncertainty = reading.uncertainty_percent.unwrap_or(0.0);
            outside += u32::from(deck.percent().abs() > uncertainty);
            looks += 1;
        }
        assert!(outside * 10 <= looks, "{outside} of {looks} outside");
        assert!(deck.needle.reading().wow != NeedleWow::None);
    }

    #[test]
    fn a_short_hole_does_not_make_it_forget_the_wow() {
        let mut deck = Deck::new();
        deck.play(10.0, wow);
        for _ in 0..50 {
            deck.time_s += 1.0 / BLOCKS_PER_S;
            deck.needle.push(None);
        }
        assert_eq!(deck.needle.reading().deviation_percent, None);
        deck.play(0.5, wow);
        assert_eq!(deck.needle.reading().wow, NeedleWow::Removed);
        assert!(deck.percent().abs() < 0.01, "{}", deck.percent());
    }

    #[test]
    fn learns_anew_where_the_wow_has_changed() {
        let mut deck = Deck::new();
        deck.play(14.0, wow);
        let other = |t: f64| 0.15 * (TAU * 0.9 * t).sin();
        deck.play(25.0, other);
        deck.play(0.5, |t| 0.3 + other(t));
        assert!(
            (deck.percent() - 0.3).abs() < 0.01,
            "{:?}",
            deck.needle.reading()
        );
    }
}
