//! The virtual deck does what its file says, to the precision of its samples.

use crate::signal::{channel, fit_frequency, fit_sine, level_dbfs, read_stereo, rms, speed, wrap};
use std::f64::consts::{PI, TAU};
use trimwatch::{
    source::{FrameSource, virtual_deck::VirtualDeck},
    tables::tape_format,
};

const RATE: u32 = 48_000;

pub fn deck(toml: &str) -> VirtualDeck {
    deck_at(toml, RATE)
}

pub fn deck_at(toml: &str, rate: u32) -> VirtualDeck {
    VirtualDeck::from_toml("test.toml", toml, rate).unwrap()
}

/// A deck file with one section of one tone, and `more`.
pub fn tone_deck(frequency_hz: f64, more: &str) -> String {
    format!(
        "[deck]\nname = \"test\"\ntape_format = \"cassette-stereo\"\nseed = 5\n\
         [[section]]\nname = \"tone\"\ntone = [{{ frequency_hz = {frequency_hz:?}, level_dbfs = -6.0 }}]\n{more}\n"
    )
}

/// The whole chain at once against formulas written out anew: three parts with harmonics, speed error, clock error,
/// azimuth with its loss, gains, polarity, hum. Every sample of two minutes, within the rounding of an f32.
#[test]
fn every_sample_is_what_the_formulas_say() {
    let mut deck = deck(&tone_deck(
        3150.0,
        "[transport]\nspeed_error_percent = 1.42\n\
         [[transport.part]]\nname = \"a\"\nrate_hz = 5.18\nflutter_peak_percent = [0.2, 0.09]\nphase_degrees = [10, 200]\n\
         [[transport.part]]\nname = \"b\"\ndiameter_mm = 13.0\nflutter_peak_percent = [0.19, 0.0, 0.06]\nphase_degrees = [0, 0, 90]\n\
         [[transport.part]]\nname = \"c\"\nrate_hz = 75.0\nflutter_peak_percent = [0.05, 0.04, 0.03, 0.05]\nphase_degrees = [5, 6, 7, 8]\n\
         [head]\nazimuth_arcmin = -9.0\n\
         [line_out.left]\ngain_db = -1.5\n[line_out.right]\ngain_db = 2.5\ninverted = true\n\
         [line_out.hum]\nmains_hz = 50.0\nlevel_dbfs = -50.0\nharmonics_db = [-6.0, -3.0]\n\
         [interface]\nclock_error_ppm = 37.0",
    ));
    let b_hz = 0.047_625 / (PI * 0.013);
    let lines = [
        (5.18, 0.2, 10.0),
        (10.36, 0.09, 200.0),
        (b_hz, 0.19, 0.0),
        (3.0 * b_hz, 0.06, 90.0),
        (75.0, 0.05, 5.0),
        (150.0, 0.04, 6.0),
        (225.0, 0.03, 7.0),
        (300.0, 0.05, 8.0),
    ];
    let tangent = (-9.0 / 60.0_f64).to_radians().tan();
    let skew_s = 0.9e-3 * tangent / 0.047_625;
    let x = PI * 0.6e-3 * tangent * 3150.0 / 0.047_625;
    let amplitude = 10_f64.powf(-6.0 / 20.0) * x.sin() / x;
    let gain = |db: f64| 10_f64.powf(db / 20.0);
    let frames = read_stereo(&mut deck, 120 * RATE as usize);
    let mut worst = 0.0_f64;
    for (n, frame) in frames.iter().enumerate() {
        let t = n as f64 / (f64::from(RATE) * (1.0 + 37e-6));
        let w = 1.0142 * t;
        let displacement: f64 = lines
            .iter()
            .map(|(rate, percent, degrees): &(f64, f64, f64)| {
                let phase = degrees.to_radians();
                let turning = TAU * (rate * w).fract() + phase;
                percent / 100.0 / (TAU * rate) * (phase.cos() - turning.cos())
            })
            .sum();
        let tone = |place: f64| amplitude * (TAU * (3150.0 * place).fract()).sin();
        let hum_turn = TAU * (50.0 * t).fract();
        let hum = gain(-50.0)
            * (hum_turn.sin()
                + gain(-6.0) * (2.0 * hum_turn).sin()
                + gain(-3.0) * (3.0 * hum_turn).sin());
        let place = w + displacement;
        let left = gain(-1.5) * tone(place + skew_s / 2.0) + hum;
        let right = -gain(2.5) * tone(place - skew_s / 2.0) + hum;
        let error = (f64::from(frame[0]) - left)
            .abs()
            .max((f64::from(frame[1]) - right).abs());
        worst = worst.max(error);
    }
    // Half a last place of an f32 below 1 is 3e-8; the fastest line's interpolation adds about as much.
    assert!(worst < 1e-7, "{worst:e}");
}

