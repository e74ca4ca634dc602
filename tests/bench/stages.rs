//! The stages of the meter bank, each by itself, with what it has to do for a frame (both channels): operations, bytes,
//! and operations that must wait for one another. The `meters` bench times them, `limits` holds them against the
//! machine.
//!
//! How the work is counted:
//! - *Operations*: additions, multiplications, comparisons and absolute values on 64-bit floats; a fused multiply-add
//!   is two. Filters by their lengths, which are designed here again with the meters' own designer and checked against
//!   what the meters tell of themselves. A real transform of n points: 2.5·n·log₂ n (the usual count, from memory).
//!   Divisions count as one, though they take longer; integers and copying count as nothing.
//! - *Bytes*: what a stage has to read and write at least once: its samples, and what it keeps of them. Taps and filter
//!   states, which stay where they are, do not count. A block has gone through all stages before it leaves the
//!   first-level cache, so that cache's bandwidth is the limit; from memory come only the samples themselves.
//! - *Waiting*: where each sample needs the result of the one before, the longest chain of dependent operations.

use std::f64::consts::{LOG2_E, TAU};
use trimwatch::signal::{
    ballistics::{PpmPair, Vu},
    biquad::Cascade,
    clipping::ClippingWatch,
    cross_spectrum::CrossSpectrum,
    demodulator::{BLOCK, Demodulator, decimation},
    kaiser::low_pass,
    magnitudes::{self, Magnitudes},
    quantile::MagnitudeHistogram,
    quasi_peak::QuasiPeak,
    running::Running,
    step_equaliser::StepEqualiser,
    tone_search::ToneSearch,
    true_peak::TruePeak,
    weighting::wow_flutter_weighting,
};

pub const TONE_HZ: f64 = 3150.0;

/// What a stage has to do for a frame.
#[derive(Clone, Copy, Debug, Default)]
pub struct Work {
    /// Floating-point operations.
    pub operations: f64,
    /// Bytes in and out.
    pub bytes: f64,
    /// Dependent operations, one after the other.
    pub waiting: f64,
}

/// A stage, ready to run.
pub struct Stage {
    pub name: &'static str,
    /// Whether it runs on every frame of a followed tone (the others: on programme).
    pub on_a_tone: bool,
    /// Frames that one run stands for.
    pub frames: f64,
    pub work: Work,
    pub run: Box<dyn FnMut()>,
}

/// Names in the order of [`all`].
pub const NAMES: [&str; 13] = [
    "tone search, keeping",
    "tone search, looking",
    "demodulator",
    "level: rms",
    "level: true peak",
    "level: peak programme meters",
    "level: VU",
    "level: clipping",
    "flutter: weighting and bands",
    "flutter: scrape",
    "flutter: quasi-peak",
    "flutter: statistics",
    "programme: cross spectrum",
];

/// The stage of that name at that rate.
pub fn named(name: &str, rate_hz: u32) -> Option<Stage> {
    let position = NAMES.iter().position(|known| *known == name)?;
    let makers: [fn(f64) -> Stage; 13] = [
        tone_search_keeping,
        tone_search_looking,
        demodulator,
        level_rms,
        level_true_peak,
        level_peak_programme_meters,
        level_vu,
        level_clipping,
        flutter_weighting_and_bands,
        flutter_scrape,
        flutter_quasi_peak,
        flutter_statistics,
        programme_cross_spectrum,
    ];
    let mut stage = makers[position](f64::from(rate_hz));
    stage.name = NAMES[position];
    Some(stage)
}

fn stage(frames: f64, work: Work, run: impl FnMut() + 'static) -> Stage {
    Stage {
        name: "",
        on_a_tone: true,
        frames,
        work,
        run: Box::new(run),
    }
}

/// A second of a tone with some flutter and noise on both channels; its end joins on to its beginning.
pub fn second(rate_hz: u32) -> [Vec<f64>; 2] {
    let rate = f64::from(rate_hz);
    let mut random = random();
    let wave: Vec<f64> = (0..rate_hz)
        .map(|i| {
            let t = f64::from(i) / rate;
            let flutter = -0.001 / (TAU * 6.0) * (TAU * 6.0 * t).cos();
            0.4 * (TAU * TONE_HZ * (t + flutter)).sin() + 1e-3 * random()
        })
        .collect();
    late_on_the_right(wave)
}

/// A second of unlike samples with something in common: programme.
pub fn programme(rate_hz: u32) -> [Vec<f64>; 2] {
    let mut random = random();
    late_on_the_right((0..rate_hz).map(|_| 0.2 * random()).collect())
}

