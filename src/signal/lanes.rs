//! Eight numbers at once, in the widest vector registers the machine has.
//!
//! The program is built for the least machine of its architecture, whose registers hold two numbers; most have four or
//! eight. A [`Kernel`] is a loop over a block, written once for [`Lanes`]. [`on_widest`] holds it compiled for each
//! kind of register and picks one at run time. All kinds do the same operations in the same order, so that numbers
//! differ between machines by rounding alone: a fused multiply-add rounds once.
//!
//! The compiler's own vectorising is not relied on: the filters' loops came out four times slower or faster with the
//! way they were written down.

mod portable;
#[cfg(target_arch = "x86_64")]
mod x86;

use portable::Plain;
#[cfg(target_arch = "x86_64")]
use x86::{OneRegister, TwoRegisters};

/// Numbers in [`Lanes`].
pub const LANES: usize = 8;

/// Eight numbers.
pub trait Lanes: Copy {
    /// Sums that a loop may keep apart before the registers run out.
    const SUMS: usize;

    /// The same number eight times.
    fn splat(x: f64) -> Self;
    /// One number in the lower four lanes, another in the upper four.
    fn halves(lower: f64, upper: f64) -> Self;
    /// From memory.
    fn load(x: &[f64; LANES]) -> Self;
    /// From frames of two channels: those of the first channel and those of the second.
    fn from_frames(frames: &[[f32; 2]; LANES]) -> (Self, Self);
    /// To memory.
    fn store(self, x: &mut [f64; LANES]);
    /// `self + x`.
    #[must_use]
    fn plus(self, x: Self) -> Self;
    /// `self − x`.
    #[must_use]
    fn minus(self, x: Self) -> Self;
    /// `self · x`.
    #[must_use]
    fn times(self, x: Self) -> Self;
    /// `self / x`.
    #[must_use]
    fn over(self, x: Self) -> Self;
    /// `self + x · y`, rounded once where the hardware does so.
    #[must_use]
    fn plus_product(self, x: Self, y: Self) -> Self;
    /// The greater one; `x` where `self` is not a number.
    #[must_use]
    fn or_greater(self, x: Self) -> Self;
    /// Magnitudes.
    #[must_use]
    fn abs(self) -> Self;
    /// Magnitudes with the signs of `x`.
    #[must_use]
    fn with_sign_of(self, x: Self) -> Self;
    /// Which lanes are less than those of `x`, lane 0 in the lowest bit.
    fn less(self, x: Self) -> u8;
    /// Every number one lane up; `x` comes into lane 0, the last is lost.
    #[must_use]
    fn moved_up(self, x: f64) -> Self;

    /// Eight numbers from memory, or fewer and zeros.
    #[inline(always)]
    fn load_part(x: &[f64]) -> Self {
        let mut padded = [0.0; LANES];
        padded[..x.len()].copy_from_slice(x);
        Self::load(&padded)
    }

    /// As an array.
    #[inline(always)]
    fn array(self) -> [f64; LANES] {
        let mut array = [0.0; LANES];
        self.store(&mut array);
        array
    }

    /// Sum of the lanes: the upper half is added to the lower, and so on.
    fn sum(self) -> f64;
    /// Greatest of the lanes, all of which are numbers.
    fn greatest(self) -> f64;
}

/// An inner loop. `run` must be `#[inline(always)]`, and so must all it calls: only what is inlined is compiled for
/// the wide registers. Closures that hold [`Lanes`] and iterators that are folded are not certain to be.
pub trait Kernel {
    /// What the loop gives out.
    type Output;

    /// The loop.
    fn run<L: Lanes>(self) -> Self::Output;
}

