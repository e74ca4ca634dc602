//! The desk by itself: order of answers, what waits, what is told at the end.

use super::*;
use crate::bench::{
    Deck, Environment, LimitSet, Note, StoreError,
    keeping::{Entry, Kept},
    store::{Filter, NewJob},
};
use jiff::Timestamp;
use std::{path::Path, time::Instant};

fn at(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + seconds).expect("a time")
}

fn new_job() -> Box<NewJob> {
    Box::new(NewJob {
        number: "HL-0031".into(),
        deck: Deck {
            model: "Finch 2H".into(),
            ..Deck::default()
        },
        opened: at(0),
        complaint: String::new(),
        limits: LimitSet {
            name: "none".into(),
            title: "None".into(),
            limits: vec![],
        },
        environment: Environment::default(),
    })
}

fn note(seconds: i64) -> Entry {
    Entry::Note(Note {
        at: at(seconds),
        text: format!("note {seconds}"),
        for_owner: false,
    })
}

fn keep(ticket: u64) -> Errand {
    Errand::Keep(Box::new(ToKeep {
        ticket,
        job: "HL-0031".into(),
        entry: note(ticket as i64),
        pass: None,
    }))
}

fn desk(path: &Path) -> JobDesk {
    let record = Box::new(FileRecord::at(path));
    JobDesk::start(record, &egui::Context::default()).expect("a thread")
}

fn answer(desk: &mut JobDesk) -> Answer {
    let deadline = Instant::now() + Duration::from_secs(20);
    loop {
        if let Some(answer) = desk.take() {
            return answer;
        }
        assert!(Instant::now() < deadline, "no answer");
        thread::sleep(Duration::from_millis(1));
    }
}

/// The first answer of which something is so; those before it are dropped.
fn first<T>(desk: &mut JobDesk, is_it: impl Fn(Answer) -> Option<T>) -> T {
    loop {
        if let Some(found) = is_it(answer(desk)) {
            return found;
        }
    }
}

fn kept(desk: &mut JobDesk) -> (u64, Result<Kept, StoreError>, usize) {
    first(desk, |answer| match answer {
        Answer::Kept {
            ticket,
            outcome,
            waiting,
        } => Some((ticket, outcome, waiting)),
        _ => None,
    })
}

fn in_hand(desk: &mut JobDesk) -> InHand {
    first(desk, |answer| match answer {
        Answer::InHand(in_hand) => Some(*in_hand),
        _ => None,
    })
}

#[test]
fn answers_come_in_order_and_the_job_comes_anew_after_each_entry() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = desk(&folder.path().join("jobs.db"));
    assert!(desk.ask(Errand::Create(new_job())));
    assert_eq!(answer(&mut desk), Answer::Created("HL-0031".into()));
    assert!(in_hand(&mut desk).job.notes.is_empty());
    for ticket in 1..=3 {
        desk.ask(keep(ticket));
    }
    for ticket in 1..=3 {
        let (of, outcome, waiting) = kept(&mut desk);
        assert_eq!((of, waiting), (ticket, 0));
        assert!(matches!(outcome, Ok(Kept::OnDisk(_))), "{outcome:?}");
        assert_eq!(in_hand(&mut desk).job.notes.len(), ticket as usize);
    }
    desk.ask(Errand::List(Filter::default()));
    let listed = first(&mut desk, |answer| match answer {
        Answer::Listed(listed) => Some(listed),
        _ => None,
    });
    assert_eq!((listed.rows.len(), listed.all, listed.open), (1, 1, 1));
    assert_eq!(desk.close(), None);
}

#[test]
fn an_entry_for_no_job_is_refused_and_the_desk_goes_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = desk(&folder.path().join("jobs.db"));
    desk.ask(keep(7));
    let (_, outcome, waiting) = kept(&mut desk);
    assert!(
        matches!(outcome, Err(StoreError::Refused(_))),
        "{outcome:?}"
    );
    assert_eq!(waiting, 0);
    desk.ask(Errand::Open("HL-0099".into()));
    let told = first(&mut desk, |answer| match answer {
        Answer::NotOpened { number, why } => Some((number, why)),
        _ => None,
    });
    assert_eq!(told.0, "HL-0099");
    assert!(matches!(told.1, StoreError::Refused(_)));
    assert_eq!(desk.close(), None);
}

