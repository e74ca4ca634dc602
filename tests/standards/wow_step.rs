//! The needle after a turn of the speed trimmer, with wow going on: trials for a test and for `cargo bench --bench
//! bounds`.
//!
//! A tape with wow runs; at a moment unknown to the meter the speed steps by 0.5 %, and half a second later the needle
//! is read. What turns in the deck turns faster by the same 0.5 %, and goes on from where it stood. Phases of the wow,
//! the moment of the step and the noise differ from take to take. The truth is a closed formula.

use crate::{
    stage::{Bench, TONE_HZ, tape},
    synth::{Noise, mono, tone},
};
use std::f64::consts::TAU;
use trimwatch::readings::{SpeedReading, SpeedWindow};

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.3;
/// A tape's usual noise, on each channel its own.
const SNR_DB: f64 = 50.0;
/// The wow can be learnt for so long.
const LEAD_S: f64 = 20.0;
/// ...and up to so much longer.
const MOST_LATER_S: f64 = 2.0;
const STEP_PERCENT: f64 = 0.5;
/// The needle is read so long after the step.
pub const AFTER_S: f64 = 0.5;
/// The project's bar at that moment.
pub const BAR_PERCENT: f64 = 0.01;

/// One line of wow: rate Hz at nominal speed, peak percent.
pub type Line = (f64, f64);

/// The rates that the project's bar names, each with that peak.
pub fn three_lines(peak_percent: f64) -> Vec<Line> {
    [0.6, 1.2, 6.0].map(|hz| (hz, peak_percent)).into()
}

/// Wow without a period, of 0.3 to 8 Hz: thirty lines too close to be told apart soon. Its rms is that of a line of
/// that peak.
pub fn without_period(peak_percent: f64) -> Vec<Line> {
    let mut random = Noise::new(77);
    let lines = 30;
    let each = peak_percent / f64::from(lines).sqrt();
    (0..lines)
        .map(|_| {
            (
                4.15 + 3.85 * (2.0 * random.triangular()).clamp(-1.0, 1.0),
                each,
            )
        })
        .collect()
}

/// What is read half a second after the step.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    pub name: &'static str,
    /// Off the new mean, percent.
    pub errors: Vec<f64>,
    /// The uncertainty the reading itself claims, percent; none where it claims none.
    pub claims: Vec<Option<f64>>,
    /// Takes without a reading.
    pub refused: usize,
}

impl Outcome {
    fn named(name: &'static str) -> Self {
        Self {
            name,
            ..Self::default()
        }
    }

    fn take(&mut self, window: Option<SpeedWindow>, truth_percent: f64) {
        match window.and_then(|window| Some((window, window.deviation_percent?))) {
            Some((window, percent)) => {
                self.errors.push(percent - truth_percent);
                self.claims.push(window.uncertainty_percent);
            }
            None => self.refused += 1,
        }
    }

    pub fn rms(&self) -> f64 {
        let squares = self.errors.iter().map(|x| x * x).sum::<f64>();
        (squares / self.errors.len() as f64).sqrt()
    }

    /// The magnitude that the share `within` of all errors stays below.
    pub fn magnitude(&self, within: f64) -> f64 {
        let mut sorted: Vec<f64> = self.errors.iter().map(|x| x.abs()).collect();
        sorted.sort_by(f64::total_cmp);
        let rank = (within * sorted.len() as f64).ceil() as usize;
        sorted.get(rank.max(1) - 1).copied().unwrap_or(f64::NAN)
    }

    /// Share of the errors no larger than `percent`.
    pub fn share_within(&self, percent: f64) -> f64 {
        let within = self.errors.iter().filter(|error| error.abs() <= percent);
        within.count() as f64 / self.errors.len() as f64
    }

    /// Share of the errors no larger than the reading's own claim; readings that claim nothing count as honest.
    pub fn share_within_claim(&self) -> f64 {
        let pairs = self.errors.iter().zip(&self.claims);
        let honest = pairs.filter(|(error, claim)| claim.is_none_or(|claim| error.abs() <= claim));
        honest.count() as f64 / self.errors.len() as f64
    }

