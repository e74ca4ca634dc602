//! What is missing is said in words, and no sheet is refused for it.

use crate::stage::{a_job, jobs, unescaped};
use trimwatch::bench::{
    Job, Skip, Stage, Station,
    sheet::{Paper, Sheet, html, pdf},
};

fn text(job: &Job, earlier: &[Job]) -> String {
    let sheet = Sheet::of(job, earlier);
    for paper in [Paper::A4, Paper::Letter] {
        assert!(pdf(&sheet, paper).expect("a PDF").starts_with(b"%PDF-"));
    }
    unescaped(&html(&sheet)).replace('\u{a0}', " ")
}

fn empty() -> Job {
    let mut job = a_job();
    job.checks.clear();
    job.readings.clear();
    job.skips.clear();
    job.parts.clear();
    job.notes.clear();
    job
}

#[test]
fn a_job_with_nothing_in_it() {
    let text = text(&empty(), &[]);
    assert!(text.contains("Nothing was measured as found."));
    assert!(text.contains("Nothing was measured as left."));
    assert!(text.contains("No work is written down."));
    assert!(text.contains("Nothing was measured or looked at in this job."));
    assert!(!text.contains("<svg"));
}

#[test]
fn a_job_of_skips_only() {
    let mut job = empty();
    job.skips = Station::ALL
        .into_iter()
        .map(|station| Skip {
            at: job.opened,
            station,
            stage: Stage::AsFound,
            reason: "it smokes".into(),
        })
        .collect();
    let text = text(&job, &[]);
    assert!(text.contains("Not measured: azimuth (it smokes)."));
    assert!(text.contains("Left out") && text.contains("speed as found: it smokes"));
}

#[test]
fn a_job_without_as_found_is_no_before() {
    let mut job = a_job();
    job.readings
        .retain(|reading| reading.stage == Stage::AsLeft);
    let text = text(&job, &[]);
    assert!(text.contains("Nothing was measured as found."));
    assert_eq!(text.matches("<svg").count(), 1);
    assert!(text.contains("Speed as left"));
}

#[test]
fn without_limits_there_is_no_verdict() {
    let mut job = a_job();
    job.limits.limits.clear();
    let text = text(&job, &[]);
    assert!(text.contains("It has no limit for any of these figures."));
    assert!(!text.contains("✔ pass") && !text.contains("✘ fail"));
}

#[test]
fn a_reading_that_is_skipped_later_does_not_count() {
    let mut job = a_job();
    job.skips.push(Skip {
        at: "2030-01-01T00:00:00Z".parse().expect("a time"),
        station: Station::Level,
        stage: Stage::AsLeft,
        reason: "the wrong tape".into(),
    });
    let text = text(&job, &[]);
    assert!(text.contains("Not measured: level and balance (the wrong tape)."));
}

#[test]
fn a_withdrawn_reading_is_counted_and_not_printed() {
    let job = a_job();
    let withdrawn = job
        .readings
        .iter()
        .find(|reading| reading.withdrawn.is_some())
        .expect("one");
    let value = format!("{:+.3}", withdrawn.figures[0].value).replace('-', "−");
    let text = text(&job, &[]);
    assert!(!text.contains(&value), "{value}");
    assert!(text.contains("2, 1 withdrawn"));
}

#[test]
fn an_earlier_job_of_the_deck_is_told() {
    let jobs = jobs();
    let later = jobs.last().expect("the last");
    let text = text(later, &jobs[..1]);
    assert!(text.contains("It was here before: job HL-0031 of March 2026."));
    assert!(text.contains("This deck as earlier jobs left it"));
    // A later one is none of them.
    assert!(!self::text(&jobs[0], &jobs[5..]).contains("It was here before"));
}

#[test]
fn an_open_job_is_dated_by_what_happened_last() {
    let mut job = a_job();
    job.closed = None;
    let text = text(&job, &[]);
    assert!(text.contains("and is still here."));
    assert!(text.contains("4 March 2026"), "{text}");
}
