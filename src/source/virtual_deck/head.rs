//! The playback head: how it stands askew, and what that does to place and level.

use super::{
    controls::{DeckControls, Setting},
    plan::Plan,
    slew::Slew,
    turns::{Travel, sin},
};
use crate::tables::TapeFormat;
use std::f64::consts::PI;

/// A hand turns a screw no faster.
const SCREW_TIME_CONSTANT_S: f64 = 0.007;
/// Most that the ranges of the deck file and its adjustments add up to.
pub(super) const MOST_AZIMUTH_ARCMIN: f64 = 60.0;
const RADIANS_PER_ARCMIN: f64 = PI / 180.0 / 60.0;

/// The head's stance at one frame, in seconds of nominal tape travel. A place on tape is meant, so none of this
/// depends on the actual speed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tilt {
    /// Distance along the tape between the two tracks' lines; positive: the right channel is read later.
    skew_s: f64,
    /// Distance along the tape that one track's line covers.
    width_s: f64,
}

impl Tilt {
    /// d·tan α / v and w·tan α / v.
    pub(super) fn new(azimuth_arcmin: f64, format: &TapeFormat) -> Self {
        let angle = azimuth_arcmin * RADIANS_PER_ARCMIN;
        // The tangent's series: within 2e-12 of its value up to a degree, for a part of its cost.
        let square = angle * angle;
        let tangent = angle * (1.0 + square * (1.0 / 3.0 + square * (2.0 / 15.0)));
        let along_s = |across_m: f64| across_m * tangent / format.tape_speed_m_per_s;
        Self {
            skew_s: along_s(format.track_spacing_m),
            width_s: along_s(format.track_width_m).abs(),
        }
    }

    /// How far ahead of the head's centre the left track is read; the right track as far behind.
    pub(super) const fn left_offset_s(self) -> f64 {
        0.5 * self.skew_s
    }

    pub(super) const fn skew_s(self) -> f64 {
        self.skew_s
    }

    pub(super) const fn width_s(self) -> f64 {
        self.width_s
    }

    /// How far from its centre the head reads at most.
    pub(super) fn reach_s(format: &TapeFormat) -> f64 {
        let most = Self::new(MOST_AZIMUTH_ARCMIN, format);
        0.5 * (most.skew_s + most.width_s)
    }
}

#[derive(Clone, Copy, Debug)]
struct Swing {
    rate_hz: f64,
    peak_arcmin: f64,
    phase_turns: f64,
}

/// The head on its screw.
pub(super) struct Head {
    format: &'static TapeFormat,
    as_found_arcmin: f64,
    azimuth_arcmin: Slew,
    swings: Vec<Swing>,
    tilt: Tilt,
    tilt_arcmin: f64,
}

impl Head {
    pub(super) fn new(
        plan: &Plan,
        format: &'static TapeFormat,
        controls: &DeckControls,
        dt_s: f64,
    ) -> Self {
        let as_found_arcmin = plan.head.azimuth_arcmin.get();
        let azimuth = as_found_arcmin + controls.value_or_zero(Setting::AzimuthScrew);
        let swings = plan.head.wander.iter();
        Self {
            format,
            as_found_arcmin,
            azimuth_arcmin: Slew::at(azimuth, SCREW_TIME_CONSTANT_S, dt_s),
            swings: swings
                .map(|wander| Swing {
                    rate_hz: wander.once_round_hz(plan, format),
                    peak_arcmin: wander.peak_arcmin.get_ref().get(),
                    phase_turns: wander.phase_degrees.get() / 360.0,
                })
                .collect(),
            tilt: Tilt::new(azimuth, format),
            tilt_arcmin: azimuth,
        }
    }

    pub(super) fn follow(&mut self, controls: &DeckControls) {
        let turned = controls.value_or_zero(Setting::AzimuthScrew);
        self.azimuth_arcmin.aim(self.as_found_arcmin + turned);
    }

    /// The stance at a place of the drive, which turns the parts that sway the tape; then the screw moves on.
    pub(super) fn next(&mut self, drive: Travel) -> Tilt {
        let sway: f64 = self
            .swings
            .iter()
            .map(|swing| swing.peak_arcmin * sin(drive.turns(swing.rate_hz) + swing.phase_turns))
            .sum();
        let azimuth = self.azimuth_arcmin.value() + sway;
        if azimuth != self.tilt_arcmin {
            self.tilt_arcmin = azimuth;
            self.tilt = Tilt::new(azimuth, self.format);
        }
        self.azimuth_arcmin.step();
        self.tilt
    }
}