#[test]
fn frequency_follows_speed_and_clock_to_a_part_in_a_million() {
    for rate in [8_000, 44_100, 48_000, 96_000, 192_000, 384_000] {
        let mut deck = deck_at(
            &tone_deck(
                3000.0,
                "[transport]\nspeed_error_percent = -0.37\n[interface]\nclock_error_ppm = -80.0\n\
                 [line_out.left]\nhiss_dbfs = -60.0",
            ),
            rate,
        );
        let frames = read_stereo(&mut deck, 5 * rate as usize);
        let truth = deck.truth();
        assert!((truth.deviation_percent + 0.37).abs() < 1e-12);
        assert!((truth.tones[0].heard_hz - 3000.0 * 0.9963 / (1.0 - 80e-6)).abs() < 1e-9);
        let near = truth.tones[0].heard_hz / f64::from(rate);
        let heard_hz = fit_frequency(&channel(&frames, 0), near) * f64::from(rate);
        assert!(
            (heard_hz / truth.tones[0].heard_hz - 1.0).abs() < 1e-6,
            "{rate}: {heard_hz}"
        );
    }
}

#[test]
fn a_trend_is_a_steady_change_and_stops_at_five_percent() {
    let mut deck = deck_at(
        &tone_deck(1000.0, "[transport]\ntrend_percent_per_minute = 5.0"),
        8_000,
    );
    let mut heard = Vec::new();
    for second in 0..70 {
        let before = deck.truth().deviation_percent;
        let samples = channel(&read_stereo(&mut deck, 8_000), 0);
        let after = deck.truth().deviation_percent;
        let expected = 1000.0 * (1.0 + (before + after) / 200.0);
        heard.push(fit_frequency(&samples, expected / 8_000.0) * 8_000.0);
        if second != 59 {
            assert!(
                (heard[second] / expected - 1.0).abs() < 2e-6,
                "{second}: {}",
                heard[second]
            );
        }
    }
    assert!((heard[69] - 1050.0).abs() < 1e-3);
    assert_eq!(deck.truth().trend_percent_per_minute, 0.0);
}

/// Level and delay of a tone follow the formulas for azimuth, here those of the tables, at every azimuth and in
/// every format; the delay in real time is shorter by the speed.
#[test]
fn azimuth_delays_the_right_channel_and_costs_level() {
    for (format, frequency_hz) in [
        ("cassette-stereo", 10_000.0),
        ("reel-two-track-nab-19", 10_000.0),
    ] {
        for azimuth in [-12.0, -3.0, 0.5, 9.0] {
            let toml = tone_deck(
                frequency_hz,
                &format!(
                    "[transport]\nspeed_error_percent = 2.0\n[head]\nazimuth_arcmin = {azimuth:?}"
                ),
            )
            .replace("cassette-stereo", format);
            let mut deck = deck(&toml);
            let frames = read_stereo(&mut deck, RATE as usize);
            let truth = deck.truth();
            let cycles = truth.tones[0].heard_hz / f64::from(RATE);
            let [left, right] = [0, 1].map(|side| fit_sine(&channel(&frames, side), cycles));
            let table = tape_format(format).unwrap();
            let loss_db = table.azimuth_loss_db(azimuth, frequency_hz);
            for (side, truth_dbfs) in [
                (left, truth.tones[0].left_dbfs),
                (right, truth.tones[0].right_dbfs),
            ] {
                assert!(
                    (side.dbfs() - (-6.0 + loss_db)).abs() < 1e-4,
                    "{format} {azimuth}"
                );
                assert!(
                    (side.dbfs() - truth_dbfs).abs() < 1e-4,
                    "{format} {azimuth}"
                );
            }
            let delay_us = table.delay_us(azimuth) / 1.02;
            assert!(
                (truth.delay_us - delay_us).abs() < 1e-9,
                "{format} {azimuth}"
            );
            assert!(
                (truth.tones[0].delay_us - delay_us).abs() < 1e-9,
                "{format} {azimuth}"
            );
            let heard_turns = wrap(left.phase_turns - right.phase_turns);
            let expected_turns = delay_us * 1e-6 * truth.tones[0].heard_hz;
            assert!(
                wrap(heard_turns - expected_turns).abs() < 1e-6,
                "{format} {azimuth}"
            );
        }
    }
}

#[test]
fn azimuth_wander_turns_with_its_part() {
    let mut deck = deck(&tone_deck(
        6300.0,
        "[[transport.part]]\nname = \"roller\"\nrate_hz = 2.0\nflutter_peak_percent = []\n\
         [head]\nazimuth_arcmin = 1.0\n[[head.wander]]\npart = \"roller\"\npeak_arcmin = 0.5",
    ));
    let frames = read_stereo(&mut deck, 2 * RATE as usize);
    let format = tape_format("cassette-stereo").unwrap();
    for (n, window) in frames.chunks(480).enumerate() {
        let t = (n as f64 * 480.0 + 240.0) / f64::from(RATE);
        let azimuth = 1.0 + 0.5 * (TAU * 2.0 * t).sin();
        let [left, right] = [0, 1].map(|side| fit_sine(&channel(window, side), 6300.0 / 48_000.0));
        let delay_us = wrap(left.phase_turns - right.phase_turns) / 6300.0 * 1e6;
        assert!(
            (delay_us - format.delay_us(azimuth)).abs() < 0.01,
            "{t}: {delay_us}"
        );
    }
}

