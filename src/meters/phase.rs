//! Phase of a tone between the channels: delay, azimuth, and how much it wanders.

use super::{
    gate::Use,
    phase_follower::{Place, nearest, turns_of},
    record::Record,
    series::Series,
    step_watch::StepWatch,
    trace::Trace,
    whole_cycles::{MeanPhase, Reading, WholeCycles},
};
use crate::{
    readings::{CyclesSettled, PhaseCandidate, PhaseMethod, PhaseReading, Validity},
    signal::{phase_fit::WrappedPhase, running::Running},
    tables::TapeFormat,
};
use rustfft::num_complex::Complex64;
use std::f64::consts::TAU;

/// The needle shows the mean of this long.
const QUICK_S: f64 = 0.03;
/// Wander is judged on means of this many blocks (about 16 ms): rates up to 30 Hz.
const WANDER_BLOCKS: u32 = 4;
/// A channel this far (power ratio, 26 dB) below the other has nothing of its own to compare.
const LEAST_BALANCE: f64 = 0.0025;
/// Somebody has moved the azimuth if the phase stays this far from where it was.
const MOVED_LEAST_DEGREES: f64 = 5.0;
/// Somebody is moving the azimuth if the phase is this far from its average, turns...
const LEFT_TURNS: f64 = 0.35;
/// ...for this long, seconds; what was averaged until then is given up.
const LEFT_S: f64 = 0.1;
/// An average of another path is kept if the new one begins within this of it, turns.
const SAME_TURNS: f64 = 1.0 / 6.0;
/// What a tone says of the delay is of about this last part of it, seconds: the screw may have been turned before.
const RECENT_S: f64 = 0.25;
/// Common practice, no source: so much the electronics of two channels may differ in phase from tone to tone (k = 2).
const ELECTRONICS_DEGREES: f64 = 4.0;
/// Low-frequency listeners apart, this is where a mono sum is commonly judged, Hz.
const MONO_HZ: f64 = 10e3;
/// A sum that has vanished is shown as this, dB.
const LEAST_MONO_DB: f64 = -60.0;
/// A reading needs at least this long.
const LEAST_S: f64 = 0.25;

/// A delay known without whole cycles open, µs, with its expanded uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownDelay {
    /// Delay of the right channel, µs.
    pub delay_us: f64,
    /// Expanded uncertainty (k = 2), µs.
    pub uncertainty_us: f64,
    /// What it was heard from: what it will have settled.
    pub by: CyclesSettled,
}

/// What is not the deck's in a delay: the interface's part and the tape's. Uncertainties are expanded (k = 2).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PhaseReference {
    /// Delay of the right channel that the interface makes, µs.
    pub skew_us: f64,
    /// Uncertainty of `skew_us`, µs.
    pub skew_tolerance_us: f64,
    /// What the interface adds to left against right, dB.
    pub gain_db: f64,
    /// Azimuth that the tape was recorded with, arc minutes.
    pub azimuth_arcmin: f64,
    /// Uncertainty of `azimuth_arcmin`, arc minutes.
    pub azimuth_tolerance_arcmin: f64,
}

impl PhaseReference {
    /// What turns a cross product at `tone_hz` into one behind an interface without skew.
    fn rotation(&self, tone_hz: f64) -> Complex64 {
        Complex64::from_polar(1.0, -TAU * tone_hz * 1e-6 * self.skew_us)
    }

    /// The head's azimuth, arc minutes, for a delay behind the interface, µs.
    pub(super) fn azimuth_arcmin(&self, delay_us: f64, format: &TapeFormat) -> f64 {
        format.head_azimuth_arcmin(delay_us, self.azimuth_arcmin)
    }

    /// Uncertainty of a delay, µs, with the interface's.
    pub(super) fn delay_uncertainty_us(&self, own_us: f64) -> f64 {
        own_us.hypot(self.skew_tolerance_us)
    }

    /// Uncertainty of the azimuth, arc minutes, by that of the delay alone, µs.
    pub(super) fn azimuth_uncertainty_arcmin(&self, own_us: f64, format: &TapeFormat) -> f64 {
        format
            .azimuth_arcmin(self.delay_uncertainty_us(own_us))
            .hypot(self.azimuth_tolerance_arcmin)
    }