fn late_on_the_right(wave: Vec<f64>) -> [Vec<f64>; 2] {
    let mut late = wave.clone();
    late.rotate_right(1);
    [wave, late]
}

/// Numbers between −0.5 and 0.5 (a linear congruence: good enough to be no tone).
fn random() -> impl FnMut() -> f64 {
    let mut state = 7u32;
    move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state) / f64::from(u32::MAX) - 0.5
    }
}

/// A block of the meters on both channels.
fn block(rate_hz: f64) -> [Vec<f64>; 2] {
    let samples = decimation(rate_hz) * BLOCK;
    second(rate_hz as u32).map(|channel| channel[..samples].to_vec())
}

/// Half a second of the deviation at the rate behind the demodulator, percent.
fn deviation(rate_hz: f64) -> (Vec<f64>, f64) {
    let deviation_hz = rate_hz / decimation(rate_hz) as f64;
    let mut random = random();
    let count = (0.5 * deviation_hz) as u32;
    let percent = (0..count).map(|i| {
        let t = f64::from(i) / deviation_hz;
        0.1 * (TAU * 6.0 * t).sin() + 0.02 * random()
    });
    (percent.collect(), deviation_hz)
}

/// Frames that so many samples of the deviation stand for.
fn frames_of(deviations: usize, rate_hz: f64) -> f64 {
    (deviations * decimation(rate_hz)) as f64
}

const BYTES: f64 = size_of::<f64>() as f64;
const CHANNELS: f64 = 2.0;
/// A second-order section, transposed direct form II: five products, four sums; the next output waits for two products
/// and two sums.
const SECTION: f64 = 9.0;
const SECTION_WAITING: f64 = 4.0;

fn log2(x: f64) -> f64 {
    x.ln() * LOG2_E
}

fn real_transform(points: f64) -> f64 {
    2.5 * points * log2(points)
}

fn tone_search_keeping(rate_hz: f64) -> Stage {
    let mut search = ToneSearch::new(rate_hz, 2);
    let input = block(rate_hz);
    let work = Work {
        bytes: CHANNELS * 2.0 * BYTES,
        ..Work::default()
    };
    stage(input[0].len() as f64, work, move || {
        search.push(std::hint::black_box(&input));
    })
}

/// One look at both channels, four times a second.
fn tone_search_looking(rate_hz: f64) -> Stage {
    let mut search = ToneSearch::new(rate_hz, 2);
    search.push(&second(rate_hz as u32));
    let frames = rate_hz / 4.0;
    let points = search.window_s() * rate_hz;
    // Mean, offset and window; powers of half as many bins, their sum.
    let a_channel = real_transform(points) + 3.0 * points + points / 2.0 * (4.0 + 1.0);
    let work = Work {
        operations: CHANNELS * a_channel / frames,
        // Samples and window in, the transform in place, bins out.
        bytes: CHANNELS * 5.0 * points * BYTES / frames,
        waiting: 0.0,
    };
    stage(frames, work, move || {
        let tone_hz = std::hint::black_box(Some(TONE_HZ));
        std::hint::black_box((search.analyse(0, tone_hz), search.analyse(1, tone_hz)));
    })
}

/// Lengths of the demodulator's two filters: its own designs (`src/signal/demodulator.rs`) once more, checked against
/// the delay it tells.
fn filter_lengths(rate_hz: f64, demodulator: &Demodulator) -> (f64, f64) {
    let output_hz = demodulator.output_rate_hz();
    let to_upper_image_hz = rate_hz - 2.0 * TONE_HZ;
    let wide_pass_hz = 1250.0_f64.min(0.42 * to_upper_image_hz);
    let wide_stop_hz = (output_hz - wide_pass_hz).min(to_upper_image_hz - wide_pass_hz);
    let wide = low_pass(wide_pass_hz / rate_hz, wide_stop_hz / rate_hz, 110.0).len();
    let narrow = low_pass(300.0 / output_hz, 620.0 / output_hz, 100.0).len();
    let delay_s = (wide / 2) as f64 / rate_hz + (narrow / 2) as f64 / output_hz;
    assert!(
        (delay_s - demodulator.delay_s()).abs() < 1e-9,
        "the demodulator's filters are no longer those counted here: {delay_s} s instead of {} s",
        demodulator.delay_s()
    );
    (wide as f64, narrow as f64)
}

