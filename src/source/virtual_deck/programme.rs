//! Something like music: three voices playing notes of a scale, a beat, and a bed of noise.
//!
//! It is there to show what meters do with broadband programme: plenty of partials that start and stop, nothing
//! steady.

use super::{
    generator::{Band, Pink},
    knots::KNOTS_HZ,
    random::{Chance, Purpose},
    turns::sin_cos,
};

/// Length of a beat; a note lasts one, two or four.
const BEAT_S: f64 = 0.23;
const ATTACK_S: f64 = 0.008;
/// A five-note scale, semitones above the root.
const SCALE: [i32; 5] = [0, 2, 4, 7, 9];
const ROOT_HZ: f64 = 110.0;
/// Amplitudes of the partials.
const PARTIALS: [f64; 8] = [1.0, 0.5, 0.33, 0.25, 0.2, 0.17, 0.14, 0.12];
/// Octaves above the root and loudness of each voice.
const VOICES: [(i32, f64); 3] = [(0, 0.35), (1, 0.28), (2, 0.22)];
const BEAT_LOUDNESS: f64 = 0.4;
const BEAT_DECAY_S: f64 = 0.03;
const BED_RMS: f64 = 0.03;

/// The sequence of a piece that never ends.
pub(super) struct Programme {
    chance: Chance,
    voices: [Voice; VOICES.len()],
    bed: Pink,
    bed_scale: f64,
    highest_hz: f64,
    /// Knots to the next beat.
    to_beat: u32,
    beat: f64,
    beat_decay: f64,
}

#[derive(Clone, Copy, Default)]
struct Voice {
    /// Sine and cosine of the fundamental's angle, and of its step.
    sin: f64,
    cos: f64,
    step_sin: f64,
    step_cos: f64,
    partials: usize,
    loudness: f64,
    age: f64,
    length: f64,
    beats_left: u32,
}

impl Programme {
    pub(super) fn new(seed: u64, band: &Band) -> Self {
        let bed = Pink::new(Chance::new(seed, Purpose::ProgrammeBed));
        Self {
            bed_scale: BED_RMS / bed.rms_through(band),
            bed,
            chance: Chance::new(seed, Purpose::Programme),
            voices: [Voice::default(); VOICES.len()],
            highest_hz: band.highest_hz(),
            to_beat: 0,
            beat: 0.0,
            beat_decay: (-1.0 / (BEAT_DECAY_S * KNOTS_HZ)).exp(),
        }
    }

    /// What its power comes to on average, as an rms value: about right, not exact.
    pub(super) fn rms(&self) -> f64 {
        // A note's envelope (1 − τ)² has a mean square of 1/5; loudness is drawn evenly from 0.5 to 1, mean square
        // 7/12.
        let partials: f64 = PARTIALS.iter().map(|partial| 0.5 * partial * partial).sum();
        let voices: f64 = VOICES.iter().map(|(_, loudness)| loudness * loudness).sum();
        let beat = BEAT_LOUDNESS * BEAT_LOUDNESS * BEAT_DECAY_S / 2.0 / BEAT_S * 7.0 / 12.0;
        let band = self.highest_hz / (KNOTS_HZ / 2.0);
        (voices * partials * 7.0 / 60.0 + beat * band + BED_RMS * BED_RMS).sqrt()
    }

    pub(super) fn next(&mut self) -> f64 {
        if self.to_beat == 0 {
            self.to_beat = (BEAT_S * KNOTS_HZ) as u32;
            self.start_beat();
        }
        self.to_beat -= 1;
        self.beat *= self.beat_decay;
        let voices: f64 = self.voices.iter_mut().map(Voice::next).sum();
        voices + self.beat * self.chance.gaussian() + self.bed_scale * self.bed.next()
    }

    fn start_beat(&mut self) {
        self.beat = BEAT_LOUDNESS * (0.5 + 0.5 * self.chance.even());
        for (voice, (octave, loudness)) in self.voices.iter_mut().zip(VOICES) {
            if voice.beats_left == 0 {
                *voice = Voice::note(&mut self.chance, octave, loudness, self.highest_hz);
            }
            voice.beats_left -= 1;
        }
    }
}

impl Voice {
    fn note(chance: &mut Chance, octave: i32, loudness: f64, highest_hz: f64) -> Self {
        let semitone = 12 * octave + SCALE[chance.below(SCALE.len())];
        let frequency_hz = ROOT_HZ * 2_f64.powf(f64::from(semitone) / 12.0);
        let (step_sin, step_cos) = sin_cos(frequency_hz / KNOTS_HZ);
        let beats = [1, 2, 4][chance.below(3)];
        Self {
            sin: 0.0,
            cos: 1.0,
            step_sin,
            step_cos,
            partials: PARTIALS.len().min((highest_hz / frequency_hz) as usize),
            loudness: loudness * (0.5 + 0.5 * chance.even()),
            age: 0.0,
            length: f64::from(beats) * BEAT_S * KNOTS_HZ,
            beats_left: beats,
        }
    }

    fn next(&mut self) -> f64 {
        // sin nθ from its two predecessors.
        let (mut before, mut partial) = (0.0, self.sin);
        let mut sum = 0.0;
        for amplitude in &PARTIALS[..self.partials] {
            sum += amplitude * partial;
            (before, partial) = (partial, 2.0 * self.cos * partial - before);
        }
        (self.sin, self.cos) = (
            self.sin * self.step_cos + self.cos * self.step_sin,
            self.cos * self.step_cos - self.sin * self.step_sin,
        );
        let left = (1.0 - self.age / self.length).max(0.0);
        let attack = (self.age / (ATTACK_S * KNOTS_HZ)).min(1.0);
        self.age += 1.0;
        self.loudness * attack * left * left * sum
    }
}
