//! A log of an afternoon, written by hand: a deck that warms up, reverses, comes to the end of its tape while nobody
//! listens for a while, and is steady in the end.

use std::{fmt::Write as _, path::Path};
use trimwatch::run_in::{
    End, Happening, Line, LoggedEvent, LoggedReading, SCHEMA, Session, Temperature,
};

const STARTED_UNIX_S: f64 = 1_795_508_100.0;
const EVERY_S: f64 = 5.0;

struct Story(String);

impl Story {
    fn line(&mut self, line: &Line) {
        let _never_fails = self.0.write_str(&line.to_text());
    }

    fn session(&mut self, after_s: f64) {
        self.line(&Line::Session(Session {
            schema: SCHEMA.into(),
            started_unix_s: STARTED_UNIX_S + after_s,
            every_s: EVERY_S,
            source: "USB line input".into(),
            expected: "Speed, 3150 Hz; Compact cassette; mechanism 'Heron 3HC'".into(),
        }));
    }

    /// Readings from one time of the session to another; the session itself starts at `started_s` of the run.
    fn play(&mut self, started_s: f64, (from_s, to_s): (f64, f64), azimuth_arcmin: f64) {
        let count = ((to_s - from_s) / EVERY_S) as u32;
        for i in 1..=count {
            let at_s = from_s + f64::from(i) * EVERY_S;
            let run_s = started_s + at_s;
            let warm = (-run_s / 1500.0).exp();
            // No chance in it, but no pattern that the eye finds either.
            let scatter = (run_s * 0.37).sin() * (run_s * 0.011).cos();
            self.line(&Line::Reading(LoggedReading {
                at_s,
                seconds: EVERY_S,
                status: "ok".into(),
                speed_percent: Some(0.06 - 0.42 * warm + 0.012 * scatter),
                speed_min_percent: Some(-0.1 - 0.42 * warm),
                speed_max_percent: Some(0.2 - 0.42 * warm),
                weighted_two_sigma_percent: Some(0.088 + 0.06 * warm + 0.004 * scatter),
                weighted_quasi_peak_max_percent: Some(0.11),
                left_dbfs: Some(-10.1),
                right_dbfs: Some(-10.4),
                balance_db: Some(0.3),
                delay_us: Some(5.4975 * azimuth_arcmin),
                azimuth_arcmin: Some(azimuth_arcmin + 0.05 * scatter),
                cycle_us: None,
                snr_db: Some(58.0),
            }));
        }
    }

    fn event(&mut self, at_s: f64, what: Happening) {
        self.line(&Line::Event(LoggedEvent { at_s, what }));
    }

    fn gap(&mut self, at_s: f64, gone_s: f64, first: &str) {
        self.event(
            at_s,
            Happening::ToneLost {
                first: first.into(),
                then: "no tone".into(),
            },
        );
        self.event(at_s + gone_s, Happening::ToneBack { gone_s });
    }

    fn temperature(&mut self, at_s: f64, celsius: f64) {
        self.line(&Line::Temperature(Temperature {
            at_s: Some(at_s),
            unix_s: None,
            celsius,
        }));
    }
}

/// Writes it.
pub fn write(path: &Path) {
    let mut story = told();
    story.line(&Line::End(End {
        at_s: 2760.0,
        why: "ended by the technician".into(),
    }));
    std::fs::write(path, story.0).expect("the log is written");
}

/// Writes it without its end, as of a window that was closed in no order.
pub fn write_unfinished(path: &Path) {
    std::fs::write(path, told().0).expect("the log is written");
}

fn told() -> Story {
    let mut story = Story(String::new());
    story.session(0.0);
    story.temperature(300.0, 21.5);
    story.play(0.0, (0.0, 2700.0), 1.2);
    story.gap(2700.0, 6.0, "dropout");
    story.play(0.0, (2710.0, 4200.0), -2.1);
    story.event(
        4200.0,
        Happening::Dropouts {
            count: 2,
            deepest_db: Some(14.0),
            longest_ms: Some(31.0),
        },
    );
    story.play(0.0, (4200.0, 5400.0), -2.1);
    story.temperature(4000.0, 24.5);
    story.gap(5400.0, 6.0, "dropout");
    story.play(0.0, (5410.0, 8100.0), 1.2);
    story.temperature(7900.0, 26.5);
    // The power went here, in the middle of a line.
    story.0.push_str("{\"reading\":{\"at_s\":8105.0,\"sec\n");
    story.session(10_500.0);
    story.play(10_500.0, (0.0, 2700.0), 1.2);
    story.event(
        2700.0,
        Happening::ToneLost {
            first: "dropout".into(),
            then: "no tone".into(),
        },
    );
    story
}
