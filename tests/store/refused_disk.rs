//! Disks that refuse: full, read-only, gone. What was taken stays in memory, in order, until it can be saved.

use super::stage::{Bench, at, kept, new_job, reading};
use std::fs;
use trimwatch::bench::{Entry, Keeper, Kept, Note, StoreError};

fn note(text: &str) -> Entry {
    Entry::Note(Note {
        at: at(5),
        text: text.into(),
        for_owner: false,
    })
}

/// The folder is gone, and something else is in its place.
#[test]
fn while_the_folder_is_gone_everything_waits_in_order() {
    let bench = Bench::new();
    let folder = bench.path("data");
    let record = folder.join("jobs.db");
    let mut keeper = Keeper::at(&record);
    assert_eq!(keeper.trouble(), None);
    keeper
        .store()
        .unwrap()
        .create_job(&new_job("HL-0031"))
        .unwrap();
    drop(keeper);
    fs::rename(&folder, bench.path("away")).unwrap();
    fs::write(&folder, "not a folder").unwrap();

    let mut keeper = Keeper::at(&record);
    assert!(keeper.words().unwrap().contains("data"));
    for number in 0..3 {
        let kept = keeper
            .keep("HL-0031", Entry::Reading(reading(number)))
            .unwrap();
        assert!(
            matches!(kept, Kept::InMemory(StoreError::NotNow(_))),
            "{kept:?}"
        );
    }
    keeper.keep("HL-0031", note("keeps its place")).unwrap();
    keeper
        .keep("HL-0099", note("for a job that is not there"))
        .unwrap();
    assert_eq!(keeper.waiting().len(), 5);
    assert_eq!(keeper.retry(), 0);
    let words = keeper.words().unwrap();
    assert!(
        words.starts_with("5 entries not saved yet, held in memory: "),
        "{words}"
    );
    // Undone while it waits.
    assert!(keeper.withdraw_waiting(1, at(70)));
    assert!(!keeper.withdraw_waiting(7, at(70)));
    // What can never be kept is told at once, not held.
    let mut none = reading(4);
    none.figures.clear();
    assert!(keeper.keep("HL-0031", Entry::Reading(none)).is_err());

    fs::remove_file(&folder).unwrap();
    fs::rename(bench.path("away"), &folder).unwrap();
    let saved = keeper.keep("HL-0031", Entry::Reading(reading(3))).unwrap();
    assert!(matches!(saved, Kept::OnDisk(_)), "{saved:?}");
    assert_eq!(keeper.waiting().len(), 0);
    let words = keeper.words().unwrap();
    assert!(
        words.contains("HL-0099") && words.contains("no job"),
        "{words}"
    );
    assert_eq!(keeper.set_aside().len(), 1);
    let job = kept(keeper.store().unwrap(), "HL-0031").job;
    let mut withdrawn = reading(1);
    withdrawn.withdrawn = Some(at(70));
    assert_eq!(
        job.readings,
        [reading(0), withdrawn, reading(2), reading(3)]
    );
    assert_eq!(job.notes[0].text, "keeps its place");
}

#[cfg(unix)]
mod unix {
    use super::super::{
        child::{self, child},
        stage::{Bench, at, kept, new_job, reading},
    };
    use std::{env, fs, os::unix::fs::PermissionsExt as _, os::unix::process::CommandExt as _};
    use trimwatch::bench::{Entry, Keeper, Kept, Store, StoreError};

    /// What no file of this process may be longer than; `None`: no limit again.
    fn limit_files(bytes: Option<u64>) {
        // SAFETY: both calls get a valid structure of this frame, and change this process only.
        unsafe {
            let mut limit = std::mem::zeroed::<libc::rlimit>();
            assert_eq!(libc::getrlimit(libc::RLIMIT_FSIZE, &raw mut limit), 0);
            limit.rlim_cur = bytes.unwrap_or(limit.rlim_max);
            assert_eq!(libc::setrlimit(libc::RLIMIT_FSIZE, &raw const limit), 0);
            // Without this the first byte too many ends the process.
            libc::signal(libc::SIGXFSZ, libc::SIG_IGN);
        }
    }

