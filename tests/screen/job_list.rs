//! The list of jobs by itself, by keyboard.

use crate::page::{LAPTOP, LARGE, Page, Shown, themed};
use eframe::egui::{Key, Modifiers, Theme, Ui, Vec2, accesskit::Role};
use egui_kittest::{
    SnapshotResults,
    kittest::{NodeT, Queryable},
};
use jiff::{Timestamp, tz::TimeZone};
use trimwatch::{
    bench::store::{Filter, JobRow, State},
    screen::job_pages::{Answer, JobListForm, JobListPage, JobListWish},
};

/// A record that answers at once, unless it is held up.
struct Record {
    jobs: Vec<JobRow>,
    answer: Option<(Filter, Vec<JobRow>)>,
    counts: Option<(u32, u32)>,
    problem: Option<String>,
    held_up: bool,
    form: JobListForm,
    asked: Vec<JobListWish>,
}

impl Record {
    fn of(jobs: Vec<JobRow>) -> Self {
        let open = jobs.iter().filter(|job| job.closed.is_none()).count();
        Self {
            counts: Some((jobs.len() as u32, open as u32)),
            jobs,
            answer: None,
            problem: None,
            held_up: false,
            form: JobListForm::default(),
            asked: Vec::new(),
        }
    }

    fn look(&mut self, filter: Filter) {
        let words = filter.search.to_lowercase();
        let rows = self.jobs.iter().filter(|job| {
            let here = job.closed.is_none();
            let text = format!(
                "{} {} {} {}",
                job.number, job.model, job.serial, job.complaint
            );
            text.to_lowercase().contains(words.trim())
                && match filter.state {
                    State::Any => true,
                    State::Open => here,
                    State::Closed => !here,
                }
        });
        self.answer = Some((filter.clone(), rows.cloned().collect()));
    }
}

impl Shown for Record {
    fn show(&mut self, ui: &mut Ui) {
        let answer = self.answer.as_ref();
        let page = JobListPage {
            answer: answer.map(|(filter, rows)| Answer { filter, rows }),
            counts: self.counts,
            problem: self.problem.as_deref(),
            zone: &TimeZone::UTC,
        };
        let wish = page.show(ui, &mut self.form);
        if let Some(JobListWish::Look(filter)) = &wish
            && !self.held_up
        {
            self.look(filter.clone());
        }
        self.asked.extend(wish);
    }
}

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn job(number: &str, model: &str, serial: &str, closed: Option<&str>, complaint: &str) -> JobRow {
    JobRow {
        number: number.into(),
        model: model.into(),
        serial: serial.into(),
        opened: at("2026-11-03T09:00:00Z"),
        closed: closed.map(at),
        complaint: complaint.into(),
        readings: 4,
    }
}

fn harbour_lane() -> Vec<JobRow> {
    let left = Some("2026-11-12T15:00:00Z");
    vec![
        job(
            "HL-0034",
            "Plover R4",
            "",
            None,
            "hum in the left channel, worse when warm",
        ),
        job(
            "HL-0033",
            "Heron 3HC",
            "H-208",
            None,
            "recordings sound dull on every other deck",
        ),
        job(
            "HL-0032",
            "Finch 2H",
            "F-1042",
            left,
            "plays too fast and wows after some minutes; belt was changed by the owner, who lost a screw",
        ),
        job("HL-0031", "Finch 2H", "F-0007", left, "eats tapes"),
    ]
}

fn many(count: usize) -> Vec<JobRow> {
    (0..count)
        .rev()
        .map(|i| {
            job(
                &format!("HL-{i:05}"),
                "Finch 2H",
                &format!("F-{i}"),
                None,
                "too fast",
            )
        })
        .collect()
}

fn page(jobs: Vec<JobRow>) -> Page<Record> {
    Page::of(Record::of(jobs))
}

/// What was asked for since the last call, without the looking.
fn asked(page: &mut Page<Record>) -> Vec<JobListWish> {
    let asked = std::mem::take(&mut page.shown().asked);
    let looked = |wish: &JobListWish| matches!(wish, JobListWish::Look(_));
    asked.into_iter().filter(|wish| !looked(wish)).collect()
}

fn rows(page: &Page<Record>) -> Vec<String> {
    let rows = page.all(Role::ListBoxOption).into_iter();
    rows.map(|(number, _)| number).collect()
}

