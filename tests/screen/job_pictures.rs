//! Pictures of the job's pages, light and dark, on a laptop, a large monitor and a dense display.

use crate::{
    fixtures,
    jobs::{JOB, Workshop, wait},
    pictures::{picture, themed},
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Theme, Vec2, accesskit::Role, vec2};
use egui_kittest::SnapshotResults;
use jiff::Timestamp;
use trimwatch::{
    bench::{
        CheckDone, Context, Figure, Note, PartReplaced, Quantity, Skip, Stage as Of, Station,
        TakenReading, TapeUsed,
        checks::{Seen, gauge},
    },
    readings::SourceKind,
};

fn at(minutes: i64) -> Timestamp {
    let opened: Timestamp = "2026-11-20T09:00:00Z".parse().unwrap();
    Timestamp::from_second(opened.as_second() + 60 * minutes).unwrap()
}

fn reading(minutes: i64, stage: Of, figures: &[(Quantity, f64, Option<f64>)]) -> TakenReading {
    TakenReading {
        at: at(minutes),
        station: figures[0].0.station(),
        stage,
        words: String::new(),
        figures: figures
            .iter()
            .map(|&(quantity, value, uncertainty)| Figure {
                quantity,
                value,
                uncertainty,
            })
            .collect(),
        context: Context {
            program: "0.1.0".into(),
            input: "Line in (ALSA)".into(),
            input_kind: SourceKind::SoundCard,
            sample_rate_hz: 48_000,
            profile: "corrected".into(),
            clock_error_ppm: 12.3,
            clock_tolerance_ppm: 0.7,
            tape: TapeUsed::default(),
            tape_format: "Compact cassette, stereo".into(),
            averaged_seconds: 30.0,
            running_seconds: 312.7,
            lost_frames: 0,
            notices: vec![],
        },
        series: vec![],
        withdrawn: None,
    }
}

/// The workshop with a job half done, and an earlier one of the same deck.
fn at_work() -> Workshop {
    let workshop = Workshop::new();
    let mut store = workshop.store();
    let earlier = crate::jobs::new_job("HL-0012");
    store
        .create_job(&trimwatch::bench::store::NewJob {
            opened: "2026-03-02T09:00:00Z".parse().unwrap(),
            ..earlier
        })
        .unwrap();
    let mut azimuth = reading(0, Of::AsLeft, &[(Quantity::Azimuth, 1.2, Some(0.3))]);
    azimuth.at = "2026-03-03T15:00:00Z".parse().unwrap();
    store.add_reading("HL-0012", &azimuth).unwrap();
    store.create_job(&crate::jobs::new_job(JOB)).unwrap();
    let found = Of::AsFound;
    let speed = Quantity::SpeedDeviation;
    let first = reading(10, found, &[(speed, 1.91, Some(0.02))]);
    let first = store.add_reading(JOB, &first).unwrap();
    store.withdraw_reading(first, at(11)).unwrap();
    for reading in [
        reading(12, found, &[(speed, 1.834, Some(0.012))]),
        reading(
            14,
            found,
            &[(Quantity::WeightedTwoSigma, 0.212, Some(0.021))],
        ),
        reading(20, found, &[(Quantity::Azimuth, -7.4, Some(0.4))]),
        reading(95, Of::AsLeft, &[(speed, 0.031, Some(0.012))]),
        reading(
            97,
            Of::AsLeft,
            &[(Quantity::WeightedTwoSigma, 0.094, Some(0.009))],
        ),
    ] {
        store.add_reading(JOB, &reading).unwrap();
    }
    for check in [
        gauge(Quantity::TakeUpTorque, "18 g·cm").unwrap(),
        Seen::Belt.check("glazed, slips", Some(false)),
    ] {
        let done = CheckDone {
            at: at(5),
            stage: found,
            check,
            withdrawn: None,
        };
        store.add_check(JOB, &done).unwrap();
    }
    let skip = Skip {
        at: at(22),
        station: Station::Level,
        stage: found,
        reason: "the level tape is away for its check".into(),
    };
    store.add_skip(JOB, &skip).unwrap();
    let part = PartReplaced {
        at: at(60),
        what: "capstan belt, 70 × 1.2 mm".into(),
    };
    store.add_part(JOB, &part).unwrap();
    let note = Note {
        at: at(61),
        text: "Roller cleaned; it squealed when cold".into(),
        for_owner: true,
    };
    store.add_note(JOB, &note).unwrap();
    workshop.remember(JOB);
    workshop
}

fn window(workshop: &Workshop, size: Vec2, scale: f32, theme: Theme) -> Stage {
    let record = Box::new(workshop.record());
    let memory = Some(workshop.memory());
    let mut stage = Stage::with_jobs((size, scale), theme, memory, record, fixtures::in_tolerance);
    wait(&mut stage, "the job", |stage| {
        stage.all_heard(Role::Status, "job") == ["HL-0031 Finch 2H, as left"]
    });
    stage.play(fixtures::in_tolerance, 1.0);
    stage
}

#[test]
fn the_job_page_in_both_themes_and_on_every_screen() {
    let workshop = at_work();
    let mut results = SnapshotResults::new();
    for (name, size, scale, theme) in [
        ("laptop", LAPTOP, 1.0, Theme::Dark),
        ("laptop", LAPTOP, 1.0, Theme::Light),
        ("large", vec2(1920.0, 1080.0), 1.0, Theme::Light),
        ("dense", LAPTOP, 2.0, Theme::Dark),
        ("small", vec2(800.0, 560.0), 1.0, Theme::Dark),
    ] {
        let mut stage = window(&workshop, size, scale, theme);
        stage.press(Key::J);
        let name = format!("job-page-{name}-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
}

#[test]
fn the_folders_of_the_job_page() {
    let workshop = at_work();
    let mut results = SnapshotResults::new();
    let mut stage = window(&workshop, LAPTOP, 1.0, Theme::Light);
    stage.press(Key::J);
    for folder in ["notes", "parts", "circumstances", "limits", "deck"] {
        stage.press(Key::ArrowRight);
        picture(
            &mut stage,
            &format!("job-folder-{folder}-light"),
            &mut results,
        );
    }
}

#[test]
fn the_job_beside_the_readings() {
    let workshop = at_work();
    let mut results = SnapshotResults::new();
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = window(&workshop, LAPTOP, 1.0, theme);
        stage.press(Key::Num1);
        let name = format!("job-speed-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
        stage.press(Key::O);
        wait(&mut stage, "the list", |stage| {
            use egui_kittest::kittest::Queryable;
            stage.harness.query_by_label_contains("HL-0012").is_some()
        });
        stage.settle();
        let name = format!("job-list-in-the-window-{}", themed(theme));
        picture(&mut stage, &name, &mut results);
    }
}
