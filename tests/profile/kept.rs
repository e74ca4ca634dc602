//! Profiles in their folder: kept, found, edited, sent, and refused with the place where something is wrong.

use std::{fs, time::SystemTime};
use trimwatch::{
    profile::{ClockFigure, InterfaceProfile, ProfileStore, name_for},
    readings::{ClockReading, SourceDescription, SourceKind, Synchronisation},
};

fn card(name: &str, sample_rate_hz: u32) -> SourceDescription {
    SourceDescription {
        kind: SourceKind::SoundCard,
        name: name.into(),
        host: Some("ALSA".into()),
        sample_format: "24-bit".into(),
        sample_rate_hz,
        channels: 2,
        buffer_frames: None,
    }
}

fn profile(description: &SourceDescription) -> InterfaceProfile {
    let reading = ClockReading {
        error_ppm: Some(37.012_345),
        uncertainty_ppm: Some(0.4),
        seconds: 1200.0,
        synchronisation: Synchronisation::Synchronised,
        ..ClockReading::default()
    };
    InterfaceProfile {
        clock: ClockFigure::of(&reading, SystemTime::now()),
        ..InterfaceProfile::new(description)
    }
}

#[test]
fn a_profile_is_found_by_device_and_rate_whatever_its_file_is_called() {
    let folder = tempfile::tempdir().unwrap();
    let store = ProfileStore::at(folder.path().join("not/made/yet"));
    let line_in = card("Bench interface, line in", 48_000);
    assert!(store.find(&line_in).unwrap().is_none());
    let kept = profile(&line_in);
    store.save("any-name", &kept).unwrap();
    store
        .save("other", &profile(&card("Bench interface, line in", 96_000)))
        .unwrap();
    let found = store.find(&line_in).unwrap().unwrap();
    assert_eq!(found.name, "any-name");
    assert_eq!(found.profile.unwrap(), kept);
    assert_eq!(
        kept.age_in_words(SystemTime::now()).as_deref(),
        Some("today")
    );
    for other in [
        card("Bench interface", 48_000),
        card("Bench interface, line in", 44_100),
    ] {
        assert!(store.find(&other).unwrap().is_none());
    }
    assert_eq!(store.list().unwrap().len(), 2);
}

#[test]
fn a_profile_can_be_sent_and_taken_in() {
    let (mine, yours) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let device = card("Bench interface", 48_000);
    let path = ProfileStore::at(mine.path())
        .save("bench", &profile(&device))
        .unwrap();
    let store = ProfileStore::at(yours.path());
    let name = store.import(&path, false).unwrap();
    assert_eq!(name, name_for(&device));
    assert!(store.find(&device).unwrap().is_some());
    let error = store.import(&path, false).unwrap_err();
    assert!(
        error.0.contains(&name) && error.0.contains("--replace"),
        "{error}"
    );
    store.import(&path, true).unwrap();
    store.delete(&name).unwrap();
    assert!(store.find(&device).unwrap().is_none());
    assert!(store.delete(&name).is_err());
}

#[test]
fn what_is_edited_wrongly_is_told_with_file_line_key_and_value() {
    let folder = tempfile::tempdir().unwrap();
    let store = ProfileStore::at(folder.path());
    let device = card("Bench interface", 48_000);
    let path = store.save(&name_for(&device), &profile(&device)).unwrap();
    let good = fs::read_to_string(&path).unwrap();
    for (from, to, told) in [
        (
            "error_ppm = 37.012",
            "error_ppm = 37012.0",
            "key error_ppm: 37012 is outside -1000 to 1000 ppm",
        ),
        (
            "uncertainty_ppm = 0.4",
            "uncertainty_ppm = nan",
            "key uncertainty_ppm: NaN is outside",
        ),
        (
            "\"synchronised\"",
            "\"yes\"",
            "key computer_clock: 'yes' is not one of: synchronised",
        ),
        ("error_ppm", "eror_ppm", "key eror_ppm: unknown field"),
        (
            "sample_rate_hz = 48000",
            "sample_rate_hz = 48",
            "key sample_rate_hz: 48 is outside",
        ),
    ] {
        assert!(good.contains(from), "{from} in {good}");
        let text = good.replacen(from, to, 1);
        let line = text.lines().position(|line| line.contains(to)).unwrap() + 1;
        fs::write(&path, &text).unwrap();
        let error = store.find(&device).unwrap_err();
        let place = format!("{}, line {line}, {told}", path.display());
        assert!(error.0.starts_with(&place), "{error}\n{place}");
    }
    // A section that is deleted is simply not measured.
    fs::write(&path, good.split("[clock]").next().unwrap()).unwrap();
    assert_eq!(
        store.find(&device).unwrap().unwrap().profile.unwrap().clock,
        None
    );
}

#[test]
fn a_name_never_leads_out_of_the_folder() {
    let folder = tempfile::tempdir().unwrap();
    let store = ProfileStore::at(folder.path().join("interfaces"));
    let profile = profile(&card("../../etc/passwd", 48_000));
    for name in ["../x", "a/b", "", ".hidden", "a\\b", "c:"] {
        assert!(store.save(name, &profile).is_err(), "{name}");
        assert!(store.delete(name).is_err(), "{name}");
    }
    let name = name_for(&card("../../etc/passwd", 48_000));
    assert_eq!(name, "alsa-etc-passwd-48000");
    store.save(&name, &profile).unwrap();
}
