//! Synthetic runs of hours whose truth is known.

use super::{
    super::{
        history::History,
        line::{
            Happening, Line, LoggedEvent, LoggedReading, SCHEMA as LOG_SCHEMA, Session, Temperature,
        },
    },
    *,
};
use rand::{RngExt as _, SeedableRng as _};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

/// A run that is written by hand.
struct Story {
    history: History,
    chance: Pcg64Mcg,
    at_s: f64,
}

impl Story {
    fn new(seed: u64) -> Self {
        let mut history = History::default();
        history.take(&Line::Session(Session {
            schema: LOG_SCHEMA.into(),
            started_unix_s: 1.75e9,
            every_s: 5.0,
            source: "line input".into(),
            expected: "a tone of 3150 Hz".into(),
        }));
        Self {
            history,
            chance: Pcg64Mcg::seed_from_u64(seed),
            at_s: 0.0,
        }
    }

    /// Goes on for some hours; the speed as a function of the hours since the start, with `scatter_percent` of chance
    /// on each reading.
    fn play(
        &mut self,
        hours: f64,
        scatter_percent: f64,
        azimuth_arcmin: f64,
        speed: impl Fn(f64) -> f64,
    ) -> &mut Self {
        for _ in 0..(hours * 720.0).round() as u32 {
            self.at_s += 5.0;
            let chance: f64 = self.chance.sample(StandardNormal);
            self.history.take(&Line::Reading(LoggedReading {
                at_s: self.at_s,
                seconds: 5.0,
                status: "ok".into(),
                speed_percent: Some(speed((self.at_s - 2.5) / 3600.0) + scatter_percent * chance),
                azimuth_arcmin: Some(azimuth_arcmin + 0.02 * chance),
                left_dbfs: Some(-12.0),
                ..LoggedReading::default()
            }));
        }
        self
    }

    fn gap(&mut self, seconds: f64, first: &str) -> &mut Self {
        self.event(Happening::ToneLost {
            first: first.into(),
            then: "no signal".into(),
        });
        self.at_s += seconds;
        self.event(Happening::ToneBack { gone_s: seconds })
    }

    fn event(&mut self, what: Happening) -> &mut Self {
        let at_s = self.at_s;
        self.history.take(&Line::Event(LoggedEvent { at_s, what }));
        self
    }

    fn temperature(&mut self, hours: f64, celsius: f64) -> &mut Self {
        self.history.take(&Line::Temperature(Temperature {
            at_s: Some(3600.0 * hours),
            unix_s: None,
            celsius,
        }));
        self
    }

    fn shows(&self) -> Evaluation {
        evaluate(&self.history, &Criteria::default())
    }
}

/// A warm-up of 0.4 % with a time constant of 20 minutes.
fn warming(hours: f64) -> f64 {
    0.3 - 0.4 * (-hours * 3.0).exp()
}

#[test]
fn a_warm_up_is_told_with_its_drift_and_the_time_it_took() {
    let shown = Story::new(1).play(4.0, 0.01, 1.0, warming).shows();
    // The last 0.1 % of 0.4 % is reached after 20 min × ln 4 = 27.7 min; the scatter of the minutes, ±0.008 % over
    // some two hundred, takes its share of the band: 20 min × ln(0.4 / 0.089) = 30.1 min.
    let since_min = shown.steady.since_s.expect("steady") / 60.0;
    assert!((27.0..33.0).contains(&since_min), "{since_min} min");
    let warm_up = shown.warm_up.expect("a warm-up");
    // Its first two minutes are at −0.4·(1 − e^−0.1)/0.1 + 0.3 = −0.0807 %; since then on it is, on average, near +0.29 %.
    assert!((warm_up.from_percent + 0.0807).abs() < 0.01, "{warm_up:?}");
    let true_to = 0.3 - 0.1 / 3.0 / (4.0 - since_min / 60.0);
    assert!((warm_up.to_percent - true_to).abs() < 0.003, "{warm_up:?}");
    assert!(
        (warm_up.drift_percent - (true_to + 0.0807)).abs() < 0.02,
        "{warm_up:?}"
    );
    assert!(warm_up.to_is_steady);
    let lately = shown.trend_lately.expect("half an hour");
    assert!(
        lately.percent_per_hour.abs() <= 1.5 * lately.uncertainty_percent_per_hour,
        "{lately:?}"
    );
}

#[test]
fn a_deck_that_goes_on_drifting_is_not_called_steady() {
    let shown = Story::new(2)
        .play(3.0, 0.005, 1.0, |hours| 1.0 * hours)
        .shows();
    // 0.1 % takes six minutes.
    assert_eq!(shown.steady.since_s, None);
    let trend = shown.trend.expect("three hours");
    assert!(
        (trend.percent_per_hour - 1.0).abs() <= trend.uncertainty_percent_per_hour.max(0.003),
        "{trend:?}"
    );
    let warm_up = shown.warm_up.expect("a drift");
    assert!(!warm_up.to_is_steady);
}

