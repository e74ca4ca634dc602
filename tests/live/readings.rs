//! The meters on the live input against the meters on the file.

use crate::{
    capture::Segment,
    take::{TONE_HZ, Take},
};
use std::sync::Arc;
use trimwatch::{
    meters::MeterSetup,
    readings::{InputState, Readings},
    source::sound_card::{self, InputChoice},
    worker::{Request, Worker, measure},
};

/// Seconds of the tone after which the averages begin anew, so that they hold nothing of the silence before it.
const SETTLED_SECONDS: f64 = 1.0;
/// Seconds before the tone's end at which the reading is taken.
const BEFORE_END_SECONDS: f64 = 0.5;

fn setup() -> MeterSetup {
    MeterSetup {
        tone_hz: Some(TONE_HZ),
        ..MeterSetup::new().expect("the built-in tables")
    }
}

/// A worker of its own on the same input.
pub struct LiveReader {
    worker: Worker,
    latest: Option<Arc<Readings>>,
    tone_began_at: Option<usize>,
    has_reset: bool,
    is_over: bool,
}

impl LiveReader {
    pub fn start(choice: &InputChoice) -> Self {
        let source = sound_card::open(choice).expect("a second stream of the same input");
        Self {
            worker: Worker::start(source, setup(), || {}).expect("a worker"),
            latest: None,
            tone_began_at: None,
            has_reset: false,
            is_over: false,
        }
    }

    /// Follows the take by what another capture has of it so far.
    pub fn follow(&mut self, captured: &Segment, take: &Take) {
        if self.tone_began_at.is_none() {
            let first = captured.samples.iter().position(|&sample| sample != 0.0);
            self.tone_began_at = first.map(|sample| sample / 2);
        }
        if let Some(readings) = self.worker.readings.try_iter().last()
            && !self.is_over
        {
            self.latest = Some(readings);
        }
        let Some(began_at) = self.tone_began_at else {
            return;
        };
        let heard = (captured.frames() - began_at) as f64 / f64::from(take.rate_hz);
        if heard > SETTLED_SECONDS && !self.has_reset {
            self.has_reset = true;
            self.worker
                .requests
                .send(Request::ResetAverages)
                .expect("the worker runs");
        }
        self.is_over |= heard > take.seconds() - BEFORE_END_SECONDS;
    }
}

/// The bars of the live path are those of the readings themselves.
pub fn assert_same_readings(take: &Take, reader: &LiveReader) {
    let live = reader.latest.as_ref().expect("the worker published");
    assert_eq!(live.source.state, InputState::Running);
    assert_eq!((live.source.lost_frames, live.source.gaps), (0, 0));
    assert!(live.source.seconds > take.seconds() - 2.0 * BEFORE_END_SECONDS);
    let file = measure(&mut take.source(), setup(), None).expect("the take can be measured");

    let percent_of = |percent: f64| move |value: f64| percent / 100.0 * value.abs();
    let within = |bar: f64| move |_: f64| bar;
    let mut compared = 0;
    let mut compare =
        |what: &str, file: Option<f64>, live: Option<f64>, bar: &dyn Fn(f64) -> f64| {
            let Some(file) = file else {
                return;
            };
            compared += 1;
            println!("{what}: file {file}, live {live:?}");
            let live = live
                .unwrap_or_else(|| panic!("{what}: the file reads {file}, the live input nothing"));
            assert!(
                (live - file).abs() <= bar(file),
                "{what}: file {file}, live {live}"
            );
        };
    compare(
        "tone, Hz",
        file.speed.measured_hz,
        live.speed.measured_hz,
        &percent_of(0.002),
    );
    let (of_file, of_live) = (&file.flutter, &live.flutter);
    let rms_bar = |value: f64| (0.02 * value.abs()).max(0.0005);
    for (what, file, live) in [
        ("weighted rms, %", &of_file.weighted, &of_live.weighted),
        (
            "unweighted rms, %",
            &of_file.unweighted,
            &of_live.unweighted,
        ),
    ] {
        compare(what, file.rms_percent, live.rms_percent, &rms_bar);
        compare(
            what,
            file.two_sigma_percent,
            live.two_sigma_percent,
            &percent_of(3.0),
        );
    }
    let (of_file, of_live) = (&file.level, &live.level);
    compare(
        "left, dBFS",
        of_file.left.rms_dbfs,
        of_live.left.rms_dbfs,
        &within(0.05),
    );
    compare(
        "right, dBFS",
        of_file.right.rms_dbfs,
        of_live.right.rms_dbfs,
        &within(0.05),
    );
    compare(
        "balance, dB",
        of_file.balance_db,
        of_live.balance_db,
        &within(0.05),
    );
    let delay_bar = |value: f64| 0.02 + 0.004 * value.abs();
    compare(
        "delay, µs",
        file.phase.delay_us,
        live.phase.delay_us,
        &delay_bar,
    );
    assert!(
        compared > 0 || !file.any_valid(),
        "the file gives readings, but none was compared"
    );
}