/// Runs a kernel. Choosing the registers costs about a nanosecond: give it a block, not a sample.
#[inline]
pub fn on_widest<K: Kernel>(kernel: K) -> K::Output {
    #[cfg(target_arch = "x86_64")]
    match *x86::WIDEST {
        // SAFETY: the processor has been asked whether it has these instructions.
        x86::Widest::OneRegister => return unsafe { on_one_register(kernel) },
        // SAFETY: as above.
        x86::Widest::TwoRegisters => return unsafe { on_two_registers(kernel) },
        x86::Widest::Plain => {}
    }
    kernel.run::<Plain>()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,avx2,fma")]
fn on_one_register<K: Kernel>(kernel: K) -> K::Output {
    kernel.run::<OneRegister>()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn on_two_registers<K: Kernel>(kernel: K) -> K::Output {
    kernel.run::<TwoRegisters>()
}

/// Runs a kernel in every way this machine can, for tests that hold them against each other.
#[cfg(test)]
pub fn in_all_ways<K: Kernel + Clone>(kernel: &K) -> Vec<K::Output> {
    #[allow(unused_mut, reason = "other architectures have one way")]
    let mut outputs = vec![kernel.clone().run::<Plain>()];
    #[cfg(target_arch = "x86_64")]
    {
        if TwoRegisters::is_there() {
            // SAFETY: the processor has just been asked whether it has these instructions.
            outputs.push(unsafe { on_two_registers(kernel.clone()) });
        }
        if OneRegister::is_there() {
            // SAFETY: as above.
            outputs.push(unsafe { on_one_register(kernel.clone()) });
        }
    }
    outputs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Clone)]
    struct EveryOperation([[f64; LANES]; 3]);

    impl Kernel for EveryOperation {
        type Output = (Vec<[f64; LANES]>, u8, [f64; 3]);

        #[inline(always)]
        fn run<L: Lanes>(self) -> Self::Output {
            let [x, y, z] = &self.0;
            let (x, y, z) = (L::load(x), L::load(y), L::load(z));
            let outputs = [
                L::splat(0.7),
                x.plus(y),
                x.minus(y),
                x.times(y),
                x.over(y),
                z.plus_product(x, y),
                x.or_greater(y),
                L::splat(f64::NAN).or_greater(y),
                x.abs(),
                x.with_sign_of(y),
                x.moved_up(9.0),
                L::halves(5.0, 6.0),
                L::load_part(&x.array()[..3]),
            ];
            let mut arrays = Vec::new();
            for lanes in outputs {
                arrays.push(lanes.array());
            }
            let frames = std::array::from_fn(|i| [i as f32 + 0.5, -0.25 * i as f32]);
            let (first, second) = L::from_frames(&frames);
            arrays.push(first.array());
            arrays.push(second.array());
            (
                arrays,
                x.less(y),
                [x.sum(), z.sum(), x.abs().or_greater(z).greatest()],
            )
        }
    }

    #[test]
    fn every_kind_of_register_does_the_same() {
        let x = [1.0, -2.0, 3.0, 0.0, -0.0, 6.0, f64::NAN, 8.5];
        let y = [-3.0, -2.0, 0.5, 1.0, 1.0, f64::INFINITY, 7.0, -7.0];
        let z = [0.25; LANES];
        let each = |f: fn(f64, f64) -> f64| std::array::from_fn(|i| f(x[i], y[i]));
        let expected: [[f64; LANES]; 15] = [
            [0.7; LANES],
            each(|x, y| x + y),
            each(|x, y| x - y),
            each(|x, y| x * y),
            each(|x, y| x / y),
            each(|x, y| 0.25 + x * y),
            each(|x, y| if x > y { x } else { y }),
            y,
            x.map(f64::abs),
            each(f64::copysign),
            [9.0, x[0], x[1], x[2], x[3], x[4], x[5], x[6]],
            [5.0, 5.0, 5.0, 5.0, 6.0, 6.0, 6.0, 6.0],
            [x[0], x[1], x[2], 0.0, 0.0, 0.0, 0.0, 0.0],
            std::array::from_fn(|i| i as f64 + 0.5),
            std::array::from_fn(|i| -0.25 * i as f64),
        ];
        for (outputs, less, [sum, sum_of_z, greatest]) in in_all_ways(&EveryOperation([x, y, z])) {
            for (i, (output, expected)) in outputs.iter().zip(&expected).enumerate() {
                for lane in 0..LANES {
                    let same = output[lane].to_bits() == expected[lane].to_bits()
                        || (output[lane].is_nan() && expected[lane].is_nan());
                    assert!(same, "operation {i}: {output:?} for {expected:?}");
                }
            }
            assert_eq!(less, 0b0011_1000);
            assert!(sum.is_nan());
            assert_eq!((sum_of_z, greatest), (2.0, 8.5));
        }
    }

    #[test]
    fn the_sum_has_all_lanes() {
        let whole = std::array::from_fn(|i| (1 << i) as f64);
        let summed = in_all_ways(&EveryOperation([whole; 3]));
        assert!(
            summed
                .iter()
                .all(|(_, _, [sum, ..])| (sum - 255.0).abs() < 1e-12)
        );
    }
}
