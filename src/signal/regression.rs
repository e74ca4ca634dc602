//! The slope of a straight line through a stream of points, over stretches with offsets of their own.
//!
//! Least squares on the phase of a tone is the maximum-likelihood estimate of its frequency at high SNR
//! (Tretter 1985; the bound itself: Rife & Boorstyn 1974), and its parabolic weight over time lets far less wow
//! through than the plain mean of the frequency does.

/// Co-moments of one stretch or of several pooled.
#[derive(Clone, Copy, Debug, Default)]
struct Moments {
    count: f64,
    mean_x: f64,
    mean_y: f64,
    sxx: f64,
    sxy: f64,
}

/// A common slope fitted to any number of stretches.
#[derive(Clone, Copy, Debug, Default)]
pub struct Slope {
    current: Moments,
    earlier_sxx: f64,
    earlier_sxy: f64,
}

impl Slope {
    /// Takes a point in.
    #[inline]
    pub fn push(&mut self, x: f64, y: f64) {
        let m = &mut self.current;
        m.count += 1.0;
        let dx = x - m.mean_x;
        m.mean_x += dx / m.count;
        m.mean_y += (y - m.mean_y) / m.count;
        m.sxx += dx * (x - m.mean_x);
        m.sxy += dx * (y - m.mean_y);
    }

    /// The next points belong to a new stretch, whose offset in `y` is unknown.
    pub fn break_here(&mut self) {
        self.earlier_sxx += self.current.sxx;
        self.earlier_sxy += self.current.sxy;
        self.current = Moments::default();
    }

    /// The slope; `None` before two different `x` in one stretch.
    pub fn slope(&self) -> Option<f64> {
        let sxx = self.earlier_sxx + self.current.sxx;
        (sxx > 0.0).then(|| (self.earlier_sxy + self.current.sxy) / sxx)
    }

    /// Sum of squares of the `x` about the means of their stretches: with a variance σ² of each `y`, the slope's is
    /// σ² over this.
    pub fn spread(&self) -> f64 {
        self.earlier_sxx + self.current.sxx
    }
}

/// Slope of equally spaced values against their index; `None` for fewer than two.
pub fn slope_of_series(values: impl ExactSizeIterator<Item = f64>) -> Option<f64> {
    let count = values.len() as f64;
    if count < 2.0 {
        return None;
    }
    let centre = (count - 1.0) / 2.0;
    let sxy: f64 = values
        .enumerate()
        .map(|(i, y)| (i as f64 - centre) * y)
        .sum();
    Some(sxy / (count * (count * count - 1.0) / 12.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_share_their_slope_whatever_their_offsets() {
        let mut fit = Slope::default();
        for i in 0..100 {
            let x = f64::from(i) * 0.01;
            if i == 40 {
                fit.break_here();
            }
            fit.push(x, 3.5 * x + if i < 40 { 1e6 } else { -7.0 });
        }
        assert!((fit.slope().unwrap_or_default() - 3.5).abs() < 1e-6);
        assert!(Slope::default().slope().is_none());
    }

    #[test]
    fn series_slope_is_the_textbook_one() {
        let values = [1.0, 3.0, 2.0, 5.0];
        // numpy.polyfit([0, 1, 2, 3], values, 1)[0] = 1.1
        assert!((slope_of_series(values.into_iter()).unwrap_or_default() - 1.1).abs() < 1e-12);
    }
}
