//! A run before it is drawn: scales that fit it, lines that break where nothing is known, typed temperatures, and the
//! sign in the status strip.

use super::format;
use crate::run_in::{Kept, Phase, Step};

/// The least height of the scale of speed or flutter, percent.
const LEAST_SPAN_PERCENT: f64 = 0.02;
/// Steps farther apart than this many of their lengths have something between them that is not known.
const APART: f64 = 2.5;
/// Temperatures that a workshop has, °C; others are typing errors.
const CELSIUS: std::ops::RangeInclusive<f64> = -20.0..=80.0;

/// A scale: its ends, and where its numbers stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// From one number to the next.
    pub step: f64,
    /// Decimals of the numbers.
    pub decimals: usize,
}

impl Scale {
    /// One that holds all the values, with some `ticks` numbers; `None` without a value.
    pub fn holding(values: impl Iterator<Item = f64>, ticks: usize) -> Option<Self> {
        let (low, high) = values.filter(|value| value.is_finite()).fold(
            None,
            |ends: Option<(f64, f64)>, value| {
                let (low, high) = ends.unwrap_or((value, value));
                Some((low.min(value), high.max(value)))
            },
        )?;
        let span = (high - low).max(LEAST_SPAN_PERCENT);
        let step = round_step(span / ticks.max(1) as f64);
        let decimals = (-step.log10().floor()).clamp(0.0, 6.0) as usize;
        let middle = f64::midpoint(low, high);
        let low = ((middle - span / 2.0) / step + 1e-9).floor() * step;
        let high = ((middle + span / 2.0) / step - 1e-9).ceil() * step;
        Some(Self {
            low,
            high,
            step,
            decimals,
        })
    }

    /// The numbers on it.
    pub fn ticks(self) -> impl Iterator<Item = f64> {
        let count = ((self.high - self.low) / self.step).round() as u32;
        (0..=count).map(move |i| self.low + f64::from(i) * self.step)
    }
}

/// The next of 1, 2, 5, 10 … that is no less.
fn round_step(least: f64) -> f64 {
    let decade = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0]
        .into_iter()
        .map(|times| times * decade)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade)
}

/// Seconds from one time on the axis to the next, for a run of that length with some `ticks` of them.
pub fn time_step_s(seconds: f64, ticks: usize) -> f64 {
    const STEPS_S: [f64; 17] = [
        10.0,
        30.0,
        60.0,
        120.0,
        300.0,
        600.0,
        900.0,
        1800.0,
        3600.0,
        7200.0,
        14_400.0,
        21_600.0,
        43_200.0,
        86_400.0,
        172_800.0,
        604_800.0,
        2_419_200.0,
    ];
    let least_s = seconds / ticks.max(1) as f64;
    STEPS_S
        .into_iter()
        .find(|step_s| *step_s >= least_s)
        .unwrap_or(least_s)
}

/// The curve of one quantity as (seconds, value), in pieces: a line would say something about a time between two
/// passes, or one in which nothing was heard.
pub fn pieces(steps: &[Step], step_s: f64, get: fn(&Step) -> Option<f64>) -> Vec<Vec<(f64, f64)>> {
    let read: Vec<&Step> = steps.iter().filter(|step| get(step).is_some()).collect();
    read.chunk_by(|one, next| one.stretch == next.stretch && next.at_s - one.at_s <= APART * step_s)
        .map(|piece| {
            let points = piece
                .iter()
                .filter_map(|step| Some((step.at_s, get(step)?)));
            points.collect()
        })
        .collect()
}

/// A typed temperature, °C.
///
/// # Errors
/// In words, when it is none.
pub fn celsius(typed: &str) -> Result<f64, String> {
    let text = typed.trim().trim_end_matches(['C', 'c']).trim_end();
    let text = text.trim_end_matches('°').trim_end();
    let text = text.replace(',', ".").replace('−', "-");
    let value: f64 = text
        .parse()
        .map_err(|_| format!("'{}' is no temperature in °C", typed.trim()))?;
    if CELSIUS.contains(&value) {
        Ok(value)
    } else {
        Err(format!(
            "{} °C is outside {} to {} °C; type the temperature at the deck",
            format::plain(value, 1),
            format::plain(*CELSIUS.start(), 0),
            format::plain(*CELSIUS.end(), 0)
        ))
    }
}

