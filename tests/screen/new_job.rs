//! The form of a new job by itself, by keyboard.

use crate::page::{LAPTOP, LARGE, Page, Shown, themed};
use eframe::egui::{Key, Modifiers, Theme, Ui, Vec2, accesskit::Role};
use egui_kittest::SnapshotResults;
use jiff::{Timestamp, tz::TimeZone};
use trimwatch::{
    bench::{
        Deck, LimitSet,
        limit_shelf::limit_sets,
        store::{JobRow, KnownDeck, NewJob},
    },
    screen::job_pages::{Decks, Named, NewJobForm, NewJobPage, NewJobWish, Visits},
};

const FORMATS: [Named<'_>; 2] = [
    Named {
        name: "cassette-stereo",
        title: "Cassette, stereo",
    },
    Named {
        name: "reel-stereo-iec-19",
        title: "Quarter-inch stereo (IEC), 19 cm/s",
    },
];
const MECHANISMS: [Named<'_>; 1] = [Named {
    name: "single-capstan-cassette",
    title: "Cassette, single capstan (typical)",
}];

/// A record with two decks.
struct Desk {
    form: NewJobForm,
    limits: Vec<LimitSet>,
    looked_for: Option<String>,
    visited: Option<(String, String)>,
    refused: Option<String>,
    problem: Option<String>,
    made: Vec<NewJob>,
    left: usize,
}

impl Default for Desk {
    fn default() -> Self {
        Self {
            form: NewJobForm::default(),
            limits: limit_sets().expect("tables").to_vec(),
            looked_for: None,
            visited: None,
            refused: None,
            problem: None,
            made: vec![],
            left: 0,
        }
    }
}

fn known() -> Vec<KnownDeck> {
    let deck = |model: &str, serial: &str, jobs| KnownDeck {
        deck: Deck {
            model: model.into(),
            serial: serial.into(),
            tape_format: "cassette-stereo".into(),
            mechanism: "single-capstan-cassette".into(),
        },
        jobs,
    };
    vec![deck("Finch 2H", "F-1042", 1), deck("Heron 3HC", "H-208", 3)]
}

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn visits() -> Vec<JobRow> {
    vec![JobRow {
        number: "HL-0012".into(),
        model: "Finch 2H".into(),
        serial: "F-1042".into(),
        opened: at("2026-03-03T09:00:00Z"),
        closed: None,
        complaint: String::new(),
        readings: 9,
    }]
}

impl Shown for Desk {
    fn show(&mut self, ui: &mut Ui) {
        let found: Vec<_> = known()
            .into_iter()
            .filter(|known| {
                let words = self.looked_for.clone().unwrap_or_default().to_lowercase();
                known.deck.model.to_lowercase().contains(&words)
            })
            .collect();
        let visits = visits();
        let page = NewJobPage {
            proposed: Some("HL-0032"),
            decks: self.looked_for.as_deref().map(|search| Decks {
                search,
                decks: &found,
            }),
            visits: self.visited.as_ref().map(|(model, serial)| Visits {
                model,
                serial,
                jobs: if serial == "F-1042" { &visits } else { &[] },
            }),
            formats: &FORMATS,
            mechanisms: &MECHANISMS,
            limits: &self.limits,
            refused: self.refused.as_deref(),
            problem: self.problem.as_deref(),
            busy: false,
            now: at("2026-11-26T09:00:00Z"),
            zone: &TimeZone::UTC,
        };
        match page.show(ui, &mut self.form) {
            Some(NewJobWish::LookForDecks(words)) => self.looked_for = Some(words),
            Some(NewJobWish::LookForVisits { model, serial }) => {
                self.visited = Some((model, serial));
            }
            Some(NewJobWish::Make(job)) => self.made.push(*job),
            Some(NewJobWish::Leave) => self.left += 1,
            None => {}
        }
    }
}

fn page() -> Page<Desk> {
    Page::of(Desk::default())
}

fn value(page: &Page<Desk>, field: &str) -> String {
    let role = match field {
        "The owner says" => Role::MultilineTextInput,
        "Tape format" | "Mechanism" | "Limits" => Role::ComboBox,
        _ => Role::TextInput,
    };
    page.heard(role, field)
}

#[test]
fn a_known_deck_and_a_complaint_make_a_job_in_a_few_keys() {
    let mut page = page();
    assert_eq!(page.focused(), "Deck, model");
    assert_eq!(value(&page, "Job number"), "HL-0032");
    page.type_text("fin");
    assert!(
        page.says("known deck Finch 2H F-1042 1 job")
            || page.says("known deck Finch 2H  F-1042 1 job")
    );
    assert!(!page.says("known deck Heron"));
    page.press(Key::ArrowDown);
    page.press(Key::Enter);
    assert_eq!(value(&page, "Serial number"), "F-1042");
    assert_eq!(
        page.described(Role::TextInput, "Serial number"),
        "here before: HL-0012, March 2026"
    );
    assert_eq!(page.focused(), "The owner says");
    page.enter("plays too fast");
    let made = &page.shown().made;
    assert_eq!(made.len(), 1);
    assert_eq!(made[0].number, "HL-0032");
    assert_eq!(made[0].deck, known()[0].deck);
    assert_eq!(made[0].complaint, "plays too fast");
    assert_eq!(made[0].limits.name, limit_sets().unwrap()[0].name);
    assert_eq!(made[0].opened, at("2026-11-26T09:00:00Z"));
}

