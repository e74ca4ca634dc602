//! The mechanical checks by themselves, by keyboard, with a record in memory.

use crate::page::{LAPTOP, LARGE, Page, Shown, themed};
use eframe::egui::{Key, Modifiers, Theme, Ui, Vec2, accesskit::Role};
use egui_kittest::SnapshotResults;
use jiff::{Timestamp, tz::TimeZone};
use trimwatch::{
    bench::{
        Check, CheckDone, Deck, Environment, LimitSet, Quantity, Stage, Store,
        checks::{Seen, gauge},
        limit_shelf::limit_sets,
        store::{CheckId, NewJob},
    },
    screen::job_pages::{ChecksForm, ChecksPage, ChecksWish},
};

const JOB: &str = "HL-0032";

/// A job in a real record.
struct Desk {
    _folder: tempfile::TempDir,
    store: Store,
    checks: Vec<CheckDone>,
    ids: Vec<Option<CheckId>>,
    limits: LimitSet,
    stage: Stage,
    problem: Option<String>,
    form: ChecksForm,
    left: usize,
}

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn good_service() -> LimitSet {
    let sets = limit_sets().expect("tables");
    let set = sets.iter().find(|set| set.name == "good-service");
    set.expect("supplied").clone()
}

impl Desk {
    fn new(stage: Stage) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(folder.path().join("jobs.db")).unwrap();
        let job = NewJob {
            number: JOB.into(),
            deck: Deck::default(),
            opened: at("2026-11-26T08:00:00Z"),
            complaint: String::new(),
            limits: good_service(),
            environment: Environment::default(),
        };
        store.create_job(&job).unwrap();
        Self {
            _folder: folder,
            store,
            checks: vec![],
            ids: vec![],
            limits: good_service(),
            stage,
            problem: None,
            form: ChecksForm::default(),
            left: 0,
        }
    }

    fn put(&mut self, stage: Stage, check: Check) {
        let done = CheckDone {
            at: at("2026-11-26T09:05:00Z"),
            stage,
            check,
            withdrawn: None,
        };
        self.store.add_check(JOB, &done).unwrap();
        self.load();
    }

    fn load(&mut self) {
        let kept = self.store.job(JOB).unwrap();
        self.checks = kept.job.checks;
        self.ids = kept.checks.into_iter().map(Some).collect();
    }

    /// A deck as it came, and half of it done.
    fn half_done() -> Self {
        let mut desk = Self::new(Stage::AsLeft);
        let torque = |quantity, text| gauge(quantity, text).unwrap();
        desk.put(
            Stage::AsFound,
            Seen::Belt.check("slack, shiny where it runs on the pulley", Some(false)),
        );
        desk.put(Stage::AsFound, Seen::HeadWear.check("", Some(true)));
        desk.put(
            Stage::AsFound,
            Seen::Cleaned.check("brown deposit on the roller", None),
        );
        desk.put(
            Stage::AsFound,
            torque(Quantity::TakeUpTorque, "28 g·cm ±5 %"),
        );
        desk.put(
            Stage::AsFound,
            torque(Quantity::TakeUpTorque, "20 g·cm ±5 %"),
        );
        desk.put(Stage::AsFound, torque(Quantity::BackTorque, "4 g·cm ±0.3"));
        desk.put(Stage::AsFound, torque(Quantity::CapstanEndPlay, "0.2 mm"));
        desk.put(Stage::AsFound, torque(Quantity::RollerForce, "355 g ±5 %"));
        desk.put(Stage::AsLeft, Seen::Belt.check("", Some(true)));
        desk.put(
            Stage::AsLeft,
            torque(Quantity::TakeUpTorque, "45 g·cm ±5 %"),
        );
        desk
    }
}

impl Shown for Desk {
    fn show(&mut self, ui: &mut Ui) {
        let page = ChecksPage {
            checks: &self.checks,
            ids: &self.ids,
            limits: &self.limits,
            stage: self.stage,
            problem: self.problem.as_deref(),
            now: at("2026-11-26T09:30:00Z"),
            zone: &TimeZone::UTC,
        };
        match page.show(ui, &mut self.form) {
            Some(ChecksWish::Add(done)) => {
                self.store.add_check(JOB, &done).unwrap();
            }
            Some(ChecksWish::Withdraw(id)) => {
                self.store
                    .withdraw_check(id, at("2026-11-26T09:31:00Z"))
                    .unwrap();
            }
            Some(ChecksWish::Restore(id)) => self.store.restore_check(id).unwrap(),
            Some(ChecksWish::Leave) => self.left += 1,
            None => return,
        }
        self.load();
    }
}

