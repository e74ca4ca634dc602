//! What only the store itself can be asked: what SQLite says of a disk that is full.

use super::{Store, StoreError};
use crate::bench::standards::TapeOnHand;

#[test]
fn a_full_disk_is_told_in_words_and_nothing_is_half_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path().join("jobs.db")).expect("a record");
    let pages: i64 = store
        .connection
        .pragma_query_value(None, "page_count", |row| row.get(0))
        .expect("a number");
    store
        .connection
        .pragma_update_and_check(None, "max_page_count", pages + 1, |_| Ok(()))
        .expect("a limit");
    let tape = |number: usize| TapeOnHand {
        name: format!("tape {number}"),
        title: "x".repeat(400),
        ..TapeOnHand::default()
    };
    let mut kept = 0;
    let told = loop {
        match store.set_tape(&tape(kept)) {
            Ok(()) => kept += 1,
            Err(told) => break told,
        }
        assert!(kept < 1000, "the disk is never full");
    };
    let StoreError::NotNow(words) = &told else {
        panic!("{told:?}");
    };
    assert!(
        words.contains("jobs.db: the disk is full; make room"),
        "{words}"
    );
    assert!(told.may_pass());
    assert_eq!(store.tapes().expect("readable").len(), kept);
    store.verify().expect("sound");
    store
        .connection
        .pragma_update_and_check(None, "max_page_count", 1_000_000, |_| Ok(()))
        .expect("room");
    store.set_tape(&tape(kept)).expect("kept now");
}