    /// A delay with the azimuth that makes it.
    pub(super) fn candidate(&self, delay_us: f64, format: &TapeFormat) -> PhaseCandidate {
        PhaseCandidate {
            delay_us,
            azimuth_arcmin: self.azimuth_arcmin(delay_us, format),
        }
    }
}

/// The phase meter for a tone.
pub struct PhaseMeter {
    blocks_per_s: f64,
    quick: CrossProducts,
    sum: Complex64,
    powers: [f64; 2],
    blocks: u64,
    wander: Running,
    group: Complex64,
    group_blocks: u32,
    second: Complex64,
    second_blocks: u32,
    last_second: Complex64,
    moved: StepWatch,
    followed_degrees: Option<f64>,
    /// Where the average is, whole turns of the path counted.
    mean: Option<Place>,
    away_blocks: u32,
    /// Whether the averages began because somebody moved the azimuth: the needle goes on.
    in_motion: bool,
    /// Where the newest and the newest averaged record are.
    newest: Option<Place>,
    late: Option<Place>,
    /// Sum of the cross products and of their sizes, fading with [`RECENT_S`].
    recent: Complex64,
    recent_size: f64,
    cycles: WholeCycles,
    trail: Trace,
}

/// The last cross products.
#[derive(Clone, Debug)]
struct CrossProducts {
    re: Series,
    im: Series,
}

impl CrossProducts {
    fn sum(&self) -> Complex64 {
        Complex64::new(
            self.re.unordered().iter().sum(),
            self.im.unordered().iter().sum(),
        )
    }
}

impl PhaseMeter {
    /// For `blocks_per_s` records a second.
    pub fn new(blocks_per_s: f64) -> Self {
        let quick = Series::new((QUICK_S * blocks_per_s).round().max(1.0) as usize);
        Self {
            blocks_per_s,
            quick: CrossProducts {
                re: quick.clone(),
                im: quick,
            },
            sum: Complex64::ZERO,
            powers: [0.0; 2],
            blocks: 0,
            wander: Running::default(),
            group: Complex64::ZERO,
            group_blocks: 0,
            second: Complex64::ZERO,
            second_blocks: 0,
            last_second: Complex64::ZERO,
            moved: StepWatch::new(MOVED_LEAST_DEGREES),
            followed_degrees: None,
            mean: None,
            away_blocks: 0,
            in_motion: false,
            newest: None,
            late: None,
            recent: Complex64::ZERO,
            recent_size: 0.0,
            cycles: WholeCycles::new(blocks_per_s),
            trail: Trace::new(30.0, blocks_per_s, (0.05 * blocks_per_s) as usize),
        }
    }

    /// Starts the averages anew.
    pub fn reset(&mut self) {
        self.begin_anew();
        self.in_motion = false;
        self.moved.restart();
        self.followed_degrees = None;
        self.cycles.clear_course();
    }

    /// Another tone begins: with what is `known` of the delay from before, and without a trail.
    pub fn start(&mut self, known: Option<KnownDelay>) {
        self.reset();
        self.cycles.start(known);
        self.late = None;
        self.newest = None;
        self.recent = Complex64::ZERO;
        self.recent_size = 0.0;
        self.trail.clear();
    }

    /// What follows does not join on to what was.
    pub fn mark_gap(&mut self) {
        self.cycles.break_off();
        self.newest = None;
    }

    /// The whole cycles.
    pub fn cycles(&mut self) -> &mut WholeCycles {
        &mut self.cycles
    }

    /// As [`PhaseMeter::reset`] while somebody moves the azimuth: goes on watching for the end of it.
    fn begin_anew(&mut self) {
        self.sum = Complex64::ZERO;
        self.powers = [0.0; 2];
        self.blocks = 0;
        self.wander = Running::default();
        self.group = Complex64::ZERO;
        self.group_blocks = 0;
        self.second = Complex64::ZERO;
        self.second_blocks = 0;
        self.mean = None;
        self.away_blocks = 0;
    }

