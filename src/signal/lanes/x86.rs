//! Lanes in the registers of x86-64: one of 512 bits, or two of 256.
//!
//! This is the only place of the signal code that needs `unsafe`, and one argument holds for all of it: the types are
//! named only by `on_widest` and the test beside it, which ask the processor first. Loads and stores take references to
//! whole arrays, so that they cannot reach outside; none asks for alignment.

use super::{LANES, Lanes};
use std::{
    arch::{is_x86_feature_detected, x86_64::*},
    sync::LazyLock,
};

/// The widest kind of lanes the processor has.
#[derive(Clone, Copy)]
pub(super) enum Widest {
    OneRegister,
    TwoRegisters,
    Plain,
}

/// Asked once.
pub(super) static WIDEST: LazyLock<Widest> = LazyLock::new(|| {
    if OneRegister::is_there() {
        Widest::OneRegister
    } else if TwoRegisters::is_there() {
        Widest::TwoRegisters
    } else {
        Widest::Plain
    }
});

/// A 512-bit register.
#[derive(Clone, Copy)]
pub(super) struct OneRegister(__m512d);

impl OneRegister {
    /// Whether the processor has such registers.
    #[inline]
    pub(super) fn is_there() -> bool {
        is_x86_feature_detected!("avx512f")
            && is_x86_feature_detected!("avx512dq")
            && is_x86_feature_detected!("avx512vl")
            && TwoRegisters::is_there()
    }

    #[inline(always)]
    fn in_two(self) -> TwoRegisters {
        // SAFETY: see the head of the file.
        unsafe {
            TwoRegisters(
                _mm512_castpd512_pd256(self.0),
                _mm512_extractf64x4_pd::<1>(self.0),
            )
        }
    }
}

/// Two 256-bit registers.
#[derive(Clone, Copy)]
pub(super) struct TwoRegisters(__m256d, __m256d);

impl TwoRegisters {
    /// Whether the processor has such registers.
    #[inline]
    pub(super) fn is_there() -> bool {
        is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")
    }
}

/// One instruction on each register. SAFETY: see the head of the file.
macro_rules! on_one {
    ($instruction:ident, $($x:expr),+) => {
        OneRegister(unsafe { $instruction($($x.0),+) })
    };
}
macro_rules! on_two {
    ($instruction:ident, $($x:expr),+) => {
        TwoRegisters(unsafe { $instruction($($x.0),+) }, unsafe { $instruction($($x.1),+) })
    };
}