    /// Not a test of its own: keeps readings on a disk that becomes full, and has room again later. A limit on the
    /// file's size is a disk that is full, for one program alone.
    #[test]
    fn child_on_a_full_disk() {
        let Some(record) = child::record() else {
            return;
        };
        let mut keeper = Keeper::at(record);
        limit_files(Some(300_000));
        let mut number = 0;
        while keeper.waiting().len() < 5 {
            keeper
                .keep("HL-0031", Entry::Reading(reading(number)))
                .unwrap();
            number += 1;
            assert!(number < 2000, "the disk is never full");
        }
        println!("told: {}", keeper.words().unwrap());
        limit_files(None);
        assert_eq!(keeper.retry(), 5);
        assert_eq!(keeper.words(), None);
        println!("taken: {number}");
    }

    #[test]
    fn a_full_disk_is_told_and_what_was_taken_is_saved_when_there_is_room() {
        let (bench, store) = Bench::with_job("HL-0031");
        drop(store);
        let text = child::run(child(
            "refused_disk::unix::child_on_a_full_disk",
            &bench.record(),
        ));
        let after = |mark: &str| {
            let line = text.lines().find_map(|line| line.split_once(mark));
            line.unwrap_or_else(|| panic!("{text}")).1.trim().to_owned()
        };
        let told = after("told: ");
        assert!(
            told.starts_with("5 entries not saved yet, held in memory: "),
            "{told}"
        );
        assert!(told.contains("jobs.db") && told.contains("disk"), "{told}");
        let taken: u32 = after("taken: ").parse().unwrap();
        let store = bench.store();
        store.verify().unwrap();
        let readings = kept(&store, "HL-0031").job.readings;
        assert_eq!(readings.len(), taken as usize);
        for (number, kept) in (0..).zip(&readings) {
            assert_eq!(*kept, reading(number));
        }
    }

    /// Not a test of its own: a record in a folder that may only be read.
    #[test]
    fn child_that_may_only_read() {
        let Some(record) = child::record() else {
            return;
        };
        let mut store = Store::open(&record).unwrap();
        assert_eq!(kept(&store, "HL-0031").job.readings, [reading(0)]);
        store.verify().unwrap();
        let told = store.add_reading("HL-0031", &reading(1)).unwrap_err();
        assert!(
            matches!(&told, StoreError::NotNow(words) if words.contains("read-only")),
            "{told}"
        );
        let mut keeper = Keeper::at(&record);
        let held = keeper.keep("HL-0031", Entry::Reading(reading(1))).unwrap();
        assert!(matches!(held, Kept::InMemory(_)));
        assert!(
            keeper.words().unwrap().contains("read-only"),
            "{:?}",
            keeper.words()
        );
        // Nor can a new one be made there.
        let mut keeper = Keeper::at(record.with_file_name("new.db"));
        let held = keeper.keep("HL-0031", Entry::Reading(reading(1))).unwrap();
        assert!(
            matches!(held, Kept::InMemory(StoreError::NotNow(_))),
            "{held:?}"
        );
        println!("all read");
    }

    #[test]
    fn a_read_only_record_is_read_and_says_so_when_written_to() {
        let (bench, mut store) = Bench::with_job("HL-0031");
        store.add_reading("HL-0031", &reading(0)).unwrap();
        assert!(store.create_job(&new_job("HL-0031")).is_err());
        drop(store);
        // The superuser may write everywhere: then the child is somebody else, with a program that person may run.
        let program = bench.path("program");
        fs::copy(env::current_exe().unwrap(), &program).unwrap();
        let mode =
            |path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
        mode(program.clone(), 0o755);
        mode(bench.record(), 0o444);
        mode(bench.path(""), 0o555);
        let mut reader = child::of(
            &program,
            "refused_disk::unix::child_that_may_only_read",
            &bench.record(),
        );
        // SAFETY: asks for a number.
        if unsafe { libc::geteuid() } == 0 {
            reader.uid(65_534).gid(65_534);
        }
        let text = child::run(reader);
        mode(bench.path(""), 0o755);
        assert!(text.contains("all read"), "{text}");
        mode(bench.record(), 0o644);
        assert_eq!(kept(&bench.store(), "HL-0031").job.opened, at(0));
    }
}