fn demodulator(rate_hz: f64) -> Stage {
    let mut demodulator = Demodulator::new(rate_hz, 2, TONE_HZ);
    let (wide, narrow) = filter_lengths(rate_hz, &demodulator);
    let input = block(rate_hz);
    // An output: both filters on a real and an imaginary part; three complex products (carrier, tracker, step); an
    // angle by a series of about twenty.
    let an_output = 4.0 * wide + 4.0 * narrow + 3.0 * 6.0 + 20.0;
    let a_frame = 1.0 / decimation(rate_hz) as f64;
    let work = Work {
        operations: CHANNELS * a_frame * an_output,
        // Samples in and kept; a wide and a narrow sample out.
        bytes: CHANNELS * BYTES * (2.0 + 5.0 * a_frame),
        waiting: 0.0,
    };
    stage(input[0].len() as f64, work, move || {
        demodulator.process(std::hint::black_box(&input));
    })
}

fn level_rms(rate_hz: f64) -> Stage {
    let input = block(rate_hz);
    let work = Work {
        operations: CHANNELS * 4.0,
        bytes: CHANNELS * BYTES,
        waiting: 0.0,
    };
    stage(input[0].len() as f64, work, move || {
        for channel in &input {
            std::hint::black_box(Magnitudes::of(std::hint::black_box(channel)));
        }
    })
}

/// Told that only the upper 30 % matter, as the meter does.
fn level_true_peak(rate_hz: f64) -> Stage {
    let input = block(rate_hz);
    let mut meters = [TruePeak::new(input[0].len()), TruePeak::new(input[0].len())];
    let work = Work {
        // The greatest magnitude; then of each sample whether it is high and a local extreme.
        operations: CHANNELS * (2.0 + 6.0),
        bytes: CHANNELS * 2.0 * BYTES,
        waiting: 0.0,
    };
    stage(input[0].len() as f64, work, move || {
        for (meter, channel) in meters.iter_mut().zip(&input) {
            std::hint::black_box(meter.process(std::hint::black_box(channel), 0.28));
        }
    })
}

/// Three rectifiers a channel.
fn level_peak_programme_meters(rate_hz: f64) -> Stage {
    let input = block(rate_hz);
    let mut meters = PpmPair::new(rate_hz);
    let work = Work {
        // A magnitude; for each rectifier two products and a sum of three to charge, one to discharge, the greater.
        operations: CHANNELS * (1.0 + 3.0 * 5.0),
        bytes: CHANNELS * BYTES,
        // Four samples a step: a fused product and sum, then the greatest of five lines in three rounds.
        waiting: 1.0,
    };
    stage(input[0].len() as f64, work, move || {
        meters.process(std::hint::black_box(&input[0]), &input[1]);
    })
}

/// Once a block.
fn level_vu(rate_hz: f64) -> Stage {
    let frames = (decimation(rate_hz) * BLOCK) as f64;
    let mut meters = [Vu::new(rate_hz / frames), Vu::new(rate_hz / frames)];
    let blocks = 100;
    let work = Work {
        operations: CHANNELS * 8.0 / frames,
        bytes: 0.0,
        waiting: 4.0 / frames,
    };
    stage(frames * f64::from(blocks), work, move || {
        for _ in 0..blocks {
            for meter in &mut meters {
                meter.push(std::hint::black_box(0.25));
            }
        }
    })
}

fn level_clipping(rate_hz: f64) -> Stage {
    let window = (0.05 * rate_hz) as usize;
    let mut watches = [ClippingWatch::new(window), ClippingWatch::new(window)];
    let [left, right] = second(rate_hz as u32);
    let samples = decimation(rate_hz) * BLOCK;
    let work = Work {
        // The greatest magnitude at full scale and of the window; then whether it is near the top.
        operations: CHANNELS * (2.0 + 2.0 + 2.0),
        bytes: CHANNELS * 3.0 * BYTES,
        waiting: 0.0,
    };
    stage(rate_hz, work, move || {
        for (left, right) in left.chunks(samples).zip(right.chunks(samples)) {
            for (watch, block) in watches.iter_mut().zip([left, right]) {
                // The meter knows the greatest from its pass for rms.
                std::hint::black_box(watch.process(block, magnitudes::greatest(block)));
            }
        }
    })
}

fn run_on_deviation(
    rate_hz: f64,
    operations: f64,
    waiting: f64,
    mut process: impl FnMut(f64) -> f64 + 'static,
) -> Stage {
    let (percent, _) = deviation(rate_hz);
    let a_frame = 1.0 / decimation(rate_hz) as f64;
    let work = Work {
        operations: operations * a_frame,
        bytes: BYTES * a_frame,
        waiting: waiting * a_frame,
    };
    stage(frames_of(percent.len(), rate_hz), work, move || {
        let outputs = percent.iter().map(|x| process(std::hint::black_box(*x)));
        std::hint::black_box(outputs.sum::<f64>());
    })
}

