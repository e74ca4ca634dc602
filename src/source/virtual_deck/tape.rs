//! The tape: its sections one after the other, and the signal at any place of them.

use super::{
    generator::Generator,
    head::Tilt,
    knots::KnotSignal,
    plan::{Plan, Section},
    slew::Slew,
    turns::{Travel, sin, sinc},
};

/// Tones above this part of the sample rate are not heard: the interface filters them off.
const HIGHEST_TONE_PER_SAMPLE_RATE: f64 = 0.45;
/// Winding to another section: the time the output is muted in, to either side of the jump.
const MUTE_TIME_CONSTANT_S: f64 = 0.003;
/// What is left of the signal when the jump is made.
const MUTED: f64 = 1e-4;

/// A tone as the interface hears it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tone {
    pub(super) frequency_hz: f64,
    /// Peak amplitude on tape; 0 when it lies above the interface's band.
    pub(super) amplitude: f64,
    phase_turns: f64,
}

/// The tones of a section that are heard at a sample rate.
pub(super) fn tones(section: &Section, sample_rate_hz: f64) -> Vec<Tone> {
    let highest_hz = HIGHEST_TONE_PER_SAMPLE_RATE * sample_rate_hz;
    let heard = section
        .tone
        .iter()
        .filter(|tone| tone.frequency_hz.get() <= highest_hz);
    heard
        .map(|tone| Tone {
            frequency_hz: tone.frequency_hz.get(),
            amplitude: 10_f64.powf(tone.level_dbfs.get() / 20.0),
            phase_turns: tone.phase_degrees.get() / 360.0,
        })
        .collect()
}

/// The tape under the head.
pub(super) struct Tape {
    sections: Vec<Section>,
    seed: u64,
    sample_rate_hz: f64,
    /// How far from a frame's place the head may read, seconds of travel.
    reach_s: f64,
    playing: usize,
    /// Where the section began.
    origin: Travel,
    tones: Vec<Tone>,
    broadband: Vec<KnotSignal>,
    /// The section that is being wound to.
    wanted: usize,
    mute: Slew,
}

impl Tape {
    pub(super) fn new(plan: &Plan, start: usize, sample_rate_hz: f64, reach_s: f64) -> Self {
        let mut tape = Self {
            sections: plan.section.clone(),
            seed: plan.deck.seed,
            sample_rate_hz,
            reach_s,
            playing: start,
            origin: Travel::default(),
            tones: Vec::new(),
            broadband: Vec::new(),
            wanted: start,
            mute: Slew::at(1.0, MUTE_TIME_CONSTANT_S, 1.0 / sample_rate_hz),
        };
        tape.enter(start, Travel::default());
        tape
    }

    /// Winds to the start of a section, unless it is there already.
    pub(super) fn wind_to(&mut self, section: usize) {
        self.wanted = section;
    }

    /// The section under the head.
    pub(super) const fn playing(&self) -> usize {
        self.playing
    }

    /// Samples of both tracks at a place that never goes back.
    pub(super) fn read(&mut self, place: Travel, tilt: Tilt) -> [f64; 2] {
        self.turn_over(place);
        let place = place.since(self.origin);
        let sides = [tilt.left_offset_s(), -tilt.left_offset_s()];
        let mut tracks = [0.0; 2];
        for tone in &self.tones {
            let amplitude = tone.amplitude * sinc(tone.frequency_hz * tilt.width_s());
            for (track, offset_s) in tracks.iter_mut().zip(sides) {
                let turns = place.plus(offset_s).turns(tone.frequency_hz);
                *track += amplitude * sin(turns + tone.phase_turns);
            }
        }
        for signal in &mut self.broadband {
            let place_s = place.seconds();
            signal.advance_to(place_s);
            for (track, offset_s) in tracks.iter_mut().zip(sides) {
                *track += signal.average(place_s + offset_s, tilt.width_s());
            }
        }
        let mute = self.mute.step();
        tracks.map(|track| mute * track)
    }

    /// Moves on to the next section where one ends, or to the one chosen as soon as the output is muted.
    fn turn_over(&mut self, place: Travel) {
        if self.wanted != self.playing {
            self.mute.aim(0.0);
            if self.mute.value() < MUTED {
                self.enter(self.wanted, place);
                self.mute.aim(1.0);
            }
            return;
        }
        let Some(length) = self.sections[self.playing].length_s else {
            return;
        };
        if place.since(self.origin).seconds() >= length.get() {
            let next = (self.playing + 1) % self.sections.len();
            self.wanted = next;
            self.enter(next, self.origin.moved_by(length.get()));
        }
    }

    fn enter(&mut self, section: usize, origin: Travel) {
        self.playing = section;
        self.origin = origin;
        let section = &self.sections[section];
        self.tones = tones(section, self.sample_rate_hz);
        let (seed, rate, reach_s) = (self.seed, self.sample_rate_hz, self.reach_s);
        let pink = section
            .pink_noise_dbfs
            .map(|level| Generator::pink(seed, level.get(), rate));
        let programme = section
            .programme_dbfs
            .map(|level| Generator::programme(seed, level.get(), rate));
        self.broadband = [pink, programme]
            .into_iter()
            .flatten()
            .map(|generator| KnotSignal::new(generator, reach_s))
            .collect();
    }
}
