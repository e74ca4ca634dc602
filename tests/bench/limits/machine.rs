//! What the machine itself can do, measured: multiply-adds a second, the wait of a dependent one, and bytes a second
//! from memory. One core.

use super::clock::fastest_s;
use std::hint::black_box;

/// Limits of one core.
#[derive(Clone, Copy, Debug)]
pub struct Machine {
    /// Floating-point operations a second in 64 bits with vectors (a fused multiply-add is two).
    pub vector_flops: f64,
    /// The same one number at a time.
    pub scalar_flops: f64,
    /// Seconds from an operand of an addition or a multiplication to its result: the mean of both.
    pub dependent_s: f64,
    /// Bytes a second read in order, 64-bit floats, from beyond the caches.
    pub memory_f64: f64,
    /// The same, 32-bit floats.
    pub memory_f32: f64,
    /// Bytes a second read in order from what fits the first-level cache.
    pub cache_f64: f64,
}

/// Multiply-adds under way at once: enough to hide each one's wait.
const CHAINS: usize = 12;
const LANES: usize = 4;
const ROUNDS: usize = 100_000;
/// Far more than the caches of any desk machine.
const FAR_BYTES: usize = 256 << 20;
/// Half of a small first-level cache.
const NEAR_BYTES: usize = 16 << 10;

impl Machine {
    /// Measures; takes a few seconds.
    pub fn measured() -> Self {
        let operations = (2 * CHAINS * ROUNDS) as f64;
        let far_f64 = vec![1.0_f64; FAR_BYTES / 8];
        let memory_f64 = bytes_a_second(&far_f64, sum_f64);
        drop(far_f64);
        let far_f32 = vec![1.0_f32; FAR_BYTES / 4];
        Self {
            vector_flops: LANES as f64 * operations
                / fastest_s(40, || vector_chains(black_box(0.5))),
            scalar_flops: operations / fastest_s(40, || scalar_chains(black_box(0.5))),
            dependent_s: fastest_s(40, || dependent(black_box(0.5))) / (2 * ROUNDS) as f64,
            memory_f64,
            memory_f32: bytes_a_second(&far_f32, sum_f32),
            cache_f64: bytes_a_second(&vec![1.0_f64; NEAR_BYTES / 8], sum_f64),
        }
    }
}

fn bytes_a_second<T>(numbers: &[T], sum: impl Fn(&[T]) -> f64) -> f64 {
    let bytes = size_of_val(numbers) as f64;
    // Small ones are read often, so that the clock has something to see.
    let times = ((8 << 20) as f64 / bytes).ceil() as usize;
    let seconds = fastest_s(12, || {
        for _ in 0..times {
            black_box(sum(black_box(numbers)));
        }
    });
    times as f64 * bytes / seconds
}

/// Additions kept apart in so many sums that reading is what takes the time.
fn sum_f64(numbers: &[f64]) -> f64 {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") {
        // SAFETY: the processor has just been asked whether it has these instructions.
        return unsafe { x86::sum_f64(numbers) };
    }
    sums::<f64, 16>(numbers).iter().sum()
}

fn sum_f32(numbers: &[f32]) -> f64 {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") {
        // SAFETY: the processor has just been asked whether it has these instructions.
        return unsafe { x86::sum_f32(numbers) };
    }
    sums::<f32, 32>(numbers).iter().map(|x| f64::from(*x)).sum()
}

#[inline(always)]
fn sums<T: Copy + Default + std::ops::AddAssign, const N: usize>(numbers: &[T]) -> [T; N] {
    let mut sums = [T::default(); N];
    for chunk in numbers.as_chunks::<N>().0 {
        for (sum, x) in sums.iter_mut().zip(chunk) {
            *sum += *x;
        }
    }
    sums
}

fn vector_chains(x: f64) -> f64 {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        // SAFETY: the processor has just been asked whether it has these instructions.
        return unsafe { x86::vector_chains(x) };
    }
    plain_chains::<{ CHAINS * LANES }>(x)
}

fn scalar_chains(x: f64) -> f64 {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        // SAFETY: as above.
        return unsafe { x86::scalar_chains(x) };
    }
    plain_chains::<CHAINS>(x)
}

/// Where there is no way of our own the compiler decides what a multiply-add becomes.
fn plain_chains<const N: usize>(x: f64) -> f64 {
    let mut sums = [x; N];
    for _ in 0..ROUNDS {
        for sum in &mut sums {
            *sum = *sum * x + x;
        }
    }
    sums.iter().sum()
}

/// Each multiplication and each addition waits for the one before.
fn dependent(x: f64) -> f64 {
    let mut y = x;
    for _ in 0..ROUNDS {
        y = y * x + x;
    }
    black_box(y)
}

#[cfg(target_arch = "x86_64")]
mod x86 {
    use super::{CHAINS, ROUNDS, sums};
    use std::arch::x86_64::{
        _mm_cvtsd_f64, _mm_fmadd_sd, _mm_set_sd, _mm256_cvtsd_f64, _mm256_fmadd_pd, _mm256_set1_pd,
    };

    #[target_feature(enable = "avx2")]
    pub fn sum_f64(numbers: &[f64]) -> f64 {
        sums::<f64, 32>(numbers).iter().sum()
    }

    #[target_feature(enable = "avx2")]
    pub fn sum_f32(numbers: &[f32]) -> f64 {
        let sums = sums::<f32, 64>(numbers);
        sums.iter().map(|x| f64::from(*x)).sum()
    }

    #[target_feature(enable = "avx2,fma")]
    pub fn vector_chains(x: f64) -> f64 {
        let factor = _mm256_set1_pd(x);
        let mut sums = [factor; CHAINS];
        for _ in 0..ROUNDS {
            for sum in &mut sums {
                *sum = _mm256_fmadd_pd(*sum, factor, factor);
            }
        }
        sums.iter().map(|sum| _mm256_cvtsd_f64(*sum)).sum()
    }

    #[target_feature(enable = "avx2,fma")]
    pub fn scalar_chains(x: f64) -> f64 {
        let factor = _mm_set_sd(x);
        let mut sums = [factor; CHAINS];
        for _ in 0..ROUNDS {
            for sum in &mut sums {
                *sum = _mm_fmadd_sd(*sum, factor, factor);
            }
        }
        sums.iter().map(|sum| _mm_cvtsd_f64(*sum)).sum()
    }
}