/// The filters of `src/meters/flutter.rs` but for scrape: weighting with its edge, the unweighted band, and at an eighth
/// of the rate drift, wow and flutter.
fn flutter_weighting_and_bands(rate_hz: f64) -> Stage {
    const SLOW: u32 = 8;
    let (_, fast_hz) = deviation(rate_hz);
    let slow_hz = fast_hz / f64::from(SLOW);
    let mut edge = Cascade::butterworth_low_pass(8, 255.0, fast_hz);
    let mut weighting = wow_flutter_weighting(fast_hz);
    let mut upper = Cascade::butterworth_low_pass(8, 200.0, fast_hz);
    let mut lower = Cascade::butterworth_high_pass(3, 0.2, fast_hz);
    let mut drift = Cascade::butterworth_low_pass(4, 0.5, slow_hz);
    let mut wow = [
        Cascade::butterworth_high_pass(4, 0.5, slow_hz),
        Cascade::butterworth_low_pass(4, 6.0, slow_hz),
    ];
    let mut flutter = Cascade::butterworth_high_pass(4, 6.0, slow_hz);
    let fast_sections = 4.0 + 6.0 + 4.0 + 2.0;
    let slow_sections = 2.0 + 4.0 + 2.0;
    let operations = SECTION * (fast_sections + slow_sections / f64::from(SLOW));
    let mut phase = 0;
    run_on_deviation(rate_hz, operations, SECTION_WAITING, move |percent| {
        let limited = upper.process(percent);
        let unweighted = lower.process(limited);
        let weighted = weighting.process(edge.process(percent));
        phase = (phase + 1) % SLOW;
        let slow = if phase == 0 {
            let above = wow[0].process(limited);
            let wow = wow[1].process(above);
            drift.process(limited) + wow + flutter.process(limited)
        } else {
            0.0
        };
        unweighted + weighted + slow
    })
}

fn flutter_scrape(rate_hz: f64) -> Stage {
    let (_, fast_hz) = deviation(rate_hz);
    let mut low = Cascade::butterworth_high_pass(8, 200.0, fast_hz);
    let mut high = Cascade::butterworth_low_pass(6, 1250.0, fast_hz);
    let mut equaliser = StepEqualiser::default();
    // Seven symmetric taps: three sums of pairs, four products, three sums.
    let operations = SECTION * (4.0 + 3.0) + 10.0;
    run_on_deviation(rate_hz, operations, SECTION_WAITING, move |percent| {
        high.process(low.process(equaliser.process(percent)))
    })
}

/// Both paths.
fn flutter_quasi_peak(rate_hz: f64) -> Stage {
    let (_, fast_hz) = deviation(rate_hz);
    let mut indicators = [QuasiPeak::new(fast_hz), QuasiPeak::new(fast_hz)];
    // Two memories that leak and charge, a pointer; a memory waits for its leak, its distance, its charge and their sum.
    let operations = 2.0 * (2.0 * 4.0 + 6.0);
    run_on_deviation(rate_hz, operations, 4.0, move |percent| {
        indicators[0].push(percent) + indicators[1].push(0.5 * percent)
    })
}

/// Both paths: the histogram of two-sigma, means of the deviation and of the pointer.
fn flutter_statistics(rate_hz: f64) -> Stage {
    let mut histograms = [MagnitudeHistogram::default(), MagnitudeHistogram::default()];
    let mut running = [Running::default(); 4];
    // A running mean: two differences, a division, a product, two sums, two comparisons.
    let operations = 4.0 * 8.0 + 2.0;
    run_on_deviation(rate_hz, operations, 4.0, move |percent| {
        histograms[0].push(percent);
        histograms[1].push(0.5 * percent);
        running.iter_mut().for_each(|running| running.push(percent));
        percent
    })
}

fn programme_cross_spectrum(rate_hz: f64) -> Stage {
    let [left, right] = programme(rate_hz as u32);
    let mut spectrum = CrossSpectrum::new(rate_hz, f64::INFINITY);
    let samples = decimation(rate_hz) * BLOCK;
    let points = ((0.06 * rate_hz) as usize).next_power_of_two() as f64;
    // Every half window: both channels windowed and transformed; a complex product and two powers added to averages
    // that fade.
    let a_transform = CHANNELS * (points + real_transform(points)) + points / 2.0 * 24.0;
    let a_frame = 2.0 / points;
    let work = Work {
        operations: a_frame * a_transform,
        bytes: a_frame * BYTES * points * (CHANNELS * 4.0 + 4.0),
        waiting: 0.0,
    };
    let run = move || {
        for (left, right) in left.chunks(samples).zip(right.chunks(samples)) {
            spectrum.push(left, right);
        }
    };
    Stage {
        on_a_tone: false,
        ..stage(rate_hz, work, run)
    }
}
