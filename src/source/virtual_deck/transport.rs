//! The transport: how far the tape has moved.
//!
//! The drive turns steadily at the nominal speed times (1 + error + trimmer + trend): its travel w, in seconds of
//! nominal travel, is the integral of that. Every rotating part turns in step with w, so all rates follow the speed.
//! The tape's own travel is u(w) = w + Σ D(w), where each part's displacement D has the derivative
//! a·sin(2π·rate·w + φ): the tape's speed is the drive's times (1 + Σ a·sin …), exactly, and u is known in closed
//! form at any w. Slow displacements are computed at knots of w and joined by quintic polynomials through position,
//! speed and acceleration, which follow the fastest line allowed to a millionth of its amplitude (see `bend`).

use super::{
    bend::{Bend, KNOTS_HZ, Motion},
    controls::{DeckControls, Setting},
    plan::Plan,
    random::{Chance, Purpose},
    slew::Slew,
    speed_noise::{ScrapeNoise, Step, WowNoise},
    turns::{Odometer, Travel, sin_cos},
};
use crate::tables::TapeFormat;
use std::f64::consts::TAU;

/// How a real motor follows its trimmer.
const MOTOR_TIME_CONSTANT_S: f64 = 0.030;
/// A part is not exchanged while the deck runs; its flutter fades over.
const REPLACEMENT_TIME_CONSTANT_S: f64 = 0.1;
/// A trend that goes on for ever ends somewhere.
pub(super) const MOST_TREND_PERCENT: f64 = 5.0;

/// Where things stand at one frame.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place {
    /// Travel of the drive: what the rotating parts' angles go by.
    pub(super) drive: Travel,
    /// Travel of the tape under the head.
    pub(super) tape: Travel,
}

/// One sinusoidal line of flutter.
#[derive(Clone, Debug)]
struct Line {
    rate_hz: f64,
    /// Peak speed deviation, as a fraction.
    peak: f64,
    phase_turns: f64,
    /// Which replaceable part it comes from.
    replaceable: Option<usize>,
    /// Displacement at the last knot, seconds of travel.
    position: f64,
}

impl Line {
    fn step_to(&mut self, place: Travel) -> Step {
        let (sin, cos) = sin_cos(place.turns(self.rate_hz) + self.phase_turns);
        let omega = TAU * self.rate_hz;
        let before = std::mem::replace(&mut self.position, -self.peak / omega * cos);
        Step {
            moved: self.position - before,
            speed: self.peak * sin,
            acceleration: self.peak * omega * cos,
        }
    }
}

/// A replaceable part's flutter: what scale it has and what it would have new.
#[derive(Clone, Debug)]
struct Replaceable {
    scale: Slew,
    replaced_scale: f64,
}

pub(super) struct Transport {
    drive: Drive,
    place: Odometer,
    lines: Vec<Line>,
    replaceable: Vec<Replaceable>,
    wow: Vec<WowNoise>,
    scrape: Vec<ScrapeNoise>,
    bend: Bend,
}

impl Transport {
    pub(super) fn new(
        plan: &Plan,
        format: &TapeFormat,
        controls: &DeckControls,
        dt_s: f64,
    ) -> Self {
        let seed = plan.deck.seed;
        let chance = |purpose| Chance::new(seed, purpose);
        let transport = &plan.transport;
        let wow = transport.random_wow.iter().enumerate();
        let scrape = transport.scrape.iter().enumerate();
        let replaceable = transport.part.iter().filter_map(|part| part.replaced_scale);
        let mut transport = Self {
            drive: Drive::new(plan, controls, dt_s),
            place: Odometer::default(),
            lines: lines(plan, format),
            replaceable: replaceable
                .enumerate()
                .map(|(index, replaced_scale)| {
                    let replaced = controls.value_or_zero(Setting::Part(index)) != 0.0;
                    let replaced_scale = replaced_scale.get();
                    let scale = if replaced { replaced_scale } else { 1.0 };
                    Replaceable {
                        scale: Slew::at(scale, REPLACEMENT_TIME_CONSTANT_S, 1.0 / KNOTS_HZ),
                        replaced_scale,
                    }
                })
                .collect(),
            wow: wow
                .map(|(i, wow)| WowNoise::new(wow, chance(Purpose::RandomWow(i))))
                .collect(),
            scrape: scrape
                .map(|(i, scrape)| {
                    let (x, y) = (Purpose::Scrape(2 * i), Purpose::Scrape(2 * i + 1));
                    ScrapeNoise::new(scrape, chance(x), chance(y))
                })
                .collect(),
            bend: Bend::default(),
        };
        transport.start_bend();
        transport
    }

