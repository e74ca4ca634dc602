//! The whole adjustment as a technician does it: from any azimuth within ±40′ to the true one, with whole cycles settled
//! by a lower tone, by programme, or by the treble's level alone; and never a settled reading that is wrong by a cycle.
//!
//! The truth is written out here: cassette, 0.9 mm between tracks of 0.6 mm at 47.625 mm/s; Δt = d·tan α / v, and each
//! track keeps |sin x / x| of its amplitude, x = π·w·tan α·f / v.

use crate::{
    stage::{Bench, tape},
    synth::Noise,
};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng as _, SeedableRng as _};
use std::f64::consts::{PI, TAU};
use trimwatch::readings::{CyclesSettled, PhaseReading};

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const TAPE_SPEED: f64 = 0.047625;
const TRACKS_APART: f64 = 0.9e-3;
const TRACK_WIDTH: f64 = 0.6e-3;
/// Readings are looked at this often, frames.
const LOOK_EVERY: usize = 2400;
const RUNS: u64 = 200;
/// The head's stance is worked out this often, frames, and a straight line between.
const KNOT: usize = 48;
/// Places of the programme's tape a second.
const TAPE_RATE_HZ: f64 = 192_000.0;

fn tangent(arcmin: f64) -> f64 {
    (arcmin / 60.0).to_radians().tan()
}

fn delay_s(arcmin: f64) -> f64 {
    TRACKS_APART * tangent(arcmin) / TAPE_SPEED
}

fn kept(arcmin: f64, hz: f64) -> f64 {
    let x = PI * TRACK_WIDTH * tangent(arcmin) * hz / TAPE_SPEED;
    if x == 0.0 { 1.0 } else { x.sin() / x }
}

/// What is on the tape.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Section {
    Tone(f64),
    Programme,
    Pause,
}

/// A deck whose head's azimuth the technician holds in hand.
struct Deck {
    random: Pcg64Mcg,
    noise: Noise,
    seconds: f64,
    azimuth_arcmin: f64,
    levels: [f64; 2],
    hiss: f64,
    wander_arcmin: f64,
    wander_hz: f64,
    fade_db: f64,
    /// Programme: a loop of band-limited noise, finely sampled.
    loop_of_tape: Vec<f64>,
}

/// What the head makes of the tape at one moment.
#[derive(Clone, Copy)]
struct Stance {
    /// Half the delay between the tracks, seconds.
    half_s: f64,
    /// Place along the tape that one track covers, seconds.
    width_s: f64,
    /// What a tone keeps of its amplitude, and the fading of the tape.
    kept: f64,
}

impl Stance {
    fn between(self, other: Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + (b - a) * share;
        Self {
            half_s: mix(self.half_s, other.half_s),
            width_s: mix(self.width_s, other.width_s),
            kept: mix(self.kept, other.kept),
        }
    }
}

impl Deck {
    fn new(seed: u64) -> Self {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let mut within = |low: f64, high: f64| uniform(&mut random, low, high);
        let left = within(0.06, 0.4);
        let imbalance_db = within(-6.0, 6.0);
        let azimuth_arcmin = within(-40.0, 40.0);
        let hiss = within(2e-4, 2e-3);
        let (wander_arcmin, wander_hz) = (within(0.0, 0.6), within(0.8, 6.0));
        let fade_db = within(0.0, 0.4);
        let mut noise = Noise::new(seed ^ 0x5eed);
        let loop_of_tape = smooth((0..1 << 17).map(|_| noise.next()).collect());
        Self {
            random,
            noise,
            seconds: 0.0,
            azimuth_arcmin,
            levels: [left, left * 10f64.powf(imbalance_db / 20.0)],
            hiss,
            wander_arcmin,
            wander_hz,
            fade_db,
            loop_of_tape,
        }
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        uniform(&mut self.random, low, high)
    }

    /// Weave of the tape, arc minutes.
    fn wander(&self, t: f64) -> f64 {
        self.wander_arcmin * (TAU * self.wander_hz * t).sin()
    }

    fn stance(&self, section: Section, t: f64, screw_arcmin: f64) -> Stance {
        let arcmin = screw_arcmin + self.wander(t);
        let fade = 10f64.powf(self.fade_db / 20.0 * (TAU * 0.7 * t).sin());
        Stance {
            half_s: 0.5 * delay_s(arcmin),
            width_s: TRACK_WIDTH * tangent(arcmin) / TAPE_SPEED,
            kept: match section {
                Section::Tone(hz) => fade * kept(arcmin, hz),
                Section::Programme | Section::Pause => fade,
            },
        }
    }

