//! Phase of a tone between the channels: delay, azimuth, and how much it wanders.

use super::{gate::Use, record::Record, series::Series, step_watch::StepWatch, trace::Trace};
use crate::{
    readings::{PhaseCandidate, PhaseMethod, PhaseReading, Validity},
    signal::running::Running,
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
/// A reading needs at least this long.
const LEAST_S: f64 = 0.25;

/// A delay known without whole cycles open, µs, with its expanded uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownDelay {
    /// Delay of the right channel, µs.
    pub delay_us: f64,
    /// Expanded uncertainty (k = 2), µs.
    pub uncertainty_us: f64,
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
        format.azimuth_arcmin(delay_us) - self.azimuth_arcmin
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
            trail: Trace::new(30.0, blocks_per_s, (0.05 * blocks_per_s) as usize),
        }
    }

    /// Starts the averages anew.
    pub fn reset(&mut self) {
        self.begin_anew();
        self.moved.restart();
        self.followed_degrees = None;
    }

    /// Forgets the trail: another tone begins.
    pub fn clear_trail(&mut self) {
        self.trail.clear();
    }

    /// As [`PhaseMeter::reset`] while somebody moves the azimuth: goes on watching for the end of it.
    pub fn begin_anew(&mut self) {
        self.sum = Complex64::ZERO;
        self.powers = [0.0; 2];
        self.blocks = 0;
        self.wander = Running::default();
        self.group = Complex64::ZERO;
        self.group_blocks = 0;
        self.second = Complex64::ZERO;
        self.second_blocks = 0;
    }

    /// Takes the newest record in: the needle.
    pub fn push_live(&mut self, record: &Record) {
        if record.ok {
            self.quick.re.push(record.mean_cross.re);
            self.quick.im.push(record.mean_cross.im);
            let (quick, sum) = (&self.quick, self.sum);
            self.trail.push_with(|| {
                let quick = quick.sum();
                let phase_rad = if sum == Complex64::ZERO {
                    quick.arg()
                } else {
                    // Counted on from the average, so that the trail does not jump at ±180°.
                    sum.arg() + (quick * sum.conj()).arg()
                };
                phase_rad.to_degrees()
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
        self.sum += record.mean_cross;
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
        self.second += record.mean_cross;
        self.second_blocks += 1;
        f64::from(self.second_blocks) >= self.blocks_per_s && self.second_is_over()
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

    /// Whether enough is averaged for a reading.
    pub fn is_ready(&self) -> bool {
        self.blocks as f64 / self.blocks_per_s >= LEAST_S
    }

    /// How far the last second's mean is off the average, degrees.
    pub fn off_the_average_degrees(&self) -> f64 {
        (self.last_second * self.sum.conj()).arg().to_degrees()
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

    /// The delay nearest to `known` (or to zero) that the averaged phase allows at `tone_hz`, behind the interface.
    pub fn known_delay(
        &self,
        tone_hz: f64,
        format: &TapeFormat,
        reference: &PhaseReference,
        known: Option<KnownDelay>,
    ) -> Option<KnownDelay> {
        let fine_us = self.fine_us(tone_hz, reference);
        let (delay_us, resolved) = self.resolve(fine_us, tone_hz, format, known);
        resolved.then(|| KnownDelay {
            delay_us,
            uncertainty_us: self.uncertainty_us(tone_hz),
        })
    }

    /// Delay of the averaged phase without whole cycles, µs, behind the interface.
    fn fine_us(&self, tone_hz: f64, reference: &PhaseReference) -> f64 {
        let sum = self.sum * reference.rotation(tone_hz);
        delay_us(sum.arg().to_degrees(), tone_hz)
    }

    /// Delay of the averaged phase, µs, and whether whole cycles are settled.
    fn resolve(
        &self,
        fine_us: f64,
        tone_hz: f64,
        format: &TapeFormat,
        known: Option<KnownDelay>,
    ) -> (f64, bool) {
        let cycle_us = 1e6 / tone_hz;
        match known {
            Some(known) if known.uncertainty_us + self.uncertainty_us(tone_hz) < 0.4 * cycle_us => {
                let cycles = ((known.delay_us - fine_us) / cycle_us).round();
                (fine_us + cycles * cycle_us, true)
            }
            _ => (fine_us, candidates(fine_us, tone_hz, format).len() == 1),
        }
    }

    fn uncertainty_us(&self, tone_hz: f64) -> f64 {
        let independent = (self.seconds() * 2.0).max(1.0);
        let sigma_degrees = self.wander.deviation().unwrap_or(180.0);
        delay_us(2.0 * sigma_degrees / independent.sqrt(), tone_hz)
    }

    /// The reading at `tone_hz`; with `status` not ok it has no numbers. The wander's rate comes from elsewhere.
    pub fn reading(
        &mut self,
        status: Validity,
        tone_hz: f64,
        format: &TapeFormat,
        reference: &PhaseReference,
        known: Option<KnownDelay>,
    ) -> PhaseReading {
        let mut reading = PhaseReading::unread(status);
        reading.trail = self.trail.trail();
        let rotation = reference.rotation(tone_hz);
        let fine_us = self.fine_us(tone_hz, reference);
        let (mean_us, resolved) = self.resolve(fine_us, tone_hz, format, known);
        // The trail is of the phase as it came in; its mean is the delay's.
        let mean_degrees = self.sum.arg().to_degrees();
        for value in &mut reading.trail.values {
            *value = (mean_us + delay_us(f64::from(*value) - mean_degrees, tone_hz)) as f32;
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
        reading.ambiguous = !resolved;
        let delays = if resolved {
            vec![mean_us]
        } else {
            candidates(fine_us, tone_hz, format)
        };
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
        let quick = self.quick.sum();
        if quick != Complex64::ZERO {
            // The needle is read from the average's cycle, so that it does not jump at the cut.
            let from_mean_degrees = (quick * self.sum.conj()).arg().to_degrees();
            let quick_us = mean_us + delay_us(from_mean_degrees, tone_hz);
            reading.quick_degrees = Some((quick * rotation).arg().to_degrees());
            reading.quick_delay_us = Some(quick_us);
            reading.quick_azimuth_arcmin = Some(reference.azimuth_arcmin(quick_us, format));
        }
        reading
    }
}

/// Delay of a phase at a tone, µs: the inverse of phase = 360·f·delay.
pub(super) fn delay_us(degrees: f64, tone_hz: f64) -> f64 {
    degrees / 360.0 / tone_hz * 1e6
}

/// The delays that a fine delay allows within the format's plausible azimuth, nearest zero first.
fn candidates(fine_us: f64, tone_hz: f64, format: &TapeFormat) -> Vec<f64> {
    /// More would only fill the screen.
    const MOST: i32 = 40;
    let cycle_us = 1e6 / tone_hz;
    let most_us = format.delay_us(format.plausible_azimuth_arcmin);
    let mut delays: Vec<f64> = (-MOST..=MOST)
        .map(|cycles| fine_us + f64::from(cycles) * cycle_us)
        .filter(|delay_us| delay_us.abs() <= most_us)
        .collect();
    if delays.is_empty() {
        delays.push(fine_us);
    }
    delays.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
    delays
}

/// Level of left + right against the same levels in phase, dB: 0 = nothing lost.
fn mono_sum_loss_db(powers: [f64; 2], cross_re: f64) -> Option<f64> {
    let [left, right] = powers;
    let in_phase = (left.sqrt() + right.sqrt()).powi(2);
    let sum = (left + right + 2.0 * cross_re).max(0.0);
    (in_phase > 0.0 && sum > 0.0).then(|| 10.0 * (sum / in_phase).log10())
}
