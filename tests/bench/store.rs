//! The record at the size it is made for: 10 000 jobs of 40 readings. `cargo bench --bench store`, or `-- JOBS` for
//! another number of jobs.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints, and one that cannot set its stage should stop"
)]

#[path = "../store/stage.rs"]
#[allow(dead_code, reason = "the tests use the rest of it")]
mod stage;

use std::{
    fs,
    time::{Duration, Instant},
};
use trimwatch::bench::{
    Figure, Job, Note, Quantity, Series, SeriesKind, Stage, Station, Store, TakenReading,
    store::Filter,
};

const JOBS: u32 = 10_000;
const TRIES: u32 = 5;

fn main() {
    let jobs = std::env::args()
        .filter_map(|word| word.parse().ok())
        .next()
        .unwrap_or(JOBS);
    let bench = stage::Bench::new();
    let mut store = bench.store();
    let start = Instant::now();
    for number in 0..jobs {
        store.import(&job(number)).unwrap();
    }
    println!(
        "{jobs} jobs of 40 readings, taken in in {:.0?}",
        start.elapsed()
    );
    drop(store);
    let mut store = bench.store();
    let bytes = fs::metadata(bench.record()).unwrap().len();
    println!(
        "file                                {:8.1} MB, {:.0} bytes a reading",
        bytes as f64 / 1e6,
        bytes as f64 / f64::from(jobs) / 40.0
    );
    for (what, most) in [("list of all", None), ("list of the newest 200", Some(200))] {
        let filter = Filter {
            most,
            ..Filter::default()
        };
        let mut found = 0;
        let took = best(|| found = store.jobs(&filter).unwrap().len());
        println!("{what:35} {took:8.1?}, {found} found");
    }
    for (what, search) in [
        ("search: one job's number", "hl-004217"),
        ("search: a model and a word", "finch squeals"),
        ("search: in the notes", "batch 777 stretched"),
        ("search: nothing found", "no such word"),
    ] {
        let filter = Filter {
            search: search.into(),
            ..Filter::default()
        };
        let mut found = 0;
        let took = best(|| found = store.jobs(&filter).unwrap().len());
        println!("{what:35} {took:8.1?}, {found} found");
    }
    // The last job of its deck, which had four.
    let number = format!("HL-{:06}", jobs / 8 * 4 + 3);
    let took = best(|| drop(store.job(&number).unwrap()));
    println!("{:35} {took:8.1?}", "a whole job");
    let took = best(|| drop(store.earlier_jobs(&number).unwrap()));
    println!("{:35} {took:8.1?}", "its deck's earlier jobs");
    let took = best(|| drop(store.next_number().unwrap()));
    println!("{:35} {took:8.1?}", "the next job number");
    let took = best(|| {
        store.add_reading(&number, &stage::reading(7)).unwrap();
    });
    println!("{:35} {took:8.1?}", "a reading kept, on disk");
    let start = Instant::now();
    store.backup(&bench.path("backup.db")).unwrap();
    println!("{:35} {:8.1?}", "backup, looked through", start.elapsed());
    assert!(Store::open_existing(bench.path("backup.db")).is_ok());
}

/// The shortest of some tries: what the machine did meanwhile makes the others longer.
fn best(mut work: impl FnMut()) -> Duration {
    (0..TRIES)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .min()
        .unwrap_or_default()
}

/// A job of 40 readings, ten a station, with as many figures and series as the window takes.
fn job(number: u32) -> Job {
    let mut job = stage::full_job(&format!("HL-{number:06}"));
    job.opened = stage::at(3600 * i64::from(number));
    job.deck.serial = format!("{}", number / 4);
    job.notes.push(Note {
        at: job.opened,
        text: format!("belt of batch {number}, stretched by a tenth"),
        for_owner: false,
    });
    job.readings = (0..40).map(|place| reading(number, place)).collect();
    job
}

fn reading(job: u32, place: u32) -> TakenReading {
    let station = [
        Station::Speed,
        Station::Flutter,
        Station::Azimuth,
        Station::Level,
    ][place as usize % 4];
    let mut reading = stage::reading(job * 40 + place);
    reading.station = station;
    reading.stage = Stage::ALL[(place / 20) as usize];
    reading.context.running_seconds = f64::from(place) * 61.7;
    reading.context.profile = format!("corrected; measured {} days ago", job % 60);
    reading.figures = Quantity::ALL
        .iter()
        .filter(|quantity| quantity.station() == station)
        .map(|&quantity| Figure {
            quantity,
            value: f64::from(job * 40 + place).sqrt() / 700.0,
            uncertainty: Some(f64::from(place).sqrt() / 7000.0),
        })
        .collect();
    if station == Station::Level {
        let right = Series {
            kind: SeriesKind::RightDbfs,
            ..reading.series[0].clone()
        };
        reading.series.push(right);
    }
    reading
}
