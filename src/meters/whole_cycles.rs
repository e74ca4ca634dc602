//! Which whole cycle the phase of a tone is in: what settles it, and for how long that stands.
//!
//! Settled by the only candidate a head may stand at, by a lower tone or programme heard before, or by the course of
//! the level while the screw turns. From then on the phase is followed; when it cannot be followed any more, the cycles
//! are open again. What was heard before counts once, at the beginning of a tone: later the screw may have been turned.

use super::{
    loss_course::LossCourse,
    phase::{KnownDelay, PhaseReference},
    phase_follower::{PhaseFollower, Place},
    record::Record,
};
use crate::{readings::CyclesSettled, tables::TapeFormat};

/// A head may stand this share beyond the format's plausible azimuth before a candidate there is left out: the
/// tape's own weave, and a hand that has begun.
const MARGIN: f64 = 0.025;
/// A delay known beforehand must be this well known, cycles, with what the phase itself is uncertain by.
const KNOWN_WITHIN: f64 = 0.4;
/// A delay known beforehand has to agree with the phase of the tone to so many times its uncertainty...
const AGREES_WITHIN: f64 = 1.5;
/// ...or to this, cycles: the tape weaves between the two.
const WEAVES: f64 = 0.1;

/// The tone that is read, and what it is read with.
#[derive(Clone, Copy)]
pub struct Reading<'a> {
    /// The tone, Hz.
    pub tone_hz: f64,
    /// Geometry and plausible azimuth.
    pub format: &'a TapeFormat,
    /// What is not the deck's.
    pub reference: &'a PhaseReference,
}

impl Reading<'_> {
    /// Delay behind the interface of a phase with its whole cycles, µs.
    pub fn delay_us(&self, turns: f64) -> f64 {
        turns * 1e6 / self.tone_hz - self.reference.skew_us
    }

    fn turns(&self, delay_us: f64) -> f64 {
        (delay_us + self.reference.skew_us) * 1e-6 * self.tone_hz
    }

    /// The delays that a delay without whole cycles allows within the plausible azimuth, nearest zero first.
    pub fn candidates_us(&self, fine_us: f64, uncertainty_us: f64) -> Vec<f64> {
        /// More would only fill the screen.
        const MOST: i32 = 40;
        let cycle_us = 1e6 / self.tone_hz;
        let most_us = self.farthest_us(uncertainty_us);
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

    fn farthest_us(&self, uncertainty_us: f64) -> f64 {
        let most = self.format.plausible_azimuth_arcmin * (1.0 + MARGIN);
        self.format.delay_us(most) + uncertainty_us
    }
}

/// A mean phase, turns, with its expanded uncertainty (k = 2).
#[derive(Clone, Copy, Debug)]
pub struct MeanPhase {
    /// Where it is.
    pub place: Place,
    /// Uncertainty, turns.
    pub uncertainty: f64,
}

#[derive(Clone, Copy, Debug)]
struct Settled {
    path: u32,
    /// What is to be added to the turns of that path.
    offset: f64,
    by: CyclesSettled,
}

/// The whole cycles of the tone that plays.
pub struct WholeCycles {
    follower: PhaseFollower,
    course: LossCourse,
    looked_at: usize,
    settled: Option<Settled>,
    known: Option<KnownDelay>,
}

impl WholeCycles {
    /// For `blocks_per_s` records a second.
    pub fn new(blocks_per_s: f64) -> Self {
        Self {
            follower: PhaseFollower::new(blocks_per_s),
            course: LossCourse::new(),
            looked_at: 0,
            settled: None,
            known: None,
        }
    }

    /// Takes the newest record in; returns where the phase is, or `None` where it is not followed.
    pub fn push(&mut self, record: &Record) -> Option<Place> {
        let place = self.follower.push(record)?;
        // A dropout's level is the tape's.
        if !record.low {
            self.course.push(place, record.tone_power);
        }
        Some(place)
    }

    /// Another tone begins, with what is known of the delay from before.
    pub fn start(&mut self, known: Option<KnownDelay>) {
        self.break_off();
        self.settled = None;
        self.known = known;
    }

    /// What follows does not join on to what was.
    pub fn break_off(&mut self) {
        self.follower.break_off();
        self.clear_course();
    }

    /// Forgets the levels seen.
    pub fn clear_course(&mut self) {
        self.course.clear();
        self.looked_at = 0;
    }

    /// Opens the cycles again, whatever settled them.
    pub fn open(&mut self) {
        self.settled = None;
        self.known = None;
    }

    /// What is known beforehand, from now on.
    pub fn offer(&mut self, known: Option<KnownDelay>) {
        self.known = known;
    }

    /// What is known beforehand and not yet used.
    pub fn known(&self) -> Option<KnownDelay> {
        self.known
    }

    /// The path that is followed now.
    pub fn path(&self) -> u32 {
        self.follower.path()
    }

    /// What is to be added to the turns of a path; `None`: its whole cycles are open.
    pub fn offset(&self, path: u32) -> Option<f64> {
        let settled = self.settled.filter(|settled| settled.path == path)?;
        Some(settled.offset)
    }

    /// What has settled the cycles last.
    pub fn settled_by(&self) -> Option<CyclesSettled> {
        self.settled.map(|settled| settled.by)
    }

