//! What stands beside the tone does not pull a reading to one side, not even by a tenth of what noise at 40 dB
//! scatters a single one by.
//!
//! So little is not seen in the readings themselves: a mean of n of them is uncertain by 1/√n of that scatter. So every
//! take is read in the same noise without the disturbance, with it, and with it upside down. What it adds to a window's
//! ends at one phase it takes away at the opposite one: the mean of both, against the reading without, is what is left
//! whatever the phase, and that is a bias. The scatter is that of the Cramér–Rao bound (formulas in `trial`).

use crate::{
    stage::{Bench, TONE_HZ, tape},
    synth::{Noise, stereo, tone, true_speed},
    trial::{frequency_bound_hz, phase_bound_rad},
};
use std::f64::consts::TAU;

const AMPLITUDE: f64 = 0.4;
const SNR_DB: f64 = 40.0;
const DEVIATION_PERCENT: f64 = 0.3;
const DELAY_S: f64 = 8e-6;
const LEAD_S: f64 = 1.4;
/// The quick needle's window, and how far its readings lie apart: windows do not overlap.
const QUICK_S: f64 = 0.25;
const STEP_S: f64 = 0.2617;
const STEPS: usize = 20;
/// The project's bar, as a share of the scatter of one reading.
const BAR: f64 = 0.1;
/// A mean so many standard errors off zero is no luck...
const ERRORS_OF_LUCK: f64 = 3.0;
/// ...but where the errors themselves are next to nothing it need not be any.
const NEGLIGIBLE: f64 = 0.01;

/// What the readings of one take are off by.
struct Off {
    quick_percent: Vec<f64>,
    average_percent: f64,
    average_s: f64,
    phase_rad: f64,
}

fn read(sample_rate_hz: f64, take: &[f32]) -> Off {
    let mut bench = Bench::new(sample_rate_hz, 2, &tape(TONE_HZ));
    let samples = |seconds: f64| 2 * (seconds * sample_rate_hz).round() as usize;
    let (lead, steps) = take.split_at(samples(LEAD_S));
    bench.feed(lead);
    let quick = steps.chunks_exact(samples(STEP_S)).map(|piece| {
        let readings = bench.feed(piece).now();
        readings.speed.quick.deviation_percent.unwrap() - DEVIATION_PERCENT
    });
    let quick_percent = quick.collect();
    let readings = bench.over();
    let lag_rad = TAU * TONE_HZ * (1.0 + DEVIATION_PERCENT / 100.0) * DELAY_S;
    Off {
        quick_percent,
        average_percent: readings.speed.deviation_percent.unwrap() - DEVIATION_PERCENT,
        average_s: readings.speed.averaged_seconds,
        phase_rad: readings.phase.degrees.unwrap().to_radians() - lag_rad,
    }
}

/// Mean, and its standard error.
fn mean(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>();
    (mean, (squares / (n - 1.0) / n).sqrt())
}

/// A sine with a phase of its own, so that nothing begins at zero together.
fn sine(hz: f64, t: f64) -> f64 {
    (TAU * hz * t + hz).sin()
}

/// Mains hum at −30 dB with nine harmonics that fall as their order rises.
fn hum(mains_hz: f64, t: f64) -> f64 {
    let harmonics = (1..=10).map(f64::from);
    10f64.powf(-1.5) * harmonics.map(|n| sine(n * mains_hz, t) / n).sum::<f64>()
}

/// Something beside the tone: its size at a time, as a share of the tone's amplitude.
type Disturbance = fn(f64) -> f64;

/// What comes off the tape with the tone passes the heads as late as it does, and runs as fast.
const FROM_THE_TAPE: [(&str, Disturbance); 2] = [
    ("5 % third harmonic", |place| {
        0.05 * sine(3.0 * TONE_HZ, place)
    }),
    ("1 % of the other speed tone", |place| {
        0.01 * sine(3000.0, place)
    }),
];
/// What the wiring and the converter add is on both channels at once, on the right one less.
const FROM_THE_WIRES: [(&str, Disturbance); 3] = [
    ("hum of 50 Hz at −30 dB", |t| hum(50.0, t)),
    ("hum of 60 Hz at −30 dB", |t| hum(60.0, t)),
    ("an offset", |_| 0.25),
];

