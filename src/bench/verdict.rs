//! Whether a figure keeps to its limit, with the uncertainty as a guard band on both sides of the limit.
//!
//! The decision rule is that of ISO 14253-1 (from memory): a figure passes when it lies inside the limit by at least its
//! expanded uncertainty, fails when it lies outside by more than that, and between the two neither is proven.

use super::{Figure, Limit};

/// What a limit says of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Inside the limit, whatever the uncertainty.
    Pass,
    /// Outside the limit, whatever the uncertainty.
    Fail,
    /// Nearer to the limit than the uncertainty: neither is proven.
    WithinUncertainty,
    /// Inside, but the uncertainty is not known.
    Inside,
    /// Outside, but the uncertainty is not known.
    Outside,
}

impl Verdict {
    /// Judges `figure` by `limit`, which must be of the same quantity.
    pub fn of(figure: &Figure, limit: &Limit) -> Self {
        let above = limit
            .least
            .map_or(f64::INFINITY, |least| figure.value - least);
        let below = limit
            .greatest
            .map_or(f64::INFINITY, |greatest| greatest - figure.value);
        // How far inside the nearer limit; negative = outside.
        let room = above.min(below);
        match figure.uncertainty {
            None if room >= 0.0 => Self::Inside,
            None => Self::Outside,
            Some(uncertainty) if room >= uncertainty => Self::Pass,
            Some(uncertainty) if room < -uncertainty => Self::Fail,
            Some(_) => Self::WithinUncertainty,
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::WithinUncertainty => "within uncertainty",
            Self::Inside => "inside, uncertainty not known",
            Self::Outside => "outside, uncertainty not known",
        }
    }

    /// A sign for it that needs no colour.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Pass | Self::Inside => "✔",
            Self::Fail | Self::Outside => "✘",
            Self::WithinUncertainty => "≈",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Quantity;

    fn judged(value: f64, uncertainty: Option<f64>) -> Verdict {
        let quantity = Quantity::SpeedDeviation;
        let limit = Limit {
            quantity,
            least: Some(-0.5),
            greatest: Some(0.5),
            aim: None,
            source: "a manual".into(),
        };
        Verdict::of(
            &Figure {
                quantity,
                value,
                uncertainty,
            },
            &limit,
        )
    }

    #[test]
    fn the_guard_band_is_the_uncertainty_on_both_sides() {
        assert_eq!(judged(0.30, Some(0.1)), Verdict::Pass);
        assert_eq!(judged(-0.39, Some(0.1)), Verdict::Pass);
        assert_eq!(judged(0.45, Some(0.1)), Verdict::WithinUncertainty);
        assert_eq!(judged(-0.55, Some(0.1)), Verdict::WithinUncertainty);
        assert_eq!(judged(0.61, Some(0.1)), Verdict::Fail);
        assert_eq!(judged(-0.61, Some(0.1)), Verdict::Fail);
        assert_eq!(judged(0.1, Some(0.7)), Verdict::WithinUncertainty);
    }

    #[test]
    fn an_unknown_uncertainty_is_said() {
        assert_eq!(judged(0.3, None), Verdict::Inside);
        assert_eq!(judged(0.6, None), Verdict::Outside);
    }
}
