//! Jobs from the command line: listed, shown, exported, taken in, backed up; hostile text and wrong files.

use super::{program::run, stage::Stage};
use std::{fs, path::Path};
use trimwatch::bench::{
    Deck, Environment, LimitSet, Note, Store, limit_shelf::limit_set_by_name_or_path, store::NewJob,
};

/// A record with two jobs; the second with text that is out to do harm.
fn record(stage: &Stage) -> String {
    let path = stage.path("jobs.db");
    let mut store = Store::open(&path).unwrap();
    let limits: LimitSet = limit_set_by_name_or_path("good-service", None).unwrap();
    let new = |number: &str, model: &str, complaint: &str| NewJob {
        number: number.into(),
        deck: Deck {
            model: model.into(),
            serial: "20417".into(),
            ..Deck::default()
        },
        opened: "2026-09-21T10:00:00Z".parse().unwrap(),
        complaint: complaint.into(),
        limits: limits.clone(),
        environment: Environment::default(),
    };
    store
        .create_job(&new("HL-0031", "Finch 2H", "Runs fast"))
        .unwrap();
    let hostile = "\u{1b}[2J<script>alert(1)</script>\r\n'); DROP TABLE job; --";
    store.create_job(&new("HL-0032", hostile, hostile)).unwrap();
    let note = Note {
        at: "2026-09-21T11:00:00Z".parse().unwrap(),
        text: hostile.repeat(20),
        for_owner: false,
    };
    store.add_note("HL-0032", &note).unwrap();
    store
        .close_job("HL-0031", "2026-09-25T10:00:00Z".parse().unwrap())
        .unwrap();
    path.to_str().unwrap().to_owned()
}