#[test]
fn enter_goes_through_all_fields_and_arrow_keys_choose() {
    let mut page = page();
    page.enter("Plover R4");
    assert_eq!(page.focused(), "Serial number");
    page.enter("P-3");
    assert_eq!(page.focused(), "Tape format");
    page.press(Key::ArrowDown);
    page.press(Key::ArrowDown);
    page.press(Key::ArrowDown);
    assert_eq!(
        value(&page, "Tape format"),
        "Quarter-inch stereo (IEC), 19 cm/s"
    );
    assert_eq!(page.focused(), "Tape format", "arrow keys stay in it");
    page.press(Key::Enter);
    assert_eq!(page.focused(), "Mechanism");
    page.press(Key::ArrowDown);
    page.press(Key::ArrowUp);
    page.press(Key::Enter);
    assert_eq!(page.focused(), "Limits");
    page.press(Key::ArrowDown);
    page.press(Key::Enter);
    assert_eq!(page.focused(), "The owner says");
    page.type_text("hum");
    page.press_with(Modifiers::SHIFT, Key::Enter);
    page.type_text("and noise");
    assert!(page.shown().made.is_empty());
    page.press(Key::Enter);
    let made = page.shown().made.pop().expect("made");
    assert_eq!(made.complaint, "hum\nand noise");
    assert_eq!(made.deck.tape_format, "reel-stereo-iec-19");
    assert_eq!(made.deck.mechanism, "");
    assert_eq!(made.limits.name, limit_sets().unwrap()[1].name);
}

#[test]
fn number_and_model_are_enough_and_what_is_missing_is_told_beside_it() {
    let mut page = page();
    page.press_with(Modifiers::COMMAND, Key::Enter);
    assert!(page.shown().made.is_empty());
    assert_eq!(page.focused(), "! Deck, model");
    assert!(
        page.described(Role::TextInput, "! Deck, model")
            .contains("give at least the model")
    );
    page.type_text("Finch 2H");
    assert_eq!(page.focused(), "Deck, model");
    page.press_with(Modifiers::COMMAND, Key::Enter);
    assert_eq!(page.shown().made.len(), 1);
    page.shown().refused = Some("there is a job HL-0032 already; give another number".into());
    page.settle();
    assert!(page.says("there is a job HL-0032 already"));
    page.press_with(Modifiers::SHIFT, Key::Tab);
    page.press_with(Modifiers::COMMAND, Key::A);
    page.type_text("HL 33");
    assert!(!page.says("there is a job HL-0032 already"));
    assert!(page.says("'HL 33' is no job number"));
    page.press_with(Modifiers::COMMAND, Key::Enter);
    assert_eq!(page.shown().made.len(), 1, "not made");
}

#[test]
fn nothing_is_lost_by_leaving_or_emptying() {
    let mut page = page();
    page.type_text("Heron");
    page.press(Key::Escape);
    assert_eq!(page.shown().left, 1, "at the first press");
    page.shown().form.open();
    page.settle();
    assert_eq!(value(&page, "Deck, model"), "Heron");
    page.node(Role::Button, "Empty the form").focus();
    page.settle();
    page.press(Key::Space);
    assert_eq!(value(&page, "Deck, model"), "");
    page.node(Role::Button, "Take that back").focus();
    page.settle();
    page.press(Key::Space);
    assert_eq!(value(&page, "Deck, model"), "Heron");
}

#[test]
fn what_the_record_says_is_told() {
    let mut page = page();
    page.shown().problem = Some("jobs.db: cannot be written".into());
    page.settle();
    assert_eq!(
        page.heard(Role::Status, "new job"),
        "! jobs.db: cannot be written"
    );
}

#[test]
fn any_text_can_be_typed() {
    let mut page = Page::of_anything(Desk::default());
    page.enter("\u{202e}נ\u{1f9ff}\t'; DROP TABLE job; --");
    page.enter(&"9".repeat(5000));
    page.press_with(Modifiers::COMMAND, Key::Enter);
    assert!(page.shown().made.is_empty());
    assert_eq!(page.focused(), "! Serial number");
}

#[test]
fn pictures_of_a_new_job() {
    let mut results = SnapshotResults::new();
    let cases: [(&str, Vec2, f32, Theme); 5] = [
        ("laptop", LAPTOP, 1.0, Theme::Dark),
        ("laptop", LAPTOP, 1.0, Theme::Light),
        ("dense", LAPTOP, 2.0, Theme::Dark),
        ("large", LARGE, 1.0, Theme::Light),
        ("small", Vec2::new(700.0, 480.0), 1.0, Theme::Dark),
    ];
    for (name, size, scale, theme) in cases {
        let mut page = Page::of_size(Desk::default(), size, scale, theme);
        page.type_text("h");
        page.press(Key::ArrowDown);
        page.picture(&format!("new-job-{name}-{}", themed(theme)), &mut results);
    }
    let mut page = Page::of_size(Desk::default(), LAPTOP, 1.0, Theme::Light);
    page.type_text("fin");
    page.press(Key::ArrowDown);
    page.press(Key::Enter);
    page.type_text("plays too fast");
    page.node(Role::TextInput, "Job number").focus();
    page.settle();
    page.type_text(" 1/2");
    page.picture("new-job-wrong-light", &mut results);
}
