//! Second-order sections, Butterworth designs, and cascades of them (bilinear transform, textbook).

use rustfft::num_complex::Complex64;
use std::f64::consts::PI;

/// Analog second-order section (b0 + b1·s + b2·s²)/(a0 + a1·s + a2·s²), s in radians a second.
#[derive(Clone, Copy, Debug)]
pub struct AnalogSection {
    /// Numerator, constant term first.
    pub b: [f64; 3],
    /// Denominator, constant term first.
    pub a: [f64; 3],
}

/// One digital section, transposed direct form II.
#[derive(Clone, Copy, Debug)]
pub struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl Biquad {
    /// Bilinear transform of an analog section, exact at `warp_hz` (0: no prewarping).
    pub fn bilinear(section: &AnalogSection, rate_hz: f64, warp_hz: f64) -> Self {
        let k = if warp_hz > 0.0 {
            2.0 * PI * warp_hz / (PI * warp_hz / rate_hz).tan()
        } else {
            2.0 * rate_hz
        };
        let map = |c: [f64; 3]| {
            let (c0, c1, c2) = (c[0], c[1] * k, c[2] * k * k);
            [c0 + c1 + c2, 2.0 * (c0 - c2), c0 - c1 + c2]
        };
        let (b, a) = (map(section.b), map(section.a));
        Self {
            b: b.map(|x| x / a[0]),
            a: [a[1] / a[0], a[2] / a[0]],
            state: [0.0; 2],
        }
    }

    /// Numerator, and denominator without its leading 1; the powers of z⁻¹ rise.
    pub fn coefficients(&self) -> ([f64; 3], [f64; 2]) {
        (self.b, self.a)
    }

    /// The next output.
    #[inline]
    pub fn process(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        y
    }

    /// Puts the section where a constant input `x` for ever has brought it; returns its output there.
    pub fn settle(&mut self, x: f64) -> f64 {
        let gain = self.b.iter().sum::<f64>() / (1.0 + self.a[0] + self.a[1]);
        let y = gain * x;
        self.state[1] = self.b[2] * x - self.a[1] * y;
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        y
    }

    /// Complex gain at a frequency given as a fraction of the sample rate.
    pub fn response(&self, frequency: f64) -> Complex64 {
        let z = Complex64::from_polar(1.0, -2.0 * PI * frequency);
        let numerator = self.b[0] + z * (self.b[1] + z * self.b[2]);
        let denominator = 1.0 + z * (self.a[0] + z * self.a[1]);
        numerator / denominator
    }
}

/// Sections one after the other, with a gain.
#[derive(Clone, Debug)]
pub struct Cascade {
    sections: Vec<Biquad>,
    gain: f64,
}

impl Cascade {
    /// Sections in the order they are passed through.
    pub fn new(sections: Vec<Biquad>, gain: f64) -> Self {
        Self { sections, gain }
    }

    /// The sections.
    pub fn sections(&self) -> &[Biquad] {
        &self.sections
    }

    /// What multiplies the input of the first section.
    pub fn gain(&self) -> f64 {
        self.gain
    }

    /// Butterworth low-pass, −3.01 dB at `edge_hz` exactly.
    pub fn butterworth_low_pass(order: usize, edge_hz: f64, rate_hz: f64) -> Self {
        Self::butterworth(order, edge_hz, rate_hz, false)
    }

    /// Butterworth high-pass, −3.01 dB at `edge_hz` exactly.
    pub fn butterworth_high_pass(order: usize, edge_hz: f64, rate_hz: f64) -> Self {
        Self::butterworth(order, edge_hz, rate_hz, true)
    }

    fn butterworth(order: usize, edge_hz: f64, rate_hz: f64, high: bool) -> Self {
        let w = 2.0 * PI * edge_hz;
        let pairs = (0..order / 2).map(|i| {
            let angle = PI * (2 * i + 1) as f64 / (2 * order) as f64;
            AnalogSection {
                b: if high {
                    [0.0, 0.0, 1.0]
                } else {
                    [w * w, 0.0, 0.0]
                },
                a: [w * w, 2.0 * w * angle.sin(), 1.0],
            }
        });
        let single = (order % 2 == 1).then_some(AnalogSection {
            b: if high { [0.0, 1.0, 0.0] } else { [w, 0.0, 0.0] },
            a: [w, 1.0, 0.0],
        });
        let sections = pairs
            .chain(single)
            .map(|section| Biquad::bilinear(&section, rate_hz, edge_hz))
            .collect();
        Self::new(sections, 1.0)
    }

    /// The next output.
    #[inline]
    pub fn process(&mut self, x: f64) -> f64 {
        self.sections
            .iter_mut()
            .fold(self.gain * x, |x, section| section.process(x))
    }

    /// Puts all sections where a constant input `x` for ever has brought them.
    pub fn settle(&mut self, x: f64) {
        self.sections
            .iter_mut()
            .fold(self.gain * x, |x, section| section.settle(x));
    }

    /// Complex gain at a frequency given as a fraction of the sample rate.
    pub fn response(&self, frequency: f64) -> Complex64 {
        self.sections
            .iter()
            .fold(Complex64::from(self.gain), |h, section| {
                h * section.response(frequency)
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn butterworth_follows_its_formula() {
        let rate_hz = 4000.0;
        for (order, edge_hz) in [(3, 0.2), (8, 200.0), (4, 6.0)] {
            let low = Cascade::butterworth_low_pass(order, edge_hz, rate_hz);
            let high = Cascade::butterworth_high_pass(order, edge_hz, rate_hz);
            for factor in [0.3, 0.8, 1.0, 1.2, 3.0] {
                let f = edge_hz * factor;
                // |H|² = 1/(1 + Ω^2n) with the bilinear transform's frequency axis.
                let warped = (PI * f / rate_hz).tan() / (PI * edge_hz / rate_hz).tan();
                let low_gain = 1.0 / (1.0 + warped.powi(2 * order as i32)).sqrt();
                let high_gain = 1.0 / (1.0 + warped.powi(-2 * order as i32)).sqrt();
                assert!((low.response(f / rate_hz).norm() - low_gain).abs() < 1e-9);
                assert!((high.response(f / rate_hz).norm() - high_gain).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn settled_means_no_transient() {
        let mut filter = Cascade::butterworth_low_pass(5, 3.0, 500.0);
        filter.settle(1.7);
        for _ in 0..100 {
            assert!((filter.process(1.7) - 1.7).abs() < 1e-12);
        }
        let mut filter = Cascade::butterworth_high_pass(3, 0.2, 500.0);
        filter.settle(1.7);
        assert!((0..100).all(|_| filter.process(1.7).abs() < 1e-9));
    }
}
