//! The sample clock: within ±1 ppm after 20 minutes, whatever the computer's clock does meanwhile, and never surer of
//! itself than it may be. `cargo bench --bench profile` does the same with 200 seeds each and more kinds of trouble.

use crate::simulated_card::{Capture, ERROR_PPM, Jitter, Wall};
use trimwatch::readings::ClockReading;

/// Where coverage is looked at.
const SEEDS: u64 = 20;
/// Where one would nearly do.
const FEW: u64 = 5;

/// Readings of the same capture with that many seeds.
fn read(capture: Capture, seeds: u64) -> Vec<ClockReading> {
    (0..seeds).map(|seed| capture.read(seed)).collect()
}

fn honest_but(change: impl Fn(&mut Capture)) -> Capture {
    let mut capture = Capture::honest();
    change(&mut capture);
    capture
}

fn error_ppm(reading: &ClockReading) -> f64 {
    reading.error_ppm.unwrap() - ERROR_PPM
}

/// Every figure within `within_ppm` of the truth, and no more than one of ten outside its own uncertainty (k = 2):
/// of twenty at 95 % three would be more than chance allows (7.5 %).
#[track_caller]
fn assert_good(readings: &[ClockReading], within_ppm: f64) {
    let missed = readings.iter().filter(|reading| {
        let error = error_ppm(reading).abs();
        assert!(error < within_ppm, "{error} ppm off: {reading:?}");
        error > reading.uncertainty_ppm.unwrap()
    });
    assert!(10 * missed.count() <= readings.len(), "{readings:?}");
}

#[track_caller]
fn assert_sure_within(readings: &[ClockReading], ppm: f64) {
    for reading in readings {
        assert!(reading.uncertainty_ppm.unwrap() < ppm, "{reading:?}");
    }
}

#[test]
fn two_milliseconds_of_jitter_leave_one_ppm_after_twenty_minutes() {
    for jitter in [
        Jitter::Even(0.002),
        Jitter::Exponential(0.002),
        Jitter::Normal(0.002),
    ] {
        let readings = read(honest_but(|capture| capture.jitter = jitter), SEEDS);
        assert_good(&readings, 1.0);
        // Noise without an edge leaves more room for doubt.
        let sure = if let Jitter::Normal(_) = jitter {
            4.0
        } else {
            1.0
        };
        assert_sure_within(&readings, sure);
        assert!(readings.iter().all(|reading| reading.breaks == 0));
        assert!(
            readings
                .iter()
                .all(|reading| (reading.seconds - 1200.0).abs() < 10.0)
        );
    }
}

#[test]
fn a_jump_of_the_clock_is_no_rate() {
    for by_s in [-3600.0, 0.005, 86_400.0] {
        let readings = read(
            honest_but(|capture| capture.wall = Wall::Set(500.0, by_s)),
            FEW,
        );
        assert_good(&readings, 1.0);
        assert_sure_within(&readings, 1.0);
        assert!(
            readings.iter().all(|reading| reading.breaks == 1),
            "{readings:?}"
        );
    }
}

#[test]
fn suspended_time_is_no_rate_whichever_clock_sleeps_too() {
    for steady_sleeps in [true, false] {
        let suspended = Some((400.0, 300.0, steady_sleeps));
        let readings = read(honest_but(|capture| capture.suspended = suspended), FEW);
        assert_good(&readings, 1.0);
        assert_sure_within(&readings, 1.0);
        assert!(
            readings.iter().all(|reading| reading.breaks == 1),
            "{readings:?}"
        );
    }
}

#[test]
fn frames_lost_without_a_word_are_no_rate() {
    let readings = read(honest_but(|capture| capture.lost = Some((611.0, 480))), FEW);
    assert_good(&readings, 1.0);
    assert!(
        readings.iter().all(|reading| reading.breaks == 1),
        "{readings:?}"
    );
}

#[test]
fn a_clock_that_is_put_right_for_some_minutes_is_seen_and_left_out() {
    let wall = Wall::Slewed(500.0, 680.0, 20.0);
    let readings = read(honest_but(|capture| capture.wall = wall), SEEDS);
    assert_good(&readings, 1.0);
    assert_sure_within(&readings, 1.5);
    assert!(
        readings
            .iter()
            .all(|reading| reading.set_aside_seconds >= 150.0),
        "{readings:?}"
    );
}

#[test]
fn a_clock_that_drifts_throughout_makes_the_figure_unsure() {
    for wall in [
        Wall::Slewed(100.0, 460.0, 20.0),
        Wall::Settling(10.0, 300.0),
        Wall::Settling(10.0, 900.0),
        Wall::Swinging(2.0, 600.0),
    ] {
        assert_good(&read(honest_but(|capture| capture.wall = wall), FEW), 10.0);
    }
}

#[test]
fn a_load_that_comes_and_goes_is_no_rate() {
    let jitter = Jitter::Load(70.0);
    let readings = read(honest_but(|capture| capture.jitter = jitter), FEW);
    assert_good(&readings, 0.5);
    assert_sure_within(&readings, 1.0);
}

#[test]
fn the_uncertainty_shrinks_with_time_and_covers_all_the_while() {
    let mut before = f64::INFINITY;
    for seconds in [60.0, 200.0, 600.0] {
        let readings = read(honest_but(|capture| capture.seconds = seconds), SEEDS);
        assert_good(&readings, 20.0);
        let stated = readings
            .iter()
            .map(|reading| reading.uncertainty_ppm.unwrap());
        let mean = stated.sum::<f64>() / SEEDS as f64;
        assert!(mean < before, "{mean} after {seconds} s");
        before = mean;
    }
}

#[test]
fn hours_cost_no_more_memory_and_lose_no_accuracy() {
    // More windows than are kept, and more breaks than windows that are kept.
    let long = Capture {
        seconds: 7200.0,
        ..Capture::honest()
    };
    let reading = long.read(1);
    assert!(error_ppm(&reading).abs() < 0.1, "{reading:?}");
    assert!((reading.seconds - 7200.0).abs() < 70.0, "{reading:?}");
}

#[test]
fn too_little_time_gives_no_figure() {
    let reading = Capture {
        seconds: 20.0,
        ..Capture::honest()
    }
    .read(1);
    assert_eq!((reading.error_ppm, reading.uncertainty_ppm), (None, None));
}
