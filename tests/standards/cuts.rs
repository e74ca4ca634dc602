//! The same samples give the same readings to the last bit, however the stream is cut and whoever looks on.

use crate::{
    stage::{Bench, TONE_HZ, json, tape},
    synth::{Noise, fluttering, stereo, tone},
};
use rand_pcg::rand_core::Rng as _;
use rand_pcg::{Pcg64Mcg, rand_core::SeedableRng as _};
use std::sync::Arc;
use trimwatch::tables::mechanism;

const SAMPLE_RATE_HZ: f64 = 48_000.0;

/// Flutter, noise, a delay and two dropouts.
fn worn_deck() -> Vec<f32> {
    let wave = tone(
        TONE_HZ * 1.012,
        0.4,
        fluttering([(0.6, 0.1), (6.1, 0.06), (33.0, 0.02)]),
    );
    let faded = |t: f64| {
        if (4.0..4.02).contains(&(t % 5.0)) {
            0.03
        } else {
            1.0
        }
    };
    let left = move |t: f64| faded(t) * wave(t);
    let right = move |t: f64| 0.9 * faded(t) * wave(t - 15e-6);
    let mut take = stereo(SAMPLE_RATE_HZ, 12.0, left, right);
    Noise::new(7).add(&mut take, 1e-3);
    take
}

fn left_of(stereo: &[f32]) -> Vec<f32> {
    stereo.iter().copied().step_by(2).collect()
}

/// Final readings of a take fed in pieces of `frames(n)` frames, the n-th piece.
fn fed_in(take: &[f32], channels: u16, mut frames: impl FnMut() -> usize) -> String {
    let mut bench = Bench::new(SAMPLE_RATE_HZ, channels, &tape(TONE_HZ));
    let mut rest = take;
    while !rest.is_empty() {
        let samples = (frames() * usize::from(channels)).min(rest.len());
        let (piece, later) = rest.split_at(samples);
        bench.feed(piece);
        rest = later;
    }
    json(&bench.over())
}

#[test]
fn any_cut_gives_the_same_readings() {
    let stereo = worn_deck();
    for (channels, take) in [(2, stereo.clone()), (1, left_of(&stereo))] {
        let whole = fed_in(&take, channels, || usize::MAX / 2);
        assert!(
            whole.contains("\"dropouts\":2"),
            "the take lacks its dropouts: {whole}"
        );
        for frames in [1, 64, 480, 4096] {
            assert_eq!(fed_in(&take, channels, || frames), whole, "{frames} frames");
        }
        let mut random = Pcg64Mcg::seed_from_u64(3);
        let cut = fed_in(&take, channels, || random.next_u32() as usize % 3000);
        assert_eq!(cut, whole, "random cuts");
    }
}

/// What is live is the same too: the swing in the last turn, of a take that stops in the middle of one.
#[test]
fn the_swing_of_the_last_turn_does_not_depend_on_the_cut() {
    let take = &worn_deck()[..2 * (11.3 * SAMPLE_RATE_HZ) as usize];
    let mut setup = tape(TONE_HZ);
    setup.mechanism = Some(Arc::new(mechanism("dual-capstan-cassette").unwrap()));
    let swing = |frames: usize| {
        let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &setup);
        for piece in take.chunks(2 * frames) {
            bench.feed(piece);
        }
        bench.now().speed.last_turn
    };
    let whole = swing(usize::MAX / 4);
    assert!(whole.part.is_some() && whole.seconds > 0.5, "{whole:?}");
    // ±0.1 % at 0.6 Hz, half a turn of which is looked at or more, and ±0.06 % at 6.1 Hz, less what 50 ms average.
    let percent = whole.peak_to_peak_percent.expect("a whole turn");
    assert!((0.1..0.33).contains(&percent), "{whole:?}");
    for frames in [64, 480, 4096] {
        assert_eq!(swing(frames), whole, "{frames} frames");
    }
}

#[test]
fn looking_on_changes_nothing() {
    let take = worn_deck();
    let unwatched = fed_in(&take, 2, || 480);
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    for piece in take.chunks(2 * 1600) {
        bench.feed(piece).now();
    }
    assert_eq!(json(&bench.over()), unwatched);
}

#[test]
fn two_runs_are_one() {
    let take = worn_deck();
    assert_eq!(fed_in(&take, 2, || 1024), fed_in(&take, 2, || 1024));
}

/// A reset forgets what came before: the averages are those of what follows.
#[test]
fn after_a_reset_nothing_of_before_is_left() {
    let before = stereo(
        SAMPLE_RATE_HZ,
        12.0,
        |t| 0.9 * tone(3200.0, 1.0, fluttering([(2.0, 0.4)]))(t),
        |_| f64::NAN,
    );
    let take = worn_deck();
    let mut bench = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    bench.feed(&before).feed(&take[..2 * 96_000]);
    bench.bank.reset_averages();
    let after = bench.feed(&take[2 * 96_000..]).over();
    let fresh = Bench::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ))
        .feed(&take[2 * 96_000..])
        .over();
    let close = |what: &str, a: Option<f64>, b: Option<f64>, tolerance| {
        crate::stage::assert_near(what, a.unwrap(), b.unwrap(), tolerance);
    };
    close(
        "speed",
        after.speed.deviation_percent,
        fresh.speed.deviation_percent,
        0.01,
    );
    close(
        "peak",
        after.level.left.peak_dbfs,
        fresh.level.left.peak_dbfs,
        0.01,
    );
    close(
        "balance",
        after.level.balance_db,
        fresh.level.balance_db,
        0.01,
    );
    close("delay", after.phase.delay_us, fresh.phase.delay_us, 0.01);
    close(
        "rms",
        after.flutter.weighted.rms_percent,
        fresh.flutter.weighted.rms_percent,
        0.04,
    );
    assert_eq!(after.level.dropouts, fresh.level.dropouts);
    assert_eq!(after.notices, fresh.notices);
}
