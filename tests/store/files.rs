//! A job as a file: out, in and out again to the byte; and what hostile files from elsewhere are answered with.

use super::stage::{Bench, at, full_job, kept};
use proptest::prelude::*;
use std::{collections::HashSet, fs};
use trimwatch::bench::{
    Figure, Job, Note, Quantity, StoreError, job_file, readings_csv, store::Filter,
};

fn text(job: &Job) -> String {
    job_file::to_text(job).unwrap()
}

#[test]
fn out_in_and_out_again_is_the_same_to_the_byte() {
    let bench = Bench::new();
    let mut store = bench.store();
    let job = full_job("HL-0031");
    assert!(store.import(&job).unwrap());
    let first = text(&kept(&store, "HL-0031").job);
    let path = bench.path("HL-0031.json");
    fs::write(&path, &first).unwrap();
    let read = job_file::read(&path).unwrap();
    assert_eq!(read, job);

    let other = Bench::new();
    let mut elsewhere = other.store();
    assert!(elsewhere.import(&read).unwrap());
    assert_eq!(text(&kept(&elsewhere, "HL-0031").job), first);
    // Once more is no harm, and not a second job.
    assert!(!elsewhere.import(&read).unwrap());
    assert_eq!(elsewhere.count_jobs().unwrap(), (1, 0));
    elsewhere.verify().unwrap();
}

#[test]
fn the_file_is_to_be_read_by_people() {
    let text = text(&full_job("HL-0031"));
    assert!(text.starts_with(
        "{\n  \"schema\": \"trimwatch.job/1\",\n  \"job\": {\n    \"number\": \"HL-0031\",\n"
    ));
    assert!(
        text.contains("\n    \"model\": \"Finch 2H\"")
            || text.contains("\n      \"model\": \"Finch 2H\"")
    );
    assert!(text.contains("\"at\": \"2026-09-21T"), "{}", &text[..600]);
    let longest = text.lines().map(str::len).max().unwrap();
    assert!(text.lines().count() < 400 && longest < 6000, "{longest}");
    assert!(text.ends_with("}\n"));
}

#[test]
fn another_job_of_the_same_number_is_never_overwritten() {
    let bench = Bench::new();
    let mut store = bench.store();
    store.import(&full_job("HL-0031")).unwrap();
    let mut other = full_job("hl-0031");
    other.complaint = "Something else".into();
    let Err(StoreError::Refused(told)) = store.import(&other) else {
        panic!("refused");
    };
    assert!(told.contains("--as"), "{told}");
    assert_eq!(kept(&store, "HL-0031").job, full_job("HL-0031"));
    other.number = "HL-0031-b".into();
    assert!(store.import(&other).unwrap());
    assert_eq!(store.count_jobs().unwrap().0, 2);
}

