//! Both ends of the tape: speed, flutter and phase at the start, the middle and the end of a side.
//!
//! The packs on the reels change through a side, and with them the tensions: a supply brake of constant torque pulls
//! harder on a small pack. A good transport does not show it. Differences are held against their uncertainties, and
//! what they suggest is said with the figures.

use super::{history::Step, line::LoggedReading, tally::Tally};
use crate::readings::Readings;
use serde::{Deserialize, Serialize};

/// The longest stretch read at each place, seconds.
const LONGEST_STRETCH_S: f64 = 120.0;
/// A stretch is a fifth of the side, and a third of a short one.
const SHARE: f64 = 0.2;
const SHARE_OF_A_SHORT_ONE: f64 = 1.0 / 3.0;
/// Readings that a stretch must have, for a mean with an uncertainty.
const LEAST_READINGS: usize = 3;
/// Two-sigma values of 10 s that are taken each 5 s overlap by half.
const FLUTTER_WORTH: f64 = 0.5;
/// Expanded uncertainty (95 %) of one two-sigma value of 10 s, as a share of it. For random flutter in the weighting's
/// band, some 6 Hz, 10 s hold about 120 independent values; the 95 % point of so many normal ones scatters by
/// √(0.05·0.95/120) / (2·0.0584·1.96) = 8.7 %.
const ONE_FLUTTER_READING: f64 = 0.17;

/// Where on the tape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The supply reel is full.
    Start,
    /// Both packs are alike.
    Middle,
    /// The take-up reel is full.
    End,
}

/// A value and its expanded uncertainty (95 %): scatter only, as clock and test tape are the same at all places.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The value.
    pub value: f64,
    /// Half the width of its 95 % interval.
    pub uncertainty: f64,
}

/// The readings of one place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct EndReading {
    /// The stretch they are of, seconds since the start of the take or run; `None` for single readings.
    pub from_s: Option<f64>,
    /// Its end.
    pub to_s: Option<f64>,
    /// Speed deviation, percent.
    pub speed_percent: Option<Measured>,
    /// Weighted flutter, two-sigma, percent.
    pub weighted_two_sigma_percent: Option<Measured>,
    /// Delay of the right channel, µs.
    pub delay_us: Option<Measured>,
    /// The azimuth of it, arc minutes.
    pub azimuth_arcmin: Option<Measured>,
    /// Where whole cycles of the tone are open, the length of one, µs.
    #[serde(default)]
    pub cycle_us: Option<f64>,
}

impl Place {
    /// All, in the order of the tape.
    pub const ALL: [Self; 3] = [Self::Start, Self::Middle, Self::End];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// From where on a difference is worth a look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndsLimits {
    /// Speed, percent.
    pub speed_percent: f64,
    /// Weighted flutter, two-sigma, percent.
    pub weighted_two_sigma_percent: f64,
    /// Azimuth, arc minutes.
    pub azimuth_arcmin: f64,
}

impl Default for EndsLimits {
    /// Common practice, no source: 0.2 % of speed, 0.03 % of flutter, one arc minute.
    fn default() -> Self {
        Self {
            speed_percent: 0.2,
            weighted_two_sigma_percent: 0.03,
            azimuth_arcmin: 1.0,
        }
    }
}

/// What is compared between the places.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Compared {
    /// Speed deviation, percent.
    Speed,
    /// Weighted flutter, two-sigma, percent.
    Flutter,
    /// Azimuth, arc minutes.
    Azimuth,
}

/// How much a difference says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Significance {
    /// Within its uncertainty.
    NotShown,
    /// Beyond its uncertainty, but within what is usual.
    Small,
    /// Beyond its uncertainty and beyond the limit.
    WorthALook,
}

/// A difference between places.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// Of what.
    pub of: Compared,
    /// End minus start, or middle minus the mean of both.
    pub middle: bool,
    /// The difference, in the unit of what is compared.
    pub value: f64,
    /// Its expanded uncertainty (95 %).
    pub uncertainty: f64,
    /// The limit it is held against (common practice, no source).
    pub limit: f64,
    /// How much it says.
    pub significance: Significance,
    /// In words, with the figures and what they suggest.
    pub words: String,
}

/// The table of the three places and the differences between them.
#[derive(Clone, Debug, Serialize)]
pub struct Ends {
    /// Start, middle and end.
    pub places: [(Place, EndReading); 3],
    /// The differences, of those readings that are there at all places.
    pub differences: Vec<Difference>,
    /// Where the limits come from.
    pub limits_source: &'static str,
}