    /// The next frames, the screw turned evenly to `to_arcmin` in them.
    fn play(&mut self, section: Section, frames: usize, to_arcmin: f64) -> Vec<f32> {
        let from = self.azimuth_arcmin;
        let at = |frame: usize| self.seconds + frame as f64 / SAMPLE_RATE_HZ;
        let screw = |frame: usize| from + (to_arcmin - from) * frame as f64 / frames as f64;
        let knots: Vec<Stance> = (0..=frames / KNOT)
            .map(|knot| self.stance(section, at(knot * KNOT), screw(knot * KNOT)))
            .collect();
        let mut samples = Vec::with_capacity(2 * frames);
        for i in 0..frames {
            let share = (i % KNOT) as f64 / KNOT as f64;
            let stance = knots[i / KNOT].between(knots[i / KNOT + 1], share);
            for (channel, side) in [-1.0, 1.0].into_iter().enumerate() {
                let t = at(i) - side * stance.half_s;
                let signal = match section {
                    Section::Tone(hz) => (TAU * (hz * t).fract()).sin(),
                    Section::Programme => self.programme(t, stance.width_s),
                    Section::Pause => 0.0,
                };
                let own = self.hiss * self.noise.next();
                samples.push((self.levels[channel] * stance.kept * signal + own) as f32);
            }
        }
        self.seconds += frames as f64 / SAMPLE_RATE_HZ;
        self.azimuth_arcmin = to_arcmin;
        samples
    }

    /// The mean of the programme across a track that lies along `width_s` of tape.
    fn programme(&self, t: f64, width_s: f64) -> f64 {
        const ACROSS: i32 = 4;
        let length = self.loop_of_tape.len();
        let place = |t: f64| {
            let place = t * TAPE_RATE_HZ;
            let (index, share) = (place.floor(), place - place.floor());
            let index = (index as i64).rem_euclid(length as i64) as usize;
            let (a, b) = (
                self.loop_of_tape[index],
                self.loop_of_tape[(index + 1) % length],
            );
            a + (b - a) * share
        };
        let across = (0..ACROSS).map(|i| {
            let off = (f64::from(i) + 0.5) / f64::from(ACROSS) - 0.5;
            place(t + off * width_s)
        });
        across.sum::<f64>() / f64::from(ACROSS)
    }
}

/// Noise without what the sample rate of a recording could not hold: three means of eight in a row.
fn smooth(mut values: Vec<f64>) -> Vec<f64> {
    let length = values.len();
    for _ in 0..3 {
        values = (0..length)
            .map(|i| (0..8).map(|k| values[(i + k) % length]).sum::<f64>() / 8.0)
            .collect();
    }
    let rms = (values.iter().map(|x| x * x).sum::<f64>() / length as f64).sqrt();
    values.iter().map(|x| 0.4 * x / rms).collect()
}

fn uniform(random: &mut Pcg64Mcg, low: f64, high: f64) -> f64 {
    low + (high - low) * f64::from(random.next_u32()) / f64::from(u32::MAX)
}

/// Deck, meters and the technician.
struct Session {
    deck: Deck,
    bench: Bench,
    seed: u64,
    /// The screw's place in the last half second, newest last.
    past: Vec<f64>,
}

impl Session {
    fn new(seed: u64) -> Self {
        Self {
            deck: Deck::new(seed),
            bench: Bench::new(SAMPLE_RATE_HZ, 2, &tape(10_000.0)),
            seed,
            past: Vec::new(),
        }
    }

    /// Plays on, the screw turned at `arcmin_per_s` until it stands at `to`; then for `rest_s`. Every reading on the way
    /// is held against the truth.
    fn play(&mut self, section: Section, to: f64, arcmin_per_s: f64, rest_s: f64) -> PhaseReading {
        let way = to - self.deck.azimuth_arcmin;
        let steps = (way.abs() / arcmin_per_s * SAMPLE_RATE_HZ / LOOK_EVERY as f64).ceil();
        let from = self.deck.azimuth_arcmin;
        let rests = (rest_s * SAMPLE_RATE_HZ / LOOK_EVERY as f64).ceil() as usize;
        let mut last = PhaseReading::default();
        for step in 1..=steps as usize + rests {
            let share = if steps > 0.0 {
                (step as f64 / steps).min(1.0)
            } else {
                1.0
            };
            last = self.look(section, from + way * share);
        }
        last
    }

