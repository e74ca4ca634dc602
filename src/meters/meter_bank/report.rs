//! What the bank makes of its meters' states: which of them have a reading, and if not, why not.

use super::MeterBank;
use crate::{
    meters::{
        notices::{self, Facts},
        speed,
    },
    readings::{
        FlutterReading, LevelReading, MechanismReading, NeedleReading, Notice, PhaseMethod,
        PhaseReading, Readings, SourceReading, SpeedReading, TapeQuestion, ToneReading, Validity,
        XyFigure,
    },
};
use std::sync::Arc;

/// A take needs this share of its signal, and this long, followed as a tone, to have a reading from it.
const LEAST_COVERAGE: f64 = 0.2;
pub(super) const LEAST_TAKE_S: f64 = 1.0;

/// What the meters say; the readings but for their source.
#[derive(Clone, Debug)]
pub(in crate::meters) struct Parts {
    pub(in crate::meters) tone: ToneReading,
    pub(in crate::meters) speed: SpeedReading,
    pub(in crate::meters) flutter: FlutterReading,
    pub(in crate::meters) level: LevelReading,
    pub(in crate::meters) phase: PhaseReading,
    pub(in crate::meters) mechanism: Option<Arc<MechanismReading>>,
    pub(in crate::meters) tape_question: Option<TapeQuestion>,
    pub(in crate::meters) notices: Vec<Notice>,
}

impl Parts {
    pub(super) fn into_readings(self, source: SourceReading) -> Readings {
        let mut notices = notices::of_source(&source);
        notices.extend(self.notices);
        Readings {
            tone: self.tone,
            speed: self.speed,
            flutter: self.flutter,
            level: self.level,
            phase: self.phase,
            mechanism: self.mechanism,
            tape_question: self.tape_question,
            notices,
            ..Readings::empty(source)
        }
    }

    /// Of two sections the one with a speed reading counts, then the longer.
    pub(super) fn is_better_than(&self, other: &Self) -> bool {
        let merit = |parts: &Self| (parts.speed.status.is_ok(), parts.speed.averaged_seconds);
        merit(self) > merit(other)
    }
}

impl MeterBank {
    /// Everything the meters say, `over` the whole take or now.
    pub(super) fn compose(&mut self, over: bool) -> Parts {
        let verdict = self.verdict(over);
        let clipped = (0..self.channels).any(|channel| self.level.is_clipped(channel, over));
        let followed = if verdict.is_ok() && clipped {
            Validity::Clipped
        } else {
            verdict
        };
        let expected = self
            .section
            .is_some_and(|section| section.nominal_hz.is_some());
        let of_the_expected = if followed.is_ok() && !expected {
            Validity::NotTheExpectedTone
        } else {
            followed
        };
        let alive = [0, 1].map(|channel| self.lock.is_alive(channel));
        let speed_status = self.speed_status(of_the_expected, over);
        let flutter_status = self.flutter_status(of_the_expected, over);
        let level_status = self.level_status(clipped, over);
        let (phase, inverted) = self.phase_reading(followed, verdict, over);
        let mut parts = Parts {
            tone: self
                .tone
                .reading(followed, alive, self.setup.clock_factor()),
            speed: self.speed.reading(speed_status, self.tolerance_percent()),
            flutter: self.flutter.reading(flutter_status),
            level: self.level.reading(
                level_status,
                verdict.is_ok(),
                &self.setup,
                self.expected_tone().as_ref(),
            ),
            phase,
            mechanism: None,
            tape_question: None,
            notices: Vec::new(),
        };
        if over {
            // There is no 'now' in a take that is over.
            parts.speed.needle = NeedleReading::default();
            parts.speed.last_turn = self.speed.turn_unread();
        }
        self.add_analysis(&mut parts);
        let nominal_hz = self.section.and_then(|section| section.nominal_hz);
        parts.tape_question = notices::which_tape(&parts, &self.setup, nominal_hz);
        parts.notices = notices::compose(
            &parts,
            &Facts {
                setup: &self.setup,
                channels: self.channels,
                alive,
                nominal_hz,
                sections: self.sections,
                times_moved: self.times_moved,
                bad_samples: self.bad_samples,
                clipped: self.level.clipped_share(),
                dead: self.level.is_dead(),
                inverted,
            },
        );
        parts
    }

    /// What clock and tape add to the speed's uncertainty, percent.
    fn tolerance_percent(&self) -> f64 {
        let tape = self
            .expected_tone()
            .and_then(|tone| tone.frequency_tolerance_percent);
        (1e-4 * self.setup.clock_tolerance_ppm).hypot(tape.unwrap_or(0.0))
    }