/// Wrong types, numbers that are none, keys that are not ours, other files: one line each that names what.
#[test]
fn a_wrong_file_is_refused_with_one_line_that_names_what() {
    let good = text(&full_job("HL-0031"));
    let with = |from: &str, to: &str| {
        assert!(good.contains(from), "{from}");
        good.replacen(from, to, 1).into_bytes()
    };
    let deep = format!("{{\"x\": {}", "[".repeat(1 << 20));
    let huge = "A".repeat(3 << 20);
    let model = "\"Finch 2H\"";
    for (bytes, words) in [
        (b"".to_vec(), &["EOF"][..]),
        (b"\0\xff\xfe".to_vec(), &["line 1"]),
        (b"[1, 2]".to_vec(), &["line 1"]),
        (b"{}".to_vec(), &["no job file", "trimwatch.job/1"]),
        (b"{\"schema\": 7}".to_vec(), &["key schema", "integer `7`"]),
        (deep.into_bytes(), &["line 1", "EOF"]),
        (
            with("trimwatch.job/1", "trimwatch.job/2"),
            &["trimwatch.job/2"],
        ),
        (with(model, "7"), &["key model", "integer `7`", "string"]),
        (with(model, "null"), &["key model", "null"]),
        (with(model, "[\"Finch\"]"), &["key model", "sequence"]),
        (with("\"model\"", "\"modell\""), &["modell"]),
        (
            with("\"model\"", "\"__proto__\": 1, \"model\""),
            &["__proto__"],
        ),
        (with("\"as_found\"", "\"as_lost\""), &["as_lost"]),
        (
            with("\"uncertainty\": 0.003", "\"uncertainty\": \"0.003\""),
            &["key uncertainty", "0.003"],
        ),
        (
            with("\"uncertainty\": 0.003", "\"uncertainty\": NaN"),
            &["line "],
        ),
        (
            with("\"uncertainty\": 0.003", "\"uncertainty\": 1e999"),
            &["out of range"],
        ),
        (
            with("\"uncertainty\": 0.003", "\"uncertainty\": -0.003"),
            &["speed_deviation_percent", "below 0"],
        ),
        (
            with("\"uncertainty\": 0.003", "\"uncertainty\": 1e300"),
            &["speed_deviation_percent", "1000000"],
        ),
        (with("speed_deviation_percent", "price"), &["price"]),
        (
            with("\"HL-0031\"", "\"../../etc/passwd\""),
            &["job number", "../../etc/passwd"],
        ),
        (
            with("\"HL-0031\"", "\"'; DROP TABLE job;--\""),
            &["job number"],
        ),
        (with("\"HL-0031\"", "\"a\\u0000b\""), &["job number"]),
        (with(model, &format!("\"{huge}\"")), &["model", "3145728"]),
        (
            with("\"speed_percent\"", &format!("\"{huge}\"")),
            &["unknown variant", "…"],
        ),
        (with("2026-09-21T", "0001-01-01T"), &["1970"]),
        (with("2026-09-21T", "yesterday"), &["line "]),
        (
            with("\"lost_frames\": 0", "\"lost_frames\": -1"),
            &["key lost_frames", "-1"],
        ),
        (
            with(
                "\"lost_frames\": 0",
                "\"lost_frames\": 18446744073709551615",
            ),
            &["lost_frames"],
        ),
        (with("\"step_s\": 0.05", "\"step_s\": 0"), &["step_s"]),
        (
            with("\"greatest\": 0.5", "\"greatest\": -9"),
            &["least must lie below"],
        ),
        (good.as_bytes()[..good.len() / 2].to_vec(), &["EOF"]),
    ] {
        let told = job_file::of_text("in.json", &bytes).expect_err(words[0]);
        for word in words {
            assert!(told.contains(word), "'{word}' in: {told}");
        }
        assert!(told.starts_with("in.json: ") && told.len() < 400, "{told}");
        assert_eq!(told.lines().count(), 1, "{told}");
    }
}

#[test]
fn what_is_no_file_or_too_large_a_one_is_not_read() {
    let bench = Bench::new();
    let large = bench.path("large.json");
    fs::File::create(&large).unwrap().set_len(1 << 40).unwrap();
    let told = job_file::read(&large).unwrap_err();
    assert!(told.contains("larger than any job"), "{told}");
    for path in [bench.path(""), bench.path("none.json"), "/dev/zero".into()] {
        assert!(job_file::read(&path).is_err(), "{}", path.display());
    }
}

