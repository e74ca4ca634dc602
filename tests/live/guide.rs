//! The sound guide through a real audio server: what comes out of its output, and what becomes of it when that is lost.

use crate::{
    apart::live_test,
    capture::{Capture, input},
    server::{Setup, Sink},
};
use std::{
    process::Command,
    time::{Duration, Instant},
};
use trimwatch::guide::{GuidePlayer, MAX_LEVEL_DBFS, find_output, list_outputs};

const DECK: Sink = Sink::stereo("deck", 48_000);
const PHONES: Sink = Sink::stereo("phones", 48_000);
const BOTH: Setup = Setup::new(&[DECK, PHONES]);
/// Pips of a value that is too high and too low, Hz, as the guide's description says.
const HIGH_HZ: f64 = 880.0;
const LOW_HZ: f64 = 440.0;

/// Captures for a while, telling the guide an offset all the time. Returns the left channel.
fn heard(capture: &mut Capture, guide: &GuidePlayer, seconds: f64, offset: f32) -> Vec<f32> {
    let before = capture.latest().samples.len();
    capture.run(Duration::from_secs_f64(seconds), |_| {
        guide.aim(offset);
        false
    });
    let samples = &capture.latest().samples[before..];
    let frames: Vec<_> = samples.chunks(2).collect();
    assert!(
        frames.iter().all(|frame| frame[0] == frame[1]),
        "the channels differ"
    );
    frames.iter().map(|frame| frame[0]).collect()
}

fn peak(samples: &[f32]) -> f32 {
    samples
        .iter()
        .fold(0.0, |peak, sample| peak.max(sample.abs()))
}

/// Frequency by the changes of sign within the sound, and pips a second by the silences before them.
fn pitch_and_rate(samples: &[f32]) -> (f64, f64) {
    let sounding: Vec<f32> = samples.iter().copied().filter(|s| *s != 0.0).collect();
    let changes = sounding
        .windows(2)
        .filter(|pair| (pair[0] > 0.0) != (pair[1] > 0.0));
    let pitch_hz = changes.count() as f64 / 2.0 / (sounding.len() as f64 / 48_000.0);
    let mut silent = 0;
    let pips = samples.iter().filter(|sample| {
        let begins = **sample != 0.0 && silent > 960;
        silent = if **sample == 0.0 { silent + 1 } else { 0 };
        begins
    });
    (
        pitch_hz,
        pips.count() as f64 / (samples.len() as f64 / 48_000.0),
    )
}

live_test! {
    fn the_guide_is_heard_at_its_level_and_pitch_and_falls_silent_in_the_target(_server: BOTH) {
        let outputs = list_outputs();
        let phones = find_output(&outputs.outputs, "pulseaudio:phones").expect("the sink is listed");
        let mut capture = Capture::open(&input("pulseaudio:phones.monitor"));
        let mut guide = GuidePlayer::start(&phones, MAX_LEVEL_DBFS).expect("opens");

        // It starts silent, and stays so without a reading.
        assert_eq!(peak(&heard(&mut capture, &guide, 2.0, f32::NAN)), 0.0);
        heard(&mut capture, &guide, 2.5, 1.0);
        heard(&mut capture, &guide, 1.0, 0.0);
        assert_eq!(peak(&heard(&mut capture, &guide, 0.5, 0.0)), 0.0);
        // A hand on a screw needs to hear it soon: the wait for the pip, then the guide's own way, the server's and the
        // capture's.
        let samples = heard(&mut capture, &guide, 1.5, 1.0);
        let first = samples.iter().position(|sample| *sample != 0.0).expect("it is heard");
        println!("heard {first} samples after it was told");
        assert!(first < 24_000, "heard only after {first} samples");
        for (offset, hz, pips) in [(1.0, HIGH_HZ, 10.0), (-0.25, LOW_HZ, 5.0)] {
            // What is on its way from the times before is let through first.
            heard(&mut capture, &guide, 1.0, offset);
            let samples = heard(&mut capture, &guide, 3.0, offset);
            let (pitch_hz, rate) = pitch_and_rate(&samples);
            println!("offset {offset}: peak {}, {pitch_hz} Hz, {rate} pips a second", peak(&samples));
            // −20 dBFS is a tenth; the highest sample lies within a sample's step of the sine's peak.
            assert!((0.098..=0.100_001).contains(&peak(&samples)), "{}", peak(&samples));
            assert!((pitch_hz / hz - 1.0).abs() < 0.05, "{pitch_hz} Hz");
            assert!((rate / pips - 1.0).abs() < 0.15, "{rate} pips a second");
        }
        heard(&mut capture, &guide, 1.5, 0.0);
        assert_eq!(peak(&heard(&mut capture, &guide, 1.0, 0.0)), 0.0);
        assert_eq!(guide.trouble(Instant::now()), None);

        // A stop in the middle of a pip is soft: no step from sample to sample beyond what a sine of that pitch makes.
        heard(&mut capture, &guide, 1.5, 1.0);
        let before = capture.latest().samples.len();
        drop(guide);
        capture.run_for(Duration::from_secs(2));
        let after: Vec<f32> = capture.latest().samples[before..].chunks(2).map(|f| f[0]).collect();
        let step = after.windows(2).fold(0.0_f32, |step, pair| step.max((pair[1] - pair[0]).abs()));
        let largest = 0.1 * std::f32::consts::TAU * HIGH_HZ as f32 / 48_000.0;
        println!("stop: the largest step is {step}, of a sine {largest}");
        assert!(step <= 1.1 * largest, "{step}");
        assert_eq!(peak(&after[after.len() / 2..]), 0.0);
    }
}

