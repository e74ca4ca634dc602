//! Cells, verdicts, what is next, what was before.

use super::*;
use crate::{
    bench::{
        CheckDone, Context, Deck, Environment, Quantity, Skip, TapeUsed, Workshop,
        checks::{Seen, gauge},
        limit_shelf::limit_sets,
        store::KeptJob,
    },
    readings::SourceKind,
};
use jiff::Timestamp;

fn at(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + seconds).expect("a time")
}

fn job(number: &str) -> Job {
    let sets = limit_sets().expect("built-in tables");
    let limits = sets.iter().find(|set| set.name == "good-service");
    Job {
        number: number.into(),
        workshop: Workshop::default(),
        deck: Deck::default(),
        opened: at(0),
        closed: None,
        complaint: String::new(),
        limits: limits.expect("supplied").clone(),
        environment: Environment::default(),
        checks: vec![],
        readings: vec![],
        skips: vec![],
        parts: vec![],
        notes: vec![],
    }
}

fn reading(
    seconds: i64,
    stage: Stage,
    quantity: Quantity,
    value: f64,
    uncertainty: Option<f64>,
) -> TakenReading {
    TakenReading {
        at: at(seconds),
        station: quantity.station(),
        stage,
        words: String::new(),
        figures: vec![Figure {
            quantity,
            value,
            uncertainty,
        }],
        context: Context {
            program: "0".into(),
            input: "line".into(),
            input_kind: SourceKind::SoundCard,
            sample_rate_hz: 48_000,
            profile: String::new(),
            clock_error_ppm: 0.0,
            clock_tolerance_ppm: 50.0,
            tape: TapeUsed::default(),
            tape_format: String::new(),
            averaged_seconds: 10.0,
            running_seconds: 10.0,
            lost_frames: 0,
            notices: vec![],
        },
        series: vec![],
        withdrawn: None,
    }
}

fn shown(job: Job, waiting: Vec<Entry>, earlier: Vec<Job>) -> InHand {
    let kept = KeptJob {
        readings: vec![],
        checks: vec![],
        skips: vec![],
        parts: vec![],
        notes: vec![],
        job: Job {
            readings: vec![],
            checks: vec![],
            skips: vec![],
            ..job.clone()
        },
    };
    let mut in_hand = InHand::new(kept, waiting, earlier);
    // As if they were in the record: what they are called there does not matter here.
    let waits = Which::Waiting;
    in_hand.job.readings.splice(0..0, job.readings);
    in_hand.job.checks.splice(0..0, job.checks);
    in_hand.job.skips.splice(0..0, job.skips);
    in_hand.readings.resize(in_hand.job.readings.len(), waits);
    in_hand.checks.resize(in_hand.job.checks.len(), waits);
    in_hand.skips.resize(in_hand.job.skips.len(), waits);
    in_hand
}

fn cell_of(job: Job, station: Station, stage: Stage) -> Cell {
    let rows = rows(&shown(job, vec![], vec![]), &TimeZone::UTC);
    rows[station as usize].stages[stage as usize].clone()
}

#[test]
fn the_last_try_that_stands_counts_and_all_are_counted() {
    let mut job = job("HL-0031");
    let speed = |seconds, value| {
        reading(
            seconds,
            Stage::AsFound,
            Quantity::SpeedDeviation,
            value,
            Some(0.012),
        )
    };
    job.readings = vec![speed(1, 1.8), speed(2, 0.1), speed(3, 0.2)];
    job.readings[2].withdrawn = Some(at(4));
    let cell = cell_of(job.clone(), Station::Speed, Stage::AsFound);
    assert_eq!(cell.figure, "+0.100 % ±0.012 %");
    assert_eq!(cell.verdict, Some(Verdict::Pass));
    assert_eq!(cell.words, "pass · 3 tries, 1 withdrawn");
    let left = cell_of(job.clone(), Station::Speed, Stage::AsLeft);
    assert_eq!((&*left.words, left.done), ("not taken", false));
    let history = tries(&shown(job, vec![], vec![]), Station::Speed, &TimeZone::UTC);
    assert_eq!(history.len(), 3);
    assert!(history[0].withdrawn && !history[0].counts, "newest first");
    assert!(history[1].counts && !history[2].counts);
    assert!(
        history[2]
            .words
            .ends_with("as found: +1.800 % ±0.012 %, fail")
    );
}

#[test]
fn the_verdict_is_that_of_the_worst_figure_and_names_it() {
    let mut job = job("HL-0031");
    let mut level = reading(1, Stage::AsFound, Quantity::Balance, 0.1, Some(0.05));
    level.figures.push(Figure {
        quantity: Quantity::LevelSteadiness,
        value: 40.0,
        uncertainty: None,
    });
    let has_limit = job.limits.of(Quantity::LevelSteadiness).is_some();
    if !has_limit {
        job.limits.limits.push(Limit {
            quantity: Quantity::LevelSteadiness,
            least: None,
            greatest: Some(1.0),
            aim: None,
            source: "test".into(),
        });
    }
    job.readings = vec![level];
    let cell = cell_of(job, Station::Level, Stage::AsFound);
    assert_eq!(cell.verdict, Some(Verdict::Outside));
    assert!(
        cell.words
            .starts_with("outside, uncertainty not known: level steadiness, rms 40.00 dB"),
        "{}",
        cell.words
    );
}