    /// Median claim, percent.
    pub fn usual_claim(&self) -> Option<f64> {
        let mut claims: Vec<f64> = self.claims.iter().copied().flatten().collect();
        claims.sort_by(f64::total_cmp);
        claims.get(claims.len() / 2).copied()
    }
}

/// The reading that does not wait for the wow.
fn needle(speed: &SpeedReading) -> SpeedWindow {
    SpeedWindow {
        seconds: speed.needle.seconds,
        deviation_percent: speed.needle.deviation_percent,
        uncertainty_percent: speed.needle.uncertainty_percent,
    }
}

/// Reads `takes` takes with wow of those lines: plain means (of the true deviation, without noise), then the meter.
pub fn run(lines: &[Line], takes: u64) -> [Outcome; 5] {
    let mut outcomes = [
        "plain mean of 0.25 s",
        "plain mean since the step",
        "quick",
        "steady (2 s)",
        "needle",
    ]
    .map(Outcome::named);
    for seed in 0..takes {
        read_take(lines, seed, &mut outcomes);
    }
    outcomes
}

fn read_take(lines: &[Line], seed: u64, outcomes: &mut [Outcome; 5]) {
    let mut random = Noise::new(9000 + seed);
    let mut turns = || 0.5 * (1.0 + random.triangular());
    let lines: Vec<(f64, f64, f64)> = lines
        .iter()
        .map(|(hz, percent)| (*hz, percent / 100.0, TAU * turns()))
        .collect();
    // Whole milliseconds, but no whole block of the meters.
    let step_s = LEAD_S + (1e3 * MOST_LATER_S * turns()).round() / 1e3;
    let faster = 1.0 + STEP_PERCENT / 100.0;
    let place = |t: f64| {
        let turned_s = t + STEP_PERCENT / 100.0 * (t - step_s).max(0.0);
        let wow = lines.iter().map(|(hz, peak, phase)| {
            let w = TAU * hz;
            -peak / w * (w * turned_s + phase).cos()
        });
        turned_s + wow.sum::<f64>()
    };
    let wave = tone(TONE_HZ, AMPLITUDE, place);
    let seconds = step_s + AFTER_S;
    let both = |sample| [sample, sample];
    let mut take: Vec<f32> = mono(SAMPLE_RATE_HZ, seconds, wave)
        .into_iter()
        .flat_map(both)
        .collect();
    let eta = 10f64.powf(SNR_DB / 10.0);
    random.add(&mut take, AMPLITUDE / (2.0 * eta).sqrt());

    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    // As the worker does: in pieces, with a snapshot now and then.
    for piece in take.chunks(2 * 4800) {
        bench.feed(piece);
        bench.now();
    }
    let speed = bench.now().speed;
    let plain = |window_s: f64| SpeedWindow {
        seconds: window_s,
        deviation_percent: Some(
            100.0 * ((place(seconds) - place(seconds - window_s)) / window_s - 1.0),
        ),
        uncertainty_percent: None,
    };
    let read = [
        Some(plain(0.25)),
        Some(plain(AFTER_S)),
        Some(speed.quick),
        Some(speed.steady),
        Some(needle(&speed)),
    ];
    for (outcome, window) in outcomes.iter_mut().zip(read) {
        outcome.take(window, 100.0 * (faster - 1.0));
    }
}

/// The project's bar: half a second after the step the needle is within ±0.01 % of the new mean although 0.1 % of wow
/// goes on at three rates; and where the wow has no period it says how little it knows.
#[test]
fn the_needle_does_not_wait_for_the_wow() {
    let takes = 10;
    let [.., needle] = run(&three_lines(0.1 / 3.0), takes);
    assert_eq!(needle.refused, 0);
    assert!(needle.magnitude(1.0) <= BAR_PERCENT, "{:?}", needle.errors);
    let [.., needle] = run(&without_period(0.1), takes);
    assert!(needle.share_within_claim() >= 0.9, "{needle:?}");
}
