//! Jobs of the invented workshop, and a folder to keep them in.

use jiff::Timestamp;
use std::path::PathBuf;
use trimwatch::{
    bench::{
        Check, CheckDone, Context, Deck, Environment, Figure, Job, Limit, LimitSet, Note,
        PartReplaced, Quantity, Series, SeriesKind, Skip, Stage as Of, Station, Store,
        TakenReading, TapeUsed, Workshop,
        store::{KeptJob, NewJob},
    },
    readings::SourceKind,
};

/// A folder with a record in it.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn record(&self) -> PathBuf {
        self.path("jobs.db")
    }

    pub fn store(&self) -> Store {
        Store::open(self.record()).unwrap()
    }

    /// A record with one job of that number, nothing in it.
    pub fn with_job(number: &str) -> (Self, Store) {
        let bench = Self::new();
        let mut store = bench.store();
        store.create_job(&new_job(number)).unwrap();
        (bench, store)
    }
}

/// So many seconds after the workshop's first job.
pub fn at(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + seconds).unwrap()
}

pub fn limits() -> LimitSet {
    LimitSet {
        name: "finch-2h".into(),
        title: "Finch 2H, service manual".into(),
        limits: vec![Limit {
            quantity: Quantity::SpeedDeviation,
            least: Some(-0.5),
            greatest: Some(0.5),
            aim: Some(0.2),
            source: "manual, page 7".into(),
        }],
    }
}

pub fn deck() -> Deck {
    Deck {
        model: "Finch 2H".into(),
        serial: "20417".into(),
        tape_format: "cassette-stereo".into(),
        mechanism: "finch-2h".into(),
    }
}

pub fn new_job(number: &str) -> NewJob {
    NewJob {
        number: number.into(),
        deck: deck(),
        opened: at(0),
        complaint: "Runs fast and sounds muffled on one side".into(),
        limits: limits(),
        environment: Environment::default(),
    }
}

/// A speed reading with a series; `number` makes it differ from others.
pub fn reading(number: u32) -> TakenReading {
    TakenReading {
        at: at(60 + i64::from(number)),
        station: Station::Speed,
        stage: Of::AsFound,
        words: format!("+{number}.125 % ±0.003 %"),
        figures: vec![
            Figure {
                quantity: Quantity::SpeedDeviation,
                value: f64::from(number) + 0.1,
                uncertainty: Some(0.003),
            },
            Figure {
                quantity: Quantity::SpeedTrend,
                value: -1.0 / 3.0,
                uncertainty: None,
            },
        ],
        context: context(),
        series: vec![Series {
            kind: SeriesKind::SpeedPercent,
            step_s: 0.05,
            values: (0..300)
                .map(|point| {
                    (point % 50 != 3).then_some((point as f32 * 0.37 + number as f32).sin() / 3.0)
                })
                .collect(),
        }],
        withdrawn: None,
    }
}

pub fn context() -> Context {
    Context {
        program: "0.1.0".into(),
        input: "Line in (ALSA)".into(),
        input_kind: SourceKind::SoundCard,
        sample_rate_hz: 48_000,
        profile: "corrected; measured 3 days ago".into(),
        clock_error_ppm: 12.3,
        clock_tolerance_ppm: 0.7,
        tape: TapeUsed {
            name: "speed-3150".into(),
            title: "Speed tape, 3150 Hz".into(),
            tone_hz: Some(3150.0),
            frequency_correction_percent: 0.02,
            frequency_tolerance_percent: Some(0.05),
        },
        tape_format: "Compact cassette, stereo".into(),
        averaged_seconds: 30.0,
        running_seconds: 312.7,
        lost_frames: 0,
        notices: vec!["mains hum on the left channel".into()],
    }
}

/// A job with everything in it.
pub fn full_job(number: &str) -> Job {
    let NewJob {
        deck,
        opened,
        complaint,
        limits,
        ..
    } = new_job(number);
    let mut withdrawn = reading(1);
    withdrawn.withdrawn = Some(at(90));
    let mut azimuth = reading(2);
    azimuth.station = Station::Azimuth;
    azimuth.stage = Of::AsLeft;
    azimuth.figures[0].quantity = Quantity::Azimuth;
    azimuth.figures.truncate(1);
    azimuth.series.clear();
    Job {
        number: number.into(),
        workshop: Workshop {
            name: "Harbour Lane Audio Repair".into(),
            lines: vec!["3 Harbour Lane".into()],
        },
        deck,
        opened,
        closed: Some(at(86_400)),
        complaint,
        limits,
        environment: Environment {
            temperature_c: Some(21.5),
            mains_volts: Some(231.0),
            warm_up_minutes: None,
        },
        checks: vec![
            CheckDone {
                at: at(30),
                stage: Of::AsFound,
                check: Check::Gauge {
                    figure: Figure {
                        quantity: Quantity::TakeUpTorque,
                        value: 45.0 * 0.098_066_5,
                        uncertainty: None,
                    },
                    typed: 45.0,
                    typed_unit: "g·cm".into(),
                },
                withdrawn: None,
            },
            CheckDone {
                at: at(31),
                stage: Of::AsFound,
                check: Check::Seen {
                    what: "belt".into(),
                    found: "hard, glazed".into(),
                    good: Some(false),
                },
                withdrawn: Some(at(32)),
            },
        ],
        readings: vec![reading(0), withdrawn, azimuth],
        skips: vec![Skip {
            at: at(70),
            station: Station::Level,
            stage: Of::AsFound,
            reason: "no level tape".into(),
        }],
        parts: vec![PartReplaced {
            at: at(80),
            what: "capstan belt, 70 × 1.2 mm".into(),
        }],
        notes: vec![Note {
            at: at(85),
            text: "Roller cleaned; \"squeals\" when cold\nsecond line".into(),
            for_owner: true,
        }],
    }
}

/// What a record says of a job.
pub fn kept(store: &Store, number: &str) -> KeptJob {
    store.job(number).unwrap()
}
