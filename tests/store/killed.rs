//! A writer that is killed again and again: at most the reading in hand is lost, and the record is sound.

use super::{
    child::{self, child},
    stage::{Bench, kept, new_job, reading},
};
use std::{
    io::{BufRead as _, BufReader, Write as _},
    thread,
    time::Duration,
};
use trimwatch::bench::{Store, store::Filter};

const KILLS: u64 = 200;
/// A job does not grow for ever, so that looking at it stays quick.
const KILLS_A_JOB: u64 = 10;

/// Not a test of its own: what the child runs. Keeps reading after reading, and says each that is kept.
#[test]
fn child_that_writes() {
    let Some(path) = child::record() else {
        return;
    };
    let mut store = Store::open(path).unwrap();
    let newest = Filter {
        most: Some(1),
        ..Filter::default()
    };
    let job = store.jobs(&newest).unwrap()[0].number.clone();
    let mut out = std::io::stdout().lock();
    for number in 0.. {
        store.add_reading(&job, &reading(number)).unwrap();
        writeln!(out, "kept").unwrap();
        out.flush().unwrap();
    }
}

/// Not a test of its own: makes a new record with one job.
#[test]
fn child_that_opens() {
    let Some(path) = child::record() else {
        return;
    };
    println!("opening");
    let mut store = Store::open(path).unwrap();
    store.create_job(&new_job("HL-0031")).unwrap();
}

#[test]
fn a_writer_killed_two_hundred_times_loses_at_most_the_reading_in_hand() {
    let bench = Bench::new();
    let (mut job, mut before, mut total) = (String::new(), 0, 0);
    for kill in 0..KILLS {
        if kill % KILLS_A_JOB == 0 {
            job = format!("HL-{kill:04}");
            before = 0;
            bench.store().create_job(&new_job(&job)).unwrap();
        }
        let mut writer = child("killed::child_that_writes", &bench.record())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(writer.stdout.take().unwrap()).lines();
        let mut said = 0;
        // Once it writes, wait a different while each time.
        while said == 0 {
            said += usize::from(lines.next().expect("it writes").unwrap() == "kept");
        }
        thread::sleep(Duration::from_micros(200 * (kill * 7 % 23)));
        writer.kill().unwrap();
        writer.wait().unwrap();
        said += lines
            .map_while(Result::ok)
            .filter(|line| line == "kept")
            .count();

        let store = bench.store();
        store.verify().unwrap();
        let readings = kept(&store, &job).job.readings;
        let there = readings.len() - before;
        assert!(
            there == said || there == said + 1,
            "{said} said, {there} there"
        );
        for (number, read) in (0..).zip(&readings[before..]) {
            assert_eq!(*read, reading(number));
        }
        before = readings.len();
        total += there as u64;
    }
    assert!(total >= KILLS);
}

#[test]
fn a_new_record_whose_making_was_killed_can_be_made() {
    for kill in 0..20 {
        let bench = Bench::new();
        let mut opener = child("killed::child_that_opens", &bench.record())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(opener.stdout.take().unwrap()).lines();
        while lines.next().expect("it opens").unwrap() != "opening" {}
        thread::sleep(Duration::from_micros(150 * kill));
        opener.kill().unwrap();
        opener.wait().unwrap();
        let mut store = bench.store();
        store.verify().unwrap();
        if store.count_jobs().unwrap().0 == 0 {
            store.create_job(&new_job("HL-0031")).unwrap();
        }
        assert_eq!(store.count_jobs().unwrap(), (1, 1));
    }
}
