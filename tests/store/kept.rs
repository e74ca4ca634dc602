//! What is put in comes out again: jobs, readings, remarks; lists and searches.

use super::stage::{Bench, at, deck, full_job, kept, limits, new_job, reading};
use trimwatch::bench::{
    Deck, Environment, Note, Station, StoreError, Workshop,
    store::{Filter, State},
};

#[test]
fn a_job_grows_step_by_step_and_is_the_same_after_opening_anew() {
    let bench = Bench::new();
    let mut store = bench.store();
    let job = full_job("HL-0031");
    store.set_workshop(&job.workshop).unwrap();
    store.create_job(&new_job("HL-0031")).unwrap();
    store.set_environment("HL-0031", &job.environment).unwrap();
    for check in &job.checks {
        store.add_check("HL-0031", check).unwrap();
    }
    for reading in &job.readings {
        store.add_reading("hl-0031", reading).unwrap();
    }
    store.add_skip("HL-0031", &job.skips[0]).unwrap();
    store.add_part("HL-0031", &job.parts[0]).unwrap();
    store.add_note("HL-0031", &job.notes[0]).unwrap();
    store.close_job("HL-0031", job.closed.unwrap()).unwrap();
    drop(store);
    let store = bench.store();
    let kept = kept(&store, "HL-0031");
    assert_eq!(kept.job, job);
    assert_eq!(kept.readings.len(), 3);
    store.verify().unwrap();
}

#[test]
fn a_withdrawn_reading_stays_and_can_be_restored() {
    let (_bench, mut store) = Bench::with_job("HL-0031");
    let first = store.add_reading("HL-0031", &reading(0)).unwrap();
    let second = store.add_reading("HL-0031", &reading(1)).unwrap();
    store.withdraw_reading(second, at(100)).unwrap();
    store.withdraw_reading(second, at(200)).unwrap();
    let job = kept(&store, "HL-0031");
    assert_eq!(job.readings, [first, second]);
    assert_eq!(job.job.readings[1].withdrawn, Some(at(100)));
    let stage = trimwatch::bench::Stage::AsFound;
    assert_eq!(job.job.standing(Station::Speed, stage), Some(&reading(0)));
    assert_eq!(store.jobs(&Filter::default()).unwrap()[0].readings, 1);
    store.restore_reading(second).unwrap();
    assert_eq!(kept(&store, "HL-0031").job.readings[1], reading(1));
    assert_eq!(store.jobs(&Filter::default()).unwrap()[0].readings, 2);
}

#[test]
fn what_makes_no_sense_is_refused_and_leaves_nothing() {
    let (_bench, mut store) = Bench::with_job("HL-0031");
    let refused = |result: Result<_, StoreError>, word: &str| {
        let Err(StoreError::Refused(told)) = result else {
            panic!("{result:?}");
        };
        assert!(told.contains(word), "{told}");
    };
    let mut not_a_number = reading(0);
    not_a_number.figures[0].value = f64::NAN;
    refused(
        store.add_reading("HL-0031", &not_a_number).map(drop),
        "speed_deviation_percent",
    );
    let mut empty = reading(0);
    empty.figures.clear();
    refused(store.add_reading("HL-0031", &empty).map(drop), "figure");
    let mut infinite = reading(0);
    infinite.series[0].values[7] = Some(f32::INFINITY);
    refused(store.add_reading("HL-0031", &infinite).map(drop), "series");
    refused(
        store.add_reading("HL-0032", &reading(0)).map(drop),
        "HL-0032",
    );
    refused(store.create_job(&new_job("HL-0031")), "already");
    refused(store.create_job(&new_job("hl-0031")), "already");
    refused(store.create_job(&new_job("../x")), "job number");
    let environment = Environment {
        temperature_c: Some(f64::INFINITY),
        ..Environment::default()
    };
    refused(
        store.set_environment("HL-0031", &environment),
        "temperature_c",
    );
    let blank = Note {
        at: at(1),
        text: " \n".into(),
        for_owner: false,
    };
    refused(store.add_note("HL-0031", &blank).map(drop), "text");
    store.close_job("HL-0031", at(5)).unwrap();
    refused(store.close_job("HL-0031", at(6)), "closed already");
    assert!(kept(&store, "HL-0031").job.readings.is_empty());
}