    /// Looks whether the cycles can be settled now: `mean` where a mean is ready. The level has the last word.
    pub fn settle(&mut self, reading: &Reading<'_>, mean: Option<MeanPhase>) {
        if self.course.visited() > self.looked_at {
            self.looked_at = self.course.visited();
            if let Some(offset) = self.by_the_level(reading) {
                self.keep(self.path(), offset, CyclesSettled::Level);
                return;
            }
        }
        let Some(mean) = mean.filter(|mean| self.offset(mean.place.path).is_none()) else {
            return;
        };
        let path = mean.place.path;
        if let Some(known) = self.known.take_if(|known| is_enough(known, reading, mean)) {
            let offset = (reading.turns(known.delay_us) - mean.place.turns).round();
            if agrees(&known, reading, mean, offset) {
                self.keep(path, offset, known.by);
            }
        } else if let Some(offset) = only_candidate(reading, mean) {
            self.keep(path, offset, CyclesSettled::OnlyCandidate);
        }
    }

    fn keep(&mut self, path: u32, offset: f64, by: CyclesSettled) {
        self.settled = Some(Settled { path, offset, by });
        self.known = None;
    }

    fn by_the_level(&self, reading: &Reading<'_>) -> Option<f64> {
        let (now, width) = (self.follower.turns()?, width(reading.format));
        let skew = reading.turns(0.0);
        let most = reading.farthest_us(0.0) * 1e-6 * reading.tone_hz;
        // A screw turned past the plausible is not told from one that stands within it by leaving it out.
        let first = (-2.0 * most - now + skew).ceil() as i32;
        let last = (2.0 * most - now + skew).floor() as i32;
        let offsets = (first..=last.min(first + 80)).map(f64::from);
        let told = self
            .course
            .conclude(offsets.map(|offset| offset - skew), width)?;
        let offset = (told + skew).round();
        ((now + offset - skew).abs() <= most).then_some(offset)
    }
}

/// Width of a track against the distance of the tracks.
fn width(format: &TapeFormat) -> f64 {
    format.track_width_m / format.track_spacing_m
}

/// Whether the delay is known well enough to tell one cycle of this tone from the next.
fn is_enough(known: &KnownDelay, reading: &Reading<'_>, mean: MeanPhase) -> bool {
    known.uncertainty_us * 1e-6 * reading.tone_hz + mean.uncertainty < KNOWN_WITHIN
}

/// Whether the tone's own phase bears the known delay out.
fn agrees(known: &KnownDelay, reading: &Reading<'_>, mean: MeanPhase, offset: f64) -> bool {
    let off = (reading.turns(known.delay_us) - mean.place.turns - offset).abs();
    let own = known.uncertainty_us * 1e-6 * reading.tone_hz + mean.uncertainty;
    off <= WEAVES.max(AGREES_WITHIN * own)
}

/// The offset of the only place that a head may plausibly stand at.
fn only_candidate(reading: &Reading<'_>, mean: MeanPhase) -> Option<f64> {
    let uncertainty_us = mean.uncertainty * 1e6 / reading.tone_hz;
    let now_us = reading.delay_us(mean.place.turns);
    let cycle_us = 1e6 / reading.tone_hz;
    let cycles = -(now_us / cycle_us).round();
    let fine_us = now_us + cycles * cycle_us;
    let most_us = reading.farthest_us(uncertainty_us);
    let next_us = cycle_us - fine_us.abs();
    (fine_us.abs() <= most_us && next_us > most_us).then_some(cycles)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::tape_format;
    use rustfft::num_complex::Complex64;
    use std::f64::consts::TAU;

    fn push(cycles: &mut WholeCycles, turns: f64, kept: f64) -> Option<Place> {
        let power = 0.05 * kept * kept;
        cycles.push(&Record {
            ok: true,
            tone_power: [power; 2],
            mean_cross: Complex64::from_polar(power, TAU * turns),
            ..Record::default()
        })
    }

    #[test]
    fn what_was_known_counts_once_and_then_the_phase_is_followed() {
        let format = tape_format("cassette-stereo").expect("table");
        let reference = PhaseReference::default();
        let reading = Reading {
            tone_hz: 10e3,
            format,
            reference: &reference,
        };
        let mut cycles = WholeCycles::new(250.0);
        let heard = |delay_us| KnownDelay {
            delay_us,
            uncertainty_us: 5.0,
            by: CyclesSettled::LowerTone,
        };
        // 130 µs are 1.3 cycles.
        cycles.start(Some(heard(128.0)));
        let place = push(&mut cycles, 0.3, 1.0).expect("followed");
        let mean = MeanPhase {
            place,
            uncertainty: 0.01,
        };
        cycles.settle(&reading, Some(mean));
        assert_eq!(cycles.settled_by(), Some(CyclesSettled::LowerTone));
        let turns = place.turns + cycles.offset(place.path).expect("settled");
        assert!((reading.delay_us(turns) - 130.0).abs() < 1e-6);
        cycles.break_off();
        let place = push(&mut cycles, 0.3, 1.0).expect("followed");
        cycles.settle(&reading, Some(MeanPhase { place, ..mean }));
        assert_eq!(cycles.offset(place.path), None, "it may have been turned");
        // A delay that the phase does not bear out is not believed.
        cycles.start(Some(heard(165.0)));
        let place = push(&mut cycles, 0.3, 1.0).expect("followed");
        cycles.settle(&reading, Some(MeanPhase { place, ..mean }));
        assert_eq!(cycles.offset(place.path), None);
    }

    #[test]
    fn candidates_reach_as_far_as_a_head_may_stand() {
        let format = tape_format("cassette-stereo").expect("table");
        let reference = PhaseReference::default();
        let at = |tone_hz| Reading {
            tone_hz,
            format,
            reference: &reference,
        };
        assert_eq!(at(10e3).candidates_us(-30.0, 0.0).len(), 4);
        assert_eq!(at(1e3).candidates_us(-130.0, 0.0).len(), 1);
    }
}