fn chosen(page: &Page<Record>) -> Vec<String> {
    let rows = page.harness.query_all_by_role(Role::ListBoxOption);
    rows.filter(|row| row.accesskit_node().is_selected() == Some(true))
        .filter_map(|row| row.accesskit_node().label())
        .collect()
}

#[test]
fn one_types_at_once_and_only_what_is_found_is_left() {
    let mut page = page(harbour_lane());
    assert_eq!(page.focused(), "Search jobs");
    assert_eq!(rows(&page), ["HL-0034", "HL-0033", "HL-0032", "HL-0031"]);
    page.type_text("finch");
    assert_eq!(rows(&page), ["HL-0032", "HL-0031"]);
    let looked: Vec<_> = page.shown().asked.drain(..).collect();
    assert_eq!(looked.len(), 2, "once for each change: {looked:?}");
    let heard = page.heard(Role::Status, "job list");
    assert!(
        heard.starts_with("2 jobs found; 4 in all, 2 here now. Chosen: HL-0032"),
        "{heard}"
    );
    page.press(Key::Enter);
    assert_eq!(asked(&mut page), [JobListWish::Open("HL-0032".into())]);
    page.type_text(" 9");
    assert!(rows(&page).is_empty());
    assert!(page.says("0 jobs found"));
    page.press(Key::Enter);
    assert_eq!(asked(&mut page), []);
}

#[test]
fn a_row_says_all_of_it() {
    let page = page(harbour_lane());
    assert_eq!(
        page.heard(Role::ListBoxOption, "HL-0031"),
        "Finch 2H, serial F-0007, came 3 Nov 2026, left 12 Nov 2026, 4 readings. eats tapes"
    );
    assert_eq!(
        page.heard(Role::ListBoxOption, "HL-0034"),
        "Plover R4, serial –, came 3 Nov 2026, here, 4 readings. hum in the left channel, worse when warm"
    );
}

#[test]
fn arrow_keys_choose_and_enter_opens() {
    let mut page = page(harbour_lane());
    assert_eq!(chosen(&page), ["HL-0034"]);
    page.press(Key::ArrowUp);
    page.press(Key::ArrowDown);
    page.press(Key::ArrowDown);
    assert_eq!(chosen(&page), ["HL-0032"]);
    page.press_with(Modifiers::COMMAND, Key::End);
    assert_eq!(chosen(&page), ["HL-0031"]);
    page.press(Key::ArrowDown);
    page.press(Key::Enter);
    assert_eq!(asked(&mut page), [JobListWish::Open("HL-0031".into())]);
    assert_eq!(
        page.focused(),
        "Search jobs",
        "the search keeps the keyboard"
    );
    page.node(Role::ListBoxOption, "HL-0033").click();
    page.settle();
    assert_eq!(asked(&mut page), [JobListWish::Open("HL-0033".into())]);
}

#[test]
fn tab_reaches_which_jobs_and_the_search_goes_on() {
    let mut page = page(harbour_lane());
    page.press(Key::Tab);
    page.press(Key::Tab);
    assert_eq!(page.focused(), "show jobs: here");
    page.press(Key::Space);
    assert_eq!(rows(&page), ["HL-0034", "HL-0033"]);
    assert_eq!(page.focused(), "Search jobs");
    page.type_text("dull");
    assert_eq!(rows(&page), ["HL-0033"]);
    let here = page.node(Role::RadioButton, "show jobs: here");
    assert!(here.accesskit_node().toggled().is_some());
}

#[test]
fn enter_waits_for_the_answer_to_what_was_typed() {
    let mut page = page(harbour_lane());
    page.shown().held_up = true;
    page.type_text("hl-0031");
    page.press(Key::Enter);
    assert_eq!(
        asked(&mut page),
        [],
        "the old list is not what was asked for"
    );
    assert!(page.says("looking in the record"));
    let filter = page.shown().form.filter();
    page.shown().look(filter);
    page.settle();
    assert_eq!(asked(&mut page), [JobListWish::Open("HL-0031".into())]);
}

#[test]
fn escape_leaves_and_control_n_begins_a_new_job() {
    let mut page = page(harbour_lane());
    page.press_with(Modifiers::COMMAND, Key::N);
    assert_eq!(asked(&mut page), [JobListWish::New]);
    page.type_text("n");
    assert_eq!(asked(&mut page), [], "a letter is searched for");
    page.press(Key::Escape);
    assert_eq!(asked(&mut page), [JobListWish::Leave], "at the first press");
    page.shown().form.open();
    page.settle();
    assert_eq!(page.focused(), "Search jobs");
    assert_eq!(
        page.shown().form.search,
        "n",
        "one comes back to where one was"
    );
}

