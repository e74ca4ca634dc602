//! What the technician should know besides the numbers, in sentences.

use super::{MeterSetup, meter_bank::Parts, meter_bank::USUAL_SPEED_TONES_HZ};
use crate::readings::{Notice, NoticeCode, SourceReading, TapeQuestion, Validity};

/// A tone this near (percent) to another usual one, and further than that from the expected one, raises the question.
const NEAR_PERCENT: f64 = 2.0;
/// From here (percent; what DIN 45500 lets a deck be off at most) the tape may be the other one...
const FAR_PERCENT: f64 = 1.5;
/// ...if its tone is within this, percent.
const IN_REACH_PERCENT: f64 = 4.0;
/// At low tones no azimuth error turns the phase this far, degrees: it is polarity.
const POLARITY_DEGREES: f64 = 150.0;
const POLARITY_BELOW_HZ: f64 = 450.0;

/// What the bank knows beside the readings.
pub(super) struct Facts<'a> {
    pub(super) setup: &'a MeterSetup,
    pub(super) channels: usize,
    pub(super) alive: [bool; 2],
    pub(super) nominal_hz: Option<f64>,
    pub(super) sections: u32,
    pub(super) times_moved: u32,
    pub(super) bad_samples: u64,
    /// Channel that clips most and the share of time it does.
    pub(super) clipped: Option<(usize, f64)>,
    pub(super) dead: bool,
    pub(super) inverted: bool,
}

/// The notices that only the source can cause.
pub(super) fn of_source(source: &SourceReading) -> Vec<Notice> {
    let mut notices = Vec::new();
    if source.lost_frames > 0 || source.gaps > 0 {
        let lost = if source.lost_frames > 0 {
            format!("{} frames lost", source.lost_frames)
        } else {
            "frames lost, the device does not say how many".to_owned()
        };
        notices.push(Notice::new(
            NoticeCode::LostSamples,
            format!(
                "{lost} in {} gaps; what they touch is left out",
                source.gaps.max(1)
            ),
        ));
    }
    notices
}

/// All others.
pub(super) fn compose(parts: &Parts, facts: &Facts<'_>) -> Vec<Notice> {
    let mut notices = Vec::new();
    let mut say = |code, message: String| notices.push(Notice::new(code, message));
    signal_notices(parts, facts, &mut say);
    tone_notices(parts, facts, &mut say);
    phase_notices(parts, facts, &mut say);
    interface_notices(parts, facts, &mut say);
    notices
}

const SIDES: [&str; 2] = ["left", "right"];

fn signal_notices(parts: &Parts, facts: &Facts<'_>, say: &mut impl FnMut(NoticeCode, String)) {
    if let Some((channel, share)) = facts.clipped {
        let side = if facts.channels > 1 {
            SIDES[channel.min(1)]
        } else {
            "only"
        };
        say(
            NoticeCode::Clipping,
            format!(
                "clipping: the {side} channel is at its limit {:.0} % of the time; turn the level down",
                (100.0 * share).max(1.0)
            ),
        );
    }
    if facts.bad_samples > 0 {
        say(
            NoticeCode::BadSamples,
            format!(
                "{} samples were no numbers and were taken as silence",
                facts.bad_samples
            ),
        );
    }
    if facts.dead {
        say(
            NoticeCode::DigitalSilence,
            "exact zeros for seconds: check the input chosen, its mute and the system's permission to record".into(),
        );
    }
    if facts.channels < 2 {
        say(
            NoticeCode::OneChannel,
            "one channel only: no phase, azimuth or balance".into(),
        );
    } else if parts.tone.status.is_ok() && facts.alive[0] != facts.alive[1] {
        let missing = if facts.alive[0] { SIDES[1] } else { SIDES[0] };
        say(
            NoticeCode::OneChannel,
            format!("no tone on the {missing} channel; readings are of the other"),
        );
    }
    if parts.level.dropouts > 0 {
        let (depth, length) = (
            parts.level.deepest_dropout_db.unwrap_or(0.0),
            parts.level.longest_dropout_ms.unwrap_or(0.0),
        );
        say(
            NoticeCode::Dropouts,
            format!(
                "{} dropouts; deepest {depth:.0} dB, longest {length:.0} ms",
                parts.level.dropouts
            ),
        );
    }
}

