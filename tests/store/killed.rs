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
use trimwatch::bench::Store;

const KILLS: u64 = 200;

/// Not a test of its own: what the child runs. Keeps reading after reading, and says each that is kept.
#[test]
fn child_that_writes() {
    let Some(path) = child::record() else {
        return;
    };
    let mut store = Store::open(path).unwrap();
    let mut out = std::io::stdout().lock();
    for number in 0.. {
        store.add_reading("HL-0031", &reading(number)).unwrap();
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
    let (bench, store) = Bench::with_job("HL-0031");
    drop(store);
    let mut before = 0;
    for kill in 0..KILLS {
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
        let job = kept(&store, "HL-0031").job;
        let there = job.readings.len() - before;
        assert!(
            there == said || there == said + 1,
            "{said} said, {there} there"
        );
        for (number, read) in (0..).zip(&job.readings[before..]) {
            assert_eq!(*read, reading(number));
        }
        before = job.readings.len();
    }
    assert!(before as u64 >= KILLS);
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
