//! The virtual screwdrivers: what there is to adjust, and that it moves the deck, smoothly, as the truth says.

use crate::{
    deck_model::{deck, tone_deck},
    signal::{channel, fit_frequency, fit_sine, level_dbfs, read_stereo, rms, speed, wrap},
};
use trimwatch::source::virtual_deck::{Adjuster, Setting, VirtualDeck};

fn finch() -> VirtualDeck {
    VirtualDeck::by_name_or_path("finch-as-found", 48_000).unwrap()
}

/// A second's frequency on the left, Hz.
fn heard_hz(deck: &mut VirtualDeck) -> f64 {
    let near = deck.truth().tones[0].heard_hz / 48_000.0;
    fit_frequency(&channel(&read_stereo(deck, 48_000), 0), near) * 48_000.0
}

#[test]
fn the_handle_tells_what_there_is_to_adjust() {
    let controls = finch().controls();
    let names: Vec<_> = controls
        .all()
        .iter()
        .map(|control| control.name.as_str())
        .collect();
    assert_eq!(
        names,
        [
            "speed trimmer",
            "azimuth screw",
            "left output",
            "right output",
            "belt",
            "pinch roller",
            "tape section",
            "hiss"
        ]
    );
    let trimmer = controls.find(Setting::SpeedTrimmer).unwrap();
    let range = Adjuster::Turn {
        least: -4.0,
        greatest: 4.0,
        step: 0.01,
        unit: "%",
    };
    assert_eq!(trimmer.adjuster, range);
    assert_eq!((trimmer.value(), trimmer.as_found), (0.0, 0.0));
    let Adjuster::Choose(sections) = &controls.find(Setting::Section).unwrap().adjuster else {
        panic!("sections are chosen");
    };
    assert_eq!(sections[..2], ["speed-3150", "azimuth-10k"]);
    assert_eq!(controls.value(Setting::Hiss), Some(1.0));
}

#[test]
fn what_cannot_be_set_is_refused_and_changes_nothing() {
    let controls = finch().controls();
    for (setting, value, expected) in [
        (
            Setting::SpeedTrimmer,
            4.1,
            "speed trimmer: 4.1 % is out of its range, -4 to 4 %",
        ),
        (
            Setting::AzimuthScrew,
            f64::NAN,
            "azimuth screw: NaN arcmin is out of its range",
        ),
        (
            Setting::Section,
            7.0,
            "tape section: there is no choice 7; they are 0 to 6",
        ),
        (Setting::Hiss, 0.5, "hiss: there is no choice 0.5"),
        (Setting::Part(2), 1.0, "this deck has no Part(2) to adjust"),
    ] {
        let before = controls.value(setting);
        let error = controls.set(setting, value).unwrap_err().to_string();
        assert!(error.starts_with(expected), "{error}");
        assert_eq!(controls.value(setting), before);
    }
    let error = controls.choose_section("speed").unwrap_err().to_string();
    assert!(
        error.starts_with("no tape section 'speed'; use one of: speed-3150, azimuth-10k"),
        "{error}"
    );
}

#[test]
fn the_speed_trimmer_moves_truth_and_tone_like_a_motor() {
    let mut deck = deck(&tone_deck(
        3150.0,
        "[transport]\nspeed_error_percent = 1.42",
    ));
    let controls = deck.controls();
    read_stereo(&mut deck, 480);
    controls.set(Setting::SpeedTrimmer, -1.4).unwrap();
    assert!((deck.truth().deviation_percent - 0.02).abs() < 1e-12);
    let moving = channel(&read_stereo(&mut deck, 24_000), 0);
    // Speed from phase advances over 2 ms, a time step of 1 ms; the middle of the first lies at 1.5 ms.
    let speeds = speed(&moving, 3150.0 / 48_000.0, 96, 48);
    for (n, speed) in speeds.iter().enumerate() {
        let t_s = (n as f64 + 1.5) / 1000.0;
        let expected = 0.0142 - 0.014 * (1.0 - (-t_s / 0.030).exp());
        assert!(
            (speed - expected).abs() < 1e-4,
            "{t_s} s: {speed} {expected}"
        );
    }
    assert!((heard_hz(&mut deck) / (3150.0 * 1.0002) - 1.0).abs() < 1e-8);
}

