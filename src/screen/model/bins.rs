//! A trail cut into pixels: the least and greatest value of each stretch of time.

use crate::readings::Trail;

/// One stretch of a trail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Number of the stretch, counted in stream time, so that a stretch keeps its values while it moves.
    pub index: i64,
    /// Least value in it and how old it is, seconds.
    pub low: (f32, f64),
    /// Greatest value in it and how old it is, seconds.
    pub high: (f32, f64),
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
                if value < bin.low.0 {
                    bin.low = (value, age_s);
                }
                if value > bin.high.0 {
                    bin.high = (value, age_s);
                }
            }
            _ => bins.push(Bin {
                index,
                low: (value, age_s),
                high: (value, age_s),
            }),
        }
    }
    bins
}

/// The line through both extremes of every stretch, in their true order, as (value, age in seconds); one line for
/// each run of stretches without a gap. A wave that is too fast for the pixels becomes an even weave, no pattern.
pub fn lines(bins: &[Bin]) -> impl Iterator<Item = Vec<(f32, f64)>> + '_ {
    bins.chunk_by(|before, bin| before.index + 1 == bin.index)
        .map(|run| {
            let mut points = Vec::with_capacity(2 * run.len());
            for bin in run {
                let (first, second) = if bin.low.1 > bin.high.1 {
                    (bin.low, bin.high)
                } else {
                    (bin.high, bin.low)
                };
                points.push(first);
                if first != second {
                    points.push(second);
                }
            }
            points
        })
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
            .map(|bin| (bin.index, bin.low.0, bin.high.0))
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
        let whole = |bins: &[Bin]| -> Vec<_> {
            bins[1..bins.len() - 2]
                .iter()
                .map(|bin| (bin.index, bin.low.0, bin.high.0))
                .collect()
        };
        assert!(whole(&after).starts_with(&whole(&before)));
    }

    #[test]
    fn a_gap_parts_the_line() {
        let gap = trail(&[1.0, f32::NAN, f32::NAN, f32::NAN, 9.0]);
        let cut = bins(&gap, 0.45, 30.0, 0.1);
        assert_eq!(cut.len(), 2);
        assert_eq!(lines(&cut).count(), 2);
    }

    #[test]
    fn the_line_visits_the_extremes_in_their_order() {
        let cut = bins(&trail(&[1.0, 9.0, 4.0, 2.0, 3.0]), 0.45, 30.0, 10.0);
        let visited: Vec<f32> = lines(&cut).flatten().map(|(value, _)| value).collect();
        assert_eq!(visited, [1.0, 9.0]);
        let falling = bins(&trail(&[9.0, 1.0]), 0.15, 30.0, 10.0);
        let visited: Vec<f32> = lines(&falling).flatten().map(|(value, _)| value).collect();
        assert_eq!(visited, [9.0, 1.0]);
    }

    #[test]
    fn only_the_last_half_minute_and_nothing_from_nothing() {
        let long = trail(&vec![1.0; 1000]);
        let cut = bins(&long, 100.0, 30.0, 1.0);
        assert!(cut.len() == 31 || cut.len() == 30, "{}", cut.len());
        assert!(bins(&Trail::default(), 10.0, 30.0, 1.0).is_empty());
    }
}
