//! Kaiser-windowed linear-phase low-pass design (Kaiser 1974; the usual empirical order and β formulas, textbook).

use std::f64::consts::PI;

/// Zeroth-order modified Bessel function of the first kind, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let half_square = x * x / 4.0;
    let (mut term, mut sum, mut k) = (1.0, 1.0, 1.0);
    while term > 1e-18 * sum {
        term *= half_square / (k * k);
        sum += term;
        k += 1.0;
    }
    sum
}

/// A low-pass of unit gain at 0 Hz, an odd number of taps, symmetric.
///
/// `pass` and `stop` are the band edges as fractions of the sample rate, `stop_db` the attenuation beyond `stop`
/// (positive, above 50); the passband ripple is as small as the stopband's.
pub fn low_pass(pass: f64, stop: f64, stop_db: f64) -> Vec<f64> {
    debug_assert!(0.0 < pass && pass < stop && stop_db > 50.0);
    let order = ((stop_db - 7.95) / (14.36 * (stop - pass))).ceil().max(2.0) as usize;
    let half = order.div_ceil(2);
    let beta = 0.1102 * (stop_db - 8.7);
    let cutoff = (pass + stop) / 2.0;
    let mut taps: Vec<f64> = (0..=2 * half)
        .map(|i| {
            let t = i as f64 - half as f64;
            let x = t / half as f64;
            let window = bessel_i0(beta * (1.0 - x * x).sqrt()) / bessel_i0(beta);
            let sinc = if t == 0.0 {
                2.0 * cutoff
            } else {
                (2.0 * PI * cutoff * t).sin() / (PI * t)
            };
            sinc * window
        })
        .collect();
    let gain: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= gain);
    taps
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain_db(taps: &[f64], frequency: f64) -> f64 {
        let half = (taps.len() / 2) as f64;
        let sum: f64 = taps
            .iter()
            .enumerate()
            .map(|(i, tap)| tap * (2.0 * PI * frequency * (i as f64 - half)).cos())
            .sum();
        20.0 * sum.abs().max(1e-12).log10()
    }

    #[test]
    fn keeps_its_band_edges() {
        for (pass, stop, db) in [(1250.0 / 48e3, 2750.0 / 48e3, 110.0), (0.075, 0.155, 100.0)] {
            let taps = low_pass(pass, stop, db);
            for i in 0..=200 {
                let x = f64::from(i) / 200.0;
                assert!(gain_db(&taps, pass * x).abs() < 1e-3);
                assert!(gain_db(&taps, stop + (0.5 - stop) * x) < -db + 1.0);
            }
        }
    }
}
