//! The interface's own profile in the window: found, applied, measured, kept, taken back.

use crate::{
    fixtures,
    simulated_interface::{self, GAIN_DB, SKEW_US, SimulatedInterface},
    stage::{LAPTOP, Stage, options, sound_card},
};
use eframe::egui::{Key, accesskit::Role};
use egui_kittest::kittest::{NodeT, Queryable};
use std::{
    fs,
    path::Path,
    sync::{Arc, atomic::Ordering},
    time::{Duration, SystemTime},
};
use trimwatch::{
    profile::{
        ClockFigure, InterfaceProfile, LevelFigure, PairFigure, ProfileStore,
        level::{FullScale, KnownSine},
        name_for,
        y_lead::YLeadReading,
    },
    readings::{ClockReading, Readings, SourceDescription, SourceKind, Synchronisation},
    worker::Request,
};

/// Three days before now.
fn three_days_ago() -> SystemTime {
    SystemTime::now() - Duration::from_secs(3 * 86_400 + 60)
}

/// The device of the fixtures.
pub fn card() -> SourceDescription {
    fixtures::fast_deck(1.0).source.description
}

/// A profile of it with clock, inputs and level.
pub fn measured(description: &SourceDescription) -> InterfaceProfile {
    let when = three_days_ago();
    let mut profile = InterfaceProfile::new(description);
    let clock = ClockReading {
        error_ppm: Some(37.02),
        uncertainty_ppm: Some(0.4),
        seconds: 1200.0,
        synchronisation: Synchronisation::Synchronised,
        ..ClockReading::default()
    };
    profile.clock = ClockFigure::of(&clock, when);
    let lead = YLeadReading {
        skew_us: Some(7.3),
        skew_uncertainty_us: Some(0.02),
        gain_db: Some(0.42),
        gain_uncertainty_db: Some(0.004),
        ..YLeadReading::default()
    };
    profile.inputs = PairFigure::of(&lead, when);
    let full_scale = FullScale {
        left_volts_rms: Some(2.451),
        right_volts_rms: Some(2.335),
        uncertainty_percent: 1.02,
    };
    let sine = KnownSine {
        volts_rms: 0.775,
        tolerance_percent: 1.0,
        hz: 400.0,
    };
    profile.level = Some(LevelFigure::of(&full_scale, &sine, when));
    profile
}

/// With a clock that has been watched for a quarter of an hour.
pub fn clocked(t: f64) -> Readings {
    let mut readings = fixtures::fast_deck(t);
    readings.source.clock = Some(ClockReading {
        error_ppm: Some(36.4),
        uncertainty_ppm: Some(1.3),
        seconds: 900.0 + t,
        synchronisation: Synchronisation::Synchronised,
        ..ClockReading::default()
    });
    readings
}

/// A window on the sound card of the fixtures, with profiles in a folder.
fn playing(folder: &Path) -> Stage {
    let mut options = options();
    options.profiles = Some(ProfileStore::at(folder));
    options.start = sound_card();
    let mut stage = Stage::of(LAPTOP, 1.0, options);
    stage.wait_for_input(1);
    stage
}

fn with_profile(folder: &Path) -> Stage {
    let store = ProfileStore::at(folder);
    let name = name_for(&card());
    store.save(&name, &measured(&card())).expect("saved");
    playing(folder)
}

#[test]
fn the_profile_of_what_runs_is_applied_and_stays_through_every_change_of_setup() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = with_profile(folder.path());
    stage.play(fixtures::fast_deck, 0.2);
    stage.wait_for_status("interface", "corrected");
    let setup = stage.setups().pop().expect("asked for");
    assert_eq!((setup.inputs.skew_us, setup.clock_error_ppm), (7.3, 37.02));
    assert_eq!(setup.full_scale_volts_rms, Some(2.451));

    let still = |stage: &Stage, after: &str| {
        let setup = stage.setups().pop().expect(after);
        assert_eq!(setup.inputs.skew_us, 7.3, "{after}");
        assert_eq!(setup.clock_error_ppm, 37.02, "{after}");
        assert_eq!(setup.full_scale_volts_rms, Some(2.451), "{after}");
    };
    stage.press(Key::T);
    stage.node(Role::TextInput, "Nominal tone, Hz").focus();
    stage.settle();
    stage.type_text("3150");
    stage.press(Key::Enter);
    still(&stage, "another tape");
    stage.node(Role::ComboBox, "Tape format").click();
    stage.settle();
    stage.click("Quarter-inch stereo (IEC), 19 cm/s");
    stage.enter("Use this tape");
    still(&stage, "another format");
    stage.fill("Level tape's fluxivity, nWb/m", "250");
    stage.press(Key::Enter);
    still(&stage, "a level reference");
    stage.enter("Forget the reference");
    still(&stage, "no level reference");
    stage.press(Key::M);
    stage.enter("mechanism Cassette, dual capstan, one belt (typical)");
    still(&stage, "another mechanism");
}

