//! Deck files: those that come with the program, and what is said of faulty ones.

use crate::{deck_model::tone_deck, recordings::file};
use trimwatch::source::{
    FrameSource,
    virtual_deck::{DeckTruth, FlutterLine, VirtualDeck, built_in_names},
};

fn built_in(name: &str) -> VirtualDeck {
    VirtualDeck::by_name_or_path(name, 48_000).unwrap()
}

/// The weighting table of IEC 60386 (value from memory): rate in Hz, dB.
const WEIGHTING: [(f64, f64); 17] = [
    (0.1, -48.0),
    (0.2, -30.6),
    (0.315, -19.7),
    (0.4, -15.0),
    (0.63, -8.4),
    (0.8, -6.0),
    (1.0, -4.2),
    (1.6, -1.8),
    (2.0, -0.9),
    (4.0, 0.0),
    (6.3, -0.9),
    (10.0, -2.1),
    (20.0, -5.9),
    (40.0, -10.4),
    (63.0, -14.2),
    (100.0, -17.3),
    (200.0, -23.0),
];

/// The table between its points, straight by the logarithm of the rate.
fn weight(rate_hz: f64) -> f64 {
    let above = WEIGHTING.iter().position(|(hz, _)| *hz >= rate_hz).unwrap();
    let ((low, from), (high, to)) = (WEIGHTING[above - 1], WEIGHTING[above]);
    let part = (rate_hz / low).ln() / (high / low).ln();
    10_f64.powf((from + part * (to - from)) / 20.0)
}

/// Weighted rms of the lines alone; the random wow of these decks adds less than a tenth.
fn weighted_rms_percent(truth: &DeckTruth) -> f64 {
    let power = |line: &FlutterLine| (line.peak_percent * weight(line.rate_hz)).powi(2) / 2.0;
    truth.lines.iter().map(power).sum::<f64>().sqrt()
}

#[test]
fn the_decks_of_the_workshop_have_the_faults_they_should() {
    let names: Vec<_> = built_in_names().collect();
    assert_eq!(
        names,
        [
            "finch-as-found",
            "finch-as-left",
            "heron-as-found",
            "heron-as-left",
            "plover"
        ]
    );
    for (name, title, speed, azimuth, flutter) in [
        (
            "finch-as-found",
            "Finch 2H, as found",
            1.42,
            -9.0,
            0.17..0.23,
        ),
        (
            "finch-as-left",
            "Finch 2H, as left",
            0.03,
            0.2,
            0.035..0.055,
        ),
        (
            "heron-as-found",
            "Heron 3HC, as found",
            -0.65,
            4.3,
            0.17..0.23,
        ),
        (
            "heron-as-left",
            "Heron 3HC, as left",
            -0.02,
            -0.1,
            0.035..0.055,
        ),
        ("plover", "Plover R4", 0.24, -1.6, 0.04..0.06),
    ] {
        let deck = built_in(name);
        let truth = deck.truth();
        assert_eq!(deck.description().name, title);
        assert!(!deck.about().is_empty());
        assert!((truth.deviation_percent - speed).abs() < 1e-9, "{name}");
        assert!((truth.azimuth_arcmin - azimuth).abs() < 1e-9, "{name}");
        let weighted = weighted_rms_percent(&truth);
        assert!(flutter.contains(&weighted), "{name}: {weighted}");
        assert_eq!(truth.section, "speed-3150");
    }
    assert_eq!(
        built_in("plover").tape_format().name,
        "reel-two-track-nab-19"
    );
}

#[test]
fn a_file_of_the_same_text_is_the_same_deck() {
    let text = include_str!("../../demo-data/plover.toml");
    let file = file("my-plover.toml", text.as_bytes());
    let mut ours = VirtualDeck::by_name_or_path(file.path.to_str().unwrap(), 48_000).unwrap();
    let (mut a, mut b) = ([0.0; 960], [0.0; 960]);
    assert_eq!(ours.read(&mut a).unwrap(), 480);
    assert_eq!(built_in("plover").read(&mut b).unwrap(), 480);
    assert_eq!(a, b);
}

fn error_of(toml: &str) -> String {
    let error = VirtualDeck::from_toml("my-deck.toml", toml, 48_000)
        .err()
        .unwrap()
        .to_string();
    assert_eq!(error.lines().count(), 1, "{error}");
    error
}

