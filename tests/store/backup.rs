//! A backup in one step: whole, looked through, while others write; never over something that is there.

use super::stage::{Bench, full_job, kept, reading};
use std::{
    fs,
    sync::atomic::{AtomicU32, Ordering},
    thread,
};
use trimwatch::bench::{Store, StoreError};

const BACKUPS: u32 = 5;

#[test]
fn a_backup_is_a_whole_record_in_one_file() {
    let bench = Bench::new();
    let mut store = bench.store();
    store.import(&full_job("HL-0031")).unwrap();
    let path = bench.path("backup.db");
    let made = store.backup(&path).unwrap();
    assert_eq!(made.jobs, 1);
    assert_eq!(made.bytes, fs::metadata(&path).unwrap().len());
    // What comes later is not in it.
    store.import(&full_job("HL-0032")).unwrap();
    let beside = |name: &str| bench.path(name).exists();
    assert!(!beside("backup.db-wal") && !beside("backup.db-shm"));
    let copy = Store::open(&path).unwrap();
    assert_eq!(kept(&copy, "HL-0031").job, full_job("HL-0031"));
    assert_eq!(copy.count_jobs().unwrap().0, 1);
}

#[test]
fn a_backup_made_while_another_copy_writes_is_consistent() {
    let (bench, store) = Bench::with_job("HL-0031");
    let backed_up = AtomicU32::new(0);
    thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut writer = bench.store();
            // Until all backups are made, but not for ever.
            let mut number = 0;
            while backed_up.load(Ordering::Relaxed) < BACKUPS && number < 3000 {
                writer.add_reading("HL-0031", &reading(number)).unwrap();
                number += 1;
            }
            number
        });
        for number in 0..BACKUPS {
            let path = bench.path(&format!("backup-{number}.db"));
            store.backup(&path).unwrap();
            backed_up.store(number + 1, Ordering::Relaxed);
            let copy = Store::open_existing(&path).unwrap();
            let job = kept(&copy, "HL-0031").job;
            for (number, kept) in (0..).zip(&job.readings) {
                assert_eq!(*kept, reading(number));
            }
        }
        assert!(writer.join().unwrap() > 0);
    });
}

#[test]
fn nothing_is_overwritten_and_no_half_copy_stays() {
    let (bench, store) = Bench::with_job("HL-0031");
    let there = bench.path("there.db");
    fs::write(&there, b"last year's jobs").unwrap();
    for path in [&there, &bench.record(), &bench.path("")] {
        let told = store.backup(path).unwrap_err();
        assert!(
            matches!(&told, StoreError::Refused(words) if words.contains("already")),
            "{told}"
        );
    }
    assert_eq!(fs::read(&there).unwrap(), b"last year's jobs");
    let nowhere = store.backup(&bench.path("none/backup.db")).unwrap_err();
    assert!(
        matches!(&nowhere, StoreError::NotNow(words) if words.contains("none")),
        "{nowhere}"
    );
    let names: Vec<_> = fs::read_dir(bench.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains(".new"))
        .collect();
    assert_eq!(names, [""; 0]);
}
