//! The virtual deck's tape: sections and dropouts.

use crate::{
    deck_model::{deck, deck_at, tone_deck},
    signal::{channel, fit_sine, read_stereo},
};

const RATE: u32 = 48_000;

#[test]
fn dropouts_are_where_and_as_deep_as_the_file_says() {
    let mut deck = deck(&tone_deck(
        6000.0,
        "[[dropout]]\nat_s = 0.3\ndepth_db = 20.0\nlength_ms = 40.0\n\
         [[dropout]]\nat_s = 0.1\ndepth_db = 12.0\nlength_ms = 20.0\ntracks = \"left\"",
    ));
    let frames = read_stereo(&mut deck, RATE as usize / 2);
    let level_at = |side: usize, seconds: f64| {
        let start = (seconds * f64::from(RATE)) as usize - 40;
        fit_sine(&channel(&frames[start..start + 80], side), 0.125).dbfs() + 6.0
    };
    for (side, seconds, expected_db) in [
        (0, 0.3, -20.0),
        (1, 0.3, -20.0),
        (0, 0.31, -20.0),
        (0, 0.1, -12.0),
        (1, 0.1, 0.0),
        (0, 0.2, 0.0),
        (1, 0.33, 0.0),
        // At its edges half of the amplitude is lost: 20 dB leave 0.1, halfway is 0.55.
        (0, 0.28, 20.0 * 0.55_f64.log10()),
        (1, 0.32, 20.0 * 0.55_f64.log10()),
    ] {
        let heard_db = level_at(side, seconds);
        assert!(
            (heard_db - expected_db).abs() < 0.05,
            "{side} at {seconds} s: {heard_db} dB"
        );
    }
}

#[test]
fn random_dropouts_come_at_their_rate() {
    let mut deck = deck_at(
        &tone_deck(
            1000.0,
            "[random_dropouts]\nrate_per_minute = 30.0\ndepth_db = 30.0\nlength_ms = 20.0",
        ),
        8_000,
    );
    let frames = read_stereo(&mut deck, 600 * 8_000);
    let quiet = |window: &[[f32; 2]]| window.iter().all(|frame| frame[0].abs() < 0.1);
    let states: Vec<bool> = frames.chunks(40).map(quiet).collect();
    let count = states.windows(2).filter(|pair| !pair[0] && pair[1]).count();
    // 300 are expected in ten minutes; the square root of it is 17.
    assert!((240..360).contains(&count), "{count}");
}

#[test]
fn sections_follow_each_other_and_begin_again() {
    let mut deck = deck(
        "[deck]\nname = \"test\"\ntape_format = \"cassette-stereo\"\nseed = 5\nstart_section = \"b\"\n\
         [transport]\nspeed_error_percent = 10.0\n\
         [[section]]\nname = \"a\"\nlength_s = 1\ntone = [{ frequency_hz = 1000.0, level_dbfs = -6.0 }]\n\
         [[section]]\nname = \"b\"\nlength_s = 2\ntone = [{ frequency_hz = 2000.0, level_dbfs = -6.0 }]\n",
    );
    // Tape seconds: b until 2, a until 3, b until 5, a until 6. At 10 % fast, so much sooner.
    let frames = read_stereo(&mut deck, (6.2 / 1.1 * 48_000.0) as usize);
    for (tape_s, frequency_hz) in [
        (0.5, 2000.0),
        (1.9, 2000.0),
        (2.1, 1000.0),
        (2.9, 1000.0),
        (3.1, 2000.0),
        (5.5, 1000.0),
        (6.1, 2000.0),
    ] {
        let start = (tape_s / 1.1 * 48_000.0) as usize;
        let samples = channel(&frames[start..start + 2400], 0);
        let heard = fit_sine(&samples, frequency_hz * 1.1 / 48_000.0).amplitude;
        assert!((heard - 0.501).abs() < 0.001, "{tape_s}: {heard}");
    }
    assert_eq!(deck.truth().section, "b");
}

#[test]
fn a_tone_above_the_interfaces_band_is_not_heard() {
    let mut deck = deck_at(&tone_deck(10_000.0, ""), 16_000);
    assert!(
        read_stereo(&mut deck, 1000)
            .as_flattened()
            .iter()
            .all(|&sample| sample == 0.0)
    );
    assert!(deck.truth().tones.is_empty());
}
