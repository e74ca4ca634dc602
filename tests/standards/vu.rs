//! IEC 60268-17, volume indicator: 99 % of the steady reading 300 ms after a tone begins (published), overshoot 1 to
//! 1.5 %, full-wave average, equal fall (values from memory).

use crate::{
    stage::{Bench, assert_near, tape},
    synth::{mono, tone, true_speed},
};
use trimwatch::signal::{ballistics::Vu, demodulator};

/// The pointer every 2 to 4 ms: a tone of amplitude 1 for 3 s, then nothing for 1 s. Times in s, deflection 1 = steady.
fn swing(sample_rate_hz: f64) -> Vec<(f64, f64)> {
    let block = demodulator::decimation(sample_rate_hz) * demodulator::BLOCK;
    let samples = mono(sample_rate_hz, 4.0, |t| {
        if t < 3.0 {
            tone(997.0, 1.0, true_speed)(t)
        } else {
            0.0
        }
    });
    let mut vu = Vu::new(sample_rate_hz / block as f64);
    let mut time_s = 0.0;
    samples
        .chunks_exact(block)
        .map(|block| {
            let magnitudes: f64 = block.iter().map(|x| f64::from(x.abs())).sum();
            vu.push(magnitudes / block.len() as f64);
            time_s += block.len() as f64 / sample_rate_hz;
            (time_s, vu.sine_peak())
        })
        .collect()
}

/// The deflection at a time, on a straight line between neighbours.
fn at(swing: &[(f64, f64)], time_s: f64) -> f64 {
    let after = swing.iter().position(|(t, _)| *t >= time_s).unwrap();
    let ((t0, y0), (t1, y1)) = (swing[after - 1], swing[after]);
    y0 + (y1 - y0) * (time_s - t0) / (t1 - t0)
}

#[test]
fn rise_overshoot_and_fall() {
    for sample_rate_hz in [44_100.0, 48_000.0, 96_000.0, 192_000.0] {
        let swing = swing(sample_rate_hz);
        let what = |of| format!("{of} at {sample_rate_hz} Hz");
        assert_near(what("after 300 ms"), at(&swing, 0.3), 0.99, 0.005);
        let greatest = swing.iter().map(|(_, y)| *y).fold(0.0, f64::max);
        assert_near(what("overshoot"), greatest, 1.0125, 0.0025);
        assert_near(what("steady"), at(&swing, 2.9), 1.0, 0.002);
        // The fall mirrors the rise.
        assert_near(what("300 ms after the end"), at(&swing, 3.3), 0.01, 0.005);
    }
}

/// The same through the whole bank: 300 ms of a full-scale tone.
#[test]
fn the_reading_rises_in_300_ms() {
    let take = mono(48_000.0, 0.3, tone(997.0, 1.0, true_speed));
    let reading = Bench::new(48_000.0, 1, &tape(3150.0)).feed(&take).now();
    let vu_dbfs = reading.level.left.vu_dbfs.unwrap();
    assert_near("VU, dB", vu_dbfs, 20.0 * 0.99f64.log10(), 0.045);
}