/// The sign in the status strip and whether it warns.
pub fn sign(kept: &Kept, brief: bool) -> (String, bool) {
    let elapsed = format::duration(kept.elapsed_s());
    if kept.phase == Phase::Over {
        let ended = kept
            .evaluation
            .as_ref()
            .and_then(|shown| shown.ended.clone());
        let words = ended.map_or_else(
            || "over: nothing was kept".to_owned(),
            |why| format!("over after {elapsed}: {why}"),
        );
        return (words, kept.trouble.is_some());
    }
    if kept.trouble.is_some() {
        let words = if kept.phase == Phase::Refused {
            "NOT KEPT, tried again".to_owned()
        } else {
            format!("{elapsed}, NOT ON DISK, tried again")
        };
        return (words, true);
    }
    if kept.phase == Phase::Starting {
        return ("starting".into(), false);
    }
    let mut words = format!(
        "{elapsed}, {}",
        format::counted(kept.lines, "line", "lines")
    );
    if !brief && let Some(event) = kept.last_event() {
        words += &format!(
            ", last: {} at {}",
            event.kind.name(),
            format::duration(event.at_s)
        );
    }
    (words, false)
}

/// The words of an evaluation with the minus sign of the screen.
pub fn with_minus(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    let mut before = ' ';
    let mut letters = words.chars().peekable();
    while let Some(letter) = letters.next() {
        let is_sign = letter == '-'
            && !before.is_alphanumeric()
            && letters.peek().is_some_and(char::is_ascii_digit);
        text.push(if is_sign { '−' } else { letter });
        before = letter;
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_holds_its_values_in_round_steps() {
        for (low, high) in [(0.0, 0.0), (-0.31, 0.42), (1.804, 1.806), (-12.0, 3.0)] {
            let scale = Scale::holding([low, f64::NAN, high].into_iter(), 5).expect("values");
            assert!(
                scale.low <= low + 1e-9 && high <= scale.high + 1e-9,
                "{scale:?}"
            );
            let ticks: Vec<f64> = scale.ticks().collect();
            assert!((3..=9).contains(&ticks.len()), "{scale:?}: {ticks:?}");
            for tick in ticks {
                let shown = format!("{tick:.*}", scale.decimals);
                let off = shown.parse::<f64>().expect("a number") - tick;
                assert!(off.abs() < 1e-9, "{shown} for {tick}");
            }
        }
        let from_zero = Scale::holding([0.0, 0.15].into_iter(), 3).expect("values");
        assert!(
            from_zero.low.abs() < 1e-12 && from_zero.high < 0.16,
            "{from_zero:?}"
        );
        assert_eq!(Scale::holding(std::iter::empty(), 5), None);
        assert_eq!(Scale::holding([f64::NAN].into_iter(), 5), None);
    }

    #[test]
    fn time_has_steps_that_a_clock_has() {
        assert_eq!(time_step_s(4.0 * 3600.0, 8), 1800.0);
        assert_eq!(time_step_s(20.0, 8), 10.0);
        assert_eq!(time_step_s(30.0 * 86_400.0, 8), 604_800.0);
    }

    #[test]
    fn a_curve_breaks_at_a_gap_and_where_nothing_was_read() {
        let step = |at_s: f64, stretch, speed: Option<f64>| {
            let mut step = Step {
                at_s,
                stretch,
                ..Step::default()
            };
            step.speed_percent.push(speed);
            step
        };
        let steps = [
            step(30.0, 0, Some(0.1)),
            step(90.0, 0, Some(0.2)),
            step(150.0, 1, Some(0.3)),
            step(210.0, 1, None),
            step(270.0, 1, Some(0.4)),
            step(900.0, 1, Some(0.5)),
        ];
        let pieces = pieces(&steps, 60.0, |step| step.speed_percent.value());
        assert_eq!(
            pieces,
            [
                vec![(30.0, 0.1), (90.0, 0.2)],
                vec![(150.0, 0.3), (270.0, 0.4)],
                vec![(900.0, 0.5)]
            ]
        );
    }

    #[test]
    fn a_temperature_is_taken_as_people_write_it_and_an_error_is_told() {
        for typed in ["23.5", " 23,5 ", "23.5 °C", "23,5°c", "23.5C"] {
            assert_eq!(celsius(typed), Ok(23.5), "{typed}");
        }
        assert_eq!(celsius("−3"), Ok(-3.0));
        for typed in ["", "warm", "235", "nan", "inf", "1e9", "20 21"] {
            assert!(celsius(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn a_minus_is_a_sign_only_before_a_number() {
        assert_eq!(
            with_minus("speed, -0.5 % (-3 dB), two-sigma, 2026-11-26"),
            "speed, −0.5 % (−3 dB), two-sigma, 2026-11-26"
        );
    }
}
