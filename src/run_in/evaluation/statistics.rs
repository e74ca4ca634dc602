//! Means and slopes of values that follow each other in time, with uncertainties that know it.
//!
//! Neighbouring minutes of a deck are alike, so that sixty of them are worth fewer. Their number is replaced by an
//! effective one, n·(1 − r)/(1 + r) with r the correlation of neighbours: for slopes the adjustment of Santer et al.
//! 2000 (J. Geophys. Res. 105, 7337; formula from memory). Uncertainties are expanded, at 95 %, by Student's t.

/// A value and its expanded uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Half the width of its 95 % interval.
    pub uncertainty: f64,
}

/// The mean of a series; `None` where its uncertainty cannot be told (fewer than three values, or what comes to it).
pub fn mean(values: &[f64]) -> Option<Estimate> {
    let count = values.len() as f64;
    if values.len() < 3 {
        return None;
    }
    let value = values.iter().sum::<f64>() / count;
    let off: Vec<f64> = values.iter().map(|one| one - value).collect();
    let squares: f64 = off.iter().map(|off| off * off).sum();
    let effective = (count * thinning(&off)).max(2.0);
    let deviation = (squares / (count - 1.0)).sqrt();
    Some(Estimate {
        value,
        uncertainty: student_t(effective - 1.0) * deviation / effective.sqrt(),
    })
}

/// The slope of `(x, y)` points in the order of `x`; `None` for fewer than ten or without a spread.
pub fn slope(points: &[(f64, f64)]) -> Option<Estimate> {
    if points.len() < 10 {
        return None;
    }
    let count = points.len() as f64;
    let mean_x = points.iter().map(|(x, _)| x).sum::<f64>() / count;
    let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / count;
    let sxx: f64 = points.iter().map(|(x, _)| (x - mean_x).powi(2)).sum();
    let sxy: f64 = points
        .iter()
        .map(|(x, y)| (x - mean_x) * (y - mean_y))
        .sum();
    if sxx <= 0.0 {
        return None;
    }
    let value = sxy / sxx;
    let off: Vec<f64> = points
        .iter()
        .map(|(x, y)| y - mean_y - value * (x - mean_x))
        .collect();
    let squares: f64 = off.iter().map(|off| off * off).sum();
    let effective = (count * thinning(&off)).max(3.0);
    Some(Estimate {
        value,
        uncertainty: student_t(effective - 2.0) * (squares / (effective - 2.0) / sxx).sqrt(),
    })
}

/// The share of values that count: (1 − r)/(1 + r), never more than all.
fn thinning(off: &[f64]) -> f64 {
    let squares: f64 = off.iter().map(|off| off * off).sum();
    if squares <= 0.0 {
        return 1.0;
    }
    let products: f64 = off.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let count = off.len() as f64;
    // The estimate is low by about (1 + 3r)/n in short series (Marriott and Pope 1954, from memory: the leading terms).
    let raw = products / squares;
    let r = (raw + (1.0 + 3.0 * raw.max(0.0)) / count).clamp(0.0, 0.98);
    (1.0 - r) / (1.0 + r)
}

/// Student's t that is exceeded by 2.5 %, for any degrees of freedom from 1 (Abramowitz and Stegun 26.7.5; exact
/// values at 1 and 2, where the series fails).
pub fn student_t(freedom: f64) -> f64 {
    const AT_1: f64 = 12.706_204_736;
    const AT_2: f64 = 4.302_652_730;
    if freedom <= 1.0 {
        return AT_1;
    }
    if freedom < 2.0 {
        return AT_1 + (AT_2 - AT_1) * (freedom - 1.0);
    }
    if freedom < 3.0 {
        return AT_2 + (series_t(3.0) - AT_2) * (freedom - 2.0);
    }
    series_t(freedom)
}

fn series_t(freedom: f64) -> f64 {
    let z: f64 = 1.959_963_985;
    let g1 = (z.powi(3) + z) / 4.0;
    let g2 = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let g3 = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    let g4 = (79.0 * z.powi(9) + 776.0 * z.powi(7) + 1482.0 * z.powi(5)
        - 1920.0 * z.powi(3)
        - 945.0 * z)
        / 92_160.0;
    z + g1 / freedom + g2 / freedom.powi(2) + g3 / freedom.powi(3) + g4 / freedom.powi(4)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt as _, SeedableRng as _};
    use rand_distr::StandardNormal;
    use rand_pcg::Pcg64Mcg;

    #[test]
    fn student_is_the_tables() {
        // scipy.stats.t.ppf(0.975, n)
        for (freedom, t) in [
            (1.0, 12.706_205),
            (2.0, 4.302_653),
            (3.0, 3.182_446),
            (5.0, 2.570_582),
            (10.0, 2.228_139),
            (30.0, 2.042_272),
            (1000.0, 1.962_339),
        ] {
            let off = student_t(freedom) / t - 1.0;
            assert!(off.abs() < 2e-3, "{freedom}: {off}");
        }
    }

    #[test]
    fn a_straight_line_is_found_exactly() {
        let points: Vec<_> = (0..20)
            .map(|i| (f64::from(i), 3.0 - 0.25 * f64::from(i)))
            .collect();
        let fit = slope(&points).expect("twenty points");
        assert!(
            (fit.value + 0.25).abs() < 1e-12 && fit.uncertainty < 1e-9,
            "{fit:?}"
        );
        assert_eq!(slope(&points[..9]), None);
        assert_eq!(slope(&[(1.0, 2.0); 12]), None);
        assert_eq!(mean(&[1.0, 2.0]), None);
    }

    /// How often the true value lies within the interval, for series whose neighbours are `r` alike.
    fn coverage(r: f64, count: usize, trials: u64) -> (f64, f64) {
        let (mut means, mut slopes) = (0, 0);
        for seed in 0..trials {
            let mut chance = Pcg64Mcg::seed_from_u64(seed);
            let mut draw = || chance.sample::<f64, _>(StandardNormal);
            let mut value = draw();
            let points: Vec<(f64, f64)> = (0..count)
                .map(|i| {
                    value = r * value + (1.0 - r * r).sqrt() * draw();
                    (i as f64, 5.0 + value)
                })
                .collect();
            let values: Vec<f64> = points.iter().map(|(_, y)| *y).collect();
            let found = mean(&values).expect("enough");
            means += u32::from((found.value - 5.0).abs() <= found.uncertainty);
            let found = slope(&points).expect("enough");
            slopes += u32::from(found.value.abs() <= found.uncertainty);
        }
        (
            f64::from(means) / trials as f64,
            f64::from(slopes) / trials as f64,
        )
    }

    #[test]
    fn the_intervals_hold_the_truth_as_often_as_they_say() {
        for (r, count) in [(0.0, 30), (0.0, 240), (0.4, 60), (0.7, 240)] {
            let (means, slopes) = coverage(r, count, 600);
            // 95 % of 600, with room for chance (three deviations are 2.7 %) and for the estimate of r.
            assert!(
                (0.91..=0.995).contains(&means),
                "mean, r {r}, n {count}: {means}"
            );
            assert!(
                (0.91..=0.995).contains(&slopes),
                "slope, r {r}, n {count}: {slopes}"
            );
        }
    }
}