const TAKE_UP: &str = "Take-up torque, with unit";

fn page(stage: Stage) -> Page<Desk> {
    Page::of(Desk::new(stage))
}

fn focus(page: &mut Page<Desk>, field: &str) {
    page.node(Role::TextInput, field).focus();
    page.settle();
}

#[test]
fn all_checks_of_a_stage_are_entered_without_the_mouse() {
    let mut page = page(Stage::AsFound);
    assert_eq!(page.focused(), "Belt condition, what was seen");
    // Belt: what was seen, and 'not good'.
    page.enter("slack");
    assert_eq!(page.focused(), "Belt condition: good");
    page.press(Key::ArrowRight);
    assert_eq!(page.focused(), "Belt condition: not good");
    page.press(Key::Enter);
    assert_eq!(page.heard(Role::Meter, "belt as found"), "slack, not good");
    // Head wear, cleaned, demagnetised: the usual words.
    for seen in ["Head wear", "Tape path cleaned", "Tape path demagnetised"] {
        assert_eq!(page.focused(), format!("{seen}, what was seen"));
        page.press(Key::Enter);
        page.press(Key::Space);
    }
    assert_eq!(page.heard(Role::Meter, "cleaned as found"), "done, good");
    for (field, typed) in [
        (TAKE_UP, "45 g·cm ±5 %"),
        ("Back torque, with unit", "4 gcm"),
        ("Wind torque, forward, with unit", "90 gcm"),
        ("Wind torque, back, with unit", "90 gcm"),
        ("Capstan end play, with unit", "0,2 mm"),
        ("Pinch roller force, with unit", "3.2 N"),
    ] {
        assert_eq!(page.focused(), field);
        page.enter(typed);
    }
    assert_eq!(page.shown().checks.len(), 10);
    assert_eq!(
        page.heard(Role::Meter, "take-up torque as found"),
        "4.41 ±0.22 mN·m (45.0 ±2.2 g·cm), pass"
    );
    assert_eq!(
        page.heard(Role::Meter, "capstan end play as found"),
        "0.20 mm, inside, uncertainty not known"
    );
    assert_eq!(
        page.heard(Role::Meter, "take-up torque as left"),
        "nothing yet"
    );
    assert!(
        page.shown()
            .checks
            .iter()
            .all(|done| done.stage == Stage::AsFound)
    );
}

#[test]
fn what_is_typed_is_read_back_before_it_is_written_down() {
    let mut page = page(Stage::AsFound);
    focus(&mut page, TAKE_UP);
    page.type_text("20 g·cm ±5 %");
    assert_eq!(
        page.described(Role::TextInput, TAKE_UP),
        "= 1.96 ±0.10 mN·m (20.0 ±1.0 g·cm), fail"
    );
    assert!(page.shown().checks.is_empty());
}

#[test]
fn what_does_not_fit_is_told_and_stays_in_the_field() {
    let mut page = page(Stage::AsFound);
    focus(&mut page, TAKE_UP);
    page.type_text("45 g");
    assert!(
        !page.described(Role::TextInput, TAKE_UP).contains('!'),
        "while it is typed"
    );
    page.press(Key::Enter);
    let told = page.described(Role::TextInput, TAKE_UP);
    assert!(
        told.contains("is a force, but take-up torque is a torque"),
        "{told}"
    );
    assert_eq!(page.focused(), TAKE_UP);
    assert!(page.shown().checks.is_empty());
    page.enter("cm");
    assert_eq!(page.shown().checks.len(), 1, "45 gcm");
    focus(&mut page, "Belt condition, what was seen");
    page.press(Key::Enter);
    page.press(Key::ArrowRight);
    page.press(Key::ArrowRight);
    page.press(Key::Enter);
    let told = page.described(Role::TextInput, "Belt condition, what was seen");
    assert!(told.contains("say what was seen, or judge it"), "{told}");
}

#[test]
fn what_the_gauge_is_good_for_is_typed_once() {
    let mut page = page(Stage::AsFound);
    focus(&mut page, TAKE_UP);
    page.type_text("45 gcm");
    page.press(Key::Tab);
    assert_eq!(page.focused(), "take-up torque gauge is good for ±");
    page.enter("5 %");
    assert_eq!(page.focused(), "Back torque, with unit");
    focus(&mut page, TAKE_UP);
    page.enter("46");
    assert_eq!(
        page.heard(Role::Meter, "take-up torque as found"),
        "4.51 ±0.23 mN·m (46.0 ±2.3 g·cm), pass",
        "unit and uncertainty as before"
    );
}

