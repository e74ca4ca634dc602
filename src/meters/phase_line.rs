//! The phase at all tones of the session against their frequencies: azimuth, polarity or electronics.
//!
//! A point a tone, of as long as nobody turns the screw; or a point a band of programme.

use super::phase::PhaseReference;
use crate::{
    readings::{LineVerdict, PhaseLine, PhasePoint},
    signal::phase_fit::{Line, WrappedPhase, least_squares, lines},
    tables::TapeFormat,
};

/// Tones kept; the oldest gives way.
const MOST_TONES: usize = 16;
/// A tone within this (fraction) of one that was heard is the same.
const SAME_TONE_WITHIN: f64 = 0.03;
/// Common practice, no source: no point is taken to be more certain than this, because the electronics of two channels
/// differ a little from tone to tone, turns (1°).
const LEAST_SIGMA: f64 = 1.0 / 360.0;
/// Common practice, no source: an offset within this is within the tolerance of two channels' electronics, turns (5°).
const NO_OFFSET: f64 = 5.0 / 360.0;
/// An offset within this of half a turn is a polarity, with a tolerance of its own, turns (20°).
const HALF_TURN_WITHIN: f64 = 20.0 / 360.0;
/// The delay is looked for this far beyond the format's plausible azimuth.
const REACH: f64 = 1.05;

/// Collects the points.
#[derive(Clone, Debug, Default)]
pub struct PhaseLineMeter {
    tones: Vec<WrappedPhase>,
}

impl PhaseLineMeter {
    /// Nothing heard yet.
    pub fn new() -> Self {
        Self {
            tones: Vec::with_capacity(MOST_TONES),
        }
    }

    /// Forgets all tones: the screw was turned, or everything begins anew.
    pub fn clear(&mut self) {
        self.tones.clear();
    }

    /// Keeps a tone that is over.
    pub fn keep(&mut self, point: WrappedPhase) {
        self.tones.retain(|other| !is_same(other, &point));
        if self.tones.len() == MOST_TONES {
            self.tones.remove(0);
        }
        self.tones.push(point);
    }

    /// The line through the tones kept and the one that plays.
    pub fn of_tones(
        &self,
        playing: WrappedPhase,
        format: &TapeFormat,
        reference: &PhaseReference,
    ) -> Option<PhaseLine> {
        let kept = self.tones.iter().filter(|tone| !is_same(tone, &playing));
        let points = kept.copied().chain([playing]).collect();
        line(points, format, reference)
    }
}

fn is_same(a: &WrappedPhase, b: &WrappedPhase) -> bool {
    (a.frequency_hz / b.frequency_hz - 1.0).abs() < SAME_TONE_WITHIN
}

/// The line through points; `None` where there are not two.
pub fn line(
    mut points: Vec<WrappedPhase>,
    format: &TapeFormat,
    reference: &PhaseReference,
) -> Option<PhaseLine> {
    if points.len() < 2 {
        return None;
    }
    points.sort_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
    for point in &mut points {
        point.turns -= reference.skew_us * 1e-6 * point.frequency_hz;
        point.sigma = point.sigma.hypot(LEAST_SIGMA);
    }
    let most_s = REACH * format.delay_us(format.plausible_azimuth_arcmin) * 1e-6;
    let (verdict, fit) = judge(&points, most_s);
    let degrees = |point: &WrappedPhase| match &fit {
        Some(fit) => 360.0 * (fit.intercept + fit.delay_s * point.frequency_hz + fit.off(point)),
        None => 360.0 * (point.turns - point.turns.round()),
    };
    Some(PhaseLine {
        verdict,
        delay_us: fit.map(|fit| fit.delay_s * 1e6),
        delay_uncertainty_us: fit
            .map(|fit| reference.delay_uncertainty_us(2.0 * fit.delay_sigma_s * 1e6)),
        intercept_degrees: fit.map(|fit| 360.0 * fit.intercept),
        intercept_uncertainty_degrees: fit.map(|fit| 720.0 * fit.intercept_sigma),
        points: points
            .iter()
            .map(|point| PhasePoint {
                frequency_hz: point.frequency_hz,
                degrees: degrees(point),
                uncertainty_degrees: 720.0 * point.sigma,
            })
            .collect(),
    })
}

/// What the points say, and the line where one stands.
fn judge(points: &[WrappedPhase], most_s: f64) -> (LineVerdict, Option<Line>) {
    let through = |intercept: Option<f64>| -> Vec<Line> {
        let fixed = if intercept.is_some() { 1 } else { 2 };
        let most = most_chi_squared(points.len() - fixed.min(points.len()));
        let mut fitting = lines(points, most_s, intercept);
        fitting.retain(|line| line.chi_squared <= most);
        fitting
    };
    let (zero, half) = (through(Some(0.0)), through(Some(0.5)));
    match (zero.as_slice(), half.as_slice()) {
        ([line], []) => return (LineVerdict::Azimuth, with_offset(points, line)),
        ([], [line]) => return (LineVerdict::OppositePolarity, with_offset(points, line)),
        ([], []) => {}
        _ => return (LineVerdict::Open, None),
    }
    // With two points a line of some offset always fits.
    if points.len() < 3 {
        return (LineVerdict::Open, None);
    }
    match through(None).as_slice() {
        [] => (LineVerdict::NotStraight, None),
        [line] => (verdict_of(line), Some(*line)),
        _ => (LineVerdict::Open, None),
    }
}