    /// Adds what the slow searches found, where it is of this stretch.
    fn add_analysis(&self, parts: &mut Parts) {
        let analysis = &self.analysis;
        if analysis.generation != self.motion.generation() {
            return;
        }
        if parts.flutter.status.is_ok() {
            parts.flutter.components.clone_from(&analysis.components);
            parts.flutter.resolution_hz = analysis.resolution_hz();
            parts.mechanism.clone_from(&analysis.mechanism);
        }
        if parts.phase.status.is_ok() && parts.phase.method == Some(PhaseMethod::Tone) {
            parts.phase.wander_rate_hz = analysis.wander_rate_hz;
        }
    }

    /// Whether the tone is followed: now or, where the take is `over`, through enough of it.
    fn verdict(&self, over: bool) -> Validity {
        let now = self.lock.status();
        if !over {
            return now;
        }
        let followed_s = self.speed.averages().seconds;
        let signal_s = self.signal_blocks as f64 / self.lock.blocks_per_s();
        let taken_s = self.blocks as f64 / self.lock.blocks_per_s();
        if followed_s >= LEAST_TAKE_S && followed_s >= LEAST_COVERAGE * signal_s {
            return Validity::Ok;
        }
        match now {
            Validity::Ok | Validity::Settling | Validity::Waiting | Validity::Dropout
                if taken_s < 2.0 * LEAST_TAKE_S =>
            {
                Validity::TooShort
            }
            Validity::Ok | Validity::Settling | Validity::Dropout => Validity::Unsteady,
            Validity::NoSignal if signal_s > LEAST_TAKE_S => Validity::NoTone,
            other => other,
        }
    }

    fn speed_status(&self, tone: Validity, over: bool) -> Validity {
        if tone.is_ok() && !over && self.speed.averages().seconds < speed::LEAST_S {
            return Validity::Settling;
        }
        if tone.is_ok() && over && !self.speed.is_steady() {
            return Validity::Unsteady;
        }
        tone
    }

    fn flutter_status(&self, tone: Validity, over: bool) -> Validity {
        match (tone.is_ok() && !self.flutter.is_settled(), over) {
            (true, true) => Validity::TooShort,
            (true, false) => Validity::Settling,
            _ => tone,
        }
    }

    fn level_status(&self, clipped: bool, over: bool) -> Validity {
        if self.blocks == 0 {
            if over {
                Validity::TooShort
            } else {
                Validity::Waiting
            }
        } else if self.level.is_silent(over) {
            Validity::NoSignal
        } else if clipped {
            Validity::Clipped
        } else {
            Validity::Ok
        }
    }

    /// The X–Y figure of the moment, where somebody looks at it.
    fn figure(&self, tone_hz: Option<f64>, over: bool) -> Option<XyFigure> {
        (self.setup.xy_shown && !over)
            .then(|| self.xy.figure(tone_hz))
            .flatten()
    }

    /// Phase from the tone where one is followed (or was, through the take), otherwise from programme; and whether
    /// the channels are in opposite polarity.
    fn phase_reading(
        &mut self,
        followed: Validity,
        verdict: Validity,
        over: bool,
    ) -> (PhaseReading, bool) {
        if self.channels < 2 {
            return (PhaseReading::unread(Validity::OneChannel), false);
        }
        if let (true, Some(section)) = (verdict.is_ok(), self.section) {
            let one_sided = self.phase.is_one_sided();
            let status = match followed {
                Validity::Ok if !self.phase.is_ready() => Validity::Settling,
                Validity::Ok if one_sided => Validity::OneChannel,
                other => other,
            };
            let tone_hz = self.speed.averages().measured_hz.unwrap_or(section.tone_hz);
            let reference = self.phase_reference();
            let format = &self.setup.tape_format;
            let mut reading = self
                .phase
                .reading(status, tone_hz, format, &reference, over);
            if reading.status.is_ok() {
                let point = self.phase.point(tone_hz);
                reading.line =
                    point.and_then(|point| self.phase_line.of_tones(point, format, &reference));
                reading.figure = self.figure(Some(tone_hz), over);
            }
            return (reading, false);
        }
        let in_between = matches!(
            verdict,
            Validity::NoSignal | Validity::Waiting | Validity::TooShort | Validity::Dropout
        );
        let reference = self.phase_reference();
        match (&mut self.programme, in_between) {
            (Some(programme), false) if !self.lock.is_following() || programme.seconds() > 0.0 => {
                let (mut reading, inverted) =
                    programme.reading(&self.setup.tape_format, &reference, over);
                let settling =
                    reading.status == Validity::Settling && verdict != Validity::Settling;
                if settling && !matches!(verdict, Validity::NoTone | Validity::Unsteady) {
                    return (PhaseReading::unread(verdict), false);
                }
                if reading.status.is_ok() {
                    reading.figure = self.figure(None, over);
                }
                (reading, inverted)
            }
            _ => (PhaseReading::unread(verdict), false),
        }
    }
}
