//! A second running copy: both write, each sees what the other wrote, and one that waits in vain says so.

use super::{
    child::{self, child},
    stage::{Bench, at, kept, new_job, reading},
};
use std::{thread, time::Duration};
use trimwatch::bench::{Entry, Keeper, Kept, Store, StoreError};

const EACH: u32 = 40;

/// Not a test of its own: one of two that write.
#[test]
fn child_that_shares() {
    let Some(path) = child::record() else {
        return;
    };
    let mut store = Store::open(path).unwrap();
    for number in 0..EACH {
        store.add_reading("HL-0031", &reading(number)).unwrap();
    }
}

#[test]
fn two_programs_write_at_once_and_nothing_is_lost() {
    let (bench, mut store) = Bench::with_job("HL-0031");
    let sharing = "copies::child_that_shares";
    let first = child(sharing, &bench.record()).spawn().unwrap();
    let second = child(sharing, &bench.record()).spawn().unwrap();
    for number in 0..EACH {
        store.add_reading("HL-0031", &reading(number)).unwrap();
    }
    for copy in [first, second] {
        let ended = copy.wait_with_output().unwrap();
        assert!(ended.status.success(), "{ended:?}");
    }
    let job = kept(&store, "HL-0031").job;
    for number in 0..EACH {
        let same = |other: &&_| **other == reading(number);
        assert_eq!(job.readings.iter().filter(same).count(), 3);
    }
    store.verify().unwrap();
}

#[test]
fn what_another_copy_wrote_is_noticed_and_seen() {
    let (bench, mut store) = Bench::with_job("HL-0031");
    let mut other = bench.store();
    assert!(!store.changed_elsewhere().unwrap());
    store.add_reading("HL-0031", &reading(0)).unwrap();
    assert!(!store.changed_elsewhere().unwrap());
    assert!(other.changed_elsewhere().unwrap());
    other.create_job(&new_job("HL-0032")).unwrap();
    assert!(store.changed_elsewhere().unwrap());
    assert!(!store.changed_elsewhere().unwrap());
    assert_eq!(store.count_jobs().unwrap(), (2, 2));
    assert_eq!(kept(&other, "HL-0031").job.readings, [reading(0)]);
    // Both want the same number: the second is told.
    assert!(store.create_job(&new_job("HL-0032")).is_err());
}

#[test]
fn while_another_copy_holds_the_record_readings_wait_in_order() {
    let (bench, mut store) = Bench::with_job("HL-0031");
    let mut keeper = Keeper::at(bench.record());
    keeper
        .store()
        .unwrap()
        .set_patience(Duration::from_millis(20))
        .unwrap();
    store.set_patience(Duration::from_millis(20)).unwrap();
    let holder = rusqlite::Connection::open(bench.record()).unwrap();
    holder.execute_batch("BEGIN IMMEDIATE").unwrap();
    let refused = store.add_reading("HL-0031", &reading(9)).unwrap_err();
    assert!(matches!(&refused, StoreError::NotNow(told) if told.contains("another copy")));
    let held = keeper.keep("HL-0031", Entry::Reading(reading(0))).unwrap();
    assert!(matches!(held, Kept::InMemory(StoreError::NotNow(_))));
    holder.execute_batch("COMMIT").unwrap();
    let saved = keeper.keep("HL-0031", Entry::Reading(reading(1))).unwrap();
    assert!(matches!(saved, Kept::OnDisk(_)));
    assert_eq!((keeper.waiting().len(), keeper.words()), (0, None));
    let job = kept(&store, "HL-0031").job;
    assert_eq!(job.readings, [reading(0), reading(1)]);
}

#[test]
fn many_copies_may_open_a_new_record_at_once() {
    let bench = Bench::new();
    thread::scope(|scope| {
        for number in 0..8 {
            let path = bench.record();
            scope.spawn(move || {
                let mut store = Store::open(path).unwrap();
                store.set_patience(Duration::from_secs(20)).unwrap();
                let mut new = new_job(&format!("HL-{number:04}"));
                new.opened = at(number);
                store.create_job(&new).unwrap();
            });
        }
    });
    let store = bench.store();
    assert_eq!(store.count_jobs().unwrap(), (8, 8));
    store.verify().unwrap();
}
