//! Angles of phasors, a block at a time, with a short way for the small ones between neighbouring samples.

use super::lanes::{Kernel, LANES, Lanes, on_widest};

/// Up to this tangent the series is used: its first missing term is below 10⁻¹³ rad.
const SMALL: f64 = 0.2;
/// atan(q) = q·(1 − s/3 + s²/5 − …), s = q²; the highest power first.
const SERIES: [f64; 8] = [
    -1.0 / 15.0,
    1.0 / 13.0,
    -1.0 / 11.0,
    1.0 / 9.0,
    -1.0 / 7.0,
    0.2,
    -1.0 / 3.0,
    1.0,
];

/// Angles of `(re, im)`, radians, as `atan2` gives them. As many as a multiple of [`LANES`].
pub fn angles<const N: usize>(re: &[f64; N], im: &[f64; N]) -> [f64; N] {
    on_widest(Angles { re, im })
}

/// The kernel behind [`angles`], for use inside another.
#[derive(Clone)]
pub struct Angles<'a, const N: usize> {
    /// Real parts.
    pub re: &'a [f64; N],
    /// Imaginary parts.
    pub im: &'a [f64; N],
}

impl<const N: usize> Kernel for Angles<'_, N> {
    type Output = [f64; N];

    #[inline(always)]
    fn run<L: Lanes>(self) -> [f64; N] {
        const { assert!(N.is_multiple_of(LANES)) };
        let Self { re, im } = self;
        let mut angles = [0.0; N];
        let mut all_small = true;
        for i in (0..N).step_by(LANES) {
            let (re, im) = (part(re, i), part(im, i));
            let (re, im) = (L::load(re), L::load(im));
            all_small &= im.abs().less(re.times(L::splat(SMALL))) == u8::MAX;
            let q = im.over(re);
            let s = q.times(q);
            let mut sum = L::splat(0.0);
            for term in SERIES {
                sum = L::splat(term).plus_product(sum, s);
            }
            let (angles, _) = angles[i..].as_chunks_mut();
            q.times(sum).store(&mut angles[0]);
        }
        if !all_small {
            for i in 0..N {
                let small = im[i].abs() < SMALL * re[i];
                // What is no number is not small.
                if !small {
                    angles[i] = im[i].atan2(re[i]);
                }
            }
        }
        angles
    }
}

#[inline(always)]
fn part(x: &[f64], from: usize) -> &[f64; LANES] {
    &x[from..].as_chunks().0[0]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::lanes::in_all_ways;

    #[test]
    fn angles_are_those_of_the_library() {
        for i in -400..=400 {
            let angle_rad = f64::from(i) * 0.0078;
            let (im, re) = (2.5 * angle_rad).sin_cos();
            let (small_im, small_re) = (0.05 * angle_rad).sin_cos();
            // Some that take the short way beside some that may not.
            let (re, im) = (
                std::array::from_fn::<_, LANES, _>(|k| if k == 3 { re } else { 3.0 * small_re }),
                std::array::from_fn::<_, LANES, _>(|k| if k == 3 { im } else { 3.0 * small_im }),
            );
            for angles in in_all_ways(&Angles { re: &re, im: &im }) {
                for k in 0..LANES {
                    assert!((angles[k] - im[k].atan2(re[k])).abs() < 1e-13);
                }
            }
        }
    }

    #[test]
    fn nothing_has_no_angle_and_what_is_no_number_none_either() {
        let mut re = [1.0; LANES];
        let mut im = [0.0; LANES];
        (re[0], im[0]) = (0.0, 0.0);
        re[1] = f64::NAN;
        im[2] = f64::NAN;
        for angles in in_all_ways(&Angles { re: &re, im: &im }) {
            assert_eq!(angles[0], 0.0);
            assert!(angles[1].is_nan() && angles[2].is_nan());
            assert_eq!(angles[3], 0.0);
        }
    }
}
