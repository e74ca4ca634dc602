//! Tone lock: finds the steady tone, tunes the demodulator to it, follows it, and says why where it cannot.

use super::record::Record;
use crate::{
    readings::Validity,
    signal::{
        demodulator::{self, BLOCK, Demodulator},
        phasors::{Phasors, mean},
        running::Running,
        tone_search::{Spectrum, ToneSearch},
    },
};
use rustfft::num_complex::Complex64;
use std::f64::consts::TAU;

/// While searching, the spectrum is looked at this often; while following, this often.
const SEARCH_EVERY_S: f64 = 0.1;
const CHECK_EVERY_S: f64 = 0.25;
/// Share of the power a tone must have to be followed, and to go on being followed.
const LOCK_PURITY: f64 = 0.6;
pub const HOLD_PURITY: f64 = 0.4;
/// Share of the line's own power close to it: tells a tone from a band of noise.
const LEAST_CONCENTRATION: f64 = 0.6;
/// A line with less power than `LOCK_PURITY` but at least this is a tone too far down in noise.
const WEAK_PURITY: f64 = 0.2;
const WEAK_CONCENTRATION: f64 = 0.8;
const WEAK_EVENNESS: f64 = 0.3;
/// Below this a tone is too weak whatever its purity: −70 dBFS.
const LEAST_TONE_POWER: f64 = 0.5e-7;
/// Nothing comes in: −90 dBFS.
const SILENT_POWER: f64 = 0.5e-9;
/// The narrow filter is moved when the tone is this far from its centre.
const RECENTRE_HZ: f64 = 25.0;
/// The tone is searched anew when it is this far from the carrier, as a fraction of it.
const RETUNE: f64 = 0.15;
/// A tone this far (power ratio, 36 dB) below its steady level is gone, whatever the noise.
const GONE: f64 = 2.5e-4;
/// Gone for this long, the lock is given up.
const GIVE_UP_S: f64 = 0.6;
/// Power against the noise in the narrow filter below which the phase is not trusted: 13 dB.
const LEAST_BAND_SNR: f64 = 20.0;
/// A channel this far (power ratio, 10 dB) below its steady level while the other holds takes no part in the block.
const FADED: f64 = 0.1;
/// A channel this far below the better one takes no part at all.
const ALIVE: f64 = 1e-3;
/// Over a second a steady tone's frequency stays within this fraction, and its level's variation below that.
const STEADY_RANGE: f64 = 0.12;
const STEADY_LEVEL: f64 = 0.5;
/// The steady level follows with this time constant.
const STEADY_S: f64 = 0.5;
/// So does what the channels' phases differ by.
const DIFFERENCE_S: f64 = 1.0;
/// Blocks that decide about moving the narrow filter.
const RECENTRE_BLOCKS: u64 = 8;

/// How the lock stands after a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LockEvent {
    /// Nothing new.
    None,
    /// A tone was found; the demodulator is tuned to it and fills.
    Found,
    /// The tone is no longer followed.
    Lost,
}

/// What the channels' phases differ by, and the weights in use.
///
/// The frequency given out is a weighted sum of both channels' phase steps. Left alone, each change of the weights
/// would leave in the sum of these, for ever, a share of what noise happened to add to the difference of the phases at
/// that sample; a window of 2 s was four times less certain for it than its noise allows. [`Difference::correction_rad`]
/// is what makes the sum go on as if the difference had been its mean.
#[derive(Clone, Copy, Debug, Default)]
struct Difference {
    /// Mean of left × conj(right) while both channels are good.
    mean: Complex64,
    /// The last sample of it.
    last: Complex64,
    weights: [f64; 2],
}

impl Difference {
    fn correction_rad(&mut self, weights: [f64; 2]) -> f64 {
        let left_gives_up = self.weights[0] - weights[0];
        let known = self.weights[0] + self.weights[1] > 0.0;
        self.weights = weights;
        if left_gives_up == 0.0 || !known {
            return 0.0;
        }
        left_gives_up * (self.mean * self.last.conj()).arg()
    }
}

/// The tone lock of one stream.
pub struct ToneLock {
    blocks_per_s: f64,
    sample_rate_hz: f64,
    channels: usize,
    search: ToneSearch,
    demodulator: Demodulator,
    spectra: [Spectrum; 2],
    spectra_fresh: bool,
    following: bool,
    status: Validity,
    blocks: u64,
    /// Blocks since the demodulator began on the tone, and how many of them fill its filters.
    warm_blocks: u64,
    fill_blocks: u64,
    gone_blocks: u64,
    poor_checks: u32,
    weights: [f64; 2],
    steady_power: [f64; 2],
    /// Share of the way to a new value in a block: of the steady level, of the phases' difference.
    toward_steady: f64,
    toward_difference: f64,
    difference: Difference,
    last_wide: [Complex64; 2],
    second_hz: Running,
    second_level: Running,
    centre: Running,
}