#[test]
fn a_tape_panel_that_is_open_when_the_profile_comes_keeps_its_full_scale() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = with_profile(folder.path());
    stage.press(Key::T);
    stage.play(fixtures::fast_deck, 0.2);
    stage.wait_for_status("interface", "corrected");
    stage.requests();
    stage.enter("Use this tape");
    let setup = stage.setups().pop().expect("asked for");
    assert_eq!(setup.full_scale_volts_rms, Some(2.451));
}

#[test]
fn another_rate_is_another_interface_until_its_own_profile_is_found() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = with_profile(folder.path());
    stage.play(fixtures::fast_deck, 0.2);
    stage.wait_for_status("interface", "corrected");
    stage.requests();
    let mut faster = fixtures::fast_deck(43.0);
    faster.source.description.sample_rate_hz = 96_000;
    stage.publish(faster);
    stage.wait_for_status("interface", "uncorrected");
    let setup = stage.setups().pop().expect("asked for");
    assert!(!setup.inputs.measured && !setup.is_clock_measured());
    assert_eq!(setup.full_scale_volts_rms, None);
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    stage.publish(fixtures::fast_deck(44.0));
    stage.wait_for_status("interface", "corrected");
}

#[test]
fn a_profile_is_looked_for_once_and_averages_are_left_alone_without_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = playing(folder.path());
    stage.requests();
    stage.play(fixtures::fast_deck, 1.0);
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    let asked = stage.requests();
    assert!(asked.is_empty(), "{asked:?}");
    // What comes into the folder later is not looked for at every frame.
    let store = ProfileStore::at(folder.path());
    let name = name_for(&card());
    store.save(&name, &measured(&card())).expect("saved");
    stage.play(fixtures::fast_deck, 1.0);
    assert_eq!(stage.heard(Role::Status, "interface"), "uncorrected");
}

#[test]
fn the_panel_says_of_each_section_what_it_is_how_old_or_what_to_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = with_profile(folder.path());
    stage.play(clocked, 0.2);
    stage.wait_for_status("interface", "corrected");
    stage.press(Key::P);
    let clock = stage.heard(Role::Status, "Sample clock");
    assert!(clock.contains("+37.02 ±0.40 ppm"), "{clock}");
    assert!(clock.ends_with("3 days ago"), "{clock}");
    let inputs = stage.heard(Role::Status, "Left against right");
    assert!(inputs.contains("+7.300 ±0.020 µs"), "{inputs}");
    assert!(inputs.contains("+0.420 ±0.004 dB"), "{inputs}");
    let level = stage.heard(Role::Status, "Volts");
    assert!(level.contains("2.4510 V rms ±1.0 %"), "{level}");
    for part in ["Own noise and hum", "Crosstalk"] {
        assert_eq!(stage.heard(Role::Status, part), "not measured");
    }
    for words in ["+36.40 ±1.30 ppm", "Not measured: short both inputs"] {
        assert!(
            stage.harness.query_by_label_contains(words).is_some(),
            "{words}"
        );
    }
    let said = stage.heard(Role::Status, "corrections");
    assert!(said.contains("the clock is corrected"), "{said}");
}

