//! Records of every earlier version, with jobs in them, brought up to this one.

use super::stage::{Bench, at, full_job, kept, reading};
use rusqlite::Connection;
use std::{fs, path::Path};
use trimwatch::bench::{Job, Store, StoreError, job_file, store::Filter};

/// The version this program writes, and the files of all before it.
const NOW: i64 = 3;
const EARLIER: [(i64, &str); 2] = [
    (1, include_str!("versions/v1.sql")),
    (2, include_str!("versions/v2.sql")),
];

fn make(path: &Path, sql: &str) {
    Connection::open(path).unwrap().execute_batch(sql).unwrap();
}

fn version(path: &Path) -> i64 {
    Connection::open(path)
        .unwrap()
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap()
}

/// What is in the files of the earlier versions.
fn job() -> Job {
    let mut job = full_job("HL-0031");
    for series in job
        .readings
        .iter_mut()
        .flat_map(|reading| &mut reading.series)
    {
        series.values.truncate(8);
    }
    job
}

#[test]
fn records_of_every_earlier_version_come_up_to_date_with_all_that_is_in_them() {
    assert_eq!(EARLIER.len() as i64, NOW - 1);
    for (from, sql) in EARLIER {
        let bench = Bench::new();
        make(&bench.record(), sql);
        assert_eq!(version(&bench.record()), from);
        let mut store = bench.store();
        assert_eq!(version(&bench.record()), NOW);
        store.verify().unwrap();
        let read = kept(&store, "HL-0031").job;
        assert_eq!(read, job(), "from {from}");
        assert_eq!(job_file::to_text(&read), job_file::to_text(&job()));
        assert_eq!(store.workshop().unwrap(), job().workshop);

        let search = |search: &str| {
            let filter = Filter {
                search: search.into(),
                ..Filter::default()
            };
            store.jobs(&filter).unwrap()
        };
        assert_eq!(search("").len(), 2);
        let found = search("eats TAPES squeals");
        assert_eq!(found.len(), 1);
        assert_eq!((&*found[0].number, found[0].readings), ("HL-0032", 2));
        assert_eq!(store.jobs_of_deck("finch 2h", "20417").unwrap().len(), 2);
        match (from, store.tape("speed-a").unwrap()) {
            (1, None) => {}
            (1, Some(tape)) => panic!("{tape:?}"),
            (_, tape) => {
                let tape = tape.unwrap();
                assert_eq!((tape.passes, tape.passes_since_check), (1, 0));
                assert_eq!(tape.checks[0].at, at(10_000));
            }
        }

        // And it goes on.
        store.add_reading("HL-0032", &reading(7)).unwrap();
        store.count_pass("speed-b", "B", at(0)).unwrap();
        drop(store);
        assert_eq!(kept(&bench.store(), "HL-0032").job.readings[3], reading(7));
    }
}

/// Each of the steps gives the same tables as a new record has.
#[test]
fn a_record_that_was_brought_up_is_laid_out_as_a_new_one() {
    let tables = |path: &Path| {
        let connection = Connection::open(path).unwrap();
        let mut statement = connection
            .prepare("SELECT name || ': ' || coalesce(sql, '') FROM sqlite_schema ORDER BY name")
            .unwrap();
        let rows = statement
            .query_map([], |row| row.get::<_, String>(0))
            .unwrap();
        rows.map(|row| {
            row.unwrap()
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
        })
        .collect::<Vec<_>>()
    };
    let bench = Bench::new();
    drop(bench.store());
    let new = tables(&bench.record());
    assert!(new.len() > 20);
    for (from, sql) in EARLIER {
        let path = bench.path(&format!("v{from}.db"));
        make(&path, sql);
        drop(Store::open(&path).unwrap());
        assert_eq!(tables(&path), new, "from {from}");
    }
}

/// A step that cannot be finished leaves the earlier version whole.
#[test]
fn a_step_that_fails_leaves_the_record_as_it_was() {
    let bench = Bench::new();
    make(&bench.record(), EARLIER[0].1);
    let connection = Connection::open(bench.record()).unwrap();
    // The last step wants to make this table itself.
    connection
        .execute_batch("CREATE TABLE job_text (x)")
        .unwrap();
    let told = Store::open(bench.record()).unwrap_err();
    assert!(matches!(told, StoreError::Unusable(_)), "{told}");
    assert_eq!(version(&bench.record()), 1);
    let tapes: bool = connection
        .prepare("SELECT 1 FROM sqlite_schema WHERE name = 'tape'")
        .unwrap()
        .exists([])
        .unwrap();
    assert!(!tapes, "the step before was taken back, too");
    connection.execute_batch("DROP TABLE job_text").unwrap();
    drop(connection);
    assert_eq!(kept(&bench.store(), "HL-0031").job, job());
    assert!(fs::metadata(bench.record()).unwrap().len() > 0);
}