impl ToneLock {
    /// For `channels` channels at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64, channels: usize) -> Self {
        let carrier_hz = 0.2 * sample_rate_hz;
        let demodulator = Demodulator::new(sample_rate_hz, channels, carrier_hz);
        let blocks_per_s = sample_rate_hz / demodulator.block_samples() as f64;
        let share_of_a_block = |time_s: f64| 1.0 - (-1.0 / (time_s * blocks_per_s)).exp();
        Self {
            blocks_per_s,
            sample_rate_hz,
            channels,
            search: ToneSearch::new(sample_rate_hz, channels),
            demodulator,
            spectra: [Spectrum::default(); 2],
            spectra_fresh: false,
            following: false,
            status: Validity::Waiting,
            blocks: 0,
            warm_blocks: 0,
            fill_blocks: 0,
            gone_blocks: 0,
            poor_checks: 0,
            weights: [0.0; 2],
            steady_power: [0.0; 2],
            toward_steady: share_of_a_block(STEADY_S),
            toward_difference: share_of_a_block(DIFFERENCE_S),
            difference: Difference::default(),
            last_wide: [Complex64::ZERO; 2],
            second_hz: Running::default(),
            second_level: Running::default(),
            centre: Running::default(),
        }
    }

    /// Samples of each channel in a block.
    pub fn block_samples(&self) -> usize {
        self.demodulator.block_samples()
    }

    /// Blocks a second.
    pub fn blocks_per_s(&self) -> f64 {
        self.blocks_per_s
    }

    /// The demodulator's output rate, Hz.
    pub fn output_rate_hz(&self) -> f64 {
        self.demodulator.output_rate_hz()
    }

    /// Whether a tone is being followed.
    pub fn is_following(&self) -> bool {
        self.following
    }

    /// `Ok` while a steady tone is followed; otherwise why not.
    pub fn status(&self) -> Validity {
        self.status
    }

    /// Upper edge of the scrape band at the present carrier, Hz.
    pub fn scrape_upper_hz(&self) -> Option<f64> {
        self.demodulator.scrape_upper_hz()
    }

    /// The carrier the demodulator is tuned to, Hz: near the tone.
    pub fn carrier_hz(&self) -> f64 {
        self.demodulator.carrier_hz()
    }

    /// Spectra of the channels, where they were worked out with the last block.
    pub fn fresh_spectra(&self) -> Option<&[Spectrum]> {
        self.spectra_fresh.then(|| &self.spectra[..self.channels])
    }

    /// Whether the channel takes part.
    pub fn is_alive(&self, channel: usize) -> bool {
        channel < self.channels && self.weights[channel] > 0.0
    }

    /// Power of the wide filter's output at each sample of the last block, one channel.
    pub fn envelope(&self, channel: usize) -> [f64; BLOCK] {
        self.demodulator.output(channel).wide.powers()
    }

    /// The stream has a hole: what follows does not join on.
    pub fn mark_gap(&mut self) {
        self.search.restart();
        self.warm_blocks = 0;
        self.last_wide = [Complex64::ZERO; 2];
    }

    /// Takes a block in and makes its record, whose `ok` says whether the tone could be followed through it.
    pub fn push(&mut self, input: &[Vec<f64>], record: &mut Record) -> LockEvent {
        self.blocks += 1;
        self.spectra_fresh = false;
        self.search.push(input);
        if !self.following {
            let event = if self.is_due(SEARCH_EVERY_S) && self.search.is_full() {
                self.look()
            } else {
                LockEvent::None
            };
            *record = Record::default();
            return event;
        }
        self.demodulator.process(input);
        self.warm_blocks += 1;
        self.record(record);
        self.supervise(record)
    }

    fn is_due(&self, every_s: f64) -> bool {
        self.blocks
            .is_multiple_of((every_s * self.blocks_per_s).ceil() as u64)
    }

    /// Searches the spectrum for a tone.
    fn look(&mut self) -> LockEvent {
        for channel in 0..self.channels {
            self.spectra[channel] = self.search.analyse(channel, None);
        }
        self.spectra_fresh = true;
        let better = self.better();
        let spectrum = self.spectra[better];
        let loudest = self
            .spectra
            .iter()
            .map(|s| s.total_power)
            .fold(0.0, f64::max);
        let (purity, concentration) = (spectrum.purity(), spectrum.concentration);
        let is_tone = purity >= LOCK_PURITY && concentration >= LEAST_CONCENTRATION;
        // What hides a weak tone is even noise; in music the rest is other tones.
        let even_noise = spectrum.noise_density_per_hz * self.sample_rate_hz / 2.0;
        let is_weak = purity >= WEAK_PURITY
            && concentration >= WEAK_CONCENTRATION
            && even_noise >= WEAK_EVENNESS * spectrum.noise_power;
        self.status = if loudest < SILENT_POWER {
            Validity::NoSignal
        } else if !demodulator::can_tune(self.sample_rate_hz, spectrum.tone_hz) {
            Validity::NoTone
        } else if is_tone && spectrum.tone_power >= LEAST_TONE_POWER {
            self.follow(spectrum.tone_hz, better);
            return LockEvent::Found;
        } else if is_tone || is_weak {
            Validity::TooWeak
        } else {
            Validity::NoTone
        };
        LockEvent::None
    }

    /// The channel whose tone stands out better.
    fn better(&self) -> usize {
        let merit = |s: &Spectrum| s.tone_power * s.purity() * s.concentration;
        usize::from(self.channels > 1 && merit(&self.spectra[1]) > merit(&self.spectra[0]))
    }

    fn follow(&mut self, tone_hz: f64, better: usize) {
        self.demodulator.tune(tone_hz);
        let fill_s = 2.0 * self.demodulator.delay_s();
        self.fill_blocks = (fill_s * self.blocks_per_s).ceil() as u64 + 1;
        self.following = true;
        self.status = Validity::Settling;
        self.warm_blocks = 0;
        self.gone_blocks = 0;
        self.poor_checks = 0;
        self.difference = Difference::default();
        self.last_wide = [Complex64::ZERO; 2];
        self.second_hz = Running::default();
        self.second_level = Running::default();
        self.centre = Running::default();
        for channel in 0..self.channels {
            if channel != better {
                self.spectra[channel] = self.search.analyse(channel, Some(tone_hz));
            }
            self.steady_power[channel] = self.spectra[channel].tone_power;
        }
        self.weigh();
    }

    fn give_up(&mut self, why: Validity) -> LockEvent {
        self.following = false;
        self.status = why;
        self.search.restart();
        LockEvent::Lost
    }

    /// Each channel counts by its signal-to-noise ratio, as the variance of its phase asks.
    fn weigh(&mut self) {
        let spectra = &self.spectra[..self.channels];
        let strongest = spectra.iter().map(|s| s.tone_power).fold(0.0, f64::max);
        let floor = 1e-14 * strongest / self.sample_rate_hz;
        let mut weights = [0.0; 2];
        for (weight, spectrum) in weights.iter_mut().zip(spectra) {
            let alive = spectrum.tone_power > ALIVE * strongest
                && spectrum.purity() > HOLD_PURITY / 2.0
                && spectrum.tone_power >= LEAST_TONE_POWER;
            if alive {
                *weight = spectrum.tone_power / (spectrum.noise_density_per_hz + floor);
            }
        }
        let sum: f64 = weights.iter().sum();
        if sum > 0.0 {
            self.weights = weights.map(|weight| weight / sum);
        }
    }

    /// Makes the record of the block the demodulator has just given out.
    fn record(&mut self, record: &mut Record) {
        record.low = false;
        let rate_hz = self.demodulator.output_rate_hz();
        let carrier_hz = self.demodulator.carrier_hz();
        let to_hz = rate_hz / TAU;
        let warm = self.warm_blocks > self.fill_blocks;
        let noise_hz = self.demodulator.narrow_bandwidth_hz();
        let mut trusted = false;
        let mut faded = [false; 2];
        for (channel, faded) in faded.iter_mut().enumerate().take(self.channels) {
            let out = self.demodulator.output(channel);
            record.squares[channel] = out.narrow.powers();
            let power = 0.5 * mean(&record.squares[channel]);
            record.tone_power[channel] = power;
            record.channel_hz[channel] = carrier_hz + mean(&out.narrow_step_rad) * to_hz;
            *faded = power < FADED * self.steady_power[channel];
            let noise = self.spectra[channel].noise_density_per_hz * noise_hz;
            let gone = power < GONE * self.steady_power[channel] || power < LEAST_BAND_SNR * noise;
            trusted |= self.weights[channel] > 0.0 && !gone;
            if warm && !gone {
                let following = self.toward_steady;
                let toward = if *faded { 0.05 * following } else { following };
                self.steady_power[channel] += toward * (power - self.steady_power[channel]);
            }
        }
        let weights = self.block_weights(faded);
        let mut step_rad = [0.0; BLOCK];
        step_rad[0] = self.difference.correction_rad(weights);
        let mut wide_steps = Phasors::ZERO;
        for (channel, weight) in weights.iter().enumerate().take(self.channels) {
            let out = self.demodulator.output(channel);
            for (sum, step) in step_rad.iter_mut().zip(&out.narrow_step_rad) {
                *sum += weight * step;
            }
            wide_steps.add(*weight, &out.wide.steps(self.last_wide[channel]));
            self.last_wide[channel] = out.wide.last();
        }
        record.tone_hz = step_rad.map(|rad| carrier_hz + rad * to_hz);
        record.wide_hz = wide_steps.angles().map(|rad| carrier_hz + rad * to_hz);
        if self.channels > 1 {
            let (left, right) = (self.demodulator.output(0), self.demodulator.output(1));
            record.cross = left.narrow.against(&right.narrow);
            record.mean_cross = 0.5 * record.cross.mean();
            self.difference.last = record.cross.last();
            if warm && faded == [false; 2] {
                self.difference.mean = if self.difference.mean == Complex64::ZERO {
                    record.mean_cross
                } else {
                    self.difference.mean
                        + self.toward_difference * (record.mean_cross - self.difference.mean)
                };
            }
        }
        record.ok = warm && trusted;
    }

    /// The weights of a block: a channel in a dropout takes no part while the other holds.
    fn block_weights(&self, faded: [bool; 2]) -> [f64; 2] {
        if self.channels < 2 {
            return [1.0, 0.0];
        }
        match faded {
            [true, false] if self.weights[1] > 0.0 => [0.0, 1.0],
            [false, true] if self.weights[0] > 0.0 => [1.0, 0.0],
            _ => self.weights,
        }
    }

    /// Watches over the lock after a block.
    fn supervise(&mut self, record: &Record) -> LockEvent {
        if self.warm_blocks <= self.fill_blocks {
            return LockEvent::None;
        }
        if record.ok {
            self.gone_blocks = 0;
            self.recentre(record.mean_hz());
            self.judge_steadiness(record);
        } else {
            self.gone_blocks += 1;
            if self.status.is_ok() {
                self.status = Validity::Dropout;
            }
            if self.gone_blocks as f64 > GIVE_UP_S * self.blocks_per_s {
                return self.give_up(Validity::NoTone);
            }
        }
        let offset_hz = self.demodulator.centre_offset_hz();
        if offset_hz.abs() > RETUNE * self.demodulator.carrier_hz() {
            return self.give_up(Validity::Unsteady);
        }
        if self.is_due(CHECK_EVERY_S) && self.search.is_full() {
            return self.check();
        }
        LockEvent::None
    }

    fn recentre(&mut self, mean_hz: f64) {
        self.centre.push(mean_hz - self.demodulator.carrier_hz());
        if self.centre.count() < RECENTRE_BLOCKS {
            return;
        }
        if let Some(offset_hz) = std::mem::take(&mut self.centre).mean()
            && (offset_hz - self.demodulator.centre_offset_hz()).abs() > RECENTRE_HZ
        {
            self.demodulator.recentre(offset_hz);
        }
    }

    /// Looks at the spectrum again: is the tone still what the signal consists of?
    fn check(&mut self) -> LockEvent {
        let tone_hz = self.demodulator.carrier_hz() + self.demodulator.centre_offset_hz();
        for channel in 0..self.channels {
            self.spectra[channel] = self.search.analyse(channel, Some(tone_hz));
        }
        self.spectra_fresh = true;
        let spectrum = self.spectra[self.better()];
        let poor = spectrum.purity() < HOLD_PURITY || spectrum.concentration < LEAST_CONCENTRATION;
        self.poor_checks = if poor { self.poor_checks + 1 } else { 0 };
        if self.poor_checks >= 3 {
            return self.give_up(Validity::NoTone);
        }
        if !poor {
            self.weigh();
        }
        LockEvent::None
    }

    /// Once a second: does the tone hold its frequency and level?
    fn judge_steadiness(&mut self, record: &Record) {
        let amplitude = record.tone_power.iter().sum::<f64>().sqrt();
        self.second_hz.push(record.mean_hz());
        self.second_level.push(amplitude);
        let count = self.second_hz.count() as f64;
        let is_new = matches!(self.status, Validity::Settling | Validity::Dropout);
        if count < self.blocks_per_s && !(is_new && count >= 0.2 * self.blocks_per_s) {
            return;
        }
        let hz = std::mem::take(&mut self.second_hz);
        let level = std::mem::take(&mut self.second_level);
        let range = hz.max().zip(hz.min()).map_or(0.0, |(max, min)| max - min);
        let variation = level
            .deviation()
            .zip(level.mean())
            .map_or(0.0, |(deviation, mean)| deviation / mean);
        let steady =
            range < STEADY_RANGE * self.demodulator.carrier_hz() && variation < STEADY_LEVEL;
        self.status = if steady {
            Validity::Ok
        } else {
            Validity::Unsteady
        };
    }
}