#[test]
fn the_azimuth_screw_moves_truth_and_delay_without_a_jump() {
    let mut deck = deck(&tone_deck(3150.0, "[head]\nazimuth_arcmin = -9.0"));
    let controls = deck.controls();
    let mut frames = read_stereo(&mut deck, 4800);
    controls.set(Setting::AzimuthScrew, 9.5).unwrap();
    frames.extend(read_stereo(&mut deck, 19_200));
    assert!((deck.truth().azimuth_arcmin - 0.5).abs() < 1e-12);
    for side in [0, 1] {
        let samples = channel(&frames, side);
        // A sine of this amplitude and frequency moves by 0.206 at most from sample to sample.
        let step = samples
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).abs())
            .fold(0.0, f64::max);
        assert!(step < 0.21, "{step}");
    }
    let settled = &frames[4800 + 9600..];
    let [left, right] = [0, 1].map(|side| fit_sine(&channel(settled, side), 3150.0 / 48_000.0));
    let delay_us = wrap(left.phase_turns - right.phase_turns) / 3150.0 * 1e6;
    assert!(
        (delay_us - deck.truth().delay_us).abs() < 1e-3,
        "{delay_us}"
    );
    assert!(deck.truth().delay_us > 0.0);
}

#[test]
fn the_output_trimmers_move_levels_and_balance() {
    let mut deck = deck(&tone_deck(1000.0, "[line_out.left]\ngain_db = 0.3"));
    let controls = deck.controls();
    controls.set(Setting::LeftGain, -1.0).unwrap();
    controls.set(Setting::RightGain, 0.4).unwrap();
    read_stereo(&mut deck, 9600);
    let frames = read_stereo(&mut deck, 48_000);
    let [left, right] = [0, 1].map(|side| fit_sine(&channel(&frames, side), 1.0 / 48.0).dbfs());
    assert!((left + 6.7).abs() < 1e-5, "{left}");
    assert!((right + 5.6).abs() < 1e-5, "{right}");
    assert!((deck.truth().balance_db + 1.1).abs() < 1e-12);
    assert!((deck.truth().tones[0].left_dbfs + 6.7).abs() < 1e-9);
}

/// Amplitude of the speed deviation at a rate, percent, by least squares over `seconds`.
fn flutter_percent(deck: &mut VirtualDeck, rate_hz: f64, seconds: usize) -> f64 {
    let samples = channel(&read_stereo(deck, seconds * 48_000), 0);
    let speeds = speed(&samples, 3150.0 / 48_000.0, 480, 240);
    let mean = speeds.iter().sum::<f64>() / speeds.len() as f64;
    let deviation: Vec<f64> = speeds.iter().map(|speed| speed - mean).collect();
    100.0 * fit_sine(&deviation, rate_hz / 200.0).amplitude
}

#[test]
fn a_replaced_part_loses_its_flutter_and_no_other_does() {
    let mut deck = deck(&tone_deck(
        3150.0,
        "[[transport.part]]\nname = \"belt\"\nrate_hz = 4.0\nflutter_peak_percent = [0.2]\nreplaced_scale = 0.1\n\
         [[transport.part]]\nname = \"capstan\"\nrate_hz = 6.0\nflutter_peak_percent = [0.05]",
    ));
    let controls = deck.controls();
    // 10 ms averages take 0.1 % off 4 Hz and 0.2 % off 6 Hz.
    assert!((flutter_percent(&mut deck, 4.0, 5) - 0.2).abs() < 0.001);
    controls.set(Setting::Part(0), 1.0).unwrap();
    let before = deck.truth().lines;
    let frames = read_stereo(&mut deck, 48_000);
    let speeds = speed(&channel(&frames, 0), 3150.0 / 48_000.0, 480, 240);
    assert!(
        speeds.iter().all(|speed| speed.abs() < 0.0025 + 1e-4),
        "the tape jumped"
    );
    assert!((flutter_percent(&mut deck, 4.0, 5) - 0.02).abs() < 0.001);
    assert!((flutter_percent(&mut deck, 6.0, 5) - 0.05).abs() < 0.001);
    let peaks: Vec<f64> = before.iter().map(|line| line.peak_percent).collect();
    assert!((peaks[0] - 0.02).abs() < 1e-12 && peaks[1] == 0.05);
    assert_eq!(before[0].part, "belt");
    // And back.
    controls.set(Setting::Part(0), 0.0).unwrap();
    read_stereo(&mut deck, 48_000);
    assert!((flutter_percent(&mut deck, 4.0, 5) - 0.2).abs() < 0.001);
}