impl Lanes for OneRegister {
    const SUMS: usize = 16;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        // SAFETY: see the head of the file.
        Self(unsafe { _mm512_set1_pd(x) })
    }

    #[inline(always)]
    fn halves(lower: f64, upper: f64) -> Self {
        const UPPER: __mmask8 = 0b1111_0000;
        let lower = Self::splat(lower);
        // SAFETY: see the head of the file.
        Self(unsafe { _mm512_mask_broadcastsd_pd(lower.0, UPPER, _mm_set_sd(upper)) })
    }

    #[inline(always)]
    fn load(x: &[f64; LANES]) -> Self {
        // SAFETY: see the head of the file.
        Self(unsafe { _mm512_loadu_pd(x.as_ptr()) })
    }

    #[inline(always)]
    fn from_frames(frames: &[[f32; 2]; LANES]) -> (Self, Self) {
        // SAFETY: see the head of the file.
        unsafe {
            let all = _mm512_loadu_ps(frames.as_flattened().as_ptr());
            let first = _mm512_setr_epi32(0, 2, 4, 6, 8, 10, 12, 14, 0, 2, 4, 6, 8, 10, 12, 14);
            let second = _mm512_setr_epi32(1, 3, 5, 7, 9, 11, 13, 15, 1, 3, 5, 7, 9, 11, 13, 15);
            let first = _mm512_castps512_ps256(_mm512_permutexvar_ps(first, all));
            let second = _mm512_castps512_ps256(_mm512_permutexvar_ps(second, all));
            (Self(_mm512_cvtps_pd(first)), Self(_mm512_cvtps_pd(second)))
        }
    }

    #[inline(always)]
    fn store(self, x: &mut [f64; LANES]) {
        // SAFETY: see the head of the file.
        unsafe { _mm512_storeu_pd(x.as_mut_ptr(), self.0) }
    }

    #[inline(always)]
    fn plus(self, x: Self) -> Self {
        on_one!(_mm512_add_pd, self, x)
    }

    #[inline(always)]
    fn minus(self, x: Self) -> Self {
        on_one!(_mm512_sub_pd, self, x)
    }

    #[inline(always)]
    fn times(self, x: Self) -> Self {
        on_one!(_mm512_mul_pd, self, x)
    }

    #[inline(always)]
    fn over(self, x: Self) -> Self {
        on_one!(_mm512_div_pd, self, x)
    }

    #[inline(always)]
    fn plus_product(self, x: Self, y: Self) -> Self {
        on_one!(_mm512_fmadd_pd, x, y, self)
    }

    #[inline(always)]
    fn or_greater(self, x: Self) -> Self {
        on_one!(_mm512_max_pd, self, x)
    }

    #[inline(always)]
    fn abs(self) -> Self {
        on_one!(_mm512_abs_pd, self)
    }

    #[inline(always)]
    fn with_sign_of(self, x: Self) -> Self {
        let sign = Self::splat(-0.0);
        let signs = on_one!(_mm512_and_pd, sign, x);
        on_one!(_mm512_or_pd, self.abs(), signs)
    }

    #[inline(always)]
    fn less(self, x: Self) -> u8 {
        // SAFETY: see the head of the file.
        unsafe { _mm512_cmp_pd_mask::<_CMP_LT_OQ>(self.0, x.0) }
    }

    #[inline(always)]
    fn moved_up(self, x: f64) -> Self {
        // SAFETY: see the head of the file.
        Self(unsafe {
            let entering = _mm512_castpd_si512(_mm512_set1_pd(x));
            _mm512_castsi512_pd(_mm512_alignr_epi64::<7>(
                _mm512_castpd_si512(self.0),
                entering,
            ))
        })
    }

    #[inline(always)]
    fn sum(self) -> f64 {
        self.in_two().sum()
    }

    #[inline(always)]
    fn greatest(self) -> f64 {
        self.in_two().greatest()
    }
}

