//! The whole adjustment, from the first page to the last reading taken, by nothing but the keyboard.

use crate::{
    fixtures,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, accesskit::Role};
use egui_kittest::kittest::Queryable;
use trimwatch::{
    readings::{PhaseCandidate, Readings},
    tables::Limits,
};

/// A deck that the test adjusts: what its screws do to the readings.
#[derive(Clone, Copy)]
struct Deck {
    speed_percent: f64,
    flutter_percent: f64,
    azimuth_arcmin: f64,
    balance_db: f64,
}

impl Deck {
    /// What the meters say of it at a stream time.
    fn readings(self, t: f64) -> Readings {
        let mut readings = fixtures::in_tolerance(t);
        let speed = &mut readings.speed;
        speed.needle.deviation_percent = Some(self.speed_percent);
        speed.deviation_percent = Some(self.speed_percent);
        for window in [&mut speed.quick, &mut speed.steady, &mut speed.long] {
            window.deviation_percent = Some(self.speed_percent);
        }
        let weighted = &mut readings.flutter.weighted;
        weighted.pointer_percent = Some(self.flutter_percent);
        weighted.recent_two_sigma_percent = Some(self.flutter_percent);
        weighted.two_sigma_percent = Some(self.flutter_percent);
        let phase = &mut readings.phase;
        phase.azimuth_arcmin = Some(self.azimuth_arcmin);
        phase.quick_azimuth_arcmin = Some(self.azimuth_arcmin);
        phase.candidates = vec![PhaseCandidate {
            delay_us: 5.4975 * self.azimuth_arcmin,
            azimuth_arcmin: self.azimuth_arcmin,
        }];
        readings.level.balance_db = Some(self.balance_db);
        readings.level.quick_balance_db = Some(self.balance_db);
        readings
    }
}

/// A technician with a keyboard and a clock.
struct Bench {
    stage: Stage,
    seconds: f64,
}

impl Bench {
    fn play(&mut self, deck: Deck, seconds: f64) {
        for _ in 0..(seconds * 30.0) as usize {
            self.seconds += 1.0 / 30.0;
            self.stage.publish(deck.readings(self.seconds));
            self.stage.harness.step();
        }
    }

    /// Turns a screw step by step from where it is, as the words on the screen tell, until the state is 'in'.
    fn adjust(&mut self, deck: &mut Deck, name: &str, higher: &str, turn: fn(&mut Deck, f64)) {
        for _ in 0..60 {
            self.play(*deck, 1.5);
            let spoken = self.stage.reading(name);
            if spoken.contains(" in: ") {
                return;
            }
            assert!(spoken.contains(" out: "), "{spoken}");
            let way = if spoken.contains(higher) { 1.0 } else { -1.0 };
            turn(deck, way);
        }
        panic!("{name} does not come in");
    }
}

#[test]
fn from_the_first_page_to_the_last_reading_taken() {
    let mut stage = Stage::empty(LAPTOP, 1.0, Theme::Dark);
    stage.wait_for_listing();
    assert!(stage.is_focused(Role::Button, "USB line input"));
    stage.press(Key::Enter);
    stage.wait_for_input(1);
    let mut bench = Bench {
        stage,
        seconds: 10.0,
    };
    let mut deck = Deck {
        speed_percent: 1.8,
        flutter_percent: 0.31,
        azimuth_arcmin: -11.0,
        balance_db: 3.2,
    };
    bench.play(deck, 0.5);
    // Tape format, tape and level are left as they are; then two cautions, read one after the other.
    for _ in 0..5 {
        bench.stage.press(Key::X);
    }
    assert!(!bench.stage.has(Role::Status, "Caution"));

    bench.adjust(&mut deck, "Speed", "faster", |deck, way| {
        deck.speed_percent += 0.2 * way;
    });
    bench.stage.press(Key::Space);
    bench.stage.press(Key::N);
    bench.adjust(&mut deck, "Flutter", "never", |deck, way| {
        deck.flutter_percent += 0.05 * way;
    });
    bench.stage.press(Key::Space);
    bench.stage.press(Key::N);
    bench.adjust(&mut deck, "Azimuth", "left channel late", |deck, way| {
        deck.azimuth_arcmin += way;
    });
    bench.stage.press(Key::Space);
    bench.stage.press(Key::N);
    bench.adjust(&mut deck, "Level", "right louder", |deck, way| {
        deck.balance_db += 0.3 * way;
    });
    bench.stage.press(Key::Space);
    bench.stage.press(Key::K);
    for taken in [
        "1  Speed: in",
        "2  Flutter: in",
        "3  Azimuth: in",
        "4  Level: in",
    ] {
        let label = bench.stage.harness.query_by_label(taken);
        assert!(label.is_some(), "{taken}");
    }
    let limits = Limits::supplied().expect("table");
    assert!(limits.speed_percent().accepts(deck.speed_percent));
    assert!(limits.azimuth_arcmin().accepts(deck.azimuth_arcmin));
    assert!(limits.balance_db().accepts(deck.balance_db));
}

#[test]
fn on_a_virtual_deck_the_screws_are_turned_by_keyboard_too() {
    let mut stage = Stage::practising(LAPTOP, fixtures::fast_deck);
    // Open already; anew, it takes the focus.
    stage.press(Key::S);
    stage.press(Key::S);
    assert!(stage.is_focused(Role::Slider, "Speed trimmer"));
    for _ in 0..5 {
        stage.press(Key::ArrowLeft);
    }
    stage.press(Key::Tab);
    let turned = stage.turned();
    let (index, value) = *turned.last().expect("turned");
    assert_eq!(index, 0);
    assert!((value - 1.7).abs() < 0.011, "{value}");
    // Esc leaves the slider, and the reading is taken.
    stage.press(Key::Escape);
    stage.press(Key::Space);
    let said = stage.all_heard(Role::Note, "Notice");
    assert!(said[0].starts_with("taken as 1: Speed"), "{said:?}");
}