    /// Takes the newest record in, the needle, and notes in it where the phase is.
    pub fn push_live(&mut self, record: &mut Record) {
        record.place = self.cycles.push(record);
        self.newest = record.place;
        if record.ok {
            self.quick.re.push(record.mean_cross.re);
            self.quick.im.push(record.mean_cross.im);
            let (quick, newest) = (&self.quick, self.newest);
            self.trail.push_with(|| {
                newest.map_or(f64::NAN, |newest| {
                    nearest(turns_of(quick.sum()), newest.turns)
                })
            });
        } else {
            self.quick.re.clear();
            self.quick.im.clear();
            self.trail.push(f64::NAN);
        }
    }

    /// Takes a record from the gate in: the averages. True when someone has moved the azimuth.
    pub fn push_late(&mut self, record: &Record, usage: Use) -> bool {
        if usage != Use::Clean {
            self.group = Complex64::ZERO;
            self.group_blocks = 0;
            return false;
        }
        let left = self.has_left(record);
        self.second += record.mean_cross;
        self.second_blocks += 1;
        let a_second = f64::from(self.second_blocks) >= self.blocks_per_s;
        let moved = left || (a_second && self.second_is_over());
        if moved {
            self.begin_anew();
            self.in_motion = true;
        }
        self.sum += record.mean_cross;
        self.keep_place(record);
        self.powers[0] += record.tone_power[0];
        self.powers[1] += record.tone_power[1];
        self.blocks += 1;
        if !record.low {
            self.group += record.mean_cross;
            self.group_blocks += 1;
            if self.group_blocks == WANDER_BLOCKS {
                // Against the running mean, so that the cut at 180° is far away.
                let degrees = (self.group * self.sum.conj()).arg().to_degrees();
                let absolute = degrees + self.sum.arg().to_degrees();
                let unwrapped = self.unwrap(absolute);
                self.wander.push(unwrapped);
                self.group = Complex64::ZERO;
                self.group_blocks = 0;
            }
        }
        moved
    }

    /// Whether the phase has left the average: it is of another place.
    fn has_left(&mut self, record: &Record) -> bool {
        let Some((place, mean)) = record.place.zip(self.mean) else {
            return false;
        };
        if place.path != mean.path {
            let same = nearest(mean.turns, place.turns) - place.turns;
            return same.abs() > SAME_TURNS;
        }
        if (place.turns - mean.turns).abs() < LEFT_TURNS {
            self.away_blocks = 0;
            return false;
        }
        self.away_blocks += 1;
        let left = f64::from(self.away_blocks) >= LEFT_S * self.blocks_per_s;
        if left {
            // Until it stands still nothing is worth averaging.
            self.moved.start_moving(360.0 * place.turns);
            self.followed_degrees = Some(360.0 * place.turns);
            self.last_second = record.mean_cross;
        }
        left
    }

    /// Counts the average's turns on, and keeps what is recent.
    fn keep_place(&mut self, record: &Record) {
        let fading = 1.0 - 1.0 / (RECENT_S * self.blocks_per_s).max(1.0);
        self.recent = self.recent * fading + record.mean_cross;
        self.recent_size = self.recent_size * fading + record.mean_cross.norm();
        let Some(place) = record.place else {
            return;
        };
        self.late = Some(place);
        let beside = match self.mean {
            Some(mean) if mean.path == place.path => mean.turns,
            _ => place.turns,
        };
        self.mean = Some(Place {
            turns: nearest(turns_of(self.sum), beside),
            path: place.path,
        });
    }

    /// The turn of `degrees` nearest to the wander's mean so far.
    fn unwrap(&self, degrees: f64) -> f64 {
        let mean = self.wander.mean().unwrap_or(degrees);
        degrees - 360.0 * ((degrees - mean) / 360.0).round()
    }

    fn second_is_over(&mut self) -> bool {
        // Counted on from the last second: what is watched for moves must not jump at the cut of 180°.
        let degrees = match self.followed_degrees {
            Some(last) => last + (self.second * self.last_second.conj()).arg().to_degrees(),
            None => self.second.arg().to_degrees(),
        };
        self.followed_degrees = Some(degrees);
        self.last_second = self.second;
        self.second = Complex64::ZERO;
        self.second_blocks = 0;
        self.moved.push(degrees)
    }

