//! The workshop's calibration tapes: certificates, passes, checks.

use super::stage::{Bench, at};
use trimwatch::bench::standards::{TapeCheck, TapeOnHand};

fn tape() -> TapeOnHand {
    TapeOnHand {
        name: "speed-a".into(),
        title: "Speed tape A".into(),
        certificate: "17/2024".into(),
        certified: Some("2024-11-30".parse().unwrap()),
        passes_before: 40,
        due_after_passes: 45,
        ..TapeOnHand::default()
    }
}

#[test]
fn passes_are_counted_once_each_until_a_check_is_due() {
    let bench = Bench::new();
    let mut store = bench.store();
    assert_eq!(store.tape("speed-a").unwrap(), None);
    store.set_tape(&tape()).unwrap();
    // Readings every five minutes are one pass, however long; one an hour later is another.
    for minute in [0, 5, 10, 15, 20, 90] {
        let counted = store
            .count_pass("speed-a", "Speed tape A", at(60 * minute))
            .unwrap();
        assert_eq!(counted, matches!(minute, 0 | 90), "{minute}");
    }
    let record = store.tape("speed-a").unwrap().unwrap();
    assert_eq!((record.passes, record.passes_since_check), (42, 42));
    assert_eq!(record.played, Some((at(1200), at(5400))));
    assert_eq!(record.due(at(5400)), None);
    for hour in 2..5 {
        store.count_pass("speed-a", "", at(3600 * hour)).unwrap();
    }
    let record = store.tape("speed-a").unwrap().unwrap();
    assert!(record.due(at(20_000)).unwrap().contains("45 passes"));

    let check = TapeCheck {
        at: at(20_000),
        against: "Speed tape B".into(),
        found: "0.01 % apart".into(),
        good: true,
    };
    store.add_tape_check("speed-a", &check).unwrap();
    store.count_pass("speed-a", "", at(30_000)).unwrap();
    // A later change of the certificate leaves the history.
    store
        .set_tape(&TapeOnHand {
            certificate: "18/2026".into(),
            ..tape()
        })
        .unwrap();
    drop(store);
    let store = bench.store();
    let [record] = &store.tapes().unwrap()[..] else {
        panic!("one tape");
    };
    assert_eq!(record.tape.certificate, "18/2026");
    assert_eq!(record.checks, [check]);
    assert_eq!((record.passes, record.passes_since_check), (46, 1));
    assert_eq!(record.due(at(30_000)), None);
}

#[test]
fn a_tape_that_was_only_played_is_known_by_its_passes() {
    let bench = Bench::new();
    let mut store = bench.store();
    store.count_pass("speed-3150", "Speed tape", at(0)).unwrap();
    let record = store.tape("speed-3150").unwrap().unwrap();
    assert_eq!((record.passes, &*record.tape.title), (1, "Speed tape"));
    assert_eq!(record.months(at(0)), None);
    assert!(store.count_pass("", "", at(0)).is_err());
    let check = TapeCheck {
        at: at(1),
        against: "B".into(),
        found: String::new(),
        good: true,
    };
    assert!(store.add_tape_check("none", &check).is_err());
}