#[test]
fn a_trend_within_its_uncertainty_happens_as_often_as_it_says() {
    let held = (0..100)
        .filter(|seed| {
            let shown = Story::new(*seed)
                .play(1.0, 0.02, 1.0, |hours| 0.01 * hours)
                .shows();
            let trend = shown.trend.expect("an hour");
            (trend.percent_per_hour - 0.01).abs() <= trend.uncertainty_percent_per_hour
        })
        .count();
    assert!((88..=100).contains(&held), "{held} of 100");
}

#[test]
fn the_two_directions_of_an_auto_reverse_deck_are_kept_apart() {
    let mut story = Story::new(3);
    for pass in 0..6 {
        let (azimuth_arcmin, speed_percent) = if pass % 2 == 0 {
            (1.0, 0.1)
        } else {
            (-2.0, 0.4)
        };
        story
            .play(0.5, 0.01, azimuth_arcmin, |_| speed_percent)
            .gap(9.0, "dropout");
    }
    let shown = story.play(0.5, 0.01, 1.0, |_| 0.1).shows();
    let reversals = shown
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Reversal);
    assert_eq!(reversals.count(), 6, "{:?}", shown.events);
    assert_eq!(shown.passes.len(), 7);
    for (index, pass) in shown.passes.iter().enumerate() {
        assert_eq!(pass.direction == Direction::Other, index % 2 == 1);
    }
    // The other way round the tape runs 0.3 % faster; that is no unsteadiness.
    assert!(
        shown.steady.since_s.is_some_and(|since_s| since_s < 60.0),
        "{:?}",
        shown.steady
    );
    assert!(shown.basis.contains("as at the start"), "{}", shown.basis);
}

#[test]
fn what_came_before_a_turn_of_the_trimmer_does_not_count() {
    let shown = Story::new(4)
        .play(1.0, 0.01, 1.0, |_| 1.5)
        .event(Happening::SpeedMoved)
        .play(1.0, 0.01, 1.0, |_| 0.0)
        .shows();
    let trend = shown.trend.expect("an hour");
    assert!(trend.percent_per_hour.abs() < 0.02, "{trend:?}");
    assert!(
        shown
            .steady
            .since_s
            .is_some_and(|since_s| (3500.0..3700.0).contains(&since_s)),
        "{:?}",
        shown.steady
    );
    assert!(
        shown.basis.contains("1.00 h") || shown.basis.contains("60.0 min"),
        "{}",
        shown.basis
    );
}

#[test]
fn percent_per_degree_comes_from_typed_temperatures() {
    // The temperature goes as the speed does: 22 °C to 34 °C for 0.4 %.
    let mut story = Story::new(5);
    story.play(3.0, 0.01, 1.0, warming);
    assert_eq!(
        story
            .shows()
            .warm_up
            .expect("a warm-up")
            .percent_per_celsius,
        None
    );
    for hours in [0.05, 0.2, 0.5, 1.0, 2.5] {
        story.temperature(hours, 34.0 - 12.0 * (-hours * 3.0_f64).exp());
    }
    let warm_up = story.shows().warm_up.expect("a warm-up");
    let found = warm_up.percent_per_celsius.expect("five temperatures");
    let uncertainty = warm_up
        .percent_per_celsius_uncertainty
        .expect("five temperatures");
    assert!((found - 0.4 / 12.0).abs() <= uncertainty, "{warm_up:?}");
    assert!(uncertainty < 0.3 * found, "{warm_up:?}");
    // Temperatures that hardly differ say nothing.
    let mut story = Story::new(5);
    story
        .play(3.0, 0.01, 1.0, warming)
        .temperature(0.1, 22.0)
        .temperature(2.0, 23.5);
    assert_eq!(
        story
            .shows()
            .warm_up
            .expect("a warm-up")
            .percent_per_celsius,
        None
    );
}

#[test]
fn nothing_and_next_to_nothing_are_evaluated_without_a_number_too_many() {
    for hours in [0.0, 5.0 / 3600.0, 0.02, 0.1] {
        let shown = Story::new(6).play(hours, 0.01, 1.0, |_| 0.0).shows();
        assert_eq!(shown.steady.since_s, None, "{hours} h");
        assert_eq!(shown.trend, None, "{hours} h");
        let json = serde_json::to_string(&shown).expect("serialises");
        assert!(
            !json.contains("Infinity") && !json.contains("NaN"),
            "{json}"
        );
    }
}

#[test]
fn a_change_is_told_apart_from_chance() {
    let shown = Story::new(7)
        .play(1.0, 0.01, 1.0, |_| 0.0)
        .play(1.0, 0.01, 1.5, |_| 0.0)
        .shows();
    let azimuth = shown
        .changes
        .iter()
        .find(|change| change.what == "azimuth")
        .expect("compared");
    assert_eq!(azimuth.verdict, Verdict::Rose, "{azimuth:?}");
    let level = shown
        .changes
        .iter()
        .find(|change| change.what == "level, left")
        .expect("compared");
    assert_eq!(level.verdict, Verdict::NoDifferenceShown, "{level:?}");
}
