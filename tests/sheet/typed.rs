//! Whatever was typed is shown as typed, or cut with a word, and changes nothing else.

use crate::{
    pages::assert_apart,
    stage::{a_job, pdf_pages, pdf_words},
};
use trimwatch::bench::{
    Check, CheckDone, Job, Note, PartReplaced, Skip, Stage, Station,
    sheet::{Paper, Sheet, html, pdf},
};

const NASTY: [&str; 9] = [
    "<script>alert(1)</script><img src=x onerror=alert(2)>",
    "\"quoted\" & 'quoted' </title></style></svg><b>",
    "\u{202e}desrever\u{202c} שלום עולם مرحبا بالعالم",
    "😀🎛️ 漢字 \u{e000}\u{10ffff}",
    "two\nlines\r\nand\ttabs\u{0}\u{7}\u{1b}[31m",
    "a\u{300}\u{301}\u{302}\u{303}\u{304}\u{305}\u{306}\u{307}\u{308}\u{309}",
    "'; DROP TABLE job; --",
    "../../etc/passwd\\..\\ %s%n {{7*7}} ${x}",
    "\u{feff}\u{200b}\u{2066}",
];

/// A job with one text everywhere.
fn filled(text: &str) -> Job {
    let mut job = a_job();
    let at = job.opened;
    let text = text.to_owned();
    job.number = text.clone();
    job.workshop.name = text.clone();
    job.workshop.lines = vec![text.clone(); 9];
    job.deck.model = text.clone();
    job.deck.serial = text.clone();
    job.complaint = text.clone();
    job.limits.title = text.clone();
    for limit in &mut job.limits.limits {
        limit.source = text.clone();
    }
    for stage in Stage::ALL {
        let check = Check::Seen {
            what: text.clone(),
            found: text.clone(),
            good: Some(false),
        };
        job.checks.push(CheckDone {
            at,
            stage,
            check,
            withdrawn: None,
        });
    }
    job.skips = vec![Skip {
        at: "2026-12-01T00:00:00Z".parse().expect("a time"),
        station: Station::Azimuth,
        stage: Stage::AsLeft,
        reason: text.clone(),
    }];
    job.parts = vec![
        PartReplaced {
            at,
            what: text.clone()
        };
        7
    ];
    job.notes = vec![
        Note {
            at,
            text: text.clone(),
            for_owner: true
        };
        7
    ];
    for reading in &mut job.readings {
        reading.context.input = text.clone();
        reading.context.program = text.clone();
        reading.context.profile = text.clone();
        reading.context.tape.title = text.clone();
        reading.context.tape_format = text.clone();
        reading.context.notices = vec![text.clone(); 9];
    }
    job
}

#[test]
fn nothing_typed_becomes_markup() {
    for text in NASTY {
        let page = html(&Sheet::of(&filled(text), &[]));
        let plain = html(&Sheet::of(&filled("x"), &[]));
        for tag in [
            "<script", "<img", "<b>", "</title>", "</style>", "</svg>", "</table>", "</body>",
        ] {
            assert_eq!(
                page.matches(tag).count(),
                plain.matches(tag).count(),
                "{tag} of {text:?}"
            );
        }
        let steers = |c: char| {
            (c.is_control() && c != '\n')
                || ('\u{202a}'..='\u{202e}').contains(&c)
                || c == '\u{feff}'
        };
        assert!(!page.contains(steers), "{text:?}");
    }
    let page = html(&Sheet::of(&filled(NASTY[0]), &[]));
    assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
}

#[test]
fn no_text_breaks_the_pages() {
    let long = ["x".repeat(20_000), "word ".repeat(4_000), "W".repeat(500)];
    let texts = NASTY.iter().map(ToString::to_string).chain(long);
    for text in texts {
        let sheet = Sheet::of(&filled(&text), &[]);
        let what: String = text.chars().take(12).collect();
        for paper in [Paper::A4, Paper::Letter] {
            let Some(pages) = pdf_pages(&sheet, paper) else {
                return;
            };
            assert!(pages.len() <= 5, "{what}: {} pages", pages.len());
            assert!(
                pages[1].contains("Technical page"),
                "{what} {paper:?}: the owner has one page, not\n{}",
                pages[1]
            );
            // Marks above letters have boxes that cover the letter: they are meant to.
            if !text.contains('\u{300}') {
                assert_apart(&pdf_words(&sheet, paper).expect("words"), paper, &what);
            }
        }
    }
}

#[test]
fn what_is_cut_or_cannot_be_set_is_said() {
    let cut = html(&Sheet::of(&filled(&"x".repeat(20_000)), &[]));
    assert!(cut.contains("(cut; the job’s record has it all)"));
    assert!(cut.len() < 100_000);
    let right_to_left = Sheet::of(&filled(NASTY[2]), &[]);
    assert!(html(&right_to_left).contains("שלום"));
    if let Some(pages) = pdf_pages(&right_to_left, Paper::A4) {
        assert!(pages[0].contains("□ stands for a character that cannot be set here"));
    }
    if let Some(pages) = pdf_pages(&Sheet::of(&a_job(), &[]), Paper::A4) {
        assert!(!pages[0].contains('□'));
    }
}

#[test]
fn numbers_at_the_ends_of_what_a_record_may_hold_are_set() {
    for value in [1e300, -1e300, 1e12, 5e-324, -0.0] {
        let mut job = a_job();
        for reading in &mut job.readings {
            for figure in &mut reading.figures {
                figure.value = value;
                figure.uncertainty = Some(value.abs());
            }
            for series in &mut reading.series {
                series.step_s = value.abs();
                series.values = vec![Some(value as f32), None, Some(f32::MAX), Some(f32::MIN)];
            }
        }
        let sheet = Sheet::of(&job, &[]);
        assert!(!html(&sheet).contains("NaN"));
        pdf(&sheet, Paper::A4).expect("a PDF");
        if let Some(pages) = pdf_pages(&sheet, Paper::A4) {
            assert!(!pages.concat().contains("NaN") && !pages.concat().contains("inf "));
        }
    }
}