#[test]
fn an_empty_record_says_how_to_begin() {
    for letter in [false, true] {
        let mut page = page(vec![]);
        assert!(page.says("No jobs yet: Ctrl-N (or n) makes the first one."));
        assert_eq!(page.focused(), "New job (Ctrl-N)");
        page.press(if letter { Key::N } else { Key::Enter });
        assert_eq!(asked(&mut page), [JobListWish::New]);
    }
}

#[test]
fn trouble_and_waiting_are_in_words() {
    let mut record = Record::of(harbour_lane());
    record.held_up = true;
    record.counts = None;
    let mut page = Page::of(record);
    assert_eq!(
        page.heard(Role::Status, "job list"),
        "looking in the record …"
    );
    page.shown().problem = Some("jobs.db: the disk is full; make room".into());
    page.settle();
    assert_eq!(
        page.heard(Role::Status, "job list"),
        "! jobs.db: the disk is full; make room"
    );
}

#[test]
fn of_thousands_only_those_in_sight_are_drawn_and_the_chosen_one_is_in_sight() {
    let mut page = page(many(10_000));
    let drawn = rows(&page).len();
    assert!((10..40).contains(&drawn), "{drawn}");
    page.press_with(Modifiers::COMMAND, Key::End);
    assert_eq!(chosen(&page), ["HL-00000"]);
    page.press(Key::PageUp);
    let [up] = &chosen(&page)[..] else {
        panic!("one")
    };
    assert!(up.as_str() > "HL-00005", "{up}");
    for _ in 0..40 {
        page.press(Key::ArrowUp);
        assert_eq!(chosen(&page).len(), 1, "in sight");
    }
    let row = page
        .node(Role::ListBoxOption, &chosen(&page)[0].clone())
        .rect();
    assert!(
        row.top() > 60.0 && row.bottom() <= LAPTOP.y + 16.0,
        "{row:?}"
    );
}

#[test]
fn whatever_somebody_typed_stays_in_its_row() {
    let hostile = [
        "\u{202e}drawkcab",
        "tab\tand\nline\0and\u{1b}[31m",
        "\u{1f9ff}\u{1f468}\u{200d}\u{1f527} \u{10ffff}",
        "שלום مرحبا",
        "<script>alert(1)</script>'; DROP TABLE job; --",
    ];
    let mut jobs: Vec<_> = hostile
        .iter()
        .map(|text| job(text, text, text, None, text))
        .collect();
    let huge = "W\u{301}\u{302}\u{303}\u{304}".repeat(100_000);
    jobs.push(job("HL-9", &huge, &huge, None, &huge));
    let page = Page::of_anything(Record::of(jobs));
    let rows: Vec<_> = page
        .harness
        .query_all_by_role(Role::ListBoxOption)
        .collect();
    assert_eq!(rows.len(), 6);
    for row in rows {
        assert_eq!(row.rect().height(), 30.0);
        let said = row.value().unwrap() + &row.accesskit_node().label().unwrap();
        assert!(said.chars().count() < 2000);
        assert!(
            !said.contains(|letter: char| letter.is_control()),
            "{said:?}"
        );
        assert!(!said.contains('\u{202e}'));
    }
}

#[test]
fn pictures_of_the_list() {
    let mut results = SnapshotResults::new();
    let cases: [(&str, Vec2, f32, Theme); 5] = [
        ("laptop", LAPTOP, 1.0, Theme::Dark),
        ("laptop", LAPTOP, 1.0, Theme::Light),
        ("dense", LAPTOP, 2.0, Theme::Light),
        ("large", LARGE, 1.0, Theme::Dark),
        ("small", Vec2::new(700.0, 360.0), 1.0, Theme::Light),
    ];
    for (name, size, scale, theme) in cases {
        let mut page = Page::of_size(Record::of(harbour_lane()), size, scale, theme);
        page.press(Key::ArrowDown);
        page.picture(&format!("jobs-{name}-{}", themed(theme)), &mut results);
    }
    let mut page = Page::of_size(Record::of(many(10_000)), LAPTOP, 1.0, Theme::Dark);
    page.press_with(Modifiers::COMMAND, Key::End);
    page.press(Key::PageUp);
    page.picture("jobs-many-dark", &mut results);
    let mut page = Page::of_size(Record::of(vec![]), LAPTOP, 1.0, Theme::Light);
    page.picture("jobs-none-light", &mut results);
}