#[test]
fn a_try_is_withdrawn_and_brought_back_by_keyboard() {
    let mut page = Page::of(Desk::half_done());
    focus(&mut page, TAKE_UP);
    assert!(page.says("Take-up torque: 3 tries"));
    assert_eq!(
        page.heard(Role::Meter, "take-up torque as found"),
        "1.96 ±0.10 mN·m (20.0 ±1.0 g·cm), fail"
    );
    let last = "Withdraw: as found, 26 Nov 2026, 09:05: 1.96 ±0.10 mN·m (20.0 ±1.0 g·cm), fail, typed as 20 g·cm";
    page.node(Role::Button, last).focus();
    page.settle();
    page.press(Key::Space);
    assert_eq!(
        page.heard(Role::Meter, "take-up torque as found"),
        "2.75 ±0.14 mN·m (28.0 ±1.4 g·cm), fail"
    );
    let back = "Let it count: withdrawn: as found, 26 Nov 2026, 09:05: 1.96 ±0.10 mN·m (20.0 ±1.0 g·cm), fail, typed as 20 g·cm";
    page.node(Role::Button, back).focus();
    page.settle();
    page.press(Key::Space);
    assert!(
        page.heard(Role::Meter, "take-up torque as found")
            .contains("20.0")
    );
}

#[test]
fn one_that_waits_to_be_saved_is_called_so() {
    let mut page = Page::of(Desk::half_done());
    let shown = page.shown();
    *shown.ids.last_mut().unwrap() = None;
    shown.problem = Some("1 entry not saved yet, held in memory: the disk is full".into());
    focus(&mut page, TAKE_UP);
    assert!(page.says("not saved yet"));
    assert!(
        page.heard(Role::Status, "checks")
            .starts_with("! 1 entry not saved yet")
    );
}

#[test]
fn escape_leaves_and_what_is_typed_stays() {
    let mut page = page(Stage::AsFound);
    focus(&mut page, TAKE_UP);
    page.type_text("45 g");
    page.press(Key::Escape);
    assert_eq!(page.shown().left, 1);
    page.shown().form.open();
    page.settle();
    assert_eq!(page.focused(), TAKE_UP);
    assert_eq!(page.heard(Role::TextInput, TAKE_UP), "45 g");
    page.press_with(Modifiers::NONE, Key::Tab);
    assert_eq!(page.focused(), "take-up torque gauge is good for ±");
}

#[test]
fn the_caution_goes_with_the_check_in_hand() {
    let mut page = page(Stage::AsFound);
    focus(&mut page, "Tape path demagnetised, what was seen");
    assert!(page.heard(Role::Status, "checks").contains("pacemaker"));
    focus(&mut page, TAKE_UP);
    assert!(page.heard(Role::Status, "checks").contains("Moving parts"));
}

#[test]
fn hostile_words_stay_in_their_cell() {
    let mut desk = Desk::new(Stage::AsFound);
    let text = format!("\u{202e}\u{1f9ff}\n\t{}", "W".repeat(15_000));
    desk.put(Stage::AsFound, Seen::Belt.check(&text, Some(false)));
    let page = Page::of_anything(desk);
    let said = page.heard(Role::Meter, "belt as found");
    assert!(
        said.chars().count() < 300 && !said.contains('\u{202e}'),
        "{said}"
    );
    assert!(said.ends_with("…, not good"), "{said}");
}

#[test]
fn pictures_of_the_checks() {
    let mut results = SnapshotResults::new();
    let cases: [(&str, Vec2, f32, Theme); 5] = [
        ("laptop", LAPTOP, 1.0, Theme::Dark),
        ("laptop", LAPTOP, 1.0, Theme::Light),
        ("dense", LAPTOP, 2.0, Theme::Light),
        ("large", LARGE, 1.0, Theme::Dark),
        ("small", Vec2::new(760.0, 480.0), 1.0, Theme::Dark),
    ];
    for (name, size, scale, theme) in cases {
        let mut page = Page::of_size(Desk::half_done(), size, scale, theme);
        focus(&mut page, TAKE_UP);
        page.type_text("47 g·cm ±5 %");
        page.picture(&format!("checks-{name}-{}", themed(theme)), &mut results);
    }
    let mut page = Page::of_size(Desk::half_done(), LAPTOP, 1.0, Theme::Light);
    focus(&mut page, "Pinch roller force, with unit");
    page.enter("45 g·cm");
    page.picture("checks-wrong-light", &mut results);
}