fn tone_notices(parts: &Parts, facts: &Facts<'_>, say: &mut impl FnMut(NoticeCode, String)) {
    if facts.sections > 1 {
        say(
            NoticeCode::ToneChanged,
            match facts.sections - 1 {
                1 => "the tone changed once; the readings are of one stretch".to_owned(),
                times => format!("the tone changed {times} times; the readings are of one stretch"),
            },
        );
    }
    if facts.times_moved > 0 {
        say(
            NoticeCode::SpeedMoved,
            "the speed was moved; its averages began anew".into(),
        );
    }
    let Some(nominal_hz) = facts.nominal_hz.filter(|_| parts.speed.status.is_ok()) else {
        return;
    };
    if facts.setup.tone_hz.is_none() {
        say(
            NoticeCode::ToneAssumed,
            format!("no tape chosen: the tone is taken to be {nominal_hz:.0} Hz"),
        );
    }
    if let Some(question) = &parts.tape_question {
        say(
            NoticeCode::OtherStandardTone,
            format!(
                "{:.0} Hz: which tape is it? Read as {:.0} Hz the deck is {:+.2} %; \
                 with a {:.0} Hz tape it would be {:+.2} %",
                question.measured_hz,
                question.taken_hz,
                question.taken_deviation_percent,
                question.other_hz,
                question.other_deviation_percent
            ),
        );
    }
    if parts.flutter.status.is_ok() && parts.flutter.bands.scrape_rms_percent.is_none() {
        say(
            NoticeCode::RateLimits,
            "this tone and sample rate leave no room to read scrape flutter".into(),
        );
    }
}

/// The question which of the two usual tapes plays, with what the deck's deviation would be on either: asked where the
/// other tone is the nearer one, or where neither is near, so that a fast deck with one tape sounds like a slow one with
/// the other. Not asked again once it is answered.
pub(super) fn which_tape(
    parts: &Parts,
    setup: &MeterSetup,
    nominal_hz: Option<f64>,
) -> Option<TapeQuestion> {
    if setup.tape_is_certain || !parts.speed.status.is_ok() {
        return None;
    }
    let (measured_hz, nominal_hz) = (parts.speed.measured_hz?, nominal_hz?);
    let percent = |hz: f64| 100.0 * (measured_hz / hz - 1.0);
    let taken_hz = USUAL_SPEED_TONES_HZ
        .into_iter()
        .find(|&hz| (hz / nominal_hz - 1.0).abs() < 1e-6)?;
    let other_hz = USUAL_SPEED_TONES_HZ
        .into_iter()
        .find(|&hz| hz != taken_hz)?;
    let (off, other_off) = (percent(taken_hz).abs(), percent(other_hz).abs());
    let other_is_nearer = other_off < NEAR_PERCENT && other_off < off;
    let neither_is_near = off >= FAR_PERCENT && other_off < IN_REACH_PERCENT;
    (other_is_nearer || neither_is_near).then(|| TapeQuestion {
        measured_hz,
        taken_hz,
        taken_deviation_percent: percent(taken_hz),
        other_hz,
        other_deviation_percent: percent(other_hz),
    })
}

/// Says what was assumed for want of a measurement, where a reading depends on it.
fn interface_notices(parts: &Parts, facts: &Facts<'_>, say: &mut impl FnMut(NoticeCode, String)) {
    let setup = facts.setup;
    let mut assumed = Vec::new();
    if parts.speed.status.is_ok() && !setup.is_clock_measured() {
        assumed.push(format!("its clock ±{:.0} ppm", setup.clock_tolerance_ppm));
    }
    let inputs = &setup.inputs;
    if facts.channels > 1 && !inputs.measured {
        if parts.phase.status.is_ok() {
            assumed.push(format!(
                "its delay between the inputs ±{} µs",
                inputs.skew_tolerance_us
            ));
        }
        if parts.level.balance_db.is_some() {
            assumed.push(format!("its balance ±{} dB", inputs.gain_tolerance_db));
        }
    }
    if !assumed.is_empty() {
        say(
            NoticeCode::Uncorrected,
            format!(
                "uncorrected: the interface is not measured; {} assumed",
                assumed.join(", ")
            ),
        );
    }
}

fn phase_notices(parts: &Parts, facts: &Facts<'_>, say: &mut impl FnMut(NoticeCode, String)) {
    let phase = &parts.phase;
    if phase.ambiguous {
        say(
            NoticeCode::PhaseAmbiguous,
            format!(
                "fine only: whole cycles of {:.0} µs are open; play a lower tone or programme, or turn the screw well through the loudest place",
                phase.tone_hz.map_or(0.0, |hz| 1e6 / hz)
            ),
        );
    }
    let low_tone = phase.tone_hz.is_some_and(|hz| hz < POLARITY_BELOW_HZ)
        && phase
            .degrees
            .is_some_and(|degrees| degrees.abs() > POLARITY_DEGREES);
    if phase.status == Validity::Ok && (facts.inverted || low_tone) {
        say(
            NoticeCode::OppositePolarity,
            "the channels are in opposite polarity: a lead or a head winding is reversed".into(),
        );
    }
}