    /// Whether enough is averaged for a reading; while the azimuth is moved the needle needs no average.
    pub fn is_ready(&self) -> bool {
        self.is_averaged() || (self.in_motion && self.blocks > 0)
    }

    /// Whether enough is averaged for a mean that something may be built on.
    pub fn is_averaged(&self) -> bool {
        self.blocks as f64 / self.blocks_per_s >= LEAST_S
    }

    /// Time averaged, seconds.
    pub fn seconds(&self) -> f64 {
        self.blocks as f64 / self.blocks_per_s
    }

    /// Whether one channel is so weak that its phase would be the other's crosstalk.
    pub fn is_one_sided(&self) -> bool {
        let [left, right] = self.powers;
        left.min(right) < LEAST_BALANCE * left.max(right)
    }

    /// The delay of the last moment of the tone, where its whole cycles are settled.
    pub fn known_delay(&self, reading: &Reading<'_>) -> Option<KnownDelay> {
        let late = self.late?;
        let offset = self.cycles.offset(late.path)?;
        // Of the recent phases alone: the average's scatter has in it what the screw was turned by before.
        let agreement = (self.recent.norm() / self.recent_size).min(1.0);
        let sigma_degrees = (-2.0 * agreement.ln()).sqrt().to_degrees();
        let own_degrees = ELECTRONICS_DEGREES.hypot(2.0 * sigma_degrees);
        Some(KnownDelay {
            delay_us: reading.delay_us(nearest(turns_of(self.recent), late.turns) + offset),
            uncertainty_us: delay_us(own_degrees, reading.tone_hz),
            by: CyclesSettled::LowerTone,
        })
    }

    /// Looks whether the whole cycles can be settled.
    pub fn settle(&mut self, reading: &Reading<'_>) {
        let ready = self.is_averaged() && !self.is_one_sided();
        let mean = self.mean.filter(|_| ready).map(|place| MeanPhase {
            place,
            uncertainty: self.uncertainty_us(reading.tone_hz) * 1e-6 * reading.tone_hz,
        });
        self.cycles.settle(reading, mean);
    }

    /// The average's phase, for a line through several tones; `None` before it is ready.
    pub fn point(&self, tone_hz: f64) -> Option<WrappedPhase> {
        (self.is_averaged() && !self.is_one_sided()).then(|| WrappedPhase {
            frequency_hz: tone_hz,
            turns: turns_of(self.sum),
            sigma: 0.5e-6 * self.uncertainty_us(tone_hz) * tone_hz,
        })
    }

    /// Where the average stands in turns, and whether its whole cycles are settled; otherwise nearest to zero.
    fn standing(&self, reading: &Reading<'_>, over: bool) -> (f64, bool) {
        let path = self.cycles.path();
        // What has happened since the average's last record counts too, unless the take is over.
        let mean = self.mean.filter(|mean| over || mean.path == path);
        let settled = mean.and_then(|mean| Some(mean.turns + self.cycles.offset(mean.path)?));
        match settled {
            Some(turns) => (turns, true),
            None => {
                let skew = reading.reference.skew_us * 1e-6 * reading.tone_hz;
                (nearest(turns_of(self.sum), skew), false)
            }
        }
    }

    fn uncertainty_us(&self, tone_hz: f64) -> f64 {
        let independent = (self.seconds() * 2.0).max(1.0);
        let sigma_degrees = self.wander.deviation().unwrap_or(180.0);
        delay_us(2.0 * sigma_degrees / independent.sqrt(), tone_hz)
    }

