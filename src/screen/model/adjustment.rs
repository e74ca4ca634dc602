//! The four adjustments: what each one's needle is, how wide its scale, and which way is better in words.

use super::{dwell::Side, zoom::Step};
use crate::{
    readings::{Readings, Validity},
    tables::{Band, Limits},
};

/// What the technician has in hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Adjustment {
    /// The speed trimmer.
    Speed,
    /// Whatever makes the speed vary.
    Flutter,
    /// The azimuth screw: interchannel phase.
    Azimuth,
    /// The level trimmers and their balance.
    Level,
}

/// A mean that may stand in the big number for a swinging needle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    /// Its value.
    pub value: f64,
    /// What it is.
    pub quantity: &'static str,
}

/// The direction in which a value would have to move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// A lower value is better.
    Lower,
    /// A higher value is better.
    Higher,
}

const fn step(reach: f64, label_every: f64, tick_every: f64) -> Step {
    Step {
        reach,
        label_every,
        tick_every,
    }
}

const SPEED_STEPS: &[Step] = &[
    step(0.3, 0.1, 0.02),
    step(1.0, 0.5, 0.1),
    step(3.0, 1.0, 0.5),
    step(10.0, 5.0, 1.0),
];
const FLUTTER_STEPS: &[Step] = &[
    step(0.1, 0.02, 0.01),
    step(0.3, 0.05, 0.01),
    step(1.0, 0.2, 0.1),
    step(3.0, 0.5, 0.1),
];
const AZIMUTH_STEPS: &[Step] = &[
    step(1.5, 0.5, 0.1),
    step(5.0, 1.0, 0.5),
    step(15.0, 5.0, 1.0),
    step(45.0, 15.0, 5.0),
];
const LEVEL_STEPS: &[Step] = &[
    step(1.0, 0.5, 0.1),
    step(3.0, 1.0, 0.5),
    step(10.0, 5.0, 1.0),
    step(30.0, 10.0, 5.0),
];

impl Adjustment {
    /// All, in the order of their keys.
    pub const ALL: [Self; 4] = [Self::Speed, Self::Flutter, Self::Azimuth, Self::Level];

