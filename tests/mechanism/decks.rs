//! Simulated decks whose truth is known: rotating parts, random wow, and the noise of a tone at 50 dB SNR.

use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, StandardNormal};
use rand_pcg::Pcg64;
use std::f64::consts::TAU;
use trimwatch::{
    mechanism::MotionSeries,
    signal::biquad::Cascade,
    tables::{Mechanism, Part, PartKind},
};

/// Values a second of the series.
pub const RATE_HZ: f64 = 4000.0 / 6.0;
/// Tape speed of a cassette, metres a second.
pub const CASSETTE_M_PER_S: f64 = 0.047_625;

/// A true line.
#[derive(Clone, Debug)]
pub struct TrueLine {
    pub part: String,
    pub order: u32,
    pub rate_hz: f64,
    pub peak_percent: f64,
}

/// A deck and what it plays.
#[derive(Clone, Debug)]
pub struct Deck {
    pub mechanism: Mechanism,
    pub lines: Vec<TrueLine>,
    pub wow_rms_percent: f64,
    pub wow_peak_hz: f64,
    pub speed_ratio: f64,
    pub seed: u64,
}

pub fn mechanism(part: Vec<Part>) -> Mechanism {
    Mechanism {
        name: "simulated".into(),
        title: "Simulated".into(),
        tape_speed_m_per_s: CASSETTE_M_PER_S,
        source: "drawn by chance".into(),
        part,
    }
}

pub fn on_tape(name: &str, kind: PartKind, diameter_mm: f64) -> Part {
    let mut part = Part::new(name, kind);
    part.diameter_mm = Some(diameter_mm);
    part
}

pub fn turning(name: &str, kind: PartKind, rate_hz: f64) -> Part {
    let mut part = Part::new(name, kind);
    part.rate_hz = Some(rate_hz);
    part
}

/// A deck drawn by chance: 3 to 8 parts, each with one to four orders between 0.005 and 0.2 %, a speed within ±2 %.
/// Lines that the random wow hides are drawn larger, so that each can be sized to 5 %. Every third part is silent.
pub fn drawn(seed: u64, seconds: f64) -> Deck {
    let mut chance = Pcg64::seed_from_u64(seed);
    let mut between = |low: f64, high: f64| low + (high - low) * chance.random::<f64>();
    let count = between(3.0, 9.0) as usize;
    let mut all = vec![
        on_tape("take-up capstan", PartKind::Capstan, between(1.9, 3.0)),
        on_tape(
            "take-up pinch roller",
            PartKind::PinchRoller,
            between(10.0, 14.0),
        ),
        turning("belt", PartKind::Belt, between(2.2, 7.0)),
        turning("motor pulley", PartKind::Motor, between(24.0, 50.0)),
        on_tape("supply capstan", PartKind::Capstan, between(1.9, 3.0)),
        on_tape(
            "supply pinch roller",
            PartKind::PinchRoller,
            between(10.0, 14.0),
        ),
        on_tape("tape roller", PartKind::TapeRoller, between(5.0, 8.0)),
        turning("idler", PartKind::Idler, between(8.0, 20.0)),
    ];
    all.truncate(count);
    let wow_rms_percent = between(0.005, 0.03);
    let wow_peak_hz = between(0.6, 2.0);
    let speed_ratio = 1.0 + between(-0.02, 0.02);
    let mechanism = mechanism(all);
    let rates = mechanism.rates().expect("every part has its rate");
    let mut lines: Vec<TrueLine> = Vec::new();
    for (index, (part, rate)) in mechanism.part.iter().zip(&rates).enumerate() {
        if index % 3 == 2 && between(0.0, 1.0) < 0.5 {
            continue;
        }
        let orders = between(1.0, 4.99) as u32;
        for order in 1..=orders {
            let rate_hz = f64::from(order) * rate.nominal_hz * speed_ratio;
            // What can be sized to 5 % (60 standard deviations: 3 of them) above the wow at that rate.
            let least = 60.0 * wow_deviation(rate_hz, wow_rms_percent, wow_peak_hz, seconds);
            let drawn = 0.005 * between(0.0, 40.0_f64.ln()).exp();
            lines.push(TrueLine {
                part: part.name.clone(),
                order,
                rate_hz,
                peak_percent: drawn.max(0.005).max(least),
            });
        }
    }
    Deck {
        mechanism,
        lines,
        wow_rms_percent,
        wow_peak_hz,
        speed_ratio,
        seed,
    }
}