    /// The reading at `tone_hz`, of now or of a take that is `over`; with `status` not ok it has no numbers. The wander's rate comes from elsewhere.
    pub fn reading(
        &mut self,
        status: Validity,
        tone_hz: f64,
        format: &TapeFormat,
        reference: &PhaseReference,
        over: bool,
    ) -> PhaseReading {
        let mut reading = PhaseReading::unread(status);
        reading.trail = self.trail.trail();
        reading.tape_azimuth_arcmin = Some(reference.azimuth_arcmin);
        let rotation = reference.rotation(tone_hz);
        let of_tone = Reading {
            tone_hz,
            format,
            reference,
        };
        let (turns, resolved) = self.standing(&of_tone, over);
        let mean_us = of_tone.delay_us(turns);
        // The trail counts the turns of its paths: the average's tell which delay that is.
        let counted = self.mean.map_or(turns, |mean| mean.turns);
        for value in &mut reading.trail.values {
            *value = of_tone.delay_us(turns + f64::from(*value) - counted) as f32;
        }
        if !status.is_ok() {
            return reading;
        }
        reading.method = Some(PhaseMethod::Tone);
        reading.tone_hz = Some(tone_hz);
        let sum = self.sum * rotation;
        let own_us = self.uncertainty_us(tone_hz);
        reading.degrees = Some(sum.arg().to_degrees());
        reading.delay_us = Some(mean_us);
        reading.delay_uncertainty_us = Some(reference.delay_uncertainty_us(own_us));
        reading.azimuth_arcmin = Some(reference.azimuth_arcmin(mean_us, format));
        reading.azimuth_uncertainty_arcmin =
            Some(reference.azimuth_uncertainty_arcmin(own_us, format));
        let delays = if resolved {
            vec![mean_us]
        } else {
            of_tone.candidates_us(mean_us, own_us)
        };
        reading.ambiguous = delays.len() > 1;
        reading.cycles_settled_by = self.cycles.settled_by().filter(|_| resolved);
        let candidates = delays.iter().map(|&us| reference.candidate(us, format));
        reading.candidates = candidates.collect();
        reading.wander_rms_degrees = self.wander.deviation();
        reading.wander_peak_to_peak_degrees =
            self.wander.max().zip(self.wander.min()).map(|(a, b)| a - b);
        let gain = 10f64.powf(reference.gain_db / 20.0);
        let [left, right] = self.powers;
        reading.mono_sum_loss_db = mono_sum_loss_db([left, right * gain * gain], sum.re * gain);
        let coherence = self.sum.norm() / (self.powers[0] * self.powers[1]).sqrt();
        reading.coherence = Some(coherence.min(1.0));
        if !reading.ambiguous {
            reading.mono_sum_loss_10_khz_db = Some(delay_loss_db(
                format.delay_us(reading.azimuth_arcmin.unwrap_or(0.0)),
            ));
        }
        let quick = self.quick.sum();
        if quick != Complex64::ZERO {
            reading.quick_degrees = Some((quick * rotation).arg().to_degrees());
            let quick_us = self
                .quick_turns(quick, turns, resolved)
                .map(|turns| of_tone.delay_us(turns));
            reading.quick_delay_us = quick_us;
            reading.quick_azimuth_arcmin = quick_us.map(|us| reference.azimuth_arcmin(us, format));
        }
        reading
    }

    /// Where the needle is, in turns: followed, or else as near to the average as may be.
    fn quick_turns(&self, quick: Complex64, mean: f64, resolved: bool) -> Option<f64> {
        if !resolved {
            return Some(nearest(turns_of(quick), mean));
        }
        let newest = self.newest?;
        let offset = self.cycles.offset(newest.path)?;
        Some(nearest(turns_of(quick), newest.turns) + offset)
    }
}

/// Level of a mono sum at 10 kHz of two channels alike but for a delay, dB: 20·lg|cos(π·f·Δt)|.
pub(super) fn delay_loss_db(delay_us: f64) -> f64 {
    let kept = (std::f64::consts::PI * MONO_HZ * delay_us * 1e-6)
        .cos()
        .abs();
    (20.0 * kept.log10()).max(LEAST_MONO_DB)
}

/// Delay of a phase at a tone, µs: the inverse of phase = 360·f·delay.
pub(super) fn delay_us(degrees: f64, tone_hz: f64) -> f64 {
    degrees / 360.0 / tone_hz * 1e6
}

/// Level of left + right against the same levels in phase, dB: 0 = nothing lost.
fn mono_sum_loss_db(powers: [f64; 2], cross_re: f64) -> Option<f64> {
    let [left, right] = powers;
    let in_phase = (left.sqrt() + right.sqrt()).powi(2);
    let sum = (left + right + 2.0 * cross_re).max(0.0);
    (in_phase > 0.0 && sum > 0.0).then(|| 10.0 * (sum / in_phase).log10())
}
