//! Where rates and sizes stand on the picture of the spectra, and the spectrum cut into pixels.

use std::ops::RangeInclusive;

/// Slowest rate of the axis, Hz.
const SLOWEST_HZ: f64 = 0.05;
/// Fastest rate, where there is no spectrum of the scrape band, Hz.
const FASTEST_HZ: f64 = 250.0;
/// Rates with a number, Hz.
const NUMBERED_HZ: [f64; 14] = [
    0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0,
];
/// Powers of ten that the axis of sizes holds.
const DECADES: f64 = 3.0;
/// The greatest size stands this far below the top, as a factor, so that its name has room.
const HEADROOM: f64 = 2.2;

/// The axis of rates: decades of equal width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateAxis {
    left: f32,
    right: f32,
    fastest_hz: f64,
}

impl RateAxis {
    /// From `left` to `right`; as far as `wide_to_hz` where the scrape band is shown too.
    pub fn new(left: f32, right: f32, wide_to_hz: Option<f64>) -> Self {
        Self {
            left,
            right,
            fastest_hz: wide_to_hz.unwrap_or(FASTEST_HZ).max(FASTEST_HZ),
        }
    }

    /// Where a rate stands; beyond the ends it stands at the end.
    pub fn x(&self, rate_hz: f64) -> f32 {
        let rate_hz = rate_hz.clamp(SLOWEST_HZ, self.fastest_hz);
        let part = (rate_hz / SLOWEST_HZ).ln() / (self.fastest_hz / SLOWEST_HZ).ln();
        self.left + (self.right - self.left) * part as f32
    }

    /// Whether a rate lies on the axis.
    pub fn holds(&self, rate_hz: f64) -> bool {
        (SLOWEST_HZ..=self.fastest_hz).contains(&rate_hz)
    }

    /// The rates that have a number.
    pub fn numbered_hz(&self) -> impl Iterator<Item = f64> + '_ {
        NUMBERED_HZ.into_iter().filter(|rate| self.holds(*rate))
    }
}

/// The axis of sizes: decades of equal height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SizeAxis {
    top: f32,
    bottom: f32,
    greatest: f64,
}

impl SizeAxis {
    /// From `bottom` up to `top`, for a spectrum whose greatest size is `greatest`. The scale changes in steps, so that
    /// pictures can be compared.
    pub fn new(bottom: f32, top: f32, greatest: f64) -> Self {
        let sound = if greatest.is_finite() { greatest } else { 0.0 };
        let wanted = HEADROOM * sound.clamp(1e-6, 1e6);
        let decade = 10_f64.powf(wanted.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|digit| digit * decade)
            .find(|step| *step >= wanted)
            .unwrap_or(wanted);
        Self {
            top,
            bottom,
            greatest: step,
        }
    }

    /// Where a size stands; what is smaller than the axis stands at its foot.
    pub fn y(&self, size: f64) -> f32 {
        let least = self.greatest * 10_f64.powf(-DECADES);
        let part = (size.clamp(least, self.greatest) / least).log10() / DECADES;
        self.bottom + (self.top - self.bottom) * part as f32
    }

    /// The powers of ten on it.
    pub fn decades(&self) -> impl Iterator<Item = f64> {
        let top = self.greatest.log10();
        let first = (top - DECADES).ceil() as i32;
        // The one at the very foot would be hidden by the axis.
        (first..=top.floor() as i32)
            .map(|power| 10_f64.powi(power))
            .filter(move |size| size.log10() > top - 0.97 * DECADES)
    }
}

/// A spectrum as points of a line, not more than one a pixel: the greatest size in each. `step_hz` is the distance of
/// `sizes`, which start at 0 Hz; `band_hz` what is shown of them.
pub fn columns(
    sizes: &[f32],
    step_hz: f64,
    band_hz: RangeInclusive<f64>,
    rates: &RateAxis,
    heights: &SizeAxis,
) -> Vec<(f32, f32)> {
    let mut points: Vec<(f32, f32)> = Vec::new();
    if step_hz <= 0.0 {
        return points;
    }
    let first = (band_hz.start() / step_hz).ceil().max(1.0) as usize;
    let mut column = f32::NEG_INFINITY;
    for (bin, &size) in sizes.iter().enumerate().skip(first) {
        let rate_hz = bin as f64 * step_hz;
        if rate_hz > *band_hz.end() {
            break;
        }
        if !size.is_finite() || !rates.holds(rate_hz) {
            continue;
        }
        let (x, y) = (rates.x(rate_hz), heights.y(f64::from(size)));
        match points.last_mut() {
            // Up is less on the screen.
            Some(last) if x.floor() == column => last.1 = last.1.min(y),
            _ => {
                points.push((x, y));
                column = x.floor();
            }
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_stand_in_decades_of_equal_width() {
        let axis = RateAxis::new(100.0, 1100.0, None);
        assert_eq!(axis.x(0.05), 100.0);
        assert_eq!(axis.x(250.0), 1100.0);
        let width = axis.x(1.0) - axis.x(0.1);
        assert!((axis.x(100.0) - axis.x(10.0) - width).abs() < 0.01);
        assert_eq!(axis.x(1e9), 1100.0);
        assert_eq!(axis.numbered_hz().last(), Some(200.0));
        let wide = RateAxis::new(100.0, 1100.0, Some(1200.0));
        assert_eq!(wide.numbered_hz().last(), Some(1000.0));
    }

    #[test]
    fn sizes_have_a_scale_that_changes_in_steps() {
        let axis = SizeAxis::new(200.0, 0.0, 0.04);
        assert_eq!(axis, SizeAxis::new(200.0, 0.0, 0.045));
        assert!((axis.y(0.1) - 0.0).abs() < 1e-3);
        assert!((axis.y(0.0001) - 200.0).abs() < 1e-3);
        assert_eq!(axis.y(0.0), 200.0);
        let decades: Vec<_> = axis.decades().collect();
        assert_eq!(decades, [0.001, 0.01, 0.1]);
        assert!(SizeAxis::new(200.0, 0.0, f64::NAN).y(1.0).is_finite());
    }

    #[test]
    fn a_line_between_many_bins_is_never_lost() {
        let rates = RateAxis::new(0.0, 600.0, None);
        let heights = SizeAxis::new(100.0, 0.0, 0.1);
        let mut sizes = vec![0.001_f32; 25_000];
        sizes[12_345] = 0.1;
        let points = columns(&sizes, 0.01, 0.05..=250.0, &rates, &heights);
        assert!(points.len() <= 601, "{} points", points.len());
        let highest = points.iter().min_by(|a, b| a.1.total_cmp(&b.1));
        let (x, y) = highest.copied().expect("points");
        assert!((x - rates.x(123.45)).abs() < 1.0);
        assert_eq!(y, heights.y(0.1));
        assert!(points.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert!(columns(&sizes, 0.0, 0.05..=250.0, &rates, &heights).is_empty());
    }
}
