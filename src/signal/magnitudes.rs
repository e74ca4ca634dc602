//! What a block's magnitudes come to, in one pass.

use super::lanes::{Kernel, LANES, Lanes, on_widest};

/// Sums and maximum over a block of samples.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Magnitudes {
    /// Σ x². Finite only if every sample is: samples that come from 32-bit floats cannot make it overflow.
    pub squares: f64,
    /// Σ |x|.
    pub sum: f64,
    /// Greatest |x|; 0 for nothing. Not-a-number does not count.
    pub greatest: f64,
}

impl Magnitudes {
    /// Those of `x`.
    pub fn of(x: &[f64]) -> Self {
        on_widest(Measure(x))
    }
}

/// Greatest |x|, by itself; 0 for nothing. Not-a-number does not count.
pub fn greatest(x: &[f64]) -> f64 {
    on_widest(Greatest(x))
}

/// How many of the samples have at least that magnitude.
pub fn count_from(magnitude: f64, x: &[f64]) -> usize {
    on_widest(CountFrom { magnitude, x })
}

/// Σ x.
pub fn sum(x: &[f64]) -> f64 {
    on_widest(Sum(x))
}

/// Partial results kept apart: as many as hide the time an addition takes.
const APART: usize = 4;

#[derive(Clone)]
struct Measure<'a>(&'a [f64]);

impl Kernel for Measure<'_> {
    type Output = Magnitudes;

    #[inline(always)]
    fn run<L: Lanes>(self) -> Magnitudes {
        let zero = L::splat(0.0);
        let (mut squares, mut sums, mut greatest) = ([zero; APART], [zero; APART], [zero; APART]);
        let (chunks, rest) = self.0.as_chunks::<LANES>();
        let (groups, single) = chunks.as_chunks::<APART>();
        for group in groups {
            for i in 0..APART {
                let x = L::load(&group[i]);
                squares[i] = squares[i].plus_product(x, x);
                sums[i] = sums[i].plus(x.abs());
                greatest[i] = x.abs().or_greater(greatest[i]);
            }
        }
        let mut last = L::load_part(rest);
        for i in 0..=single.len() {
            squares[0] = squares[0].plus_product(last, last);
            sums[0] = sums[0].plus(last.abs());
            greatest[0] = last.abs().or_greater(greatest[0]);
            last = single.get(i).map_or(zero, L::load);
        }
        for i in 1..APART {
            squares[0] = squares[0].plus(squares[i]);
            sums[0] = sums[0].plus(sums[i]);
            greatest[0] = greatest[0].or_greater(greatest[i]);
        }
        let [squares, sums, greatest] = [squares[0], sums[0], greatest[0]];
        Magnitudes {
            squares: squares.sum(),
            sum: sums.sum(),
            greatest: greatest.greatest(),
        }
    }
}

#[derive(Clone)]
struct Greatest<'a>(&'a [f64]);

impl Kernel for Greatest<'_> {
    type Output = f64;

    #[inline(always)]
    fn run<L: Lanes>(self) -> f64 {
        let (chunks, rest) = self.0.as_chunks::<LANES>();
        let (groups, single) = chunks.as_chunks::<APART>();
        let mut greatest = [L::splat(0.0); APART];
        for group in groups {
            for i in 0..APART {
                greatest[i] = L::load(&group[i]).abs().or_greater(greatest[i]);
            }
        }
        for x in single {
            greatest[0] = L::load(x).abs().or_greater(greatest[0]);
        }
        greatest[1] = L::load_part(rest).abs().or_greater(greatest[1]);
        let pairs = [
            greatest[0].or_greater(greatest[2]),
            greatest[1].or_greater(greatest[3]),
        ];
        pairs[0].or_greater(pairs[1]).greatest()
    }
}

#[derive(Clone)]
struct CountFrom<'a> {
    magnitude: f64,
    x: &'a [f64],
}

impl Kernel for CountFrom<'_> {
    type Output = usize;

    #[inline(always)]
    fn run<L: Lanes>(self) -> usize {
        let (chunks, rest) = self.x.as_chunks::<LANES>();
        let bound = L::splat(self.magnitude);
        let mut below = 0;
        for x in chunks {
            below += L::load(x).abs().less(bound).count_ones() as usize;
        }
        for x in rest {
            below += usize::from(x.abs() < self.magnitude);
        }
        self.x.len() - below
    }
}

#[derive(Clone)]
struct Sum<'a>(&'a [f64]);

impl Kernel for Sum<'_> {
    type Output = f64;

    #[inline(always)]
    fn run<L: Lanes>(self) -> f64 {
        let (chunks, rest) = self.0.as_chunks::<LANES>();
        let (groups, single) = chunks.as_chunks::<APART>();
        let mut sums = [L::splat(0.0); APART];
        for group in groups {
            for i in 0..APART {
                sums[i] = sums[i].plus(L::load(&group[i]));
            }
        }
        for x in single {
            sums[0] = sums[0].plus(L::load(x));
        }
        sums[1] = sums[1].plus(L::load_part(rest));
        (sums[0].plus(sums[2])).plus(sums[1].plus(sums[3])).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::lanes::in_all_ways;

    #[test]
    fn every_way_gives_the_plain_sums_at_every_length() {
        for length in 0..100 {
            let x: Vec<f64> = (0..length)
                .map(|i| (f64::from(i) * 0.7 + 0.3).sin())
                .collect();
            for seen in in_all_ways(&Measure(&x)) {
                let squares: f64 = x.iter().map(|x| x * x).sum();
                let sum: f64 = x.iter().map(|x| x.abs()).sum();
                let greatest = x.iter().map(|x| x.abs()).fold(0.0, f64::max);
                assert!((seen.squares - squares).abs() < 1e-12);
                assert!((seen.sum - sum).abs() < 1e-12);
                assert_eq!(seen.greatest.to_bits(), greatest.to_bits());
            }
        }
    }

    #[test]
    fn counts_those_at_the_bound_and_above() {
        for length in 0..100_u16 {
            let x: Vec<f64> = (0..length).map(|i| f64::from(i % 7) - 3.0).collect();
            let plain = x.iter().filter(|x| x.abs() >= 2.0).count();
            let counts = in_all_ways(&CountFrom {
                magnitude: 2.0,
                x: &x,
            });
            assert!(counts.iter().all(|count| *count == plain));
        }
    }

    #[test]
    fn the_greatest_alone_is_the_same() {
        for length in 0..100 {
            let x: Vec<f64> = (0..length).map(|i| (f64::from(i) * 0.7).sin()).collect();
            let measured = Magnitudes::of(&x).greatest;
            let alone = in_all_ways(&Greatest(&x));
            assert!(
                alone
                    .iter()
                    .all(|seen| seen.to_bits() == measured.to_bits())
            );
        }
    }

    #[test]
    fn the_sum_is_the_plain_one_at_every_length() {
        for length in 0..100 {
            let x: Vec<f64> = (0..length).map(|i| (f64::from(i) * 0.7).sin()).collect();
            let plain: f64 = x.iter().sum();
            let sums = in_all_ways(&Sum(&x));
            assert!(sums.iter().all(|sum| (sum - plain).abs() < 1e-12));
        }
    }

    #[test]
    fn squares_are_finite_only_if_all_samples_are() {
        let greatest = f64::from(f32::MAX);
        assert!(Magnitudes::of(&[greatest; 500]).squares.is_finite());
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for place in [0, 31, 40, 99] {
                let mut x = [0.25; 100];
                x[place] = bad;
                assert!(!Magnitudes::of(&x).squares.is_finite());
            }
        }
    }
}