    /// Its place in [`Adjustment::ALL`].
    pub const fn index(self) -> usize {
        match self {
            Self::Speed => 0,
            Self::Flutter => 1,
            Self::Azimuth => 2,
            Self::Level => 3,
        }
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Speed => "Speed",
            Self::Flutter => "Flutter",
            Self::Azimuth => "Azimuth",
            Self::Level => "Level",
        }
    }

    /// What its needle is, and its big number where no mean stands for it.
    pub const fn quantity(self) -> &'static str {
        match self {
            Self::Speed => "speed deviation, ¼ s mean",
            Self::Flutter => "weighted flutter, quasi-peak pointer",
            Self::Azimuth => "azimuth error at the playing head",
            Self::Level => "left minus right",
        }
    }

    /// The unit of its needle.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Speed | Self::Flutter => "%",
            Self::Azimuth => "arcmin",
            Self::Level => "dB",
        }
    }

    /// The unit as it is spoken.
    pub const fn spoken_unit(self) -> &'static str {
        match self {
            Self::Speed | Self::Flutter => "percent",
            Self::Azimuth => "arc minutes",
            Self::Level => "decibels",
        }
    }

    /// Whether its value has a sign; otherwise the scale starts at zero.
    pub const fn is_two_sided(self) -> bool {
        !matches!(self, Self::Flutter)
    }

    /// Whether positive values lie at the left of the scale: 'left louder' belongs there.
    pub const fn is_mirrored(self) -> bool {
        matches!(self, Self::Level)
    }

    /// What the two ends of the scale mean: the end of negative values, the end of positive ones.
    pub const fn ends(self) -> (&'static str, &'static str) {
        match self {
            Self::Speed => ("slow", "fast"),
            Self::Flutter => ("", ""),
            Self::Azimuth => ("left late", "right late"),
            Self::Level => ("right louder", "left louder"),
        }
    }

    /// The widths its scale may take.
    pub const fn steps(self) -> &'static [Step] {
        match self {
            Self::Speed => SPEED_STEPS,
            Self::Flutter => FLUTTER_STEPS,
            Self::Azimuth => AZIMUTH_STEPS,
            Self::Level => LEVEL_STEPS,
        }
    }

    /// Decimals that mean something at this size of value.
    pub fn decimals(self, value: f64) -> usize {
        let size = value.abs();
        match self {
            Self::Speed => 1 + usize::from(size < 9.995),
            Self::Flutter => 1 + usize::from(size < 9.995) + usize::from(size < 0.9995),
            Self::Azimuth => usize::from(size < 99.95),
            Self::Level => 1,
        }
    }

    /// Its target band.
    pub fn band(self, limits: &Limits) -> Band {
        match self {
            Self::Speed => limits.speed_percent(),
            Self::Flutter => limits.flutter_percent(),
            Self::Azimuth => limits.azimuth_arcmin(),
            Self::Level => limits.balance_db(),
        }
    }

    /// Whether its reading stands. A level without a second channel has no balance.
    pub fn validity(self, readings: &Readings) -> Validity {
        match self {
            Self::Speed => readings.speed.status,
            Self::Flutter => readings.flutter.status,
            Self::Azimuth => readings.phase.status,
            Self::Level => match readings.level.status {
                Validity::Ok if self.needle(readings).is_none() => no_balance(readings),
                status => status,
            },
        }
    }

    /// The value that moves with the hand.
    pub fn needle(self, readings: &Readings) -> Option<f64> {
        let value = match self {
            Self::Speed => readings.speed.quick.deviation_percent,
            Self::Flutter => readings.flutter.weighted.pointer_percent,
            Self::Azimuth => readings
                .phase
                .quick_azimuth_arcmin
                .or(readings.phase.azimuth_arcmin),
            Self::Level => readings
                .level
                .quick_balance_db
                .or(readings.level.balance_db),
        };
        value.filter(|value| value.is_finite())
    }

    /// The mean that is read instead of the needle while that only swings about it; wow makes speed need one.
    pub fn mean(self, readings: &Readings) -> Option<Mean> {
        match self {
            Self::Speed => readings.speed.steady.deviation_percent.map(|value| Mean {
                value,
                quantity: "speed deviation, 2 s mean",
            }),
            Self::Flutter | Self::Azimuth | Self::Level => None,
        }
    }

    /// How far wow explains the needle to be from its mean.
    pub fn swing(self, readings: &Readings, band: Band) -> f64 {
        let scatter = match self {
            Self::Speed => readings.speed.quick.uncertainty_percent,
            Self::Flutter | Self::Azimuth | Self::Level => None,
        };
        band.aim.hypot(scatter.unwrap_or(0.0))
    }

    /// The value that decides between 'in' and 'out'; `None` while it cannot be told.
    ///
    /// Speed: the big number's `figure`, that is the 2 s mean, or the needle once that has left the mean behind; without
    /// a mean yet, only a needle beyond the limit tells anything.
    /// Flutter: the two-sigma value of the last 10 s, the read-out the standard prefers.
    pub fn judged(self, figure: f64, readings: &Readings, band: Band) -> Option<f64> {
        match self {
            Self::Speed => {
                let has_mean = self.mean(readings).is_some();
                (has_mean || !band.accepts(figure)).then_some(figure)
            }
            Self::Flutter => readings.flutter.weighted.recent_two_sigma_percent,
            Self::Azimuth | Self::Level => Some(figure),
        }
    }

    /// The side of the limit that `judged` is on.
    pub fn side(self, judged: f64, band: Band) -> Side {
        if band.accepts(judged) {
            Side::Inside
        } else {
            Side::Outside
        }
    }

    /// Which way is better: in words, and as the direction the value should move.
    pub fn direction(self, value: f64, band: Band) -> (&'static str, Option<Better>) {
        let words = self.direction_words();
        if band.is_good(value) {
            return (words.good, None);
        }
        let little = band.accepts(value);
        if value > 0.0 {
            let text = if little { words.bit_high } else { words.high };
            (text, Some(Better::Lower))
        } else {
            let text = if little { words.bit_low } else { words.low };
            (text, Some(Better::Higher))
        }
    }

    const fn direction_words(self) -> DirectionWords {
        match self {
            Self::Speed => DirectionWords {
                high: "too fast: turn it slower",
                bit_high: "a little fast: slower is better",
                good: "on the mark",
                bit_low: "a little slow: faster is better",
                low: "too slow: turn it faster",
            },
            Self::Flutter => DirectionWords {
                high: "too much: less is better",
                bit_high: "acceptable: less is better",
                good: "good: less is still better",
                bit_low: "",
                low: "",
            },
            Self::Azimuth => DirectionWords {
                high: "right channel late: bring to 0",
                bit_high: "right a little late: 0 is better",
                good: "channels together",
                bit_low: "left a little late: 0 is better",
                low: "left channel late: bring to 0",
            },
            Self::Level => DirectionWords {
                high: "left louder: left down or right up",
                bit_high: "left a little loud: equal is better",
                good: "channels balanced",
                bit_low: "right a little loud: equal is better",
                low: "right louder: right down or left up",
            },
        }
    }
}