impl Ends {
    /// Compares the readings of start, middle and end.
    pub fn new(readings: [EndReading; 3], limits: &EndsLimits) -> Self {
        let [start, middle, end] = readings;
        let mut differences = Vec::new();
        for of in [Compared::Speed, Compared::Flutter, Compared::Azimuth] {
            let all = [start, middle, end].map(|reading| of.get(&reading));
            let [Some(start), middle, Some(end)] = all else {
                continue;
            };
            differences.push(difference(of, false, end, start, limits));
            if let Some(middle) = middle {
                let mean = Measured {
                    value: f64::midpoint(start.value, end.value),
                    uncertainty: start.uncertainty.hypot(end.uncertainty) / 2.0,
                };
                differences.push(difference(of, true, middle, mean, limits));
            }
        }
        Self {
            places: [
                (Place::Start, start),
                (Place::Middle, middle),
                (Place::End, end),
            ],
            differences,
            limits_source: "common practice, no source",
        }
    }

    /// Finds the places in the readings of a take or a log, one each few seconds, oldest first. `None` where the take
    /// is too short for three stretches (forty-five seconds of readings each five).
    pub fn of_logged(readings: &[LoggedReading], limits: &EndsLimits) -> Option<Self> {
        let mut readings: Vec<LoggedReading> = readings
            .iter()
            .filter(|reading| reading.speed_percent.is_some() || reading.delay_us.is_some())
            .cloned()
            .collect();
        let mut near_us = None;
        for reading in &mut readings {
            if let Some(near_us) = near_us {
                reading.move_delay_near(near_us);
            }
            near_us = reading.delay_us.or(near_us);
        }
        let (first, last) = (readings.first()?, readings.last()?);
        let span = (first.at_s - first.seconds, last.at_s);
        let stretches = stretches(
            span,
            &readings.iter().map(|one| one.at_s).collect::<Vec<_>>(),
        )?;
        Some(Self::new(
            stretches.map(|within| of_readings(&readings, within)),
            limits,
        ))
    }

    /// Finds the places in one pass of a run, given in its steps. `None` where it is too short.
    pub(super) fn of_steps(steps: &[Step], limits: &EndsLimits) -> Option<Self> {
        let (first, last) = (steps.first()?, steps.last()?);
        let span = (
            first.at_s - first.seconds / 2.0,
            last.at_s + last.seconds / 2.0,
        );
        let stretches = stretches(span, &steps.iter().map(|one| one.at_s).collect::<Vec<_>>())?;
        Some(Self::new(
            stretches.map(|within| of_steps(steps, within)),
            limits,
        ))
    }
}

/// Compares three readings that the technician took at the start, the middle and the end of a side.
pub fn ends_of_readings(taken: [&Readings; 3], limits: &EndsLimits) -> Ends {
    Ends::new(on_one_side(taken.map(EndReading::of_snapshot)), limits)
}

/// Where whole cycles are open, puts all delays next to the first one that is there.
pub(super) fn on_one_side(mut readings: [EndReading; 3]) -> [EndReading; 3] {
    let first = readings.iter().find_map(|reading| reading.delay_us);
    if let Some(first) = first {
        for reading in &mut readings {
            reading.move_delay_near(first.value);
        }
    }
    readings
}

/// First, middle and last stretch of a span, each with enough values in it.
fn stretches((from_s, to_s): (f64, f64), times_s: &[f64]) -> Option<[(f64, f64); 3]> {
    [SHARE, SHARE_OF_A_SHORT_ONE].into_iter().find_map(|share| {
        let length_s = (share * (to_s - from_s)).min(LONGEST_STRETCH_S);
        let middle_s = f64::midpoint(from_s, to_s);
        let half_s = length_s / 2.0;
        let found = [
            (from_s, from_s + length_s),
            (middle_s - half_s, middle_s + half_s),
            (to_s - length_s, to_s),
        ];
        let enough = |&(from_s, to_s): &(f64, f64)| {
            let within = times_s
                .iter()
                .filter(|at_s| (from_s..=to_s).contains(*at_s));
            within.count() >= LEAST_READINGS
        };
        found.iter().all(enough).then_some(found)
    })
}

