//! The value exceeded a given share of the time, from a histogram with logarithmic bins.

/// Bins in an octave: each is less than 0.8 % wide, and the place inside one is interpolated.
const BITS_PER_OCTAVE: u32 = 7;
/// The least value told apart: 2⁻⁴⁰.
const LOWEST_EXPONENT: i64 = -40;
/// The greatest: 2¹⁰.
const HIGHEST_EXPONENT: i64 = 10;
const BINS: usize = ((HIGHEST_EXPONENT - LOWEST_EXPONENT) as usize) << BITS_PER_OCTAVE;
const F64_EXPONENT_BIAS: i64 = 1023;
const F64_MANTISSA_BITS: u32 = 52;

/// Histogram of magnitudes between 2⁻⁴⁰ and 2¹⁰, in constant memory.
#[derive(Clone, Debug)]
pub struct MagnitudeHistogram {
    counts: Vec<u64>,
    total: u64,
}

impl Default for MagnitudeHistogram {
    fn default() -> Self {
        Self {
            counts: vec![0; BINS],
            total: 0,
        }
    }
}

impl MagnitudeHistogram {
    /// Takes the magnitude of a value in.
    #[inline]
    pub fn push(&mut self, x: f64) {
        self.counts[bin(x)] += 1;
        self.total += 1;
    }

    /// Takes the magnitudes of some values in.
    pub fn extend(&mut self, values: &[f64]) {
        for x in values {
            self.counts[bin(*x)] += 1;
        }
        self.total += values.len() as u64;
    }

    /// Takes a value out again that was taken in before.
    #[inline]
    pub fn take_back(&mut self, x: f64) {
        let count = &mut self.counts[bin(x)];
        debug_assert!(*count > 0, "{x} was never taken in");
        *count -= 1;
        self.total -= 1;
    }

    /// The magnitude exceeded by the share `exceeded` (0 to 1) of the values; `None` when there are none.
    pub fn exceeded_by(&self, exceeded: f64) -> Option<f64> {
        if self.total == 0 {
            return None;
        }
        let mut above = exceeded * self.total as f64;
        for (bin, &count) in self.counts.iter().enumerate().rev() {
            let count = count as f64;
            if count > 0.0 && above <= count {
                let (low, high) = (lower_edge(bin), lower_edge(bin + 1));
                return Some(high - (high - low) * above / count);
            }
            above -= count;
        }
        Some(0.0)
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.counts.fill(0);
        self.total = 0;
    }
}

/// The bin of a value's magnitude. The upper bits of a float are already a piecewise-linear logarithm.
#[inline]
fn bin(x: f64) -> usize {
    let position = (x.abs().to_bits() >> (F64_MANTISSA_BITS - BITS_PER_OCTAVE)) as i64;
    let bin = position - ((F64_EXPONENT_BIAS + LOWEST_EXPONENT) << BITS_PER_OCTAVE);
    bin.clamp(0, BINS as i64 - 1) as usize
}

fn lower_edge(bin: usize) -> f64 {
    let position = bin as i64 + ((F64_EXPONENT_BIAS + LOWEST_EXPONENT) << BITS_PER_OCTAVE);
    f64::from_bits((position as u64) << (F64_MANTISSA_BITS - BITS_PER_OCTAVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_exceeds_997_thousandths_of_its_peak_5_percent_of_the_time() {
        for peak in [0.1, 0.0003, 1.9] {
            let mut histogram = MagnitudeHistogram::default();
            for i in 0..200_000 {
                histogram.push(peak * (f64::from(i) * 0.012_345).sin());
            }
            // sin(0.95·π/2) = 0.996917
            let ratio = histogram.exceeded_by(0.05).unwrap_or_default() / peak;
            assert!((ratio - 0.996_917).abs() < 0.002, "{ratio}");
        }
    }

    #[test]
    fn what_is_taken_back_was_never_there() {
        let (mut histogram, mut rest) =
            (MagnitudeHistogram::default(), MagnitudeHistogram::default());
        for i in 0..1000 {
            let x = (f64::from(i) * 0.37).sin();
            histogram.extend(&[x, 7.0 * x]);
            rest.push(7.0 * x);
        }
        (0..1000).for_each(|i| histogram.take_back((f64::from(i) * 0.37).sin()));
        assert_eq!(histogram.exceeded_by(0.05), rest.exceeded_by(0.05));
    }

    #[test]
    fn extremes_do_not_break_it() {
        let mut histogram = MagnitudeHistogram::default();
        assert!(histogram.exceeded_by(0.05).is_none());
        for x in [0.0, f64::INFINITY, f64::NAN, 1e-300, -1e300] {
            histogram.push(x);
        }
        assert!(histogram.exceeded_by(0.5).is_some_and(f64::is_finite));
    }
}