live_test! {
    fn a_lost_output_is_told_and_another_is_not_taken(server: BOTH) {
        let outputs = list_outputs();
        let phones = find_output(&outputs.outputs, "pulseaudio:phones").expect("the sink is listed");
        let mut guide = GuidePlayer::start(&phones, MAX_LEVEL_DBFS).expect("opens");
        let mut deck = Capture::open(&input("pulseaudio:deck.monitor"));
        heard(&mut deck, &guide, 1.0, 1.0);
        let modules = server.control(&["list", "short", "modules"]).expect("the modules are listed");
        let module = modules
            .lines()
            .find(|line| line.contains("sink_name=phones"))
            .and_then(|line| line.split_whitespace().next())
            .expect("the sink's module");
        server.unload(module);
        // The server moves the stream to its default sink, which is the deck's; that is noticed as soon as it tells.
        let deadline = Instant::now() + Duration::from_secs(8);
        let mut strayed = 0;
        let words = loop {
            let at_the_deck = heard(&mut deck, &guide, 0.1, 1.0);
            strayed += at_the_deck.iter().filter(|sample| **sample != 0.0).count();
            if let Some(words) = guide.trouble(Instant::now()) {
                break words.to_owned();
            }
            assert!(Instant::now() < deadline, "nothing is said");
        };
        strayed += heard(&mut deck, &guide, 1.0, 1.0).iter().filter(|sample| **sample != 0.0).count();
        println!("{words}; {strayed} samples strayed");
        assert!(words.contains("silent"), "{words}");
        // A quarter of a second of it: blocks that were on their way.
        assert!(strayed < 12_000, "{strayed} samples came out of the deck's sink");
        assert_eq!(peak(&heard(&mut deck, &guide, 1.0, 1.0)), 0.0);
    }
}

live_test! {
    fn the_program_guides_and_refuses_the_decks_own_way_in(_server: BOTH) {
        let program = || Command::new(env!("CARGO_BIN_EXE_trimwatch"));
        let mut capture = Capture::open(&input("pulseaudio:phones.monitor"));
        let mut watching = program()
            .args(["watch", "--virtual-deck", "finch-as-found", "--seconds", "8", "--format", "jsonl"])
            .args(["--guide", "pulseaudio:phones", "--guide-of", "speed", "--guide-level", "-30"])
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .expect("the program starts");
        capture.run(Duration::from_secs(20), |_| watching.try_wait().expect("it can be asked").is_some());
        let ended = watching.wait_with_output().expect("it has ended");
        let said = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert!(ended.status.success(), "{said}");
        assert!(said.contains("volume down"), "the caution: {said}");
        let samples: Vec<f32> = capture.latest().samples.chunks(2).map(|frame| frame[0]).collect();
        // The deck as found is fast: high pips, at −30 dBFS.
        let (pitch_hz, _) = pitch_and_rate(&samples);
        assert!((pitch_hz / HIGH_HZ - 1.0).abs() < 0.05, "{pitch_hz} Hz");
        assert!((0.030..=0.031_63).contains(&peak(&samples)), "{}", peak(&samples));

        let refused = program()
            .args(["watch", "--input", "pulseaudio:deck.monitor", "--seconds", "2"])
            .args(["--guide", "pulseaudio:deck", "--guide-of", "balance"])
            .output()
            .expect("the program runs");
        let said = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert_eq!(refused.status.code(), Some(2), "{said}");
        assert!(said.contains("--guide-same-card"), "{said}");
        let listed = program().arg("outputs").output().expect("the program runs");
        let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
        assert!(listed.contains("pulseaudio:phones\n") && listed.contains("volume down"), "{listed}");
    }
}