fn of_readings(readings: &[LoggedReading], (from_s, to_s): (f64, f64)) -> EndReading {
    let within = || {
        readings
            .iter()
            .filter(|reading| (from_s..=to_s).contains(&reading.at_s))
    };
    let tally = |get: fn(&LoggedReading) -> Option<f64>| {
        let mut tally = Tally::default();
        within().for_each(|reading| tally.push(get(reading)));
        tally
    };
    EndReading {
        from_s: Some(from_s),
        to_s: Some(to_s),
        speed_percent: measured(&tally(|one| one.speed_percent), 1.0),
        weighted_two_sigma_percent: measured(
            &tally(|one| one.weighted_two_sigma_percent),
            FLUTTER_WORTH,
        ),
        delay_us: measured(&tally(|one| one.delay_us), 1.0),
        azimuth_arcmin: measured(&tally(|one| one.azimuth_arcmin), 1.0),
        cycle_us: None,
    }
}

fn of_steps(steps: &[Step], (from_s, to_s): (f64, f64)) -> EndReading {
    let mut within = steps
        .iter()
        .filter(|step| (from_s..=to_s).contains(&step.at_s));
    let Some(first) = within.next() else {
        return EndReading::default();
    };
    let mut whole = *first;
    within.for_each(|step| whole.join(step));
    EndReading {
        from_s: Some(from_s),
        to_s: Some(to_s),
        speed_percent: measured(&whole.speed_percent, 1.0),
        weighted_two_sigma_percent: measured(&whole.weighted_two_sigma_percent, FLUTTER_WORTH),
        delay_us: measured(&whole.delay_us, 1.0),
        azimuth_arcmin: measured(&whole.azimuth_arcmin, 1.0),
        cycle_us: None,
    }
}

/// The mean, of values of which each is worth so many independent ones.
fn measured(tally: &Tally, worth: f64) -> Option<Measured> {
    tally
        .mean_with_uncertainty(worth)
        .map(|(value, uncertainty)| Measured { value, uncertainty })
}

impl EndReading {
    /// Of one snapshot: the means of the last ten seconds where they are there, else those since the averages began.
    pub fn of_snapshot(readings: &Readings) -> Self {
        let finite = |value: Option<f64>, uncertainty: Option<f64>| {
            let (value, uncertainty) = (value?, uncertainty?);
            (value.is_finite() && uncertainty.is_finite())
                .then_some(Measured { value, uncertainty })
        };
        let (speed, phase) = (&readings.speed, &readings.phase);
        let two_sigma = readings.flutter.weighted.recent_two_sigma_percent;
        let azimuth_uncertainty = phase
            .delay_uncertainty_us
            .zip(phase.azimuth_arcmin.zip(phase.delay_us))
            .and_then(|(uncertainty_us, (arcmin, us))| {
                (us != 0.0).then(|| (uncertainty_us * arcmin / us).abs())
            });
        Self {
            from_s: None,
            to_s: None,
            speed_percent: finite(speed.long.deviation_percent, speed.long.uncertainty_percent)
                .or_else(|| finite(speed.deviation_percent, speed.uncertainty_percent)),
            weighted_two_sigma_percent: finite(
                two_sigma,
                two_sigma.map(|percent| ONE_FLUTTER_READING * percent),
            ),
            delay_us: finite(phase.delay_us, phase.delay_uncertainty_us),
            azimuth_arcmin: finite(phase.azimuth_arcmin, azimuth_uncertainty),
            cycle_us: phase
                .tone_hz
                .filter(|hz| phase.ambiguous && *hz > 0.0)
                .map(|hz| 1e6 / hz),
        }
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.speed_percent.is_none()
            && self.weighted_two_sigma_percent.is_none()
            && self.delay_us.is_none()
            && self.azimuth_arcmin.is_none()
    }

    /// Where whole cycles are open, moves the delay by as many as bring it nearest to `near_us`, and the azimuth with
    /// it: at the angles of a head they are proportional.
    pub fn move_delay_near(&mut self, near_us: f64) {
        let (Some(delay), Some(cycle_us)) = (self.delay_us, self.cycle_us) else {
            return;
        };
        let cycles = ((near_us - delay.value) / cycle_us).round();
        if cycles == 0.0 || !cycles.is_finite() || delay.value == 0.0 {
            return;
        }
        let moved_us = delay.value + cycles * cycle_us;
        if let Some(azimuth) = &mut self.azimuth_arcmin {
            azimuth.value *= moved_us / delay.value;
        }
        self.delay_us = Some(Measured {
            value: moved_us,
            ..delay
        });
    }
}

impl Compared {
    fn get(self, reading: &EndReading) -> Option<Measured> {
        match self {
            Self::Speed => reading.speed_percent,
            Self::Flutter => reading.weighted_two_sigma_percent,
            Self::Azimuth => reading.azimuth_arcmin,
        }
    }

    fn limit(self, limits: &EndsLimits) -> f64 {
        match self {
            Self::Speed => limits.speed_percent,
            Self::Flutter => limits.weighted_two_sigma_percent,
            Self::Azimuth => limits.azimuth_arcmin,
        }
    }

