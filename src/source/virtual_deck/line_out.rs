//! From the head to the samples: gain, treble loss, hum, hiss, and the converter's limits.

use super::{
    controls::{DeckControls, Setting},
    generator::rms,
    plan::{Channel, Hum, Plan},
    random::{Chance, Purpose},
    slew::Slew,
    turns::sin_cos,
};
use std::f64::consts::PI;

/// A hand turns a trimmer, or a switch fades, no faster.
const TRIMMER_TIME_CONSTANT_S: f64 = 0.007;
/// A treble corner above this part of the sample rate loses nothing that is heard.
const HIGHEST_CORNER_PER_SAMPLE_RATE: f64 = 0.45;

/// Both channels' electronics.
pub(super) struct LineOut {
    channels: [ChannelOut; 2],
    hiss: Slew,
    hum: Option<HumOut>,
    frame: u64,
}

struct ChannelOut {
    setting: Setting,
    as_found_db: f64,
    sign: f64,
    gain: Slew,
    treble: Option<TrebleLoss>,
    hiss_rms: f64,
    chance: Chance,
}

impl LineOut {
    pub(super) fn new(
        plan: &Plan,
        controls: &DeckControls,
        sample_rate_hz: f64,
        dt_s: f64,
    ) -> Self {
        let seed = plan.deck.seed;
        let line_out = &plan.line_out;
        let channel = |channel: &Channel, setting, purpose| {
            let gain_db = channel.gain_db.get() + controls.value_or_zero(setting);
            let corner_hz = channel.treble_corner_hz.map(|corner| corner.get());
            ChannelOut {
                setting,
                as_found_db: channel.gain_db.get(),
                sign: if channel.inverted { -1.0 } else { 1.0 },
                gain: Slew::at(amplitude(gain_db), TRIMMER_TIME_CONSTANT_S, dt_s),
                treble: corner_hz.and_then(|corner| TrebleLoss::new(corner, sample_rate_hz)),
                hiss_rms: channel.hiss_dbfs.map_or(0.0, |level| rms(level.get())),
                chance: Chance::new(seed, purpose),
            }
        };
        Self {
            channels: [
                channel(&line_out.left, Setting::LeftGain, Purpose::LeftHiss),
                channel(&line_out.right, Setting::RightGain, Purpose::RightHiss),
            ],
            hiss: Slew::at(
                controls.value_or_zero(Setting::Hiss),
                TRIMMER_TIME_CONSTANT_S,
                dt_s,
            ),
            hum: line_out.hum.as_ref().map(|hum| HumOut::new(hum, dt_s)),
            frame: 0,
        }
    }

    pub(super) fn follow(&mut self, controls: &DeckControls) {
        self.hiss.aim(controls.value_or_zero(Setting::Hiss));
        for channel in &mut self.channels {
            let gain_db = channel.as_found_db + controls.value_or_zero(channel.setting);
            channel.gain.aim(amplitude(gain_db));
        }
    }

    /// The samples of one frame, limited to full scale as a converter does.
    pub(super) fn next(&mut self, tracks: [f64; 2]) -> [f32; 2] {
        let hiss = self.hiss.step();
        let hum = self.hum.as_ref().map_or(0.0, |hum| hum.at(self.frame));
        self.frame += 1;
        let mut samples = [0.0; 2];
        for ((sample, channel), track) in samples.iter_mut().zip(&mut self.channels).zip(tracks) {
            let out = channel.next(track, hiss) + hum;
            *sample = out.clamp(-1.0, 1.0) as f32;
        }
        samples
    }
}

impl ChannelOut {
    fn next(&mut self, track: f64, hiss: f64) -> f64 {
        let level = self.sign * self.gain.step() * track;
        let signal = match &mut self.treble {
            Some(treble) => treble.filter(level),
            None => level,
        };
        if self.hiss_rms > 0.0 {
            signal + hiss * self.hiss_rms * self.chance.gaussian()
        } else {
            signal
        }
    }
}

pub(super) fn amplitude(gain_db: f64) -> f64 {
    10_f64.powf(gain_db / 20.0)
}

/// A first-order low-pass by the bilinear transform, its corner in place.
#[derive(Clone, Debug)]
pub(super) struct TrebleLoss {
    feed: f64,
    back: f64,
    warped_corner: f64,
    sample_rate_hz: f64,
    state: f64,
}

impl TrebleLoss {
    /// `None` when the corner is too high to be heard at this sample rate.
    pub(super) fn new(corner_hz: f64, sample_rate_hz: f64) -> Option<Self> {
        if corner_hz > HIGHEST_CORNER_PER_SAMPLE_RATE * sample_rate_hz {
            return None;
        }
        let warped_corner = (PI * corner_hz / sample_rate_hz).tan();
        Some(Self {
            feed: warped_corner / (1.0 + warped_corner),
            back: (1.0 - warped_corner) / (1.0 + warped_corner),
            warped_corner,
            sample_rate_hz,
            state: 0.0,
        })
    }

    fn filter(&mut self, input: f64) -> f64 {
        let output = self.feed * input + self.state;
        self.state = self.feed * input + self.back * output;
        output
    }

    /// Amplitude factor and phase, turns (negative: late), at a frequency of the sample clock.
    pub(super) fn response(&self, frequency_hz: f64) -> (f64, f64) {
        let x = (PI * frequency_hz / self.sample_rate_hz).tan() / self.warped_corner;
        (1.0 / (1.0 + x * x).sqrt(), -x.atan() / (2.0 * PI))
    }
}

/// Mains hum; it goes by time, not by tape.
struct HumOut {
    turns_per_frame: f64,
    /// Peak amplitudes of the fundamental and its harmonics.
    amplitudes: Vec<f64>,
}

impl HumOut {
    fn new(hum: &Hum, dt_s: f64) -> Self {
        let fundamental = amplitude(hum.level_dbfs.get());
        let harmonics = hum.harmonics_db.iter();
        let harmonics = harmonics.map(|level| fundamental * amplitude(level.get()));
        Self {
            turns_per_frame: hum.mains_hz.get() * dt_s,
            amplitudes: std::iter::once(fundamental).chain(harmonics).collect(),
        }
    }

    fn at(&self, frame: u64) -> f64 {
        let (sin, cos) = sin_cos(self.turns_per_frame * frame as f64);
        // sin nθ from its two predecessors.
        let (mut before, mut partial, mut sum) = (0.0, sin, 0.0);
        for amplitude in &self.amplitudes {
            sum += amplitude * partial;
            (before, partial) = (partial, 2.0 * cos * partial - before);
        }
        sum
    }
}