#[test]
fn what_waits_is_shown_taken_back_and_told_at_the_end() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("jobs.db");
    let mut desk = desk(&path);
    desk.ask(Errand::Create(new_job()));
    in_hand(&mut desk);
    let other = rusqlite::Connection::open(&path).expect("opened");
    other.execute_batch("BEGIN IMMEDIATE").expect("locked");
    desk.ask(keep(1));
    desk.ask(keep(2));
    let (_, outcome, waiting) = kept(&mut desk);
    assert!(matches!(outcome, Ok(Kept::InMemory(_))), "{outcome:?}");
    assert_eq!(waiting, 1);
    assert_eq!(kept(&mut desk).2, 2);
    let shown = in_hand(&mut desk);
    assert_eq!(shown.job.notes.len(), 2, "what waits is shown");
    assert_eq!(shown.waiting(), 2);
    let (which, last) = shown.last().expect("the second");
    assert_eq!((which, &last), (Which::Waiting, &note(2)));
    desk.ask(Errand::TakeBack {
        job: "HL-0031".into(),
        which,
        entry: Box::new(last),
        at: at(9),
    });
    let done = first(&mut desk, |answer| match answer {
        Answer::TakenBack { done, .. } => Some(done),
        _ => None,
    });
    assert_eq!(done, Ok(()));
    let told = desk.close().expect("one is lost");
    assert!(told.contains("HL-0031: note: note 1"), "{told}");
    assert!(!told.contains("note 2"), "{told}");
}

#[test]
fn what_waits_is_saved_when_the_file_is_free_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("jobs.db");
    let mut desk = desk(&path);
    desk.ask(Errand::Create(new_job()));
    in_hand(&mut desk);
    let other = rusqlite::Connection::open(&path).expect("opened");
    other.execute_batch("BEGIN IMMEDIATE").expect("locked");
    desk.ask(keep(1));
    assert_eq!(kept(&mut desk).2, 1);
    other.execute_batch("ROLLBACK").expect("free");
    let saved = first(&mut desk, |answer| match answer {
        Answer::InHand(in_hand) if in_hand.waiting() == 0 => Some(*in_hand),
        _ => None,
    });
    assert_eq!(saved.job.notes.len(), 1);
    let (which, _) = saved.last().expect("it");
    assert!(matches!(which, Which::Kept(_)));
    assert_eq!(desk.close(), None);
}

#[test]
fn a_record_that_cannot_be_opened_is_told_and_nothing_is_lost_quietly() {
    let folder = tempfile::tempdir().expect("a folder");
    let in_the_way = folder.path().join("file");
    std::fs::write(&in_the_way, "x").expect("written");
    let mut desk = desk(&in_the_way.join("jobs.db"));
    desk.ask(keep(1));
    let (_, outcome, waiting) = kept(&mut desk);
    assert!(matches!(outcome, Ok(Kept::InMemory(_))), "{outcome:?}");
    assert_eq!(waiting, 1);
    desk.ask(Errand::Prepare);
    assert!(matches!(
        first(&mut desk, |answer| match answer {
            Answer::Failed(why) => Some(why),
            _ => None,
        }),
        why if why.contains("file")
    ));
    assert!(desk.close().expect("lost").contains("note 1"));
}

/// A record that breaks at the first errand.
struct Broken;

impl JobRecord for Broken {
    fn attend(&mut self, _: Errand) -> Vec<Answer> {
        panic!("broken for a test")
    }

    fn look(&mut self) -> Vec<Answer> {
        vec![]
    }

    fn finish(&mut self) -> Option<String> {
        None
    }
}

#[test]
fn a_thread_that_ends_is_noticed() {
    let mut desk = JobDesk::start(Box::new(Broken), &egui::Context::default()).expect("a thread");
    assert!(!desk.has_ended());
    desk.ask(Errand::Prepare);
    let deadline = Instant::now() + Duration::from_secs(20);
    while !desk.has_ended() {
        assert_eq!(desk.take(), None);
        assert!(Instant::now() < deadline);
        thread::sleep(Duration::from_millis(1));
    }
    assert!(!desk.ask(Errand::Prepare));
    assert!(desk.close().expect("told").contains("ended early"));
}