/// Nothing that moves a cursor, and nothing wider than the page.
fn assert_harmless(text: &str) {
    for line in text.lines() {
        assert!(
            !line.contains(|letter: char| letter.is_control()),
            "{line:?}"
        );
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn jobs_are_listed_searched_and_shown() {
    let stage = Stage::new();
    let store = record(&stage);
    let jobs = |words: &[&str], code: i32| {
        let ended = run([&["jobs", "--store", &*store], words].concat());
        ended.assert_code(code);
        ended.stdout
    };
    let all = jobs(&[], 0);
    assert!(
        all.contains("2 of 2, 1 open") && all.contains("Finch 2H"),
        "{all}"
    );
    assert_harmless(&all);
    let open = jobs(&["--open"], 0);
    assert!(
        open.contains("HL-0032") && !open.contains("HL-0031"),
        "{open}"
    );
    let closed = jobs(&["--closed", "finch"], 0);
    assert!(closed.contains("HL-0031") && !closed.contains("HL-0032"));
    assert!(jobs(&["no", "such", "words"], 1).contains("No job found"));
    let one = jobs(&["hl-0032"], 0);
    assert!(
        one.contains("it is here") && one.contains("DROP TABLE"),
        "{one}"
    );
    assert_harmless(&one);
    let listed = jobs(&["--format", "json", "HL-0031"], 0);
    let listed: serde_json::Value = serde_json::from_str(&listed).unwrap();
    assert_eq!(listed["schema"], "trimwatch.jobs/1");
    assert_eq!(listed["jobs"][0]["number"], "HL-0031");
    assert_eq!(listed["jobs"][1], serde_json::Value::Null);
}

#[test]
fn a_list_makes_no_record() {
    let stage = Stage::new();
    let path = stage.path("none/jobs.db");
    let store = path.to_str().unwrap();
    let ended = run(["jobs", "--store", store]);
    assert!(ended.assert_code(1).stdout.contains("No job yet"));
    run(["export", "HL-0031", "--store", store]).assert_refused(&["no record", "jobs.db"]);
    run(["backup", "b.db", "--store", store]).assert_refused(&["no record", "jobs.db"]);
    assert!(!path.exists() && !Path::new("b.db").exists());
}

#[test]
fn a_job_goes_out_and_comes_in_elsewhere_to_the_byte() {
    let stage = Stage::new();
    let store = record(&stage);
    let path = |name: &str| stage.path(name).to_str().unwrap().to_owned();
    let (file, elsewhere) = (path("out.json"), path("elsewhere.db"));
    run(["export", "HL-0032", "--out", &file, "--store", &store]).assert_code(0);
    let printed = run(["export", "HL-0032", "--store", &store]);
    assert_eq!(
        printed.assert_code(0).stdout,
        fs::read_to_string(&file).unwrap()
    );
    run(["export", "HL-0031", "--out", &file, "--store", &store])
        .assert_refused(&["out.json", "already"]);
    let taken = run(["import", &file, "--store", &elsewhere]);
    assert!(taken.assert_code(0).stdout.contains("HL-0032 is taken in"));
    let again = run(["export", "HL-0032", "--store", &elsewhere]);
    assert_eq!(again.assert_code(0).stdout, printed.stdout);
    let twice = run(["import", &file, "--store", &elsewhere]);
    assert!(twice.assert_code(0).stdout.contains("the very same"));

    let changed = printed.stdout.replace("alert(1)", "alert(3)");
    let other = stage.file("other.json", changed.as_bytes());
    let other = other.to_str().unwrap();
    run(["import", other, "--store", &elsewhere]).assert_refused(&["HL-0032", "--as"]);
    run(["import", other, "--as", "HL-0099", "--store", &elsewhere]).assert_code(0);
    run(["import", other, "--as", "../x", "--store", &elsewhere]).assert_refused(&["../x"]);
    run(["import", other, &file, "--as", "A-1", "--store", &elsewhere])
        .assert_refused(&["--as", "one"]);
    let kept = run(["export", "HL-0032", "--store", &elsewhere]);
    assert_eq!(kept.stdout, printed.stdout);
    let csv = run(["export", "HL-0031", "--format", "csv", "--store", &store]);
    assert!(csv.assert_code(0).stdout.starts_with("job,model,serial,"));
    run(["export", "HL-0077", "--store", &store]).assert_refused(&["HL-0077", "no job"]);
}

#[test]
fn wrong_files_are_refused_by_name_and_nothing_is_taken_in() {
    let stage = Stage::new();
    let store = record(&stage);
    let good = run(["export", "HL-0031", "--store", &store]).stdout;
    let fresh = stage.path("fresh.db");
    let fresh = fresh.to_str().unwrap();
    let good_file = stage.file("good.json", good.as_bytes());
    for (name, bytes, words) in [
        ("empty.json", Vec::new(), "EOF"),
        ("letter.json", b"Dear \x1b[31msir".to_vec(), "line 1"),
        (
            "type.json",
            good.replace("\"Finch 2H\"", "17").into_bytes(),
            "key model",
        ),
        (
            "number.json",
            good.replace("\"HL-0031\"", "\"a/b\"").into_bytes(),
            "job number",
        ),
    ] {
        let path = stage.file(name, &bytes);
        let ended = run([
            "import",
            good_file.to_str().unwrap(),
            path.to_str().unwrap(),
            "--store",
            fresh,
        ]);
        let line = ended.assert_refused(&[name, words]);
        assert!(!line.contains('\u{1b}'), "{line:?}");
    }
    run(["import", "no-such.json", "--store", fresh]).assert_refused(&["no-such.json"]);
    assert!(!Path::new(fresh).exists());
    let letter = stage.file(
        "letter.db",
        b"Dear sir, this is no record of anything at all.",
    );
    let letter = letter.to_str().unwrap();
    for words in [&["jobs"][..], &["export", "A-1"], &["backup", "never.db"]] {
        run([words, &["--store", letter]].concat()).assert_refused(&["letter.db", "no record"]);
    }
}

#[test]
fn a_backup_holds_all_and_overwrites_nothing() {
    let stage = Stage::new();
    let store = record(&stage);
    let copy = stage.path("copy.db");
    let copy = copy.to_str().unwrap();
    let made = run(["backup", copy, "--store", &store]);
    let said = &made.assert_code(0).stdout;
    assert!(said.contains("2 jobs") && said.contains("sound"), "{said}");
    let listed = run(["jobs", "--store", copy]);
    assert!(listed.assert_code(0).stdout.contains("2 of 2"));
    run(["backup", copy, "--store", &store]).assert_refused(&["copy.db", "already"]);
    run(["backup", &store, "--store", &store]).assert_refused(&["already"]);
}
