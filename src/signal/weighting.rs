//! The weighting curve for wow and flutter of IEC 60386 (equal to DIN 45507 and AES6).
//!
//! An analog prototype fitted to the standard's table (values from memory; they stand in `calibration/weighting/`,
//! where the tests check this filter): three zeros at the origin, a resonant pole pair below 0.5 Hz, real poles and
//! zeros that bend the slopes, and three shallow bells for what the table's own bends need.

use super::biquad::{AnalogSection, Biquad, Cascade};
use rustfft::num_complex::Complex64;
use std::f64::consts::PI;

/// Pole pair below the band: frequency, Hz, and Q.
const PAIR: (f64, f64) = (0.390_86, 0.726_31);
/// Real poles and zeros, Hz.
const POLES_HZ: [f64; 4] = [3.301_93, 3.301_88, 18.616_17, 45.783_14];
const ZEROS_HZ: [f64; 2] = [9.217_66, 39.858_91];
/// Bells: frequency, Hz, Q, height, dB.
const BELLS: [(f64, f64, f64); 3] = [
    (61.035_86, 1.905_14, -0.688_22),
    (0.861_79, 0.735_82, 1.522_82),
    (10.783_41, 1.898_74, 0.666_24),
];
/// Where the curve is 0 dB by definition.
const REFERENCE_HZ: f64 = 4.0;

/// The weighting filter for a deviation sampled at `rate_hz`. The bilinear transform bends its upper end: from
/// 3300 Hz up it stays within 0.15 dB of the table at 200 Hz, and much nearer below.
pub fn wow_flutter_weighting(rate_hz: f64) -> Cascade {
    let w = |hz: f64| 2.0 * PI * hz;
    let pair = |hz: f64, q: f64| [w(hz) * w(hz), w(hz) / q, 1.0];
    let two_poles = |a: f64, b: f64| [w(a) * w(b), w(a) + w(b), 1.0];
    let slopes = [
        AnalogSection {
            b: [0.0, 0.0, 1.0],
            a: pair(PAIR.0, PAIR.1),
        },
        AnalogSection {
            b: [0.0, w(ZEROS_HZ[0]), 1.0],
            a: two_poles(POLES_HZ[0], POLES_HZ[1]),
        },
        AnalogSection {
            b: [w(ZEROS_HZ[1]), 1.0, 0.0],
            a: two_poles(POLES_HZ[2], POLES_HZ[3]),
        },
    ];
    let bells = BELLS.map(|(hz, q, height_db)| {
        let root = 10f64.powf(height_db / 40.0);
        AnalogSection {
            b: pair(hz, q / root),
            a: pair(hz, q * root),
        }
    });
    let biquads: Vec<Biquad> = slopes
        .iter()
        .chain(&bells)
        .map(|section| Biquad::bilinear(section, rate_hz, 0.0))
        .collect();
    let at_reference: Complex64 = biquads
        .iter()
        .map(|biquad| biquad.response(REFERENCE_HZ / rate_hz))
        .product();
    Cascade::new(biquads, 1.0 / at_reference.norm())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of IEC 60386 (values from memory), at every rate that `demodulator::decimation` can give.
    #[test]
    fn follows_the_table_at_every_processing_rate() {
        let table = include_str!("../../calibration/weighting/iec-60386.csv");
        let rows = table.lines().filter(|line| !line.starts_with('#'));
        let points: Vec<(f64, f64)> = rows
            .filter_map(|row| {
                let mut cells = row.split(',').map(str::parse::<f64>);
                Some((cells.next()?.ok()?, cells.next()?.ok()?))
            })
            .collect();
        assert_eq!(points.len(), 17);
        for rate_hz in [3200.0, 3675.0, 4000.0, 4166.7, 5300.0] {
            let filter = wow_flutter_weighting(rate_hz);
            for &(hz, table_db) in points.iter().filter(|(hz, _)| *hz >= 0.2) {
                let db = 20.0 * filter.response(hz / rate_hz).norm().log10();
                // The bar is 0.25 dB; 2 % of a reading on one line is 0.17 dB.
                let bar_db = if hz < 200.0 { 0.06 } else { 0.17 };
                assert!((db - table_db).abs() < bar_db, "{rate_hz} {hz}: {db:.2} dB");
            }
        }
    }
}