/// Why a valid level has no balance: there is only one channel, or one of the two is silent.
fn no_balance(readings: &Readings) -> Validity {
    let level = &readings.level;
    let both_alive = level.left.quick_rms_dbfs.is_some() == level.right.quick_rms_dbfs.is_some();
    if readings.source.description.channels < 2 || !both_alive {
        Validity::OneChannel
    } else {
        Validity::Settling
    }
}

struct DirectionWords {
    high: &'static str,
    bit_high: &'static str,
    good: &'static str,
    bit_low: &'static str,
    low: &'static str,
}

/// What to do about a reading that is not valid.
pub const fn advice(validity: Validity) -> &'static str {
    match validity {
        Validity::Ok => "",
        Validity::Waiting => "the input is open, the first samples are on their way",
        Validity::InputLost => "check its plug and cable; it is taken up again when it returns",
        Validity::NoSignal => "play the test tape; check cable, input and its level control",
        Validity::NoTone => "play the tone section of the test tape",
        Validity::Unsteady => "let the tape run; check that the tone section is playing",
        Validity::TooWeak => "raise the level at the computer's input or the deck's output",
        Validity::Clipped => "lower the level at the computer's input",
        Validity::NotTheExpectedTone => "press t and choose the tape in use",
        Validity::Settling => "let the tape run",
        Validity::TooShort => "play more of the tape",
        Validity::Dropout => "the tone is interrupted: look at the tape and the heads",
        Validity::LostSamples => "the computer was too busy; the reading comes back by itself",
        Validity::OneChannel => "connect both channels to compare them",
        Validity::ChannelsDiffer => "play a tape with the same signal on both tracks",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_direction_agree_with_the_sign() {
        let limits = Limits::supplied().expect("table");
        let band = limits.speed_percent();
        let fast = Adjustment::Speed.direction(1.8, band);
        assert_eq!(fast, ("too fast: turn it slower", Some(Better::Lower)));
        let slow = Adjustment::Speed.direction(-0.3, band);
        assert_eq!(
            slow,
            ("a little slow: faster is better", Some(Better::Higher))
        );
        assert_eq!(
            Adjustment::Speed.direction(0.1, band),
            ("on the mark", None)
        );
        let late = Adjustment::Azimuth.direction(5.0, limits.azimuth_arcmin());
        assert!(late.0.starts_with("right channel late"));
        let loud = Adjustment::Level.direction(-4.0, limits.balance_db());
        assert!(loud.0.starts_with("right louder"));
    }

    #[test]
    fn every_scale_has_rising_steps_with_marks_that_fit_it() {
        for adjustment in Adjustment::ALL {
            let steps = adjustment.steps();
            assert!(steps.windows(2).all(|pair| pair[0].reach < pair[1].reach));
            for step in steps {
                let labels = step.reach / step.label_every;
                let ticks = step.label_every / step.tick_every;
                assert!((ticks - ticks.round()).abs() < 1e-9, "{step:?}");
                assert!((2.0 - 1e-9..=6.0 + 1e-9).contains(&labels), "{step:?}");
            }
        }
    }

    #[test]
    fn decimals_never_make_a_number_wider_than_its_place() {
        for (value, text) in [(0.5, 2), (9.99, 2), (10.0, 1), (9.999, 1)] {
            assert_eq!(Adjustment::Speed.decimals(value), text, "{value}");
        }
        assert_eq!(Adjustment::Flutter.decimals(0.0834), 3);
        assert_eq!(Adjustment::Flutter.decimals(1.2), 2);
        assert_eq!(Adjustment::Azimuth.decimals(-120.0), 0);
    }
}
