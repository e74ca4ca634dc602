//! `trimwatch sheet` from outside.

use crate::stage::files;
use std::{
    fs,
    path::Path,
    process::{Command, Output},
};
use trimwatch::bench::Store;

fn sheet(folder: &Path, words: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_trimwatch"));
    program.current_dir(folder).arg("sheet").args(words);
    program.output().expect("it runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Code 2 and one line that holds the words.
fn assert_refused(output: &Output, words: &[&str]) {
    let line = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{line}");
    assert_eq!(line.trim_end().lines().count(), 1, "{line}");
    for word in words {
        assert!(line.contains(word), "'{word}' in: {line}");
    }
}

fn first() -> String {
    files()[0].display().to_string()
}

#[test]
fn a_job_file_becomes_a_sheet_of_either_kind() {
    let folder = tempfile::tempdir().expect("a folder");
    let job = first();
    let made = sheet(folder.path(), &[&job]);
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    assert_eq!(said(&made), "HL-0031.pdf: sheet of job HL-0031 (PDF, A4)\n");
    assert!(
        fs::read(folder.path().join("HL-0031.pdf"))
            .expect("it")
            .starts_with(b"%PDF-")
    );
    let made = sheet(folder.path(), &[&job, "--out", "a.html"]);
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    let page = fs::read_to_string(folder.path().join("a.html")).expect("it");
    assert!(page.starts_with("<!DOCTYPE html>"));
    let made = sheet(
        folder.path(),
        &[&job, "--paper", "letter", "--out", "b.PDF"],
    );
    assert!(said(&made).contains("Letter"), "{made:?}");
}

#[test]
fn the_bytes_do_not_depend_on_zone_or_tongue() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut all = Vec::new();
    for (zone, tongue) in [("Pacific/Auckland", "de_DE.UTF-8"), ("America/Adak", "C")] {
        for out in ["it.pdf", "it.html"] {
            let mut program = Command::new(env!("CARGO_BIN_EXE_trimwatch"));
            program
                .current_dir(folder.path())
                .args(["sheet", &first(), "--out", out]);
            program
                .env("TZ", zone)
                .env("LANG", tongue)
                .env("LC_ALL", tongue);
            assert!(program.status().expect("it runs").success());
            all.push(fs::read(folder.path().join(out)).expect("it"));
        }
    }
    assert!(all[0] == all[2] && all[1] == all[3]);
}

#[test]
fn nobody_elses_file_is_overwritten() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path().join("HL-0031.pdf");
    for text in ["a letter", "", "%PDF-1.7 somebody else's"] {
        fs::write(&to, text).expect("written");
        let output = sheet(folder.path(), &[&first()]);
        assert_refused(&output, &["HL-0031.pdf", "no sheet of trimwatch", "--out"]);
        assert_eq!(fs::read_to_string(&to).expect("it"), text);
    }
    fs::remove_file(&to).expect("gone");
    fs::create_dir(&to).expect("a folder");
    assert_refused(&sheet(folder.path(), &[&first()]), &["HL-0031.pdf"]);
    fs::remove_dir(&to).expect("gone");
    // A sheet of ours is replaced.
    assert!(sheet(folder.path(), &[&first()]).status.success());
    assert!(sheet(folder.path(), &[&first()]).status.success());
    assert_eq!(fs::read_dir(folder.path()).expect("it").count(), 1);
}

#[test]
fn what_is_no_job_is_refused_in_one_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let write =
        |name: &str, text: &str| fs::write(folder.path().join(name), text).expect("written");
    let whole = fs::read_to_string(first()).expect("it");
    write("no.json", "{");
    write("other.json", "{\"schema\": \"else/1\", \"job\": {}}");
    write(
        "later.json",
        &whole.replace("trimwatch.job/1", "trimwatch.job/9"),
    );
    write("path.json", &whole.replace("\"HL-0031\"", "\"../HL\""));
    write(
        "type.json",
        &whole.replacen("\"complaint\": \"", "\"complaint\": 7, \"x\": \"", 1),
    );
    for name in [
        "no.json",
        "other.json",
        "later.json",
        "path.json",
        "type.json",
        "missing.json",
    ] {
        assert_refused(&sheet(folder.path(), &[&format!("./{name}")]), &[name]);
    }
    assert_refused(
        &sheet(folder.path(), &[&first(), "--out", "a.docx"]),
        &["a.docx", ".pdf"],
    );
    assert_refused(
        &sheet(folder.path(), &[&first(), "--out", "no/such/folder.pdf"]),
        &["folder.pdf"],
    );
    assert_refused(&sheet(folder.path(), &[]), &["JOB"]);
    assert_eq!(fs::read_dir(folder.path()).expect("it").count(), 5);
}

#[test]
fn a_job_number_is_looked_up_in_the_record() {
    let folder = tempfile::tempdir().expect("a folder");
    let record = folder.path().join("jobs.db");
    drop(Store::open(&record).expect("a record"));
    let output = sheet(folder.path(), &["HL-0031", "--store", "jobs.db"]);
    assert_refused(&output, &["HL-0031"]);
    let output = sheet(folder.path(), &["HL-0031", "--store", "none.db"]);
    assert_refused(&output, &["none.db"]);
}
