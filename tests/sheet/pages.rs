//! The six jobs are whole, and each sheet is two pages on both papers on which nothing touches anything.

use crate::stage::{Word, jobs, pdf_pages, pdf_words};
use trimwatch::bench::{
    Job, Stage, Station, Verdict,
    sheet::{Paper, Sheet, html, pdf},
    sound,
};

const PAPERS: [Paper; 2] = [Paper::A4, Paper::Letter];

#[test]
fn the_six_jobs_are_whole() {
    let jobs = jobs();
    assert_eq!(jobs.len(), 6);
    for job in &jobs {
        sound::check_job(job).expect("a sound job");
        for stage in Stage::ALL {
            assert!(
                job.checks.iter().any(|done| done.stage == stage),
                "{} {stage:?}",
                job.number
            );
            for station in &Station::ALL[1..] {
                let there = job.standing(*station, stage).is_some();
                let skipped = job.skipped(*station, stage).is_some();
                assert!(there != skipped, "{} {station:?} {stage:?}", job.number);
            }
        }
    }
}

/// What each of them is there to show.
#[test]
fn the_six_jobs_differ_in_what_happened() {
    let jobs = jobs();
    let any = |what: &dyn Fn(&Job) -> bool| jobs.iter().any(what);
    let left = |job: &Job, wanted: Verdict| {
        job.readings
            .iter()
            .filter(|reading| reading.stage == Stage::AsLeft && reading.withdrawn.is_none())
            .flat_map(|reading| &reading.figures)
            .any(|figure| {
                let limit = job.limits.of(figure.quantity);
                limit.is_some_and(|limit| Verdict::of(figure, limit) == wanted)
            })
    };
    assert!(any(&|job| job
        .readings
        .iter()
        .any(|reading| reading.withdrawn.is_some())));
    assert!(any(&|job| !job.skips.is_empty()));
    assert!(any(&|job| left(job, Verdict::Fail)));
    assert!(any(&|job| left(job, Verdict::WithinUncertainty)));
    assert!(any(&|job| job.deck.tape_format.starts_with("reel")));
    let same = |a: &Job, b: &Job| a.number != b.number && a.deck.serial == b.deck.serial;
    assert!(jobs.iter().any(|a| jobs.iter().any(|b| same(a, b))));
}

#[test]
fn each_sheet_is_two_pages_on_both_papers() {
    let jobs = jobs();
    for job in &jobs {
        let others: Vec<Job> = jobs
            .iter()
            .filter(|other| other.deck.serial == job.deck.serial)
            .cloned()
            .collect();
        for paper in PAPERS {
            let Some(pages) = pdf_pages(&Sheet::of(job, &others), paper) else {
                return;
            };
            assert_eq!(pages.len(), 2, "{} {paper:?}", job.number);
            assert!(pages[0].contains("What it does now") && pages[0].contains("page 1 of 2"));
            assert!(pages[1].contains("Decision rule") && pages[1].contains("page 2 of 2"));
        }
    }
}

#[test]
fn nothing_overlaps_and_nothing_leaves_the_paper() {
    for job in jobs() {
        for paper in PAPERS {
            let Some(words) = pdf_words(&Sheet::of(&job, &[]), paper) else {
                return;
            };
            assert_apart(&words, paper, &job.number);
        }
    }
}

/// Words stand inside the margins and do not cover each other.
pub fn assert_apart(words: &[Word], paper: Paper, what: &str) {
    let (width, height) = paper.size();
    assert!(words.len() > 20, "{what}: {} words", words.len());
    for (at, word) in words.iter().enumerate() {
        let inside = word.left > 40.0
            && word.right < f64::from(width) - 40.0
            && word.top > 20.0
            && word.bottom < f64::from(height) - 8.0;
        assert!(inside, "{what} {paper:?}: '{}' leaves the page", word.text);
        for other in words[at + 1..]
            .iter()
            .filter(|other| other.page == word.page)
        {
            // Boxes have the font's whole height: lines may share some of it, letters of one line almost nothing.
            let across = word.right.min(other.right) - word.left.max(other.left);
            let down = word.bottom.min(other.bottom) - word.top.max(other.top);
            let low = (word.bottom - word.top).min(other.bottom - other.top);
            assert!(
                across < 0.5 || down < 0.45 * low,
                "{what} {paper:?}: '{}' covers '{}' on page {}",
                word.text,
                other.text,
                word.page
            );
        }
    }
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    for job in jobs() {
        let again: Job =
            serde_json::from_str(&serde_json::to_string(&job).expect("JSON")).expect("the job");
        let (sheet, once_more) = (Sheet::of(&job, &[]), Sheet::of(&again, &[]));
        assert_eq!(html(&sheet), html(&once_more));
        for paper in PAPERS {
            assert!(
                pdf(&sheet, paper) == pdf(&once_more, paper),
                "{}",
                job.number
            );
        }
    }
}

/// What a screen reader needs is there.
#[test]
fn pictures_and_tables_have_words() {
    for job in jobs() {
        let page = html(&Sheet::of(&job, &[]));
        assert!(page.contains("<html lang=\"en\">"));
        assert_eq!(
            page.matches("<svg").count(),
            page.matches("role=\"img\"").count()
        );
        // Elements of a picture do not end by themselves: unclosed, each would swallow the next.
        for element in ["polyline", "rect", "text"] {
            let closed = page.matches(&format!("</{element}>")).count();
            assert!(closed > 0 && closed == page.matches(&format!("<{element} ")).count());
        }
        assert!(page.matches("<svg").count() >= 1 && page.contains("Speed deviation as left over"));
        assert_eq!(
            page.matches("<table").count(),
            page.matches("<caption").count()
        );
        assert!(
            !page.contains("<script") && !page.contains("http://") && !page.contains("https://")
        );
        let paper = pdf(&Sheet::of(&job, &[]), Paper::A4).expect("a PDF");
        let has = |word: &str| {
            paper
                .windows(word.len())
                .any(|window| window == word.as_bytes())
        };
        assert!(has("/Lang") && has("/StructTreeRoot") && has("/Alt") && has("/Title"));
    }
}