#[test]
fn checks_are_counted_and_the_worst_is_named() {
    let mut job = job("HL-0031");
    let done = |seconds, check| CheckDone {
        at: at(seconds),
        stage: Stage::AsFound,
        check,
        withdrawn: None,
    };
    let torque = |text| gauge(Quantity::TakeUpTorque, text).expect("a gauge");
    job.checks = vec![
        done(1, torque("10 g·cm")),
        done(2, torque("45 g·cm")),
        done(3, Seen::Belt.check("cracked", Some(false))),
    ];
    let cell = cell_of(job.clone(), Station::Mechanical, Stage::AsFound);
    assert_eq!(cell.figure, "2 checks", "the second torque counts");
    assert_eq!(cell.words, "fail: belt: cracked (not good)");
    job.checks[2].withdrawn = Some(at(4));
    let cell = cell_of(job.clone(), Station::Mechanical, Stage::AsFound);
    assert_ne!(cell.verdict, Some(Verdict::Fail));
    let history = tries(
        &shown(job, vec![], vec![]),
        Station::Mechanical,
        &TimeZone::UTC,
    );
    assert!(history[0].withdrawn && history[1].counts && !history[2].counts);
}

#[test]
fn a_station_left_out_is_done_until_something_is_taken_there() {
    let mut job = job("HL-0031");
    job.skips.push(Skip {
        at: at(1),
        station: Station::Azimuth,
        stage: Stage::AsFound,
        reason: "no azimuth tape".into(),
    });
    let cell = cell_of(job.clone(), Station::Azimuth, Stage::AsFound);
    assert_eq!(
        (&*cell.figure, &*cell.words),
        ("left out", "no azimuth tape")
    );
    assert!(cell.done && cell.verdict.is_none());
    let azimuth = reading(2, Stage::AsFound, Quantity::Azimuth, 9.0, Some(0.1));
    job.readings.push(azimuth);
    let cell = cell_of(job, Station::Azimuth, Stage::AsFound);
    assert_eq!(cell.verdict, Some(Verdict::Fail));
}

#[test]
fn what_is_next_and_which_stage_goes_on() {
    let mut job = job("HL-0031");
    assert_eq!(stage_of(&job), Stage::AsFound);
    let skip = |station| Skip {
        at: at(1),
        station,
        stage: Stage::AsFound,
        reason: "x".into(),
    };
    job.skips = [
        Station::Mechanical,
        Station::Speed,
        Station::Azimuth,
        Station::Level,
    ]
    .map(skip)
    .to_vec();
    let table = |job: &Job| rows(&shown(job.clone(), vec![], vec![]), &TimeZone::UTC);
    let open = table(&job);
    assert_eq!(next_station(&open, Stage::AsFound), Some(Station::Flutter));
    assert_eq!(
        suggestion(&open, Stage::AsFound, false),
        "Open as found: wow and flutter."
    );
    job.skips.push(skip(Station::Flutter));
    assert!(suggestion(&table(&job), Stage::AsFound, false).contains("a goes on with as left"));
    assert!(suggestion(&table(&job), Stage::AsLeft, true).contains("closed"));
    let left = reading(9, Stage::AsLeft, Quantity::SpeedDeviation, 0.0, None);
    job.readings.push(left);
    assert_eq!(stage_of(&job), Stage::AsLeft);
}

#[test]
fn an_earlier_job_says_what_was_and_what_waits_says_so() {
    let mut before = job("HL-0012");
    let azimuth = reading(0, Stage::AsFound, Quantity::Azimuth, 5.0, Some(0.3));
    before.readings.push(azimuth);
    let azimuth = reading(60, Stage::AsLeft, Quantity::Azimuth, 1.2, Some(0.3));
    before.readings.push(azimuth);
    let waiting = reading(99, Stage::AsFound, Quantity::SpeedDeviation, 0.1, None);
    let in_hand = shown(job("HL-0031"), vec![Entry::Reading(waiting)], vec![before]);
    let rows = rows(&in_hand, &TimeZone::UTC);
    assert_eq!(
        rows[Station::Azimuth as usize].earlier,
        "azimuth was +1.20 arcmin ±0.30 arcmin as left in September 2026 (HL-0012)"
    );
    let speed = &rows[Station::Speed as usize];
    assert!(speed.stages[0].waits && !speed.stages[1].waits);
    assert!(spoken(speed).contains("inside, uncertainty not known, not saved yet"));
    assert_eq!(in_hand.last().map(|(which, _)| which), Some(Which::Waiting));
}