#[test]
fn the_clock_s_figure_is_kept_deleted_and_taken_back_by_keyboard() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = playing(folder.path());
    stage.play(clocked, 0.5);
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    let store = ProfileStore::at(folder.path());
    let kept = || {
        let stored = store.find(&card()).expect("readable")?;
        stored.profile.expect("sound").clock
    };
    assert_eq!(kept(), None);
    stage.enter("Keep the clock's figure");
    assert_eq!(kept().expect("kept").error_ppm, 36.4);
    stage.wait_for_status("interface", "clock corrected only");
    stage.enter("Delete: Sample clock");
    assert_eq!(kept(), None);
    stage.wait_for_status("interface", "uncorrected");
    stage.enter("Take back: deleted: Sample clock");
    assert_eq!(kept().expect("back").error_ppm, 36.4);
    stage.wait_for_status("interface", "clock corrected only");
}

/// The promise: 7.3 µs and 0.42 dB removed to ±0.02 µs and ±0.01 dB, guided, by keyboard alone.
#[test]
fn a_y_lead_in_the_window_ends_in_the_interface_s_true_figures() {
    let folder = tempfile::tempdir().expect("a folder");
    let interface = Arc::new(SimulatedInterface::default());
    let mut options = options();
    options.profiles = Some(ProfileStore::at(folder.path()));
    options.start = sound_card();
    options.inputs = interface.clone();
    let mut stage = Stage::with_real_inputs(options);
    stage.wait_for_status("interface", "uncorrected");
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    stage.enter("Measure through a Y lead");
    stage.wait_for_status(
        "measurement",
        "No signal: plug the left lead in, alone at first",
    );
    interface.plays.store(true, Ordering::Release);
    stage.wait_for_status(
        "measurement",
        "Signal on one input: now plug the other in too",
    );
    stage.wait_for_status("measurement", "The figures stand, from 4 tones");
    assert!(
        stage
            .harness
            .query_by_label_contains("left is left")
            .is_some()
    );
    assert!(
        stage.node(Role::Button, "Discard").is_focused(),
        "the focus stays while figures come and go"
    );
    stage.enter("Keep it");
    stage.wait_for_status("interface", "inputs corrected only");
    let stored = ProfileStore::at(folder.path())
        .find(&simulated_interface::description())
        .expect("readable")
        .expect("kept");
    let inputs = stored.profile.expect("sound").inputs.expect("measured");
    assert!((inputs.skew_us - SKEW_US).abs() < 0.02, "{inputs:?}");
    assert!((inputs.gain_db - GAIN_DB).abs() < 0.01, "{inputs:?}");
    assert!(inputs.skew_uncertainty_us < 0.02, "{inputs:?}");
    assert!(inputs.gain_uncertainty_db < 0.01, "{inputs:?}");
    assert_eq!(
        (&*inputs.leads, inputs.opposite_polarity),
        ("straight", false)
    );
    // The tone goes on in both inputs alike: 0.42 dB apart by the card alone, which is balanced now.
    stage.press(Key::Num4);
    let deadline = std::time::Instant::now() + Duration::from_secs(10);
    while !stage.reading("Level").contains("channels balanced") {
        assert!(
            std::time::Instant::now() < deadline,
            "{}",
            stage.reading("Level")
        );
        std::thread::sleep(Duration::from_millis(5));
        stage.harness.step();
    }
}

#[test]
fn a_measurement_is_begun_anew_discarded_and_ends_with_its_input() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = playing(folder.path());
    stage.play(fixtures::fast_deck, 0.5);
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    stage.requests();
    stage.enter("Measure noise and hum");
    let asked = stage.requests();
    assert!(matches!(asked[..], [Request::Listen { .. }]), "{asked:?}");
    stage.enter("Begin anew");
    let again = stage.requests();
    let [Request::Listen { told, .. }] = &again[..] else {
        panic!("{again:?}");
    };
    drop(told.clone());
    assert!(
        stage
            .node(Role::Button, "Keep it")
            .accesskit_node()
            .is_disabled()
    );
    drop((asked, again));
    stage.wait_for_status("measurement", "The input changed or ended: begin anew.");
    stage.enter("Discard");
    assert!(matches!(stage.requests()[..], [Request::StopListening]));
    assert_eq!(
        stage.heard(Role::Status, "Own noise and hum"),
        "not measured"
    );
    assert!(
        ProfileStore::at(folder.path())
            .list()
            .expect("readable")
            .is_empty()
    );
}