#[test]
fn jobs_are_found_by_any_of_their_words() {
    let bench = Bench::new();
    let mut store = bench.store();
    store.create_job(&new_job("HL-0031")).unwrap();
    let mut heron = new_job("HL-0032");
    heron.deck.model = "Heron 3HC".into();
    heron.deck.serial = "ÄÖ-7".into();
    heron.complaint = "100% of the time: eats tape_loops".into();
    heron.opened = at(1000);
    store.create_job(&heron).unwrap();
    let note = Note {
        at: at(2000),
        text: "Take-up   clutch\nslips".into(),
        for_owner: false,
    };
    let note = store.add_note("HL-0032", &note).unwrap();
    store.close_job("HL-0031", at(3000)).unwrap();
    let found = |store: &trimwatch::bench::Store, search: &str, state| {
        let filter = Filter {
            search: search.into(),
            state,
            most: None,
        };
        let rows = store.jobs(&filter).unwrap();
        rows.into_iter().map(|row| row.number).collect::<Vec<_>>()
    };
    assert_eq!(found(&store, "", State::Any), ["HL-0032", "HL-0031"]);
    assert_eq!(found(&store, "hl-003", State::Closed), ["HL-0031"]);
    assert_eq!(found(&store, "  HERON  eats ", State::Any), ["HL-0032"]);
    assert_eq!(found(&store, "äö", State::Open), ["HL-0032"]);
    assert_eq!(found(&store, "clutch slip", State::Any), ["HL-0032"]);
    assert_eq!(found(&store, "20417", State::Any), ["HL-0031"]);
    // What means something in SQL means itself here.
    assert_eq!(found(&store, "100%", State::Any), ["HL-0032"]);
    assert_eq!(found(&store, "tape_loops", State::Any), ["HL-0032"]);
    for nothing in ["%", "' OR 1=1 --", "heron\0", "f_nch", "\"", "*"] {
        let expected: &[&str] = if nothing == "%" { &["HL-0032"] } else { &[] };
        assert_eq!(found(&store, nothing, State::Any), expected, "{nothing}");
    }
    store.remove_note(note).unwrap();
    assert!(found(&store, "clutch", State::Any).is_empty());
    store.set_complaint("HL-0032", "Hums").unwrap();
    assert_eq!(found(&store, "hums", State::Any), ["HL-0032"]);
    assert!(found(&store, "eats", State::Any).is_empty());
    assert_eq!(store.count_jobs().unwrap(), (2, 1));
}

#[test]
fn the_earlier_jobs_of_a_deck_are_at_hand() {
    let bench = Bench::new();
    let mut store = bench.store();
    for (place, number) in ["HL-0010", "HL-0020", "HL-0030"].into_iter().enumerate() {
        let mut new = new_job(number);
        new.opened = at(1000 * place as i64);
        if place == 1 {
            new.deck.model = " finch  2h".into();
            new.deck.mechanism = String::new();
        }
        store.create_job(&new).unwrap();
        store.add_reading(number, &reading(place as u32)).unwrap();
    }
    let mut other = new_job("HL-0040");
    other.deck.serial = "20418".into();
    store.create_job(&other).unwrap();
    let mut unknown = new_job("HL-0050");
    unknown.deck.serial = String::new();
    store.create_job(&unknown).unwrap();

    let earlier = store.earlier_jobs("HL-0030").unwrap();
    let numbers: Vec<_> = earlier.iter().map(|job| &*job.number).collect();
    assert_eq!(numbers, ["HL-0020", "HL-0010"]);
    assert_eq!(earlier[1].readings[0].figures, reading(0).figures);
    assert!(earlier[1].readings[0].series.is_empty());
    assert!(store.earlier_jobs("HL-0010").unwrap().is_empty());
    assert!(store.earlier_jobs("HL-0050").unwrap().is_empty());
    assert!(store.earlier_jobs("HL-0099").is_err());
    assert_eq!(store.jobs_of_deck("FINCH 2H", "20417").unwrap().len(), 3);
    let known = store.known_decks("finch", 10).unwrap();
    assert_eq!(known.len(), 3);
    assert!(known.iter().any(|known| known.jobs == 3));
    assert_eq!(store.known_decks("", 1).unwrap()[0].deck, unknown.deck);
}

#[test]
fn a_change_to_one_job_leaves_the_others() {
    let bench = Bench::new();
    let mut store = bench.store();
    store.create_job(&new_job("HL-0031")).unwrap();
    store.create_job(&new_job("HL-0032")).unwrap();
    let corrected = Deck {
        serial: "20471".into(),
        ..deck()
    };
    store.set_deck("HL-0032", &corrected).unwrap();
    let mut own = limits();
    own.title = "Owner's wish".into();
    store.set_limits("HL-0032", &own).unwrap();
    let workshop = Workshop {
        name: "Harbour Lane Audio Repair".into(),
        lines: vec![],
    };
    store.set_workshop(&workshop).unwrap();
    store.renew_workshop("HL-0032").unwrap();
    let (first, second) = (kept(&store, "HL-0031").job, kept(&store, "HL-0032").job);
    assert_eq!((first.deck, first.limits), (deck(), limits()));
    assert_eq!(first.workshop, Workshop::default());
    assert_eq!((second.deck, second.limits), (corrected, own));
    assert_eq!(second.workshop, workshop);
    assert_eq!(store.next_number().unwrap(), "HL-0033");
}
