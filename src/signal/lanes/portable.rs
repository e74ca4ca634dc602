//! Lanes for every machine: an array, and what the compiler makes of it.

use super::{LANES, Lanes};

#[derive(Clone, Copy)]
pub(super) struct Plain([f64; LANES]);

impl Plain {
    #[inline(always)]
    fn each(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        Self(std::array::from_fn(|i| f(self.0[i], other.0[i])))
    }
}

impl Lanes for Plain {
    const SUMS: usize = 4;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        Self([x; LANES])
    }

    #[inline(always)]
    fn halves(lower: f64, upper: f64) -> Self {
        Self(std::array::from_fn(|i| {
            if i < LANES / 2 { lower } else { upper }
        }))
    }

    #[inline(always)]
    fn load(x: &[f64; LANES]) -> Self {
        Self(*x)
    }

    #[inline(always)]
    fn from_frames(frames: &[[f32; 2]; LANES]) -> (Self, Self) {
        let channel = |c: usize| Self(std::array::from_fn(|i| f64::from(frames[i][c])));
        (channel(0), channel(1))
    }

    #[inline(always)]
    fn store(self, x: &mut [f64; LANES]) {
        *x = self.0;
    }

    #[inline(always)]
    fn plus(self, x: Self) -> Self {
        self.each(x, |a, b| a + b)
    }

    #[inline(always)]
    fn minus(self, x: Self) -> Self {
        self.each(x, |a, b| a - b)
    }

    #[inline(always)]
    fn times(self, x: Self) -> Self {
        self.each(x, |a, b| a * b)
    }

    #[inline(always)]
    fn over(self, x: Self) -> Self {
        self.each(x, |a, b| a / b)
    }

    // Not fused: in software that is slow.
    #[inline(always)]
    fn plus_product(self, x: Self, y: Self) -> Self {
        self.plus(x.times(y))
    }

    #[inline(always)]
    fn or_greater(self, x: Self) -> Self {
        self.each(x, |a, b| if a > b { a } else { b })
    }

    #[inline(always)]
    fn abs(self) -> Self {
        Self(self.0.map(f64::abs))
    }

    #[inline(always)]
    fn with_sign_of(self, x: Self) -> Self {
        self.each(x, f64::copysign)
    }

    #[inline(always)]
    fn less(self, x: Self) -> u8 {
        (0..LANES).fold(0, |bits, i| bits | (u8::from(self.0[i] < x.0[i]) << i))
    }

    #[inline(always)]
    fn moved_up(self, x: f64) -> Self {
        let [a, b, c, d, e, f, g, _] = self.0;
        Self([x, a, b, c, d, e, f, g])
    }

    #[inline(always)]
    fn sum(self) -> f64 {
        let [a, b, c, d, e, f, g, h] = self.0;
        ((a + e) + (c + g)) + ((b + f) + (d + h))
    }

    #[inline(always)]
    fn greatest(self) -> f64 {
        self.0.into_iter().fold(f64::NEG_INFINITY, f64::max)
    }
}
