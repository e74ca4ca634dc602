//! Delay between the channels from programme or noise, where there is no tone to read it from.

use super::{
    phase::{KnownDelay, PhaseReference, delay_loss_db},
    phase_line,
    trace::Trace,
};
use crate::{
    readings::{CyclesSettled, PhaseMethod, PhaseReading, Validity},
    signal::cross_spectrum::{CrossSpectrum, ProgrammeDelay},
    tables::TapeFormat,
};

/// The needle's averages fade with this time constant.
const QUICK_S: f64 = 1.0;
/// The delay is looked for this far beyond the format's plausible azimuth.
const REACH: f64 = 2.0;
/// Points of the phase-frequency line.
const LINE_BANDS: usize = 16;
/// Below this coherence the channels are taken to carry different things.
const LEAST_COHERENCE: f64 = 0.3;
/// Programme that falls this far (power ratio, 30 dB)...
const FADED: f64 = 1e-3;
/// ...for this many blocks (about 0.3 s) has stopped.
const FADED_BLOCKS: u32 = 75;
/// Share of a block in the usual power.
const USUAL_FOLLOWS: f64 = 0.005;
/// After a tone so much programme must have played that hardly any of before the tone is left in the needle's average,
/// seconds; at the beginning this much is enough.
const KNOWN_AFTER_A_TONE_S: f64 = 3.0;
const KNOWN_AFTER_S: f64 = 1.0;
/// The needle is worked out again this often, in seconds of samples.
const QUICK_EVERY_S: f64 = 0.05;

/// The phase meter for programme and noise.
pub struct ProgrammePhase {
    sample_rate_hz: f64,
    all: CrossSpectrum,
    recent: CrossSpectrum,
    /// Power of what has been playing, and blocks since it fell away.
    usual_power: f64,
    faded_blocks: u32,
    samples: u64,
    /// Samples still to come before the needle's average is of this programme alone.
    unknown_samples: i64,
    /// What the needle's average said when the programme stopped.
    stopped: Option<ProgrammeDelay>,
    most_s: f64,
    quick_at_samples: u64,
    quick: Option<ProgrammeDelay>,
    trail: Trace,
}