#[test]
fn volts_are_measured_by_a_typed_voltage_and_rubbish_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = playing(folder.path());
    let steady = |t: f64| {
        let mut readings = fixtures::fast_deck(t);
        readings.level.steadiness_db_rms = Some(0.001);
        readings
    };
    stage.play(steady, 0.5);
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    stage.enter("Measure full scale");
    stage.fill("Multimeter's reading, V rms", "0.775");
    stage.press(Key::Enter);
    assert!(
        stage
            .harness
            .query_by_label_contains("the tone is 3150.2 Hz and not 400 Hz")
            .is_some()
    );
    stage.fill("Sine's frequency, Hz", "3150");
    stage.press(Key::Enter);
    stage.enter("Keep it");
    let stored = ProfileStore::at(folder.path())
        .find(&card())
        .expect("readable");
    let level = stored
        .expect("kept")
        .profile
        .expect("sound")
        .level
        .expect("measured");
    let tone_dbfs = steady(43.0).level.left.tone_dbfs.expect("a tone");
    let volts = 0.775 * 10f64.powf(-tone_dbfs / 20.0);
    let read = level.left_full_scale_volts_rms.expect("left");
    assert!((read - volts).abs() < 1e-4, "{read} instead of {volts}");
    let setup = stage.setups().pop().expect("asked for");
    assert_eq!(setup.full_scale_volts_rms, Some(read));
}

#[test]
fn a_file_is_imported_by_path_asked_about_and_applied() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = playing(&folder.path().join("kept"));
    stage.play(fixtures::fast_deck, 0.5);
    stage.press(Key::P);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    let file = folder.path().join("sent.toml");
    stage.fill("Path of the profile", "no-such-file.toml");
    stage.press(Key::Enter);
    assert!(
        stage
            .harness
            .query_by_label_contains("no-such-file.toml: cannot be read")
            .is_some()
    );
    fs::write(&file, measured(&card()).to_toml().expect("text")).expect("written");
    for replace in [false, true] {
        stage.fill("Path of the profile", &file.display().to_string());
        stage.press(Key::Enter);
        if replace {
            stage.enter("Replace it");
        }
        stage.play(fixtures::fast_deck, 0.2);
        stage.wait_for_status("interface", "corrected");
    }
    let undo = stage
        .harness
        .query_all_by_role(Role::Button)
        .filter(|node| {
            node.accesskit_node()
                .label()
                .is_some_and(|it| it.starts_with("Take back: import"))
        })
        .count();
    assert_eq!(undo, 1);
}

#[test]
fn a_damaged_profile_is_told_and_nothing_is_corrected_by_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let name = format!("{}.toml", name_for(&card()));
    fs::write(folder.path().join(name), "device = 3\n").expect("written");
    let mut stage = playing(folder.path());
    stage.play(clocked, 0.5);
    stage.press(Key::P);
    stage.wait_for_label("Interface");
    let deadline = std::time::Instant::now() + Duration::from_secs(10);
    while !stage
        .heard(Role::Status, "profile in use")
        .contains("line 1, key device")
    {
        assert!(std::time::Instant::now() < deadline);
        stage.harness.step();
    }
    let warned = stage.all_heard(Role::Note, "Warning");
    assert!(warned[0].contains("readings are uncorrected"), "{warned:?}");
    let keep = stage.node(Role::Button, "Keep the clock's figure");
    assert!(
        keep.accesskit_node().is_disabled(),
        "the file is not written over"
    );
}

#[test]
fn a_recording_has_no_interface_and_one_channel_is_not_enough_for_two() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stage = playing(folder.path());
    let mut recording = fixtures::fast_deck(43.0);
    recording.source.description.kind = SourceKind::Recording;
    stage.publish(recording);
    stage.press(Key::P);
    stage.wait_for_status(
        "profile in use",
        "A recording or a simulated deck has no interface of its own to measure.",
    );
    stage.play(fixtures::mono, 0.2);
    stage.wait_for_status("profile in use", "No profile of it yet.");
    let lead = stage.node(Role::Button, "Measure through a Y lead");
    assert!(lead.accesskit_node().is_disabled());
}
