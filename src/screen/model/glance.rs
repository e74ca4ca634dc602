//! What half a second's glance at one adjustment should tell: how far off, which way is better, steady, done.

use super::{
    adjustment::{Adjustment, Better, advice},
    dwell::{Dwell, Lasting},
    format,
    swing::Swing,
    zoom::{Step, Zoom},
};
use crate::{
    readings::{InputState, Readings, Validity},
    tables::{Band, Limits},
};

/// The digits change no oftener than this: a number that is read must stand still for a moment, seconds.
const DIGITS_EVERY_S: f64 = 0.25;
/// The needle is at its mean within this share of the good part of the band.
const NEAR_SHARE: f64 = 0.25;

/// The state of one adjustment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum State {
    /// No reading, and why.
    NotValid(Validity),
    /// The phase is read, but whole cycles are still open.
    FineOnly,
    /// A valid reading that is moving, or has not been on one side long enough.
    Settling,
    /// Beyond the limit.
    Out,
    /// Within the limit, for this many seconds.
    In {
        /// How long, seconds.
        for_s: f64,
    },
}

impl State {
    /// The state as shown.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NotValid(validity) => validity.words(),
            Self::FineOnly => "fine only",
            Self::Settling => "settling",
            Self::Out => "out",
            Self::In { .. } => "in",
        }
    }
}

/// What is shown of one adjustment.
#[derive(Clone, Debug, PartialEq)]
pub struct Glance {
    /// Whose.
    pub adjustment: Adjustment,
    /// Its state.
    pub state: State,
    /// Which way is better, or what to do about a reading that is not valid.
    pub words: &'static str,
    /// The direction in which the value should move.
    pub better: Option<Better>,
    /// What the big number is.
    pub quantity: &'static str,
    /// The big number, calm enough to be read; `None` where the reading is not valid.
    pub digits: Option<f64>,
    /// The big number at this very moment.
    pub figure: Option<f64>,
    /// The needle; `None` where the reading is not valid.
    pub needle: Option<f64>,
    /// The present width of the scale.
    pub step: Step,
}

impl Glance {
    /// The big number with its sign but without its unit.
    pub fn number(&self) -> Option<String> {
        let value = self.digits?;
        let decimals = self.adjustment.decimals(value);
        Some(if self.adjustment.is_two_sided() {
            format::signed(value, decimals)
        } else {
            format::plain(value, decimals)
        })
    }

    /// The number with its unit, or nothing.
    pub fn number_with_unit(&self) -> Option<String> {
        Some(format!("{} {}", self.number()?, self.adjustment.unit()))
    }

    /// What a screen reader says: number, state, words.
    pub fn spoken(&self) -> String {
        let number = self.number().map(|number| {
            let number = number.replace('−', "minus ").replace('+', "plus ");
            format!("{number} {}, ", self.adjustment.spoken_unit())
        });
        format!(
            "{}{}: {}",
            number.unwrap_or_default(),
            self.state.words(),
            self.words
        )
    }
}

/// Follows one adjustment from snapshot to snapshot.
#[derive(Clone, Debug)]
pub struct Follower {
    dwell: Dwell,
    zoom: Zoom,
    swing: Swing,
    digits: Option<(f64, f64)>,
    glance: Glance,
}

impl Follower {
    /// Nothing seen yet.
    pub fn new(adjustment: Adjustment, limits: &Limits) -> Self {
        let zoom = Zoom::new(adjustment.steps(), adjustment.band(limits).accept);
        let glance = Glance {
            adjustment,
            state: State::NotValid(Validity::Waiting),
            words: advice(Validity::Waiting),
            better: None,
            quantity: adjustment.quantity(),
            digits: None,
            figure: None,
            needle: None,
            step: zoom.step(),
        };
        Self {
            dwell: Dwell::default(),
            zoom,
            swing: Swing::default(),
            digits: None,
            glance,
        }
    }

    /// What is to be shown now.
    pub fn glance(&self) -> &Glance {
        &self.glance
    }