    fn look(&mut self, section: Section, to: f64) -> PhaseReading {
        let samples = self.deck.play(section, LOOK_EVERY, to);
        self.past.push(to);
        if self.past.len() > 12 {
            self.past.remove(0);
        }
        let phase = self.bench.feed(&samples).now().phase;
        self.hold_against_the_truth(&phase);
        phase
    }

    /// A settled needle shows a place that the head has had within the last half second, to a third of a cycle.
    fn hold_against_the_truth(&self, phase: &PhaseReading) {
        let (Some(read), Some(hz)) = (phase.quick_delay_us, phase.tone_hz) else {
            return;
        };
        if phase.ambiguous || !phase.status.is_ok() {
            return;
        }
        let within_us = 0.33e6 / hz;
        let right = self.past.iter().any(|arcmin| {
            let weave_us = 1e6 * delay_s(self.deck.wander_arcmin);
            (read - 1e6 * delay_s(*arcmin)).abs() < within_us + weave_us
        });
        assert!(
            right,
            "run {}: {read} µs at {hz} Hz by {:?}, the head at {:?}",
            self.seed, phase.cycles_settled_by, self.past
        );
    }

    /// At rest: the true azimuth within the stated uncertainty.
    fn assert_at(&self, phase: &PhaseReading, arcmin: f64) {
        let what = || format!("run {}: {arcmin}′, {phase:?}", self.seed);
        assert!(phase.status.is_ok() && !phase.ambiguous, "{}", what());
        let (read, uncertainty) = (
            phase.azimuth_arcmin.unwrap(),
            phase.azimuth_uncertainty_arcmin.unwrap(),
        );
        assert!(uncertainty < 2.0, "{}", what());
        assert!((read - arcmin).abs() <= uncertainty, "{}", what());
    }

    /// Turns towards zero and rests somewhere near.
    fn adjust(&mut self, tone: Section) {
        let to = self.deck.within(-3.0, 3.0);
        let speed = self.deck.within(8.0, 40.0);
        self.play(tone, to, speed, 0.3);
        self.assert_rests(tone, to);
    }

    /// The averages begin anew, and after some seconds show where the head is.
    fn assert_rests(&mut self, tone: Section, arcmin: f64) {
        self.bench.bank.reset_averages();
        let phase = self.play(tone, arcmin, 1.0, 2.8);
        self.assert_at(&phase, arcmin);
    }

    /// A lower tone first; then the azimuth tone, and the screw.
    fn by_a_lower_tone(&mut self) {
        let start = self.deck.azimuth_arcmin;
        let low = [400.0, 630.0, 1000.0, 1250.0][self.seed as usize / 3 % 4];
        self.play(Section::Tone(low), start, 1.0, 2.5);
        self.play(Section::Pause, start, 1.0, 0.6);
        let high = [6300.0, 8000.0, 10_000.0, 12_500.0][self.seed as usize / 5 % 4];
        let phase = self.play(Section::Tone(high), start, 1.0, 2.6);
        // Near the null of its loss the tone is not there to be read.
        if kept(start, high).abs() > 0.15 && phase.status.is_ok() {
            self.assert_at(&phase, start);
            if kept(start, high).abs() > 0.5 {
                self.adjust(Section::Tone(high));
                return;
            }
        }
        // What cannot be followed through the null is opened again: the level or the lower tone settles it.
        self.play(Section::Tone(low), 0.0, 30.0, 2.6);
        self.play(Section::Tone(high), 0.0, 30.0, 2.6);
        self.adjust(Section::Tone(high));
    }

    /// Music or noise first.
    fn by_programme(&mut self) {
        let start = self.deck.azimuth_arcmin;
        self.play(Section::Programme, start, 1.0, 3.5);
        let near = self.deck.within(-6.0, 6.0);
        self.play(Section::Programme, near, 20.0, 5.0);
        let phase = self.play(Section::Tone(10_000.0), near, 1.0, 2.6);
        self.assert_at(&phase, near);
        self.adjust(Section::Tone(10_000.0));
    }

