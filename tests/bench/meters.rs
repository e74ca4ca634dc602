//! What the meters cost: `cargo bench --bench meters`. An item is a frame (of both channels), so that a thousand over
//! the `Mitem/s` column is nanoseconds a frame. `limits` holds the stages against the machine, `table.sh` measures the
//! whole program.

#[allow(dead_code, reason = "`limits` needs the work")]
mod stages;

use divan::{Bencher, counter::ItemsCount};
use stages::{TONE_HZ, programme, second};
use std::{f64::consts::TAU, fmt};
use trimwatch::{
    meters::{MeterBank, MeterSetup},
    readings::{SourceDescription, SourceKind, SourceReading},
    signal::{
        cross_spectrum::CrossSpectrum,
        lines::{LineFinder, MOST_LINES},
    },
};

const RATES_HZ: [u32; 3] = [48_000, 96_000, 192_000];

fn main() {
    divan::main();
}

/// A stage at a rate.
#[derive(Clone, Copy)]
struct StageAt {
    name: &'static str,
    rate_hz: u32,
}

impl fmt::Display for StageAt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} at {} kHz", self.name, self.rate_hz / 1000)
    }
}

fn stages_at_all_rates() -> impl Iterator<Item = StageAt> {
    stages::NAMES.into_iter().flat_map(|name| {
        RATES_HZ
            .into_iter()
            .map(move |rate_hz| StageAt { name, rate_hz })
    })
}

/// Each stage of the bank by itself.
#[divan::bench(args = stages_at_all_rates())]
fn stage(bencher: Bencher<'_, '_>, at: StageAt) {
    let mut stage = stages::named(at.name, at.rate_hz).expect("the list's own names");
    bencher
        .counter(ItemsCount::new(stage.frames as u64))
        .bench_local(|| (stage.run)());
}

fn interleaved([left, right]: &[Vec<f64>; 2]) -> Vec<f32> {
    let frames = left.iter().zip(right);
    frames.flat_map(|(l, r)| [*l as f32, *r as f32]).collect()
}

fn bank(rate_hz: u32) -> MeterBank {
    let mut setup = MeterSetup::new().expect("the built-in tables are whole");
    setup.tone_hz = Some(TONE_HZ);
    MeterBank::new(f64::from(rate_hz), 2, &setup)
}

fn source(rate_hz: u32) -> SourceReading {
    SourceReading::new(SourceDescription {
        kind: SourceKind::Recording,
        name: "formula".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: rate_hz,
        channels: 2,
        buffer_frames: None,
    })
}

/// Feeds a bank that has settled with a second at a time.
fn feed(bencher: Bencher<'_, '_>, rate_hz: u32, signal: &[Vec<f64>; 2]) {
    let samples = interleaved(signal);
    let mut bank = bank(rate_hz);
    for _ in 0..10 {
        bank.process(&samples);
    }
    bencher
        .counter(ItemsCount::new(rate_hz))
        .bench_local(|| bank.process(divan::black_box(&samples)));
}

#[divan::bench(args = RATES_HZ, sample_count = 20)]
fn whole_bank_on_a_tone(bencher: Bencher<'_, '_>, rate_hz: u32) {
    feed(bencher, rate_hz, &second(rate_hz));
}

#[divan::bench(args = RATES_HZ, sample_count = 20)]
fn whole_bank_on_programme(bencher: Bencher<'_, '_>, rate_hz: u32) {
    feed(bencher, rate_hz, &programme(rate_hz));
}

/// One snapshot as the window asks for it, thirty a second; the slow searches fall in twice a second.
#[divan::bench(sample_count = 20)]
fn a_second_with_thirty_snapshots(bencher: Bencher<'_, '_>) {
    let samples = interleaved(&second(48_000));
    let mut bank = bank(48_000);
    for _ in 0..10 {
        bank.process(&samples);
    }
    bencher.counter(ItemsCount::new(48_000u32)).bench_local(|| {
        for piece in samples.chunks(2 * 1600) {
            bank.process(piece);
            divan::black_box(bank.readings(source(48_000)));
        }
    });
}

/// The end of a take: all lines searched anew.
#[divan::bench]
fn final_readings_of_a_minute(bencher: Bencher<'_, '_>) {
    let samples = interleaved(&second(48_000));
    let mut bank = bank(48_000);
    for _ in 0..60 {
        bank.process(&samples);
    }
    bencher.bench_local(|| bank.final_readings(source(48_000)));
}

/// One search in a whole series of 65 s at 667 Hz.
#[divan::bench(sample_count = 20)]
fn flutter_lines(bencher: Bencher<'_, '_>) {
    let series: Vec<f64> = (0..43_355)
        .map(|i| {
            let t = f64::from(i) / 667.0;
            0.1 * (TAU * 0.6 * t).sin()
                + 0.05 * (TAU * 6.06 * t).sin()
                + 0.01 * (TAU * 27.0 * t).sin()
        })
        .collect();
    let mut finder = LineFinder::new(series.len());
    bencher.bench_local(|| finder.find(divan::black_box(&series), 667.0, 0.1..200.0, MOST_LINES));
}

/// One delay out of the averages, twenty times a second while it is shown.
#[divan::bench]
fn programme_delay(bencher: Bencher<'_, '_>) {
    let [left, right] = programme(48_000);
    let mut spectrum = CrossSpectrum::new(48_000.0, f64::INFINITY);
    for (left, right) in left.chunks(192).zip(right.chunks(192)) {
        spectrum.push(left, right);
    }
    bencher.bench_local(|| spectrum.delay(divan::black_box(400e-6)));
}