/// SQL, script, control characters, paths, formulas: text like any other, kept to the letter and run by nobody.
#[test]
fn hostile_text_is_kept_to_the_letter() {
    let hostile = [
        "'); DROP TABLE reading; --",
        "<script>alert(1)</script><img src=x onerror=alert(2)>",
        "\u{1b}[2J\u{1b}]0;owned\u{7}",
        "../../../../etc/passwd\0.json",
        "=HYPERLINK(\"http://example.invalid\")",
        "\u{202e}drowssap\u{202c}",
        "%s%n{0}${HOME}`id`",
    ];
    let bench = Bench::new();
    let mut store = bench.store();
    let mut job = full_job("HL-0031");
    job.deck.model = hostile[0].into();
    job.deck.serial = hostile[1].into();
    job.deck.mechanism = hostile[3].into();
    job.complaint = hostile.concat();
    job.readings[0].words = hostile[4].into();
    for line in hostile {
        job.notes.push(Note {
            at: at(500),
            text: line.into(),
            for_owner: true,
        });
    }
    let read = job_file::of_text("in.json", text(&job).as_bytes()).unwrap();
    assert!(store.import(&read).unwrap());
    assert_eq!(kept(&store, "HL-0031").job, job);
    store.verify().unwrap();
    for line in hostile {
        let filter = Filter {
            search: line.into(),
            ..Filter::default()
        };
        assert_eq!(store.jobs(&filter).unwrap().len(), 1, "{line}");
    }
    let mut files: Vec<_> = fs::read_dir(bench.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.retain(|name| !name.starts_with("jobs.db"));
    assert_eq!(files, [""; 0]);
}

#[test]
fn an_import_that_fails_half_way_leaves_nothing() {
    let bench = Bench::new();
    let mut store = bench.store();
    let mut job = full_job("HL-0031");
    job.readings[2].context.clock_error_ppm = f64::NAN;
    assert!(store.import(&job).is_err());
    assert_eq!(store.count_jobs().unwrap(), (0, 0));
    assert!(store.known_decks("", 10).unwrap().is_empty());
}

#[test]
fn the_csv_has_every_figure_with_its_verdict() {
    let mut job = full_job("HL-0031");
    job.deck.serial = "=1+1".into();
    job.readings[0].words = "a \"quoted\", long\nreading".into();
    let csv = readings_csv::to_csv(&job);
    let rows: Vec<_> = csv.split("\r\n").collect();
    assert_eq!(rows[0], readings_csv::COLUMNS.join(","));
    // One gauge, two readings with two figures, one with one; the last line ends.
    assert_eq!(rows.len(), 1 + 1 + 2 + 2 + 1 + 1);
    assert!(
        rows[1].contains("mechanical checks,as found,take_up_torque_mn_m,4.4129925"),
        "{}",
        rows[1]
    );
    assert!(
        rows[2].starts_with("HL-0031,Finch 2H,'=1+1,2026-09-21T"),
        "{}",
        rows[2]
    );
    assert!(
        rows[2].contains(",speed_deviation_percent,0.1,0.003,%,-0.5,0.5,pass,yes,\"a \"\"quoted\"\", long\nreading\",30,"),
        "{}",
        rows[2]
    );
    assert!(rows[3].contains(",speed_trend_percent_per_minute,-0.3333333333333333,,"));
    assert!(rows[4].contains(",speed_deviation_percent,1.1,0.003,%,-0.5,0.5,fail,withdrawn,"));
    let columns: HashSet<_> = readings_csv::COLUMNS.into_iter().collect();
    assert_eq!(columns.len(), readings_csv::COLUMNS.len());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Any figures and any text come back to the last bit, from the file and from the record.
    #[test]
    fn any_job_survives_file_and_record(
        values in prop::collection::vec((0..Quantity::ALL.len(), -1e12..1e12, prop::option::of(0.0..1e9)), 1..12),
        points in prop::collection::vec(prop::option::of(-1e30_f32..1e30), 0..80),
        words in "\\PC{0,60}",
        note in "(?s).{1,80}",
    ) {
        let mut job = full_job("HL-0031");
        job.readings[0].figures = values
            .into_iter()
            .map(|(place, value, uncertainty)| Figure {
                quantity: Quantity::ALL[place],
                value,
                uncertainty,
            })
            .collect();
        job.readings[0].series[0].values = points;
        job.readings[0].words = words;
        job.notes[0].text = format!("{note}.");
        let written = text(&job);
        let read = job_file::of_text("in.json", written.as_bytes()).unwrap();
        prop_assert_eq!(&read, &job);
        let bench = Bench::new();
        let mut store = bench.store();
        store.import(&read).unwrap();
        prop_assert_eq!(text(&kept(&store, "HL-0031").job), written);
    }
}