impl Lanes for TwoRegisters {
    const SUMS: usize = 4;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        // SAFETY: see the head of the file.
        let half = unsafe { _mm256_set1_pd(x) };
        Self(half, half)
    }

    #[inline(always)]
    fn halves(lower: f64, upper: f64) -> Self {
        Self(Self::splat(lower).0, Self::splat(upper).1)
    }

    #[inline(always)]
    fn load(x: &[f64; LANES]) -> Self {
        let (low, high) = x.split_at(LANES / 2);
        // SAFETY: see the head of the file.
        unsafe {
            Self(
                _mm256_loadu_pd(low.as_ptr()),
                _mm256_loadu_pd(high.as_ptr()),
            )
        }
    }

    #[inline(always)]
    fn from_frames(frames: &[[f32; 2]; LANES]) -> (Self, Self) {
        let (low, high) = frames.as_flattened().split_at(LANES);
        // SAFETY: see the head of the file.
        unsafe {
            let apart = _mm256_setr_epi32(0, 2, 4, 6, 1, 3, 5, 7);
            let low = _mm256_permutevar8x32_ps(_mm256_loadu_ps(low.as_ptr()), apart);
            let high = _mm256_permutevar8x32_ps(_mm256_loadu_ps(high.as_ptr()), apart);
            (
                Self(
                    _mm256_cvtps_pd(_mm256_castps256_ps128(low)),
                    _mm256_cvtps_pd(_mm256_castps256_ps128(high)),
                ),
                Self(
                    _mm256_cvtps_pd(_mm256_extractf128_ps::<1>(low)),
                    _mm256_cvtps_pd(_mm256_extractf128_ps::<1>(high)),
                ),
            )
        }
    }

    #[inline(always)]
    fn store(self, x: &mut [f64; LANES]) {
        let (low, high) = x.split_at_mut(LANES / 2);
        // SAFETY: see the head of the file.
        unsafe {
            _mm256_storeu_pd(low.as_mut_ptr(), self.0);
            _mm256_storeu_pd(high.as_mut_ptr(), self.1);
        }
    }

    #[inline(always)]
    fn plus(self, x: Self) -> Self {
        on_two!(_mm256_add_pd, self, x)
    }

    #[inline(always)]
    fn minus(self, x: Self) -> Self {
        on_two!(_mm256_sub_pd, self, x)
    }

    #[inline(always)]
    fn times(self, x: Self) -> Self {
        on_two!(_mm256_mul_pd, self, x)
    }

    #[inline(always)]
    fn over(self, x: Self) -> Self {
        on_two!(_mm256_div_pd, self, x)
    }

    #[inline(always)]
    fn plus_product(self, x: Self, y: Self) -> Self {
        on_two!(_mm256_fmadd_pd, x, y, self)
    }

    #[inline(always)]
    fn or_greater(self, x: Self) -> Self {
        on_two!(_mm256_max_pd, self, x)
    }

    #[inline(always)]
    fn abs(self) -> Self {
        let sign = Self::splat(-0.0);
        on_two!(_mm256_andnot_pd, sign, self)
    }

    #[inline(always)]
    fn with_sign_of(self, x: Self) -> Self {
        let sign = Self::splat(-0.0);
        let signs = on_two!(_mm256_and_pd, sign, x);
        on_two!(_mm256_or_pd, self.abs(), signs)
    }

    #[inline(always)]
    fn less(self, x: Self) -> u8 {
        // SAFETY: see the head of the file.
        let less = unsafe {
            let low = _mm256_movemask_pd(_mm256_cmp_pd::<_CMP_LT_OQ>(self.0, x.0));
            let high = _mm256_movemask_pd(_mm256_cmp_pd::<_CMP_LT_OQ>(self.1, x.1));
            low | (high << (LANES / 2))
        };
        less as u8
    }

    #[inline(always)]
    fn moved_up(self, x: f64) -> Self {
        // SAFETY: see the head of the file.
        unsafe {
            // Turned by one lane: 3 0 1 2 and 7 4 5 6; then lane 0 of each is put right.
            let low = _mm256_permute4x64_pd::<0b10_01_00_11>(self.0);
            let high = _mm256_permute4x64_pd::<0b10_01_00_11>(self.1);
            Self(
                _mm256_blend_pd::<0b0001>(low, _mm256_set1_pd(x)),
                _mm256_blend_pd::<0b0001>(high, low),
            )
        }
    }

    #[inline(always)]
    fn sum(self) -> f64 {
        // SAFETY: see the head of the file.
        unsafe {
            let four = _mm256_add_pd(self.0, self.1);
            let two = _mm_add_pd(
                _mm256_castpd256_pd128(four),
                _mm256_extractf128_pd::<1>(four),
            );
            _mm_cvtsd_f64(_mm_add_sd(two, _mm_unpackhi_pd(two, two)))
        }
    }

    #[inline(always)]
    fn greatest(self) -> f64 {
        // SAFETY: see the head of the file.
        unsafe {
            let four = _mm256_max_pd(self.0, self.1);
            let two = _mm_max_pd(
                _mm256_castpd256_pd128(four),
                _mm256_extractf128_pd::<1>(four),
            );
            _mm_cvtsd_f64(_mm_max_sd(two, _mm_unpackhi_pd(two, two)))
        }
    }
}