/// By the offset of a line alone.
fn verdict_of(line: &Line) -> LineVerdict {
    let uncertainty = 2.0 * line.intercept_sigma;
    if line.intercept.abs() <= NO_OFFSET.max(uncertainty) {
        LineVerdict::Azimuth
    } else if 0.5 - line.intercept.abs() <= HALF_TURN_WITHIN.max(uncertainty) {
        LineVerdict::OppositePolarity
    } else {
        LineVerdict::Electronics
    }
}

/// The line with an offset of its own near one with a given one.
fn with_offset(points: &[WrappedPhase], near: &Line) -> Option<Line> {
    let free = least_squares(points, near, true);
    // Two tones close together say nothing of an offset.
    free.filter(|line| line.intercept_sigma < 0.25)
        .or(Some(*near))
}

/// Beyond this the points are not on a line of so many degrees of freedom: mean and four standard deviations of χ², and
/// a little more for few.
fn most_chi_squared(freedom: usize) -> f64 {
    let freedom = freedom as f64;
    freedom + 4.0 * (2.0 * freedom).sqrt() + 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::tape_format;

    const TONES: [f64; 5] = [315.0, 1e3, 3150.0, 6300.0, 10e3];

    fn said(
        tones_hz: &[f64],
        degrees: impl Fn(f64) -> f64,
        reference: &PhaseReference,
    ) -> PhaseLine {
        let format = tape_format("cassette-stereo").expect("table");
        let point = |hz: &f64| WrappedPhase {
            frequency_hz: *hz,
            turns: degrees(*hz) / 360.0,
            sigma: 0.002,
        };
        let points = tones_hz.iter().map(point).collect();
        line(points, format, reference).expect("two points")
    }

    fn delayed(us: f64) -> impl Fn(f64) -> f64 {
        move |hz| 360e-6 * hz * us
    }

    #[test]
    fn a_delay_is_azimuth_whatever_its_whole_cycles() {
        for us in [-190.0, -41.0, 0.0, 130.0] {
            let line = said(&TONES, delayed(us), &PhaseReference::default());
            assert_eq!(line.verdict, LineVerdict::Azimuth, "{line:?}");
            assert!((line.delay_us.unwrap_or(f64::NAN) - us).abs() < 0.01);
            let highest = line.points[4];
            assert!((highest.degrees - 3.6 * us).abs() < 0.1, "{highest:?}");
        }
        let behind = PhaseReference {
            skew_us: 7.0,
            ..PhaseReference::default()
        };
        let line = said(&TONES, delayed(30.0), &behind);
        assert!((line.delay_us.unwrap_or(f64::NAN) - 23.0).abs() < 0.01);
    }

    #[test]
    fn offsets_are_told_from_azimuth() {
        let reference = PhaseReference::default();
        let reversed = said(&TONES, |hz| 180.0 + delayed(20.0)(hz), &reference);
        assert_eq!(reversed.verdict, LineVerdict::OppositePolarity);
        assert_eq!(
            reversed.words(),
            "offset of 180°: one channel's polarity is reversed"
        );
        let shifted = said(&TONES, |hz| 23.0 + delayed(-60.0)(hz), &reference);
        assert_eq!(shifted.verdict, LineVerdict::Electronics);
        assert!(
            shifted.words().starts_with("offset of 23 ± "),
            "{}",
            shifted.words()
        );
        let bent = said(&TONES, |hz| 40.0 * (hz / 2000.0).sin() + 10.0, &reference);
        assert_eq!(bent.verdict, LineVerdict::NotStraight, "{bent:?}");
        assert_eq!(bent.delay_us, None);
    }

    #[test]
    fn two_tones_are_a_line_through_zero_or_a_polarity_or_open() {
        let reference = PhaseReference::default();
        let two = [1e3, 10e3];
        let through = said(&two, delayed(70.0), &reference);
        assert_eq!(through.verdict, LineVerdict::Azimuth);
        let reversed = said(&two, |hz| 180.0 + delayed(70.0)(hz), &reference);
        assert_eq!(reversed.verdict, LineVerdict::OppositePolarity);
        let other = said(&two, |hz| 60.0 + delayed(70.0)(hz), &reference);
        assert_eq!(other.verdict, LineVerdict::Open);
    }

    #[test]
    fn a_tone_heard_again_takes_its_old_place_and_the_oldest_gives_way() {
        let mut meter = PhaseLineMeter::new();
        let at = |hz: f64| WrappedPhase {
            frequency_hz: hz,
            turns: 0.1,
            sigma: 0.01,
        };
        for i in 0..40 {
            meter.keep(at(300.0 * 1.1_f64.powi(i)));
            meter.keep(at(301.0 * 1.1_f64.powi(i)));
        }
        assert_eq!(meter.tones.len(), MOST_TONES);
    }
}