    /// The name, the unit and the decimals it is written with.
    const fn words(self) -> (&'static str, &'static str, usize) {
        match self {
            Self::Speed => ("speed", "%", 3),
            Self::Flutter => ("weighted flutter", "%", 3),
            Self::Azimuth => ("azimuth", "arc minutes", 2),
        }
    }

    /// What a difference suggests. The middle against the ends: `middle`.
    const fn suggests(self, middle: bool, positive: bool) -> &'static str {
        match (self, middle, positive) {
            (Self::Speed, false, false) => {
                "back tension that grows as the supply pack shrinks, or slip at the capstan: check the supply brake, \
                 the pinch roller's pressure and surface, and the take-up torque"
            }
            (Self::Speed, false, true) => {
                "drag of the full supply pack at the start, or a deck that was still warming up: warm it up, repeat, \
                 and check the supply reel's friction"
            }
            (Self::Flutter, false, true) => {
                "the take-up side, whose pack is full there, or the supply's pull on a small pack: check take-up \
                 clutch and reel table"
            }
            (Self::Flutter, false, false) => {
                "the supply side, whose pack is full there: check the supply reel table, its brake and the cassette"
            }
            (Self::Azimuth, false, _) => {
                "tape that runs at another height or angle as the tensions change: check guides and both tensions"
            }
            (_, true, _) => {
                "something that acts in the middle of the tape and not at its ends: check that the readings are of one \
                 pass, and repeat them"
            }
        }
    }
}

fn difference(
    of: Compared,
    middle: bool,
    one: Measured,
    other: Measured,
    limits: &EndsLimits,
) -> Difference {
    let value = one.value - other.value;
    let uncertainty = one.uncertainty.hypot(other.uncertainty);
    let limit = of.limit(limits);
    let significance = if value.abs() <= uncertainty {
        Significance::NotShown
    } else if value.abs() <= limit {
        Significance::Small
    } else {
        Significance::WorthALook
    };
    let (name, unit, decimals) = of.words();
    let places = if middle {
        "middle against the ends"
    } else {
        "end against start"
    };
    let figures = format!("{name}, {places}: {value:+.decimals$} ±{uncertainty:.decimals$} {unit}");
    let words = match significance {
        Significance::NotShown => format!("{figures}: no difference shown"),
        Significance::Small => {
            format!("{figures}: a difference, but a small one (up to {limit} {unit})")
        }
        Significance::WorthALook => format!(
            "{figures}: more than {limit} {unit}; suggests {}",
            of.suggests(middle, value > 0.0)
        ),
    };
    Difference {
        of,
        middle,
        value,
        uncertainty,
        limit,
        significance,
        words,
    }
}

#[cfg(test)]
mod tests {
    use super::{super::example::snapshot, *};
    use rand::{RngExt as _, SeedableRng as _};
    use rand_distr::StandardNormal;

    /// Readings of a side, each five seconds, its values as functions of the share of the side that is over.
    fn side(
        minutes: u32,
        seed: u64,
        speed: impl Fn(f64) -> f64,
        azimuth: impl Fn(f64) -> f64,
    ) -> Vec<LoggedReading> {
        let mut chance = rand_pcg::Pcg64Mcg::seed_from_u64(seed);
        let count = 12 * minutes;
        (1..=count)
            .map(|index| {
                let share = f64::from(index) / f64::from(count);
                let mut scatter = |by: f64| by * chance.sample::<f64, _>(StandardNormal);
                let azimuth_arcmin = azimuth(share) + scatter(0.05);
                LoggedReading {
                    at_s: 5.0 * f64::from(index),
                    seconds: 5.0,
                    speed_percent: Some(speed(share) + scatter(0.02)),
                    weighted_two_sigma_percent: Some(0.08 + scatter(0.004)),
                    delay_us: Some(azimuth_arcmin / 0.182),
                    azimuth_arcmin: Some(azimuth_arcmin),
                    ..LoggedReading::default()
                }
            })
            .collect()
    }

    fn found(ends: &Ends, of: Compared, middle: bool) -> &Difference {
        let mut differences = ends.differences.iter();
        let found = differences.find(|one| one.of == of && one.middle == middle);
        found.expect("compared")
    }

