//! A block of complex values, real and imaginary parts apart, as vector registers want them.

#![allow(
    clippy::needless_range_loop,
    reason = "what is counted runs through several arrays of lanes at once"
)]

use super::angles::angles;
use rustfft::num_complex::Complex64;

/// Values in a block.
pub const BLOCK: usize = 16;

/// The block.
#[derive(Clone, Copy, Debug)]
pub struct Phasors {
    /// Real parts.
    pub re: [f64; BLOCK],
    /// Imaginary parts.
    pub im: [f64; BLOCK],
}

impl Phasors {
    /// All zero.
    pub const ZERO: Self = Self {
        re: [0.0; BLOCK],
        im: [0.0; BLOCK],
    };

    /// The values of a formula.
    pub fn from_fn(value: impl FnMut(usize) -> Complex64) -> Self {
        let values: [Complex64; BLOCK] = std::array::from_fn(value);
        Self {
            re: values.map(|z| z.re),
            im: values.map(|z| z.im),
        }
    }

    /// Value `i`.
    #[inline(always)]
    pub fn at(&self, i: usize) -> Complex64 {
        Complex64::new(self.re[i], self.im[i])
    }

    /// The newest value.
    #[inline(always)]
    pub fn last(&self) -> Complex64 {
        self.at(BLOCK - 1)
    }

    /// Products with the values of another block.
    #[inline(always)]
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        let mut product = Self::ZERO;
        for i in 0..BLOCK {
            product.re[i] = self.re[i] * other.re[i] - self.im[i] * other.im[i];
            product.im[i] = self.re[i] * other.im[i] + self.im[i] * other.re[i];
        }
        product
    }

    /// Products with the conjugates of another block's values: their angles are how far the other lags.
    #[inline(always)]
    #[must_use]
    pub fn against(&self, other: &Self) -> Self {
        let mut product = Self::ZERO;
        for i in 0..BLOCK {
            product.re[i] = self.re[i] * other.re[i] + self.im[i] * other.im[i];
            product.im[i] = self.im[i] * other.re[i] - self.re[i] * other.im[i];
        }
        product
    }

    /// Each value against the one before it; `before` stands before the first.
    #[inline(always)]
    #[must_use]
    pub fn steps(&self, before: Complex64) -> Self {
        let mut earlier = *self;
        earlier.re.copy_within(..BLOCK - 1, 1);
        earlier.im.copy_within(..BLOCK - 1, 1);
        (earlier.re[0], earlier.im[0]) = (before.re, before.im);
        self.against(&earlier)
    }

    /// Adds the values of another block, each `weight` times.
    #[inline(always)]
    pub fn add(&mut self, weight: f64, other: &Self) {
        for i in 0..BLOCK {
            self.re[i] += weight * other.re[i];
            self.im[i] += weight * other.im[i];
        }
    }

    /// Squares of the magnitudes.
    #[inline(always)]
    pub fn powers(&self) -> [f64; BLOCK] {
        let mut powers = [0.0; BLOCK];
        for i in 0..BLOCK {
            powers[i] = self.re[i] * self.re[i] + self.im[i] * self.im[i];
        }
        powers
    }

    /// Mean of the values.
    #[inline(always)]
    pub fn mean(&self) -> Complex64 {
        Complex64::new(mean(&self.re), mean(&self.im))
    }

    /// Angles, radians.
    pub fn angles(&self) -> [f64; BLOCK] {
        angles(&self.re, &self.im)
    }
}

/// Mean of a block's values, added up pairwise.
pub fn mean(values: &[f64; BLOCK]) -> f64 {
    let mut sums = *values;
    let mut length = BLOCK;
    while length > 1 {
        length /= 2;
        for i in 0..length {
            sums[i] += sums[i + length];
        }
    }
    sums[0] / BLOCK as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn does_what_complex_numbers_do() {
        let value = |i: usize| Complex64::from_polar(1.0 + i as f64, 0.05 * (i * i) as f64);
        let other = |i: usize| Complex64::new(i as f64, 3.0);
        let (a, b) = (Phasors::from_fn(value), Phasors::from_fn(other));
        let steps = a.steps(Complex64::I);
        let mut sum = a;
        sum.add(2.0, &b);
        let near = |a: Complex64, b: Complex64| (a - b).norm() < 1e-10;
        for i in 0..BLOCK {
            let before = i.checked_sub(1).map_or(Complex64::I, value);
            assert!(near(a.times(&b).at(i), value(i) * other(i)));
            assert!(near(a.against(&b).at(i), value(i) * other(i).conj()));
            assert!(near(steps.at(i), value(i) * before.conj()));
            assert!(near(sum.at(i), value(i) + 2.0 * other(i)));
            assert!((a.powers()[i] - value(i).norm_sqr()).abs() < 1e-10);
            assert!((a.angles()[i] - value(i).arg()).abs() < 1e-10);
        }
        let plain = (0..BLOCK).map(value).sum::<Complex64>() / BLOCK as f64;
        assert!(near(a.mean(), plain) && near(a.last(), value(BLOCK - 1)));
    }
}