#[test]
fn treble_loss_of_one_channel_shows_in_level_and_delay_as_the_truth_says() {
    let mut deck = deck(&tone_deck(
        10_000.0,
        "[line_out.right]\ntreble_corner_hz = 8000.0\n[line_out.left]\ntreble_corner_hz = 15000.0",
    ));
    let frames = read_stereo(&mut deck, RATE as usize);
    let truth = deck.truth();
    let settled = &frames[1000..];
    let [left, right] = [0, 1].map(|side| fit_sine(&channel(settled, side), 10_000.0 / 48_000.0));
    assert!((left.dbfs() - truth.tones[0].left_dbfs).abs() < 1e-4);
    assert!((right.dbfs() - truth.tones[0].right_dbfs).abs() < 1e-4);
    let heard_us = wrap(left.phase_turns - right.phase_turns) / 10_000.0 * 1e6;
    assert!(
        (heard_us - truth.tones[0].delay_us).abs() < 1e-3,
        "{heard_us} {truth:?}"
    );
    // A first-order corner is 3 dB down where it says.
    let mut corner = deck_at(
        &tone_deck(8000.0, "[line_out.right]\ntreble_corner_hz = 8000.0"),
        RATE,
    );
    read_stereo(&mut corner, 10);
    let tone = &corner.truth().tones[0];
    assert!((tone.left_dbfs - tone.right_dbfs - 3.0103).abs() < 1e-3);
}

#[test]
fn hiss_has_its_level_and_no_relation_between_channels() {
    let mut deck = deck(
        "[deck]\nname = \"test\"\ntape_format = \"cassette-stereo\"\nseed = 5\n[[section]]\nname = \"blank\"\n\
         [line_out.left]\nhiss_dbfs = -40.0\n[line_out.right]\nhiss_dbfs = -46.0",
    );
    let frames = read_stereo(&mut deck, 20 * RATE as usize);
    let [left, right] = [0, 1].map(|side| channel(&frames, side));
    assert!((level_dbfs(&left) + 40.0).abs() < 0.05);
    assert!((level_dbfs(&right) + 46.0).abs() < 0.05);
    let together: f64 = left.iter().zip(&right).map(|(l, r)| l * r).sum();
    let apart = left.iter().map(|l| l * l).sum::<f64>() / 2.0;
    assert!((together / apart).abs() < 0.01);
}

#[test]
fn what_is_too_loud_is_clipped_at_full_scale() {
    let mut deck = deck(&tone_deck(
        1000.0,
        "[line_out.left]\ngain_db = 12.0\n[line_out.right]\ngain_db = 5.9",
    ));
    let frames = read_stereo(&mut deck, RATE as usize);
    let at_limit = |side: usize| {
        frames
            .iter()
            .filter(|frame| frame[side].abs() == 1.0)
            .count()
    };
    assert!(
        frames
            .as_flattened()
            .iter()
            .all(|sample| sample.abs() <= 1.0)
    );
    // −6 dBFS + 12 dB is a sine of twice full scale: beyond it for two thirds of the time.
    assert!((at_limit(0) as f64 / 48_000.0 - 2.0 / 3.0).abs() < 0.05);
    assert_eq!(at_limit(1), 0);
}

/// Random wow and scrape have the rms the file says; measured on the tone they modulate.
#[test]
fn speed_noises_have_their_rms() {
    let mut wow = deck_at(
        &tone_deck(
            2000.0,
            "[[transport.random_wow]]\nrms_percent = 0.1\npeak_hz = 3.0",
        ),
        8_000,
    );
    let samples = channel(&read_stereo(&mut wow, 300 * 8_000), 0);
    // 25 ms averages take 3 % off the top of a hump that ends at some 6 Hz.
    let rms_percent = 100.0 * rms(&speed(&samples, 0.25, 200, 100));
    assert!((rms_percent - 0.1).abs() < 0.006, "{rms_percent}");
    assert_eq!(wow.truth().random_wow_rms_percent, 0.1);

    let mut scrape = deck(&tone_deck(
        10_000.0,
        "[[transport.scrape]]\nrms_percent = 0.2\ncentre_hz = 400.0\nwidth_hz = 60.0",
    ));
    let samples = channel(&read_stereo(&mut scrape, 60 * RATE as usize), 0);
    let (window, step) = (48, 12);
    let speeds = speed(&samples, 10_000.0 / 48_000.0, window, step);
    // The measurement's own response at 400 Hz: sinc x / (1 − x²) of the Hann window, sinc of the step.
    let sinc = |x: f64| (PI * x).sin() / (PI * x);
    let [x, y] = [window, step].map(|samples| 400.0 * samples as f64 / 48_000.0);
    let response = sinc(x) / (1.0 - x * x) * sinc(y);
    let rms_percent = 100.0 * rms(&speeds) / response;
    assert!((rms_percent - 0.2).abs() < 0.008, "{rms_percent}");
    assert_eq!(scrape.truth().scrape_rms_percent, 0.2);
    assert_eq!(scrape.description().channels, 2);
}
