//! Samples in, evaluation out: the whole way but the sound card, faster than real time.

use std::f64::consts::TAU;
use trimwatch::{
    meters::{MeterBank, MeterSetup},
    readings::{InputState, SourceDescription, SourceKind, SourceReading},
    run_in::{Criteria, Direction, Evaluation, EventKind, History, Recorder, evaluate},
};

const RATE_HZ: u32 = 16_000;
const TONE_HZ: f64 = 3150.0;

/// What plays at one moment.
#[derive(Clone, Copy)]
struct Moment {
    speed_percent: f64,
    level: f64,
    delay_us: f64,
}

/// Plays what `story` says of each second and returns what the log shows.
fn played(seconds: u32, story: impl Fn(f64) -> Moment) -> Evaluation {
    let rate = f64::from(RATE_HZ);
    let setup = MeterSetup {
        tone_hz: Some(TONE_HZ),
        ..MeterSetup::new().unwrap()
    };
    let mut bank = MeterBank::new(rate, 2, &setup);
    let mut source = SourceReading::new(SourceDescription {
        kind: SourceKind::VirtualDeck,
        name: "a deck of the tests".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: RATE_HZ,
        channels: 2,
        buffer_frames: None,
    });
    source.state = InputState::Running;
    let mut recorder = Recorder::new(5.0);
    let mut history = History::default();
    let (mut phase, mut noise) = (0.0_f64, 1_u32);
    let mut block = Vec::with_capacity(2 * RATE_HZ as usize / 50);
    for index in 0..seconds * 50 {
        block.clear();
        for frame in 0..RATE_HZ / 50 {
            let at_s = f64::from(index) / 50.0 + f64::from(frame) / rate;
            let now = story(at_s);
            let hz = TONE_HZ * (1.0 + now.speed_percent / 100.0);
            phase += TAU * hz / rate;
            for late in [0.0, TAU * hz * now.delay_us * 1e-6] {
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let hiss = 1e-4 * (f64::from(noise) / f64::from(u32::MAX) - 0.5);
                block.push((now.level * (phase - late).sin() + hiss) as f32);
            }
        }
        bank.process(&block);
        source.seconds = f64::from(index + 1) / 50.0;
        let readings = bank.readings(source.clone());
        recorder.take(&readings, source.seconds, &mut |line| history.take(&line));
    }
    evaluate(&history, &Criteria::default())
}

const STEADY: Moment = Moment {
    speed_percent: 0.1,
    level: 0.3,
    delay_us: 8.0,
};

fn kinds(shown: &Evaluation) -> Vec<(EventKind, f64)> {
    let events = shown.events.iter();
    events.map(|event| (event.kind, event.at_s)).collect()
}

#[test]
fn a_reversal_a_dropout_and_a_stop_are_told_at_their_times() {
    let shown = played(150, |at_s| {
        let silent = Moment {
            level: 0.0,
            ..STEADY
        };
        match at_s {
            // The leader, the turn-round, the leader.
            50.0..56.0 => silent,
            56.0..80.0 | 80.06..110.0 => Moment {
                speed_percent: 0.3,
                delay_us: -20.0,
                ..STEADY
            },
            80.0..80.06 => Moment {
                level: 0.03,
                speed_percent: 0.3,
                delay_us: -20.0,
            },
            // The motor runs down within half a second.
            110.0..110.5 => Moment {
                speed_percent: -200.0 * (at_s - 110.0),
                level: 0.3 * (1.0 - (at_s - 110.0) / 0.5),
                ..STEADY
            },
            110.5.. => silent,
            _ => STEADY,
        }
    });
    let [
        (EventKind::Reversal, reversal_s),
        (EventKind::Dropouts, dropouts_s),
        (EventKind::Stop, stop_s),
    ] = kinds(&shown)[..]
    else {
        panic!("{:#?}", shown.events);
    };
    assert!((reversal_s - 50.0).abs() < 0.1, "{reversal_s}");
    // Dropouts are counted by the interval.
    assert!((80.0..=86.0).contains(&dropouts_s), "{dropouts_s}");
    assert!((stop_s - 110.0).abs() < 0.3, "{stop_s}");
    let back_s = shown.events[0].until_s.unwrap();
    assert!((56.0..57.0).contains(&back_s), "{back_s}");

    let [first, second] = &shown.passes[..] else {
        panic!("{:#?}", shown.passes);
    };
    assert_eq!(
        (first.direction, second.direction),
        (Direction::First, Direction::Other)
    );
    assert!((first.speed_percent.unwrap() - 0.1).abs() < 0.002);
    assert!((second.speed_percent.unwrap() - 0.3).abs() < 0.004);
    // tan α = v·Δt/d with 47.625 mm/s and 0.9 mm: 8 µs are 1.455′, −20 µs −3.638′.
    assert!((first.azimuth_arcmin.unwrap() - 1.455).abs() < 0.02);
    assert!((second.azimuth_arcmin.unwrap() + 3.638).abs() < 0.05);
}

#[test]
fn a_tone_that_breaks_off_at_full_speed_suggests_the_end_of_the_tape() {
    let shown = played(60, |at_s| Moment {
        level: if at_s < 40.0 { 0.3 } else { 0.0 },
        ..STEADY
    });
    let [(EventKind::TapeEnd, at_s)] = kinds(&shown)[..] else {
        panic!("{:#?}", shown.events);
    };
    assert!((at_s - 40.0).abs() < 0.1, "{at_s}");
}