    /// Takes the controls' present values as targets.
    pub(super) fn follow(&mut self, controls: &DeckControls) {
        self.drive.follow(controls);
        for (index, part) in self.replaceable.iter_mut().enumerate() {
            let replaced = controls.value_or_zero(Setting::Part(index)) != 0.0;
            part.scale
                .aim(if replaced { part.replaced_scale } else { 1.0 });
        }
    }

    /// The present place; then moves on by one frame.
    pub(super) fn next(&mut self) -> Place {
        let drive = self.place.travel();
        while !self.bend.reaches(drive) {
            self.next_bend();
        }
        let mut displacement = self.bend.at(drive);
        for scrape in &mut self.scrape {
            displacement += scrape.position_at(drive);
        }
        self.place.advance(self.drive.next());
        Place {
            drive,
            tape: drive.plus(displacement),
        }
    }

    /// The tape starts at place 0, whatever the phases of the parts.
    fn start_bend(&mut self) {
        self.bend.end = Motion {
            position: 0.0,
            ..self.motion_at_knot(Travel::default())
        };
        self.next_bend();
    }

    fn next_bend(&mut self) {
        let start = self.bend.end_place;
        let end = start.next_knot();
        let motion = self.motion_at_knot(end.travel());
        self.bend = Bend::between(start, self.bend.end, end, motion);
    }

    /// The motion at the knot that follows the last one. The position adds up what each line moves from knot to
    /// knot at the scale it has then: a part being replaced changes the tape's speed, but does not make it jump.
    fn motion_at_knot(&mut self, place: Travel) -> Motion {
        for part in &mut self.replaceable {
            part.scale.step();
        }
        let mut motion = Motion {
            position: self.bend.end.position,
            ..Motion::default()
        };
        for line in &mut self.lines {
            let part = line.replaceable.map(|part| &self.replaceable[part]);
            let scale = part.map_or(1.0, |part| part.scale.value());
            motion.add(scale, line.step_to(place));
        }
        for wow in &mut self.wow {
            motion.add(1.0, wow.step_to(place));
        }
        motion
    }
}

fn lines(plan: &Plan, format: &TapeFormat) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut replaceable_parts = 0;
    for (part_index, part) in plan.transport.part.iter().enumerate() {
        let mut chance = Chance::new(plan.deck.seed, Purpose::PartPhase(part_index));
        let replaceable = part.replaced_scale.map(|_| {
            replaceable_parts += 1;
            replaceable_parts - 1
        });
        let once_round_hz = part.once_round_hz(format);
        for (index, peak) in part.flutter_peak_percent.get_ref().iter().enumerate() {
            let drawn = chance.even();
            let given = part.phase_degrees.get(index);
            lines.push(Line {
                rate_hz: once_round_hz * (index + 1) as f64,
                peak: peak.get() / 100.0,
                phase_turns: given.map_or(drawn, |degrees| degrees.get() / 360.0),
                replaceable,
                position: 0.0,
            });
        }
    }
    lines
}

/// The motor: its speed by time.
struct Drive {
    /// Speed without trimmer and trend, as a fraction of nominal.
    as_found: f64,
    trimmer: Slew,
    trend_per_frame: f64,
    frame: u64,
    /// Speed at the frame that comes next.
    speed: f64,
    /// True time from frame to frame.
    dt_s: f64,
}

impl Drive {
    fn new(plan: &Plan, controls: &DeckControls, dt_s: f64) -> Self {
        let trimmer = controls.value_or_zero(Setting::SpeedTrimmer) / 100.0;
        let as_found = 1.0 + plan.transport.speed_error_percent.get() / 100.0;
        let trend_per_s = plan.transport.trend_percent_per_minute.get() / 100.0 / 60.0;
        Self {
            as_found,
            trimmer: Slew::at(trimmer, MOTOR_TIME_CONSTANT_S, dt_s),
            trend_per_frame: trend_per_s * dt_s,
            frame: 0,
            speed: as_found + trimmer,
            dt_s,
        }
    }

    fn follow(&mut self, controls: &DeckControls) {
        let percent = controls.value_or_zero(Setting::SpeedTrimmer);
        self.trimmer.aim(percent / 100.0);
    }

    /// The drive's travel from this frame to the next, by the trapezoid rule: exact for a steady trend.
    fn next(&mut self) -> f64 {
        let before = self.speed;
        self.frame += 1;
        self.speed = self.as_found + self.trimmer.step() + self.trend();
        0.5 * (before + self.speed) * self.dt_s
    }

    fn trend(&self) -> f64 {
        let most = MOST_TREND_PERCENT / 100.0;
        (self.trend_per_frame * self.frame as f64).clamp(-most, most)
    }
}