#[test]
fn winding_to_a_section_mutes_and_plays_it_from_its_start() {
    let mut deck = finch();
    deck.controls().set(Setting::Hiss, 0.0).unwrap();
    read_stereo(&mut deck, 4800);
    deck.controls().choose_section("azimuth-10k").unwrap();
    read_stereo(&mut deck, 9600);
    assert_eq!(deck.truth().section, "azimuth-10k");
    let heard = heard_hz(&mut deck);
    assert!(
        (heard / deck.truth().tones[0].heard_hz - 1.0).abs() < 2e-3,
        "{heard}"
    );
    deck.controls().choose_section("blank").unwrap();
    read_stereo(&mut deck, 9600);
    // Only hum is left.
    let frames = read_stereo(&mut deck, 48_000);
    assert!(level_dbfs(&channel(&frames, 0)) < -70.0);
    let hum = fit_sine(&channel(&frames, 0), 50.0 / 48_000.0);
    assert!((hum.dbfs() + 74.0).abs() < 0.01, "{}", hum.dbfs());
}

#[test]
fn a_tape_that_runs_on_shows_in_its_control() {
    let mut deck = deck(
        "[deck]\nname = \"test\"\ntape_format = \"cassette-stereo\"\nseed = 5\n\
         [[section]]\nname = \"a\"\nlength_s = 1\n[[section]]\nname = \"b\"\nlength_s = 1\n[[section]]\nname = \"c\"",
    );
    let controls = deck.controls();
    for (seconds, section) in [(0.5, 0.0), (1.0, 1.0), (1.0, 2.0), (5.0, 2.0)] {
        read_stereo(&mut deck, (seconds * 48_000.0) as usize);
        assert_eq!(controls.value(Setting::Section), Some(section));
    }
    controls.choose_section("b").unwrap();
    read_stereo(&mut deck, 24_000);
    assert_eq!(deck.truth().section, "b");
}

#[test]
fn hiss_is_switched_off_and_on() {
    let mut deck = deck(
        "[deck]\nname = \"test\"\ntape_format = \"cassette-stereo\"\nseed = 5\n[[section]]\nname = \"blank\"\n\
         [line_out.left]\nhiss_dbfs = -40.0",
    );
    let controls = deck.controls();
    let level = |deck: &mut VirtualDeck| {
        read_stereo(deck, 48_000);
        rms(&channel(&read_stereo(deck, 48_000), 0))
    };
    let on = level(&mut deck);
    controls.set(Setting::Hiss, 0.0).unwrap();
    assert_eq!(level(&mut deck), 0.0);
    controls.set(Setting::Hiss, 1.0).unwrap();
    assert!((level(&mut deck) / on - 1.0).abs() < 0.02);
}

#[test]
fn a_deck_is_adjusted_from_another_thread_while_it_plays() {
    let mut deck = finch();
    let controls = deck.controls();
    let turning = std::thread::Builder::new()
        .name("hand".into())
        .spawn(move || {
            for step in 0..100 {
                controls
                    .set(Setting::SpeedTrimmer, -f64::from(step) / 100.0)
                    .unwrap();
            }
        });
    let frames = read_stereo(&mut deck, 48_000);
    turning.unwrap().join().unwrap();
    assert!(
        frames
            .as_flattened()
            .iter()
            .all(|sample| sample.is_finite())
    );
    assert!((deck.truth().deviation_percent - (1.42 - 0.99)).abs() < 0.001);
}