    /// Takes the next snapshot.
    pub fn follow(&mut self, readings: &Readings, limits: &Limits) {
        let adjustment = self.glance.adjustment;
        let band = adjustment.band(limits);
        let now_s = readings.source.seconds;
        let validity = validity(adjustment, readings);
        let needle = adjustment
            .needle(readings)
            .filter(|_| validity == Validity::Ok);
        let mean = adjustment
            .mean(readings)
            .filter(|mean| self.stands_for_the_needle(now_s, mean.value, readings, band));
        let (figure, quantity) = match (needle, mean) {
            (Some(_), Some(mean)) => (Some(mean.value), mean.quantity),
            (needle, _) => (needle, adjustment.quantity()),
        };
        let judged = figure.and_then(|figure| adjustment.judged(figure, readings, band));
        let lasting = self
            .dwell
            .follow(now_s, judged.map(|judged| adjustment.side(judged, band)));
        self.zoom
            .follow(now_s, widest(adjustment, readings, needle), band.accept);
        let state = match (needle, lasting) {
            (None, _) => State::NotValid(match validity {
                Validity::Ok => Validity::Settling,
                not_ok => not_ok,
            }),
            (Some(_), _) if is_ambiguous(adjustment, readings) => State::FineOnly,
            (Some(_), Lasting::In { since_s }) => State::In {
                for_s: now_s - since_s,
            },
            (Some(_), Lasting::Out) => State::Out,
            (Some(_), Lasting::Undecided) => State::Settling,
        };
        let (words, better) = match (state, judged.or(needle)) {
            (State::NotValid(validity), _) => (advice(validity), None),
            (State::FineOnly, _) => ("whole cycles are open: play a lower tone first", None),
            (_, Some(value)) => adjustment.direction(value, band),
            (_, None) => ("", None),
        };
        self.glance = Glance {
            adjustment,
            state,
            words,
            better,
            quantity,
            digits: self.calm_digits(now_s, figure),
            figure,
            needle,
            step: self.zoom.step(),
        };
    }

    /// Shows that no snapshots arrive any more.
    pub fn stall(&mut self) {
        self.dwell = Dwell::default();
        self.swing = Swing::default();
        self.digits = None;
        self.glance = Glance {
            state: State::NotValid(Validity::Waiting),
            words: "no new readings arrive: press i and open the input again",
            better: None,
            digits: None,
            figure: None,
            needle: None,
            ..self.glance.clone()
        };
    }

    /// Whether the mean can stand in the big number: with heavy wow nobody can read the needle's own value.
    fn stands_for_the_needle(
        &mut self,
        now_s: f64,
        mean: f64,
        readings: &Readings,
        band: Band,
    ) -> bool {
        let adjustment = self.glance.adjustment;
        let Some(needle) = adjustment.needle(readings) else {
            return false;
        };
        let way = needle - mean;
        let lingers = self.swing.follow(now_s, way, band.aim * NEAR_SHARE);
        lingers && way.abs() <= adjustment.swing(readings, band)
    }

    fn calm_digits(&mut self, now_s: f64, figure: Option<f64>) -> Option<f64> {
        let Some(figure) = figure else {
            self.digits = None;
            return None;
        };
        match self.digits {
            Some((value, since_s)) if (since_s..since_s + DIGITS_EVERY_S).contains(&now_s) => {
                Some(value)
            }
            _ => {
                self.digits = Some((figure, now_s));
                Some(figure)
            }
        }
    }
}

/// Whether the reading stands, the state of the input first: numbers of an input that is gone are not shown as live.
fn validity(adjustment: Adjustment, readings: &Readings) -> Validity {
    match readings.source.state {
        InputState::Lost(_) | InputState::Failed(_) => Validity::InputLost,
        InputState::Opening => Validity::Waiting,
        InputState::Running | InputState::Ended => adjustment.validity(readings),
    }
}

fn is_ambiguous(adjustment: Adjustment, readings: &Readings) -> bool {
    adjustment == Adjustment::Azimuth && readings.phase.ambiguous
}

