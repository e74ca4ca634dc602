//! A trail cut into pixels: the least and greatest value of each stretch of time.

use crate::readings::Trail;

/// One stretch of a trail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Number of the stretch, counted in stream time, so that a stretch keeps its values while it moves.
    pub index: i64,
    /// Least value in it.
    pub low: f32,
    /// Greatest value in it.
    pub high: f32,
}

/// Cuts the last `span_s` seconds of a trail that ends at stream time `now_s` into stretches of `width_s`, oldest
/// first. A stretch without any value is left out: that is the gap the eye should see.
pub fn bins(trail: &Trail, now_s: f64, span_s: f64, width_s: f64) -> Vec<Bin> {
    let mut bins: Vec<Bin> = Vec::new();
    if trail.step_s <= 0.0 || width_s <= 0.0 {
        return bins;
    }
    let wanted = (span_s / trail.step_s).ceil() as usize + 1;
    let skipped = trail.values.len().saturating_sub(wanted);
    for (i, &value) in trail.values.iter().enumerate().skip(skipped) {
        if value.is_nan() {
            continue;
        }
        let age_s = (trail.values.len() - 1 - i) as f64 * trail.step_s;
        let index = ((now_s - age_s) / width_s).floor() as i64;
        match bins.last_mut() {
            Some(bin) if bin.index == index => {
                bin.low = bin.low.min(value);
                bin.high = bin.high.max(value);
            }
            _ => bins.push(Bin {
                index,
                low: value,
                high: value,
            }),
        }
    }
    bins
}

/// Lets each bin reach its predecessor where they are neighbours in time, so that a steep stretch is drawn as one
/// line; across a gap nothing is joined.
pub fn joined(bins: &[Bin]) -> Vec<Bin> {
    let mut joined = bins.to_vec();
    for (pair, bin) in bins.windows(2).zip(joined.iter_mut().skip(1)) {
        let before = pair[0];
        if before.index + 1 == bin.index {
            bin.low = bin.low.min(before.high);
            bin.high = bin.high.max(before.low);
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trail(values: &[f32]) -> Trail {
        Trail {
            step_s: 0.1,
            values: values.to_vec(),
        }
    }

    #[test]
    fn extremes_of_each_stretch_are_kept() {
        let trail = trail(&[0.0, 5.0, -3.0, 1.0, 1.0, 2.0]);
        // The last value is at 1.05 s, so the first is at 0.55 s.
        let cut = bins(&trail, 1.05, 30.0, 0.3);
        let spans: Vec<_> = cut
            .iter()
            .map(|bin| (bin.index, bin.low, bin.high))
            .collect();
        assert_eq!(spans, [(1, 0.0, 0.0), (2, -3.0, 5.0), (3, 1.0, 2.0)]);
    }

    #[test]
    fn a_stretch_keeps_its_values_while_time_goes_on() {
        let values: Vec<f32> = (0..100_i16).map(|i| f32::from(i * 37 % 11)).collect();
        let before = bins(&trail(&values), 9.95, 30.0, 0.5);
        let mut later = values.clone();
        later.extend([3.0, 4.0, 5.0]);
        let after = bins(&trail(&later), 10.25, 30.0, 0.5);
        let whole = |bins: &[Bin]| bins[1..bins.len() - 2].to_vec();
        assert!(whole(&after).starts_with(&whole(&before)));
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let cut = bins(
            &trail(&[1.0, f32::NAN, f32::NAN, f32::NAN, 9.0]),
            0.45,
            30.0,
            0.1,
        );
        assert_eq!(cut.len(), 2);
        assert_eq!(joined(&cut), cut);
        let steep = bins(&trail(&[1.0, 9.0, 4.0]), 0.25, 30.0, 0.1);
        let drawn: Vec<_> = joined(&steep)
            .iter()
            .map(|bin| (bin.low, bin.high))
            .collect();
        assert_eq!(drawn, [(1.0, 1.0), (1.0, 9.0), (4.0, 9.0)]);
    }

    #[test]
    fn only_the_last_half_minute_and_nothing_from_nothing() {
        let long = trail(&vec![1.0; 1000]);
        let cut = bins(&long, 100.0, 30.0, 1.0);
        assert!(cut.len() == 31 || cut.len() == 30, "{}", cut.len());
        assert!(bins(&Trail::default(), 10.0, 30.0, 1.0).is_empty());
    }
}