#[allow(
    clippy::print_stdout,
    reason = "the figures are of interest, and the harness holds them back unless asked"
)]
fn nothing_pulls(sample_rate_hz: f64) {
    let eta = 10f64.powf(SNR_DB / 10.0);
    let seconds = LEAD_S + STEPS as f64 * STEP_S + 0.1;
    let place = |t: f64| t * (1.0 + DEVIATION_PERCENT / 100.0);
    let wave = tone(TONE_HZ, AMPLITUDE, true_speed);
    let read_with = |sign: f64, tape: Disturbance, wires: Disturbance| {
        let channel =
            |place: f64, wires: f64| wave(place) + sign * AMPLITUDE * (tape(place) + wires);
        let mut take = stereo(
            sample_rate_hz,
            seconds,
            |t| channel(place(t), wires(t)),
            |t| channel(place(t - DELAY_S), 0.6 * wires(t)),
        );
        Noise::new(sample_rate_hz as u64).add(&mut take, AMPLITUDE / (2.0 * eta).sqrt());
        read(sample_rate_hz, &take)
    };
    let nothing: Disturbance = |_| 0.0;
    let clean = read_with(1.0, nothing, nothing);
    assert_eq!(clean.quick_percent.len(), STEPS);
    let sigma_percent = |window_s: f64| {
        let sigma_hz = frequency_bound_hz(eta, window_s, sample_rate_hz);
        100.0 * sigma_hz / TONE_HZ
    };
    let quick_sigma = sigma_percent(QUICK_S);
    let average_sigma = sigma_percent(clean.average_s);
    let phase_sigma = phase_bound_rad(eta, clean.average_s, sample_rate_hz);

    let from_the_tape = FROM_THE_TAPE.map(|(what, tape)| (what, tape, nothing));
    let from_the_wires = FROM_THE_WIRES.map(|(what, wires)| (what, nothing, wires));
    for (what, tape, wires) in from_the_tape.into_iter().chain(from_the_wires) {
        let what = format!("{what} at {sample_rate_hz} Hz");
        let [upright, inverted] = [1.0, -1.0].map(|sign| read_with(sign, tape, wires));
        for off in [&upright, &inverted] {
            let (error, luck) = mean(&off.quick_percent);
            assert!(
                error.abs() < ERRORS_OF_LUCK * luck,
                "{what}: the quick readings are off by {error} ± {luck} %"
            );
        }
        let pull = |of: fn(&Off) -> f64| (of(&upright) + of(&inverted)) / 2.0 - of(&clean);
        let pulls: Vec<f64> = (0..STEPS)
            .map(|i| {
                let both = upright.quick_percent[i] + inverted.quick_percent[i];
                (both / 2.0 - clean.quick_percent[i]) / quick_sigma
            })
            .collect();
        let (quick, luck) = mean(&pulls);
        let luck = (ERRORS_OF_LUCK * luck).max(NEGLIGIBLE);
        let average = pull(|off| off.average_percent) / average_sigma;
        let phase = pull(|off| off.phase_rad) / phase_sigma;
        println!("{what}: {quick:.5} of the quick scatter, {average:.5}, phase {phase:.5}");
        assert!(quick.abs() < BAR.min(luck), "{what}: quick by {quick}");
        assert!(average.abs() < BAR, "{what}: average by {average}");
        assert!(phase.abs() < BAR, "{what}: phase by {phase}");
    }
}

#[test]
fn nothing_pulls_at_44_khz() {
    nothing_pulls(44_100.0);
}

#[test]
fn nothing_pulls_at_48_khz() {
    nothing_pulls(48_000.0);
}

#[test]
fn nothing_pulls_at_96_khz() {
    nothing_pulls(96_000.0);
}

#[test]
fn nothing_pulls_at_192_khz() {
    nothing_pulls(192_000.0);
}