/// A wrong line put into a good file is named with its number, its key and what to write there.
#[test]
fn faulty_files_are_refused_with_file_line_and_key() {
    for (wrong, expected) in [
        // A wrong unit is an unknown key, and the right one is offered.
        (
            "[transport]\nspeed_error = 1.4",
            ", key speed_error: unknown field `speed_error`, expected one of `speed_error_percent`",
        ),
        (
            "[head]\nazimuth_degrees = 0.1",
            ", key azimuth_degrees: unknown field `azimuth_degrees`, expected `azimuth_arcmin` or `wander`",
        ),
        (
            "[transport]\nspeed_error_percent = \"1.4 %\"",
            ", key speed_error_percent: invalid type: string \"1.4 %\", expected a number without its unit",
        ),
        (
            "[transport]\nspeed_error_percent = 140",
            ", key speed_error_percent: 140 is out of range; give -20 to 20",
        ),
        (
            "[transport]\nspeed_error_percent = nan",
            ", key speed_error_percent: NaN is out of range",
        ),
        (
            "[line_out.hum]\nmains_hz = 0.05",
            ", key mains_hz: 0.05 is out of range; give 40 to 70",
        ),
        (
            "[[transport.random_wow]]\nrms_percent = 0.1\npeak_hz = 0",
            ", key peak_hz: 0 is out of range; give above 0 to 50",
        ),
        (
            "[[transport.part]]\nname = \"belt\"\nflutter_peak_percent = [0.1]",
            ", key name: 'belt' needs either rate_hz or diameter_mm, and not both",
        ),
        (
            "[[transport.part]]\nname = \"belt\"\nrate_hz = 90.0\nflutter_peak_percent = [0.1, 0.1, 0.1, 0.1]",
            ", key flutter_peak_percent: 'belt' flutters at up to 360.0 Hz",
        ),
        (
            "[[transport.part]]\nname = \"belt\"\nrate_hz = 4.0\nflutter_peak_percent = [9, 9, 9]",
            ", key flutter_peak_percent: with 'belt' the flutter adds up to 27 %",
        ),
        (
            "[[transport.scrape]]\nrms_percent = 0.1\ncentre_hz = 1000\nwidth_hz = 800",
            ", key width_hz: 800 Hz is too wide around 1000 Hz; give at most half",
        ),
        (
            "[[head.wander]]\npart = \"bolt\"\npeak_arcmin = 0.1",
            ", key part: no [[transport.part]] is named 'bolt'",
        ),
        (
            "[[head.wander]]\npeak_arcmin = 0.1",
            ", key peak_arcmin: a wander needs either a part or a rate_hz",
        ),
        (
            "[[dropout]]\nat_s = 1.0\ndepth_db = 10.0\nlength_ms = 10.0\ntracks = \"middle\"",
            ", key tracks: unknown variant `middle`",
        ),
        (
            "[[section]]\nname = \"tone\"",
            ", key name: there is already a 'tone'; names are used once",
        ),
        ("[head\nazimuth_arcmin = 1", ": unclosed table"),
        ("[[dropout]]\nat_s = 1.0", ": missing field `depth_db`"),
    ] {
        let good = tone_deck(3150.0, "");
        let error = error_of(&format!("{good}{wrong}\n"));
        let key = expected
            .strip_prefix(", key ")
            .and_then(|rest| rest.split(':').next());
        let in_wrong = match key {
            Some(key) => wrong
                .lines()
                .position(|line| line.starts_with(&format!("{key} =")))
                .unwrap(),
            None => 0,
        };
        let line = good.lines().count() + in_wrong + 1;
        let start = format!("my-deck.toml, line {line}{expected}");
        assert!(error.starts_with(&start), "{error}\n{start}");
    }
    let error = error_of(&tone_deck(3150.0, "").replace("cassette-stereo", "cassette"));
    assert!(error.starts_with("my-deck.toml, line 3, key tape_format: no tape format 'cassette'; use one of: cassette-stereo"), "{error}");
    let error =
        error_of(&tone_deck(3150.0, "").replace("seed = 5", "seed = 5\nstart_section = \"x\""));
    assert!(
        error.starts_with("my-deck.toml, line 5, key start_section: no [[section]] is named 'x'"),
        "{error}"
    );
    assert!(error_of("").contains("missing field `deck`"));
}

#[test]
fn what_is_no_deck_is_refused_in_one_line() {
    let error_of = |name: &str| {
        let error = VirtualDeck::by_name_or_path(name, 48_000)
            .err()
            .unwrap()
            .to_string();
        assert_eq!(error.lines().count(), 1, "{error}");
        error
    };
    let error = error_of("finch");
    assert!(error.contains("no such file and no built-in deck of that name; those are finch-as-found, finch-as-left"), "{error}");
    let folder = std::env::temp_dir();
    assert!(error_of(folder.to_str().unwrap()).contains("this is not a file"));
    let binary = file("deck.toml", &[0xff, 0xfe, 0, 1]);
    assert!(error_of(binary.path.to_str().unwrap()).contains("this is not text"));
    let error = VirtualDeck::by_name_or_path("plover", 4_000)
        .err()
        .unwrap()
        .to_string();
    assert!(
        error.contains("4000 times a second; give 8000 to 384000 Hz"),
        "{error}"
    );
}