/// The value the scale must reach: the needle, or the farthest candidate while whole cycles are open.
fn widest(adjustment: Adjustment, readings: &Readings, needle: Option<f64>) -> Option<f64> {
    let needle = needle?;
    if !is_ambiguous(adjustment, readings) {
        return Some(needle);
    }
    let farthest = readings
        .phase
        .candidates
        .iter()
        .map(|candidate| candidate.azimuth_arcmin.abs())
        .fold(needle.abs(), f64::max);
    Some(farthest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{
        NeedleReading, NeedleWow, SourceDescription, SourceKind, SourceReading, SpeedReading,
        SpeedWindow,
    };

    fn running(seconds: f64) -> Readings {
        let mut source = SourceReading::new(SourceDescription {
            kind: SourceKind::VirtualDeck,
            name: "Finch 2H".into(),
            host: None,
            sample_format: "32-bit float".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        });
        source.state = InputState::Running;
        source.seconds = seconds;
        Readings::empty(source)
    }

    fn speed(seconds: f64, quick: f64, steady: Option<f64>) -> Readings {
        let window = |deviation_percent| SpeedWindow {
            seconds: 1.0,
            deviation_percent,
            uncertainty_percent: Some(0.01),
        };
        let mut readings = running(seconds);
        readings.speed = SpeedReading {
            status: Validity::Ok,
            quick: window(Some(quick)),
            steady: window(steady),
            ..SpeedReading::default()
        };
        readings
    }

    #[test]
    fn a_needle_freed_of_the_wow_is_the_figure_and_leaps_with_the_trimmer() {
        let freed = |i: u32| {
            let seconds = f64::from(i) * 0.03;
            let swinging = 0.4 + 0.2 * (seconds * 4.0).sin();
            let mut readings = speed(seconds, swinging, Some(0.4));
            readings.speed.needle = NeedleReading {
                deviation_percent: Some(if i < 199 { 0.4 } else { 0.05 }),
                wow: NeedleWow::Removed,
                ..NeedleReading::default()
            };
            readings
        };
        let before = followed((0..199).map(freed));
        assert_eq!(before.figure, Some(0.4));
        assert_eq!(before.quantity, "speed deviation, wow removed");
        let after = followed((0..200).map(freed));
        assert_eq!((after.figure, after.needle), (Some(0.05), Some(0.05)));
    }

    fn followed(snapshots: impl IntoIterator<Item = Readings>) -> Glance {
        let limits = Limits::supplied().expect("table");
        let mut follower = Follower::new(Adjustment::Speed, &limits);
        for readings in snapshots {
            follower.follow(&readings, &limits);
        }
        follower.glance().clone()
    }

    #[test]
    fn a_fast_deck_is_out_and_told_to_be_turned_slower() {
        let glance = followed((0..10).map(|i| speed(f64::from(i) * 0.1, 1.834, Some(1.83))));
        assert_eq!(glance.state, State::Out);
        assert_eq!(glance.number_with_unit().as_deref(), Some("+1.83 %"));
        assert_eq!(
            glance.spoken(),
            "plus 1.83 percent, out: too fast: turn it slower"
        );
    }

    #[test]
    fn a_good_deck_is_in_after_it_has_stayed_in() {
        let early = followed((0..8).map(|i| speed(f64::from(i) * 0.1, 0.1, Some(0.1))));
        assert_eq!(early.state, State::Settling);
        let later = followed((0..40).map(|i| speed(f64::from(i) * 0.1, 0.1, Some(0.1))));
        assert!(matches!(later.state, State::In { for_s } if (for_s - 3.9).abs() < 1e-9));
    }

    #[test]
    fn a_needle_that_has_left_the_mean_behind_decides() {
        let turned = followed((0..10).map(|i| speed(f64::from(i) * 0.1, 0.9, Some(0.1))));
        assert_eq!(turned.state, State::Out);
        let early = followed((0..10).map(|i| speed(f64::from(i) * 0.1, 0.1, None)));
        assert_eq!(early.state, State::Settling, "no 2 s mean yet");
    }

    #[test]
    fn an_invalid_reading_has_words_and_no_number() {
        let mut readings = speed(1.0, 0.1, Some(0.1));
        readings.speed.status = Validity::NoTone;
        let glance = followed([readings]);
        assert_eq!(glance.state, State::NotValid(Validity::NoTone));
        assert_eq!((glance.digits, glance.needle), (None, None));
        assert!(glance.spoken().starts_with("no tone: play the tone"));
    }

    #[test]
    fn a_lost_input_shows_no_number_whatever_the_meters_still_hold() {
        let mut readings = speed(1.0, 0.1, Some(0.1));
        readings.source.state = InputState::Lost("USB line in".into());
        let glance = followed([readings]);
        assert_eq!(glance.state, State::NotValid(Validity::InputLost));
        assert_eq!(glance.number(), None);
    }

    #[test]
    fn digits_stand_still_for_a_moment_while_the_needle_moves() {
        let glance = followed([
            speed(1.0, 0.10, None),
            speed(1.1, 0.15, None),
            speed(1.2, 0.20, None),
        ]);
        assert_eq!((glance.digits, glance.needle), (Some(0.10), Some(0.20)));
        let glance = followed([speed(1.0, 0.10, None), speed(1.3, 0.20, None)]);
        assert_eq!(glance.digits, Some(0.20));
    }

    #[test]
    fn the_digits_are_the_mean_while_the_needle_swings_and_follow_a_turned_trimmer() {
        let swinging = |t: f64| speed(t, 1.42 + 0.3 * (7.5 * t).sin(), Some(1.42));
        let mut snapshots: Vec<_> = (0..90).map(|i| swinging(f64::from(i) / 30.0)).collect();
        for readings in &mut snapshots {
            readings.speed.quick.uncertainty_percent = Some(0.4);
        }
        let glance = followed(snapshots.clone());
        assert_eq!(glance.digits, Some(1.42));
        assert_eq!(glance.quantity, "speed deviation, 2 s mean");
        let turned = (0..30).map(|i| speed(3.0 + f64::from(i) / 30.0, 0.9, Some(1.1)));
        let glance = followed(snapshots.into_iter().chain(turned));
        assert_eq!(glance.digits, Some(0.9));
        assert_eq!(glance.quantity, "speed deviation, ¼ s mean");
    }

    #[test]
    fn one_channel_has_no_balance() {
        let mut readings = running(1.0);
        readings.source.description.channels = 1;
        readings.level.status = Validity::Ok;
        assert_eq!(Adjustment::Level.validity(&readings), Validity::OneChannel);
    }
}