/// Many lines that belong to nothing: at random rates, of random sizes, of this rms together.
pub fn forest(
    count: usize,
    low_hz: f64,
    high_hz: f64,
    rms_percent: f64,
    seed: u64,
) -> Vec<TrueLine> {
    let mut chance = Pcg64::seed_from_u64(4000 + seed);
    let each = rms_percent * (2.0 / count as f64).sqrt();
    let mut lines = Vec::with_capacity(count);
    for _ in 0..count {
        let rate_hz = low_hz + (high_hz - low_hz) * chance.random::<f64>();
        // Rayleigh-distributed sizes of mean square 2·(each/√2)².
        let size = each * (-(1.0 - chance.random::<f64>()).ln()).sqrt();
        lines.push(TrueLine {
            part: "nothing".into(),
            order: 1,
            rate_hz,
            peak_percent: size,
        });
    }
    lines
}

/// Filters that shape the random wow: rising below the peak, falling steeply above.
fn wow_filters(peak_hz: f64) -> [Cascade; 2] {
    [
        Cascade::butterworth_high_pass(1, peak_hz, RATE_HZ),
        Cascade::butterworth_low_pass(4, 1.6 * peak_hz, RATE_HZ),
    ]
}

fn wow_gain(rate_hz: f64, peak_hz: f64) -> f64 {
    wow_filters(peak_hz)
        .iter()
        .map(|filter| filter.response(rate_hz / RATE_HZ).norm())
        .product()
}

/// Density of the wow, percent squared per Hz.
fn wow_density(rate_hz: f64, rms_percent: f64, peak_hz: f64) -> f64 {
    let steps = (1..4000).map(|k| 0.005 * f64::from(k));
    let all: f64 = steps.map(|f| wow_gain(f, peak_hz).powi(2) * 0.005).sum();
    (rms_percent * wow_gain(rate_hz, peak_hz)).powi(2) / all
}

/// Standard deviation of a line's size in the wow (Hann window: 1.5 × the density over the time).
pub fn wow_deviation(rate_hz: f64, rms_percent: f64, peak_hz: f64, seconds: f64) -> f64 {
    (1.5 * wow_density(rate_hz, rms_percent, peak_hz) / seconds).sqrt()
}

impl Deck {
    /// The speed over a take.
    pub fn series(&self, seconds: f64, take: u64) -> MotionSeries {
        let mut chance = Pcg64::seed_from_u64(self.seed.wrapping_mul(7919).wrapping_add(take));
        let phases: Vec<f64> = self
            .lines
            .iter()
            .map(|_| TAU * chance.random::<f64>())
            .collect();
        let count = (seconds * RATE_HZ) as usize;
        let mut normal = move || -> f64 { StandardNormal.sample(&mut chance) };
        let mut speed = vec![100.0 * (self.speed_ratio - 1.0); count];
        for (line, phase) in self.lines.iter().zip(&phases) {
            for (i, x) in speed.iter_mut().enumerate() {
                let t = i as f64 / RATE_HZ;
                *x += line.peak_percent * (TAU * line.rate_hz * t + phase).sin();
            }
        }
        let [mut high, mut low] = wow_filters(self.wow_peak_hz);
        let density = wow_density(self.wow_peak_hz, self.wow_rms_percent, self.wow_peak_hz);
        let white = (density * 0.5 * RATE_HZ).sqrt() / wow_gain(self.wow_peak_hz, self.wow_peak_hz);
        for _ in 0..5000 {
            low.process(high.process(white * normal()));
        }
        // Phase noise of a tone of 3150 Hz in noise 50 dB below over 24 kHz: density 1/(B·SNR).
        let angle = (0.5 * RATE_HZ / 24_000.0 * 1e-5_f64).sqrt();
        let mut before = angle * normal();
        for x in &mut speed {
            let now = angle * normal();
            *x += low.process(high.process(white * normal()));
            *x += 100.0 * (now - before) * RATE_HZ / (TAU * 3150.0);
            before = now;
        }
        MotionSeries {
            rate_hz: RATE_HZ,
            flat_to_hz: 250.0,
            speed_percent: speed,
            ..MotionSeries::default()
        }
    }

    /// Lines that stand alone: no other true line nearer than `apart_hz`.
    pub fn lone_lines(&self, apart_hz: f64) -> Vec<&TrueLine> {
        let alone = |line: &&TrueLine| {
            let others = self
                .lines
                .iter()
                .filter(|other| !std::ptr::eq(*other, *line));
            others
                .clone()
                .all(|other| (other.rate_hz - line.rate_hz).abs() >= apart_hz)
        };
        self.lines.iter().filter(alone).collect()
    }
}
