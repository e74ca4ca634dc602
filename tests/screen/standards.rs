//! The panel of the workshop's own standards by itself, by keyboard.

use crate::page::{Page, Shown, themed};
use eframe::egui::{Key, ScrollArea, Theme, Ui, Vec2, accesskit::Role};
use egui_kittest::SnapshotResults;
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use std::path::{Path, PathBuf};
use trimwatch::{
    bench::{
        Workshop,
        standards::{TapeCheck, TapeOnHand, TapeRecord},
        store::BackedUp,
    },
    screen::job_pages::{BackupState, ProfileInUse, StandardsForm, StandardsPanel, StandardsWish},
};

/// A workshop with some tapes.
struct Shelf {
    tapes: Option<Vec<TapeRecord>>,
    workshop: Workshop,
    backup: Option<Result<(PathBuf, BackedUp), String>>,
    measured: Option<Timestamp>,
    form: StandardsForm,
    opened: bool,
    asked: Vec<StandardsWish>,
}

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn record(name: &str, title: &str, certificate: &str, passes: u32) -> TapeRecord {
    TapeRecord {
        tape: TapeOnHand {
            name: name.into(),
            title: title.into(),
            certificate: certificate.into(),
            certified: (!certificate.is_empty()).then(|| Date::constant(2026, 2, 3)),
            ..TapeOnHand::default()
        },
        passes,
        passes_since_check: passes,
        played: None,
        checks: vec![],
    }
}

impl Shelf {
    fn of(tapes: Vec<TapeRecord>) -> Self {
        Self {
            tapes: Some(tapes),
            workshop: Workshop {
                name: "Harbour Lane Audio Repair".into(),
                lines: vec!["3 Harbour Lane".into(), "by appointment".into()],
            },
            backup: None,
            measured: Some(at("2026-03-20T08:00:00Z")),
            form: StandardsForm::default(),
            opened: true,
            asked: vec![],
        }
    }

    fn usual() -> Self {
        let mut azimuth = record("azimuth-10k", "Azimuth, 10 kHz", "18/2026", 131);
        azimuth.passes_since_check = 4;
        azimuth.checks.push(TapeCheck {
            at: at("2026-09-01T10:00:00Z"),
            against: "Azimuth tape B".into(),
            found: "0.4 arcmin apart".into(),
            good: true,
        });
        Self::of(vec![
            azimuth,
            record("speed-3150", "Speed, 3150 Hz", "17/2026", 112),
            record("level", "Level, 250 nWb/m", "", 3),
        ])
    }
}

fn proposed() -> PathBuf {
    std::env::temp_dir().join("trimwatch-2026-11-26.db")
}

impl Shown for Shelf {
    fn show(&mut self, ui: &mut Ui) {
        let proposed = Path::new("/media/disk/trimwatch-2026-11-26.db");
        let panel = StandardsPanel {
            tapes: self.tapes.as_deref(),
            profile: self.measured.map(|measured| ProfileInUse {
                name: "USB line input",
                measured,
            }),
            workshop: &self.workshop,
            backup: self.backup.as_ref().map(|backup| match backup {
                Ok((path, held)) => BackupState::Done(path, *held),
                Err(why) => BackupState::Failed(why),
            }),
            proposed_backup: Some(proposed),
            problem: None,
            now: at("2026-11-26T09:00:00Z"),
            zone: &TimeZone::UTC,
            opened: std::mem::take(&mut self.opened),
        };
        let form = &mut self.form;
        let wish = ScrollArea::vertical()
            .auto_shrink(false)
            .show(ui, |ui| {
                ui.set_max_width(ui.available_width() - 12.0);
                panel.show(ui, form)
            })
            .inner;
        self.asked.extend(wish);
    }
}

const PANEL: Vec2 = Vec2::new(340.0, 700.0);

fn page(shelf: Shelf) -> Page<Shelf> {
    Page::of_size(shelf, PANEL, 1.0, Theme::Dark)
}

/// Reaches something as Tab would, and presses it.
fn press(page: &mut Page<Shelf>, button: &str) {
    page.node(Role::Button, button).focus();
    page.settle();
    page.press(Key::Space);
}

fn fill(page: &mut Page<Shelf>, field: &str, text: &str) {
    page.node(Role::TextInput, field).focus();
    page.settle();
    page.press_with(eframe::egui::Modifiers::COMMAND, Key::A);
    page.type_text(text);
}

#[test]
fn tapes_say_their_certificate_age_passes_and_whether_they_are_due() {
    let page = page(Shelf::usual());
    for words in [
        "certificate 17/2026 of 2026-02-03, 112 passes, figures 9 months old",
        "Speed, 3150 Hz is due for a check against another tape: 112 passes without a check (100 allowed)",
        "Last check 1 Sep 2026 against Azimuth tape B: 0.4 arcmin apart, good.",
        "no certificate, 3 passes",
        "USB line input, measured 8 months ago",
    ] {
        assert!(page.says(words), "{words}");
    }
    assert_eq!(page.focused(), "Checked against another: Azimuth, 10 kHz");
}

#[test]
fn a_check_against_another_tape_is_written_down_by_keyboard() {
    let mut page = page(Shelf::usual());
    page.press(Key::Space);
    assert_eq!(page.focused(), "Against which tape");
    page.enter("Azimuth tape B");
    assert_eq!(page.focused(), "What was found");
    page.press(Key::Enter);
    assert_eq!(page.focused(), "tape is still good");
    page.press(Key::Enter);
    assert!(page.shown().asked.is_empty());
    assert!(page.says("what was found?"));
    fill(&mut page, "What was found", "0.5 arcmin apart");
    press(&mut page, "tape is not good any more");
    let [StandardsWish::CheckTape(name, check)] = &page.shown().asked[..] else {
        panic!("a check");
    };
    assert_eq!(name, "azimuth-10k");
    assert_eq!(
        (&*check.against, &*check.found, check.good),
        ("Azimuth tape B", "0.5 arcmin apart", false)
    );
    assert_eq!(check.at, at("2026-11-26T09:00:00Z"));
    page.settle();
    assert!(!page.says("Against which tape"), "closed again");
}

