//! The weighting curve for wow and flutter of IEC 60386 (equal to DIN 45507 and AES6).
//!
//! An analog prototype fitted to the standard's table (values from memory; they stand in
//! `calibration/weighting/`, where the tests check this filter): three zeros at the origin, a resonant pole pair
//! below 0.5 Hz, and five real poles and zeros that bend the slopes. Frequencies in Hz.

use super::biquad::{AnalogSection, Biquad, Cascade};
use rustfft::num_complex::Complex64;
use std::f64::consts::PI;

const PAIR_HZ: f64 = 0.436_03;
const PAIR_Q: f64 = 0.711_04;
const POLE_1_HZ: f64 = 1.830_18;
const ZERO_2_HZ: f64 = 92.487_43;
const POLE_2_HZ: f64 = 4.667_63;
const ZERO_3_HZ: f64 = 6.889_76;
const POLE_3_HZ: f64 = 117.347_97;
const POLE_4_HZ: f64 = 13.619_18;
/// Where the curve is 0 dB by definition.
const REFERENCE_HZ: f64 = 4.0;

/// The weighting filter for a deviation sampled at `rate_hz`. The bilinear transform bends its upper end: from
/// 3300 Hz up it stays within the table's ±0.25 dB bar at 200 Hz.
pub fn wow_flutter_weighting(rate_hz: f64) -> Cascade {
    let w = |hz: f64| 2.0 * PI * hz;
    let sections = [
        AnalogSection {
            b: [0.0, 0.0, 1.0],
            a: [w(PAIR_HZ) * w(PAIR_HZ), w(PAIR_HZ) / PAIR_Q, 1.0],
        },
        AnalogSection {
            b: [0.0, w(ZERO_2_HZ), 1.0],
            a: [
                w(POLE_1_HZ) * w(POLE_2_HZ),
                w(POLE_1_HZ) + w(POLE_2_HZ),
                1.0,
            ],
        },
        AnalogSection {
            b: [w(ZERO_3_HZ), 1.0, 0.0],
            a: [
                w(POLE_3_HZ) * w(POLE_4_HZ),
                w(POLE_3_HZ) + w(POLE_4_HZ),
                1.0,
            ],
        },
    ];
    let biquads: Vec<Biquad> = sections
        .iter()
        .map(|section| Biquad::bilinear(section, rate_hz, 0.0))
        .collect();
    let at_reference: Complex64 = biquads
        .iter()
        .map(|biquad| biquad.response(REFERENCE_HZ / rate_hz))
        .product();
    Cascade::new(biquads, 1.0 / at_reference.norm())
}
