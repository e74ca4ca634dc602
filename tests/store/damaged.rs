//! Damaged files, files of a later version, and files that are something else: told, and left as they are.

use super::stage::{Bench, full_job, kept, reading};
use std::fs;
use trimwatch::bench::{Entry, Keeper, Kept, Store, StoreError, store::Filter};

/// Opening it is refused as unusable, with these words, and not a byte changes.
fn assert_left(bench: &Bench, bytes: &[u8], words: &str) {
    let path = bench.path("other.db");
    fs::write(&path, bytes).unwrap();
    for opened in [Store::open(&path), Store::open_existing(&path)] {
        let told = opened.unwrap_err();
        assert!(matches!(told, StoreError::Unusable(_)), "{told}");
        let told = told.to_string();
        assert!(told.contains("other.db") && told.contains(words), "{told}");
        assert_eq!(told.lines().count(), 1);
    }
    assert_eq!(fs::read(&path).unwrap(), bytes);
}

#[test]
fn what_is_no_record_is_left_as_it_is() {
    let bench = Bench::new();
    assert_left(
        &bench,
        &b"a letter, not a record\n".repeat(400),
        "no record",
    );
    assert_left(&bench, &vec![0xa5; 20_000], "no record");
    let other = bench.path("made.db");
    let connection = rusqlite::Connection::open(&other).unwrap();
    connection
        .execute_batch("CREATE TABLE job (number TEXT); INSERT INTO job VALUES ('mine')")
        .unwrap();
    drop(connection);
    assert_left(&bench, &fs::read(&other).unwrap(), "no record of jobs");
    assert!(Store::open_existing(bench.path("none.db")).is_err());
    assert!(!bench.path("none.db").exists());
}

#[test]
fn a_record_of_a_later_version_is_refused_in_words() {
    let (bench, store) = Bench::with_job("HL-0031");
    drop(store);
    let connection = rusqlite::Connection::open(bench.record()).unwrap();
    connection.pragma_update(None, "user_version", 99).unwrap();
    drop(connection);
    assert_left(&bench, &fs::read(bench.record()).unwrap(), "later version");
}

#[test]
fn a_damaged_record_is_told_and_never_overwritten() {
    let bench = Bench::new();
    let mut store = bench.store();
    for number in 0..30 {
        store.import(&full_job(&format!("HL-{number:04}"))).unwrap();
    }
    drop(store);
    let good = fs::read(bench.record()).unwrap();

    let mut no_header = good.clone();
    no_header[..100].fill(0x5a);
    assert_left(&bench, &no_header, "no record");

    // Every page but the first, one after the other: what reads it says so, and nothing panics.
    let path = bench.path("hurt.db");
    let mut told = 0;
    for page in 1..good.len() / 8192 {
        let mut hurt = good.clone();
        hurt[page * 8192..page * 8192 + 600].fill(0xff);
        fs::write(&path, &hurt).unwrap();
        let Ok(store) = Store::open(&path) else {
            told += 1;
            continue;
        };
        let sound = store.verify();
        let listed = store.jobs(&Filter::default()).map(drop);
        let read: Result<Vec<_>, _> = (0..30)
            .map(|number| store.job(&format!("HL-{number:04}")))
            .collect();
        let damaged = |result: &Result<(), StoreError>| matches!(result, Err(StoreError::Unusable(words)) if words.contains("hurt.db"));
        told += usize::from(damaged(&sound));
        assert!(listed.is_ok() || damaged(&listed), "{listed:?}");
        assert!(read.is_ok() || sound.is_err(), "{sound:?}");
        drop(store);
        assert_eq!(fs::read(&path).unwrap(), hurt);
    }
    assert!(told >= good.len() / 8192 - 1, "{told}");

    // A file cut short.
    let mut cut = good;
    cut.truncate(cut.len() / 2 / 8192 * 8192);
    fs::write(&path, &cut).unwrap();
    let store = Store::open(&path);
    assert!(store.is_err() || store.unwrap().verify().is_err());
    assert_eq!(fs::read(&path).unwrap(), cut);
}

#[test]
fn readings_wait_while_the_record_is_damaged_and_go_into_the_backup() {
    let (bench, store) = Bench::with_job("HL-0031");
    store.backup(&bench.path("backup.db")).unwrap();
    drop(store);
    fs::write(bench.record(), b"coffee on the disk").unwrap();
    let mut keeper = Keeper::at(bench.record());
    for number in 0..3 {
        let kept = keeper.keep("HL-0031", Entry::Reading(reading(number)));
        assert!(matches!(kept, Ok(Kept::InMemory(StoreError::Unusable(_)))));
    }
    let words = keeper.words().unwrap();
    assert!(words.starts_with("3 entries not saved yet"), "{words}");
    assert!(words.contains("put a backup in its place"), "{words}");
    assert_eq!(fs::read(bench.record()).unwrap(), b"coffee on the disk");
    fs::rename(bench.path("backup.db"), bench.record()).unwrap();
    assert_eq!(keeper.retry(), 3);
    assert_eq!(keeper.words(), None);
    let readings = kept(&bench.store(), "HL-0031").job.readings;
    assert_eq!(readings, [reading(0), reading(1), reading(2)]);
}