#[test]
fn a_certificate_is_kept_and_a_wrong_date_told() {
    let mut page = page(Shelf::usual());
    press(&mut page, "Certificate: Level, 250 nWb/m");
    assert_eq!(page.focused(), "Certificate, who gave it");
    page.type_text("44/2025");
    fill(&mut page, "Its date", "last year");
    page.press(Key::Enter);
    assert!(page.says("'last year' is no date"));
    fill(&mut page, "Its date", "2025-05-06");
    page.press(Key::Enter);
    let [StandardsWish::SetTape(tape)] = &page.shown().asked[..] else {
        panic!("a tape");
    };
    assert_eq!(tape.certificate, "44/2025");
    assert_eq!(tape.certified, Some(Date::constant(2025, 5, 6)));
    page.shown().asked.clear();
    press(&mut page, "Certificate: Level, 250 nWb/m");
    press(&mut page, "tape: No longer used");
    let [StandardsWish::SetTape(tape)] = &page.shown().asked[..] else {
        panic!("a tape");
    };
    assert_eq!(tape.retired, Some(Date::constant(2026, 11, 26)));
}

#[test]
fn a_backup_goes_where_it_is_told_and_says_how_it_went() {
    let mut page = page(Shelf::of(vec![]));
    assert_eq!(page.focused(), "Into this new file");
    assert!(page.says("None yet: a tape is written down here"));
    fill(&mut page, "Into this new file", "record.db");
    page.press(Key::Enter);
    assert!(page.shown().asked.is_empty());
    assert!(page.says("give the whole path"));
    let path = proposed();
    fill(&mut page, "Into this new file", path.to_str().unwrap());
    press(&mut page, "Back up now");
    assert_eq!(page.shown().asked, [StandardsWish::Backup(path.clone())]);
    let held = BackedUp {
        jobs: 42,
        bytes: 1_300_000,
    };
    page.shown().backup = Some(Ok((path, held)));
    page.settle();
    let heard = page.heard(Role::Status, "backup");
    assert!(
        heard.starts_with("Backed up and looked through: 42 jobs, 1.3 MB"),
        "{heard}"
    );
    page.shown().backup = Some(Err(
        "b.db: is there already; give a backup a name of its own".into(),
    ));
    page.settle();
    assert!(
        page.heard(Role::Status, "backup")
            .contains("is there already")
    );
}

#[test]
fn name_and_address_are_kept_or_put_back() {
    let mut page = page(Shelf::of(vec![]));
    fill(&mut page, "Name", "Harbour Lane");
    press(&mut page, "As it was");
    assert_eq!(
        page.heard(Role::TextInput, "Name"),
        "Harbour Lane Audio Repair"
    );
    assert!(page.shown().asked.is_empty());
    fill(&mut page, "Name", "Harbour Lane");
    page.press(Key::Enter);
    let kept = Workshop {
        name: "Harbour Lane".into(),
        lines: vec!["3 Harbour Lane".into(), "by appointment".into()],
    };
    assert_eq!(page.shown().asked, [StandardsWish::SetWorkshop(kept)]);
}

#[test]
fn an_old_profile_and_a_missing_one_are_told() {
    let mut page = page(Shelf::of(vec![]));
    page.shown().measured = Some(at("2024-01-15T00:00:00Z"));
    page.settle();
    assert!(page.says("measure them anew"));
    page.shown().measured = None;
    page.settle();
    assert!(page.says("Not measured, or not in use"));
    page.shown().tapes = None;
    page.settle();
    assert!(page.says("looking in the record"));
}

#[test]
fn hostile_titles_stay_within_the_panel() {
    let text = format!("\u{202e}\u{1f9ff}\n\t{}", "W".repeat(400));
    let mut shelf = Shelf::of(vec![record(&text, &text, &text, 1)]);
    shelf.opened = false;
    let page = Page::of_anything(shelf);
    for (label, _) in page.all(Role::Label) {
        assert!(
            !label.contains('\u{202e}') && !label.contains('\n'),
            "{label}"
        );
        assert!(label.chars().count() <= 400);
    }
}

#[test]
fn pictures_of_the_standards() {
    let mut results = SnapshotResults::new();
    for (name, scale, theme) in [
        ("panel", 1.0, Theme::Dark),
        ("panel", 1.0, Theme::Light),
        ("dense", 2.0, Theme::Dark),
    ] {
        let mut page = Page::of_size(Shelf::usual(), Vec2::new(340.0, 900.0), scale, theme);
        page.press(Key::Space);
        page.picture(&format!("standards-{name}-{}", themed(theme)), &mut results);
    }
    let mut shelf = Shelf::usual();
    shelf.tapes.as_mut().unwrap().truncate(1);
    let held = BackedUp {
        jobs: 42,
        bytes: 1_300_000,
    };
    shelf.backup = Some(Ok(("/media/disk/trimwatch-2026-11-26.db".into(), held)));
    let mut page = Page::of_size(shelf, Vec2::new(340.0, 900.0), 1.0, Theme::Light);
    press(&mut page, "Certificate: Azimuth, 10 kHz");
    page.picture("standards-certificate-light", &mut results);
}