    #[test]
    fn a_side_that_slows_down_is_told_with_its_figures_and_a_suggestion() {
        let side = side(30, 1, |share| 0.3 - 0.5 * share, |share| 1.0 + 2.0 * share);
        let ends = Ends::of_logged(&side, &EndsLimits::default()).expect("half an hour");
        let speed = found(&ends, Compared::Speed, false);
        // The stretches of two minutes lie 28 of 30 minutes apart.
        assert!((speed.value + 0.5 * 28.0 / 30.0).abs() < 0.02, "{speed:?}");
        assert_eq!(speed.significance, Significance::WorthALook);
        assert!(
            speed.words.contains("suggests") && speed.words.contains("-0.4"),
            "{}",
            speed.words
        );
        assert_eq!(
            found(&ends, Compared::Azimuth, false).significance,
            Significance::WorthALook
        );
        // A straight line has its middle in the middle.
        assert_eq!(
            found(&ends, Compared::Speed, true).significance,
            Significance::NotShown
        );
    }

    #[test]
    fn an_even_side_shows_no_difference_as_often_as_it_should() {
        let shown = (0..200)
            .filter(|seed| {
                let side = side(20, *seed, |_| 0.1, |_| 1.0);
                let ends = Ends::of_logged(&side, &EndsLimits::default()).expect("20 minutes");
                found(&ends, Compared::Speed, false).significance != Significance::NotShown
            })
            .count();
        // 5 % of 200 are ten.
        assert!((1..=22).contains(&shown), "{shown} of 200");
    }

    #[test]
    fn a_small_difference_is_called_one() {
        let side = side(30, 3, |share| 0.1 * share, |_| 1.0);
        let ends = Ends::of_logged(&side, &EndsLimits::default()).expect("half an hour");
        let speed = found(&ends, Compared::Speed, false);
        assert_eq!(speed.significance, Significance::Small, "{speed:?}");
        assert!(!speed.words.contains("suggests"), "{}", speed.words);
    }

    #[test]
    fn a_short_take_is_read_in_thirds_and_a_shorter_one_not_at_all() {
        let long_enough = side(1, 4, |_| 0.0, |_| 1.0);
        assert!(Ends::of_logged(&long_enough, &EndsLimits::default()).is_some());
        assert!(Ends::of_logged(&long_enough[..7], &EndsLimits::default()).is_none());
        assert!(Ends::of_logged(&[], &EndsLimits::default()).is_none());
    }

    #[test]
    fn a_delay_that_crosses_the_border_of_a_cycle_does_not_leap() {
        let cycle_us = 1e6 / 10_000.0;
        // From 45 µs to 55 µs; ±50 µs is half a cycle.
        let mut side = side(30, 5, |_| 0.0, |share| 0.182 * (45.0 + 10.0 * share));
        for reading in &mut side {
            let delay_us = reading.delay_us.expect("made so");
            let wrapped_us = delay_us - (delay_us / cycle_us).round() * cycle_us;
            reading.delay_us = Some(wrapped_us);
            reading.azimuth_arcmin = Some(0.182 * wrapped_us);
            reading.cycle_us = Some(cycle_us);
        }
        let ends = Ends::of_logged(&side, &EndsLimits::default()).expect("half an hour");
        let azimuth = found(&ends, Compared::Azimuth, false);
        assert!(
            (azimuth.value - 1.82 * 28.0 / 30.0).abs() < 0.1,
            "{azimuth:?}"
        );
    }

    #[test]
    fn three_taken_readings_are_compared() {
        let taken = [0.1, 0.12, 0.6].map(|speed_percent| {
            let mut readings = snapshot();
            readings.speed.long.deviation_percent = Some(speed_percent);
            readings.speed.long.uncertainty_percent = Some(0.05);
            readings.phase.delay_us = Some(11.0);
            readings.phase.delay_uncertainty_us = Some(0.1);
            readings.phase.azimuth_arcmin = Some(2.0);
            readings
        });
        let ends = ends_of_readings([&taken[0], &taken[1], &taken[2]], &EndsLimits::default());
        let speed = found(&ends, Compared::Speed, false);
        assert!((speed.value - 0.5).abs() < 1e-12);
        // Two of 0.05 % together.
        assert!((speed.uncertainty - 0.0707).abs() < 1e-4);
        assert_eq!(speed.significance, Significance::WorthALook);
        assert_eq!(
            found(&ends, Compared::Azimuth, false).significance,
            Significance::NotShown
        );
        assert_eq!(
            found(&ends, Compared::Flutter, false).significance,
            Significance::NotShown
        );
        // What is not there at all places is not compared.
        let none = snapshot();
        let ends = ends_of_readings([&taken[0], &taken[1], &none], &EndsLimits::default());
        assert!(ends.differences.iter().all(|one| one.of != Compared::Speed));
    }
}