impl ProgrammePhase {
    /// For two channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64, format: &TapeFormat) -> Self {
        Self {
            sample_rate_hz,
            all: CrossSpectrum::new(sample_rate_hz, f64::INFINITY),
            recent: CrossSpectrum::new(sample_rate_hz, QUICK_S),
            usual_power: 0.0,
            faded_blocks: 0,
            samples: 0,
            unknown_samples: (KNOWN_AFTER_S * sample_rate_hz) as i64,
            stopped: None,
            most_s: reach_s(format),
            quick_at_samples: 0,
            quick: None,
            trail: Trace::new(30.0, 1.0 / QUICK_EVERY_S, 1),
        }
    }

    /// Starts the averages anew.
    pub fn reset(&mut self) {
        self.all.restart();
        self.recent.restart();
        self.quick = None;
        self.samples = 0;
        self.quick_at_samples = 0;
        self.unknown_samples = (KNOWN_AFTER_S * self.sample_rate_hz) as i64;
        self.stopped = None;
    }

    /// Looks for the delays that a head of this format may make.
    pub fn set_format(&mut self, format: &TapeFormat) {
        self.most_s = reach_s(format);
    }

    /// What plays from now on may be of another azimuth than what played before the tone.
    pub fn begin_after_a_tone(&mut self) {
        self.unknown_samples = (KNOWN_AFTER_A_TONE_S * self.sample_rate_hz) as i64;
        self.stopped = None;
    }

    /// What follows does not join on.
    pub fn mark_gap(&mut self) {
        self.all.mark_gap();
        self.recent.mark_gap();
    }

    /// Takes a block of both channels in, with the mean square of the stronger.
    pub fn push(&mut self, left: &[f64], right: &[f64], power: f64) {
        self.watch_for_the_end(power);
        self.all.push(left, right);
        self.recent.push(left, right);
        self.samples += left.len() as u64;
        self.unknown_samples = (self.unknown_samples - left.len() as i64).max(0);
    }

    /// After the programme has stopped its last averages would stand in the needle's for long: they are dropped.
    fn watch_for_the_end(&mut self, power: f64) {
        if power < FADED * self.usual_power {
            self.faded_blocks += 1;
            if self.faded_blocks >= FADED_BLOCKS {
                self.stopped = self.known_now();
                self.recent.restart();
                self.usual_power = power;
            }
            return;
        }
        self.faded_blocks = 0;
        self.usual_power += USUAL_FOLLOWS * (power - self.usual_power);
    }

    /// Time taken in, seconds.
    pub fn seconds(&self) -> f64 {
        self.samples as f64 / self.sample_rate_hz
    }

    /// The delay behind the interface, as knowledge for a tone that begins now, where the channels are alike: of the last
    /// seconds of the programme, because the azimuth may have been another before.
    pub fn known_delay(&mut self, reference: &PhaseReference) -> Option<KnownDelay> {
        let delay = self.known_now().or(self.stopped)?;
        Some(KnownDelay {
            delay_us: delay.delay_s * 1e6 - reference.skew_us,
            uncertainty_us: 2.0 * delay.uncertainty_s * 1e6,
            by: CyclesSettled::Programme,
        })
    }

    fn known_now(&mut self) -> Option<ProgrammeDelay> {
        if self.unknown_samples > 0 {
            return None;
        }
        self.recent
            .delay(self.most_s)
            .filter(|delay| delay.coherence >= LEAST_COHERENCE)
    }

    /// The reading, and whether the channels are in opposite polarity. Of what is playing now or, where the take is
    /// `over`, of all that was.
    pub fn reading(
        &mut self,
        format: &TapeFormat,
        reference: &PhaseReference,
        over: bool,
    ) -> (PhaseReading, bool) {
        let most_s = self.most_s;
        if !self.all.is_ready() || (!over && !self.recent.is_ready()) {
            return (PhaseReading::unread(Validity::Settling), false);
        }
        let Some(delay) = self.all.delay(most_s) else {
            return (PhaseReading::unread(Validity::ChannelsDiffer), false);
        };
        if delay.coherence < LEAST_COHERENCE {
            let mut reading = PhaseReading::unread(Validity::ChannelsDiffer);
            reading.coherence = Some(delay.coherence);
            return (reading, false);
        }
        self.update_quick(most_s);
        let plays = |quick: &ProgrammeDelay| quick.coherence >= LEAST_COHERENCE;
        if !over && !self.quick.as_ref().is_some_and(plays) {
            return (PhaseReading::unread(Validity::ChannelsDiffer), false);
        }
        let delay_us = delay.delay_s * 1e6 - reference.skew_us;
        let own_us = 2.0 * delay.uncertainty_s * 1e6;
        let quick_us = self
            .quick
            .map(|quick| quick.delay_s * 1e6 - reference.skew_us);
        let mut trail = self.trail.trail();
        for value in &mut trail.values {
            *value -= reference.skew_us as f32;
        }
        let reading = PhaseReading {
            status: Validity::Ok,
            method: Some(PhaseMethod::Programme),
            tape_azimuth_arcmin: Some(reference.azimuth_arcmin),
            delay_us: Some(delay_us),
            delay_uncertainty_us: Some(reference.delay_uncertainty_us(own_us)),
            azimuth_arcmin: Some(reference.azimuth_arcmin(delay_us, format)),
            azimuth_uncertainty_arcmin: Some(reference.azimuth_uncertainty_arcmin(own_us, format)),
            candidates: vec![reference.candidate(delay_us, format)],
            mono_sum_loss_10_khz_db: Some(delay_loss_db(
                format.delay_us(reference.azimuth_arcmin(delay_us, format)),
            )),
            line: phase_line::line(self.all.phases(&delay, LINE_BANDS), format, reference),
            coherence: Some(delay.coherence),
            quick_delay_us: quick_us,
            quick_azimuth_arcmin: quick_us.map(|us| reference.azimuth_arcmin(us, format)),
            trail,
            ..PhaseReading::default()
        };
        (reading, delay.inverted)
    }

    fn update_quick(&mut self, most_s: f64) {
        let age_s = (self.samples - self.quick_at_samples) as f64 / self.sample_rate_hz;
        if self.quick.is_none() || age_s >= QUICK_EVERY_S {
            self.quick = self.recent.delay(most_s);
            self.quick_at_samples = self.samples;
            self.trail
                .push(self.quick.map_or(f64::NAN, |quick| quick.delay_s * 1e6));
        }
    }
}

fn reach_s(format: &TapeFormat) -> f64 {
    REACH * format.delay_us(format.plausible_azimuth_arcmin) * 1e-6
}