    /// Nothing but the azimuth tone: the screw is turned through the loudest place and back.
    fn by_the_level(&mut self) {
        let tone = Section::Tone([8000.0, 10_000.0][self.seed as usize / 3 % 2]);
        let start = self.deck.azimuth_arcmin;
        self.play(tone, start, 1.0, 1.6);
        let speed = self.deck.within(8.0, 25.0);
        let beyond = -start.signum() * self.deck.within(14.0, 18.0);
        self.play(tone, beyond, speed, 0.3);
        let phase = self.play(tone, -beyond, speed, 0.3);
        assert!(!phase.ambiguous, "run {}: {phase:?}", self.seed);
        assert_eq!(phase.cycles_settled_by, Some(CyclesSettled::Level));
        self.adjust(tone);
    }
}

/// Runs all, on as many threads as the machine has; the runs that failed.
fn failures(runs: std::ops::Range<u64>, run: impl Fn(u64) + Sync) -> Vec<u64> {
    let next = std::sync::atomic::AtomicU64::new(runs.start);
    let failed = std::sync::Mutex::new(Vec::new());
    let threads = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    if seed >= runs.end {
                        break;
                    }
                    let outcome =
                        std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| run(seed)));
                    if outcome.is_err() {
                        failed.lock().unwrap().push(seed);
                    }
                }
            });
        }
    });
    failed.into_inner().unwrap()
}

#[test]
fn two_hundred_adjustments_end_at_the_true_azimuth() {
    let failed = failures(0..RUNS, |seed| {
        let mut session = Session::new(seed);
        match seed % 3 {
            0 => session.by_a_lower_tone(),
            1 => session.by_the_level(),
            _ => session.by_programme(),
        }
    });
    assert!(
        failed.is_empty(),
        "{} of {RUNS} failed: {failed:?}",
        failed.len()
    );
}

/// A screw that leaps over a whole cycle or more, a tone that is lost, and missing frames open the cycles again.
#[test]
fn what_could_not_be_followed_is_open_again() {
    let tone = Section::Tone(10_000.0);
    let settled = |seed| {
        let mut session = Session::new(seed);
        session.deck.azimuth_arcmin = 2.0;
        session.play(Section::Tone(1000.0), 2.0, 1.0, 2.0);
        let phase = session.play(tone, 2.0, 1.0, 2.6);
        session.assert_at(&phase, 2.0);
        session
    };
    for leap in [7.0, 9.1, 12.0, -15.0] {
        let mut session = settled(400);
        // At once: not even the filters follow.
        session.deck.azimuth_arcmin = 2.0 + leap;
        for _ in 0..4 {
            session.past.push(2.0 + leap);
        }
        let phase = session.play(tone, 2.0 + leap, 1.0, 3.0);
        assert!(phase.ambiguous, "{leap}′: {phase:?}");
        let possible = phase
            .candidates
            .iter()
            .any(|candidate| (candidate.azimuth_arcmin - 2.0 - leap).abs() < 1.0);
        assert!(possible, "{leap}′: {phase:?}");
    }
    let mut session = settled(401);
    session.play(Section::Pause, 2.0, 1.0, 1.0);
    assert!(session.play(tone, 2.0, 1.0, 2.6).ambiguous, "a lost tone");
    let mut session = settled(402);
    session.bench.bank.mark_gap();
    assert!(session.play(tone, 2.0, 1.0, 2.6).ambiguous, "a gap");
    // Turned by hand over more than a cycle it is followed all the way.
    let mut session = settled(403);
    let phase = session.play(tone, 24.0, 25.0, 0.0);
    assert!(!phase.ambiguous);
    session.play(tone, -21.0, 40.0, 0.3);
    session.assert_rests(tone, -21.0);
}

/// A level alone, or one that hardly changes, settles nothing.
#[test]
fn a_screw_that_is_hardly_turned_stays_fine_only() {
    for (seed, start) in [(500, 0.0), (501, 18.0), (502, -9.0), (503, 31.0)] {
        let mut session = Session::new(seed);
        session.deck.azimuth_arcmin = start;
        session.deck.hiss = 5e-4;
        let tone = Section::Tone(10_000.0);
        session.play(tone, start, 1.0, 2.6);
        let phase = session.play(tone, start + 1.0, 4.0, 3.0);
        assert!(phase.ambiguous, "{start}′: {phase:?}");
        assert_eq!(phase.cycles_settled_by, None);
        let true_one = phase
            .candidates
            .iter()
            .any(|candidate| (candidate.azimuth_arcmin - start - 1.0).abs() < 1.0);
        assert!(true_one, "{start}′: {phase:?}");
    }
}
