//! Timing: the fastest of many runs, which is the one that nothing else has disturbed.

use std::{hint::black_box, time::Instant};

/// Seconds of the fastest of `runs` calls, after one that warms up.
pub fn fastest_s<T>(runs: usize, mut work: impl FnMut() -> T) -> f64 {
    black_box(work());
    let times = (0..runs).map(|_| {
        let began = Instant::now();
        black_box(work());
        began.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}
