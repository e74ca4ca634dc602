//! Lists and searches stay quick: a tenth of the promised size here, the whole of it in `cargo bench --bench store`.

use super::stage::{Bench, at, new_job};
use std::time::{Duration, Instant};
use trimwatch::bench::{Note, store::Filter};

#[test]
fn a_thousand_jobs_are_listed_and_searched_at_once() {
    let bench = Bench::new();
    let mut store = bench.store();
    let mut job = super::stage::full_job("HL-0000");
    for number in 0..1000 {
        job.number = format!("HL-{number:04}");
        job.deck.serial = format!("{}", 20_000 + number);
        job.notes.push(Note {
            at: at(0),
            text: format!("belt of batch {number}, stretched"),
            for_owner: false,
        });
        store.import(&job).unwrap();
        job.notes.pop();
    }
    store.create_job(&new_job("X-1")).unwrap();
    let timed = |search: &str| {
        let filter = Filter {
            search: search.into(),
            ..Filter::default()
        };
        let best = (0..3).map(|_| {
            let start = Instant::now();
            let found = store.jobs(&filter).unwrap().len();
            (start.elapsed(), found)
        });
        best.min().unwrap()
    };
    for (search, found) in [
        ("", 1001),
        ("batch 777,", 1),
        ("finch squeals", 1000),
        ("nothing", 0),
    ] {
        let (took, number) = timed(search);
        assert_eq!(number, found, "{search}");
        assert!(took < Duration::from_millis(50), "'{search}': {took:?}");
    }
}
