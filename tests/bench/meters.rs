//! What the meters cost: `cargo bench --bench meters`. An item is a frame (of both channels), so that a thousand over
//! the `Mitem/s` column is nanoseconds a frame. `table.sh` measures the whole program.

use divan::{Bencher, counter::ItemsCount};
use std::f64::consts::TAU;
use trimwatch::{
    meters::{MeterBank, MeterSetup},
    readings::{SourceDescription, SourceKind, SourceReading},
    signal::{
        ballistics::PpmPair, clipping::ClippingWatch, cross_spectrum::CrossSpectrum,
        demodulator::Demodulator, dot::square_and_magnitude, lines::LineFinder,
        quasi_peak::QuasiPeak, tone_search::ToneSearch, true_peak::TruePeak,
        weighting::wow_flutter_weighting,
    },
};

const TONE_HZ: f64 = 3150.0;
const RATES_HZ: [u32; 3] = [48_000, 96_000, 192_000];
/// Rate of the deviation behind the demodulator, Hz.
const DEVIATION_HZ: f64 = 4000.0;

fn main() {
    divan::main();
}

/// A second of a tone with some flutter and noise on both channels; its end joins on to its beginning.
fn second(rate_hz: u32) -> [Vec<f64>; 2] {
    let rate = f64::from(rate_hz);
    let mut state = 1u32;
    let wave: Vec<f64> = (0..rate_hz)
        .map(|i| {
            let t = f64::from(i) / rate;
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = 1e-3 * (f64::from(state) / f64::from(u32::MAX) - 0.5);
            let flutter = -0.001 / (TAU * 6.0) * (TAU * 6.0 * t).cos();
            0.4 * (TAU * TONE_HZ * (t + flutter)).sin() + noise
        })
        .collect();
    let mut late = wave.clone();
    late.rotate_right(1);
    [wave, late]
}

/// A second of unlike samples with something in common: programme.
fn programme(rate_hz: u32) -> [Vec<f64>; 2] {
    let mut state = 7u32;
    let wave: Vec<f64> = (0..rate_hz)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            0.2 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
        })
        .collect();
    let mut late = wave.clone();
    late.rotate_right(1);
    [wave, late]
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

#[divan::bench(args = RATES_HZ)]
fn demodulator(bencher: Bencher<'_, '_>, rate_hz: u32) {
    let mut demodulator = Demodulator::new(f64::from(rate_hz), 2, TONE_HZ);
    let block = demodulator.block_samples();
    let input = second(rate_hz).map(|channel| channel[..block].to_vec());
    bencher
        .counter(ItemsCount::new(block))
        .bench_local(|| demodulator.process(divan::black_box(&input)));
}

/// Keeping the samples for the search, without looking at them.
#[divan::bench]
fn tone_search_push(bencher: Bencher<'_, '_>) {
    let mut search = ToneSearch::new(48_000.0, 2);
    let input = second(48_000).map(|channel| channel[..192].to_vec());
    bencher
        .counter(ItemsCount::new(192u32))
        .bench_local(|| search.push(divan::black_box(&input)));
}

/// One look at both channels, four times a second; its items are the frames between two looks.
#[divan::bench(args = RATES_HZ)]
fn tone_search_look(bencher: Bencher<'_, '_>, rate_hz: u32) {
    let mut search = ToneSearch::new(f64::from(rate_hz), 2);
    search.push(&second(rate_hz));
    bencher
        .counter(ItemsCount::new(rate_hz / 4))
        .bench_local(|| {
            let tone_hz = divan::black_box(Some(TONE_HZ));
            (search.analyse(0, tone_hz), search.analyse(1, tone_hz))
        });
}

/// rms and VU input of both channels.
#[divan::bench]
fn level_rms(bencher: Bencher<'_, '_>) {
    let [left, right] = second(48_000);
    bencher.counter(ItemsCount::new(192u32)).bench_local(|| {
        let left = square_and_magnitude(divan::black_box(&left[..192]));
        (left, square_and_magnitude(divan::black_box(&right[..192])))
    });
}

/// Both channels, told that only the upper 30 % matter, as the meter does.
#[divan::bench]
fn level_true_peak(bencher: Bencher<'_, '_>) {
    let [left, right] = second(48_000);
    let mut meters = [TruePeak::new(192), TruePeak::new(192)];
    bencher.counter(ItemsCount::new(192u32)).bench_local(|| {
        let left = meters[0].process(divan::black_box(&left[..192]), 0.28);
        left.max(meters[1].process(divan::black_box(&right[..192]), 0.28))
    });
}

#[divan::bench]
fn level_peak_programme_meters(bencher: Bencher<'_, '_>) {
    let [left, right] = second(48_000);
    let mut meters = PpmPair::new(48_000.0);
    bencher
        .counter(ItemsCount::new(48_000u32))
        .bench_local(|| meters.process(divan::black_box(&left), divan::black_box(&right)));
}

#[divan::bench]
fn level_clipping(bencher: Bencher<'_, '_>) {
    let [left, right] = second(48_000);
    let mut watches = [ClippingWatch::new(2400), ClippingWatch::new(2400)];
    bencher.counter(ItemsCount::new(48_000u32)).bench_local(|| {
        for (left, right) in left.chunks(192).zip(right.chunks(192)) {
            divan::black_box((watches[0].process(left), watches[1].process(right)));
        }
    });
}

/// Items are samples of the deviation: one for every 12 frames at 48 kHz.
#[divan::bench]
fn flutter_quasi_peak(bencher: Bencher<'_, '_>) {
    let mut indicator = QuasiPeak::new(DEVIATION_HZ);
    let [deviation, _] = second(4000);
    bencher.counter(ItemsCount::new(4000u32)).bench_local(|| {
        for x in &deviation {
            indicator.push(divan::black_box(*x));
        }
        indicator.pointer()
    });
}

/// Items as above.
#[divan::bench]
fn flutter_weighting(bencher: Bencher<'_, '_>) {
    let mut filter = wow_flutter_weighting(DEVIATION_HZ);
    let [deviation, _] = second(4000);
    bencher.counter(ItemsCount::new(4000u32)).bench_local(|| {
        let outputs = deviation
            .iter()
            .map(|x| filter.process(divan::black_box(*x)));
        outputs.sum::<f64>()
    });
}

/// One search in the whole series of 65 s at 500 Hz.
#[divan::bench(sample_count = 20)]
fn flutter_lines(bencher: Bencher<'_, '_>) {
    let series: Vec<f64> = (0..32_500)
        .map(|i| {
            let t = f64::from(i) / 500.0;
            0.1 * (TAU * 0.6 * t).sin()
                + 0.05 * (TAU * 6.06 * t).sin()
                + 0.01 * (TAU * 27.0 * t).sin()
        })
        .collect();
    let mut finder = LineFinder::new(series.len());
    bencher.bench_local(|| finder.find(divan::black_box(&series), 500.0, 0.1, 200.0));
}

#[divan::bench(args = RATES_HZ)]
fn programme_cross_spectrum(bencher: Bencher<'_, '_>, rate_hz: u32) {
    let [left, right] = programme(rate_hz);
    let mut spectrum = CrossSpectrum::new(f64::from(rate_hz), f64::INFINITY);
    bencher.counter(ItemsCount::new(rate_hz)).bench_local(|| {
        for (left, right) in left.chunks(192).zip(right.chunks(192)) {
            spectrum.push(left, right);
        }
    });
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
