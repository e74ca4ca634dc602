//! The target bands on the screen's scales as a job's limits have them.

use super::{LimitSet, Quantity};
use crate::tables::{Band, Limits};

impl LimitSet {
    /// The bands of speed, flutter, azimuth and balance by these limits; what they do not say is as in `default`, and so
    /// is what is no adjustment (the computer's input).
    ///
    /// A band lies evenly about zero: where a limit is wider on one side, the nearer side counts, and a limit with zero
    /// outside it has no such band and leaves the default.
    pub fn targets(&self, default: &Limits) -> Limits {
        let mut limits = default.clone();
        if let Some((band, source)) = self.band(Quantity::SpeedDeviation, default.speed_percent()) {
            limits.speed.aim_percent = band.aim;
            limits.speed.accept_percent = band.accept;
            limits.speed.source = source;
        }
        let flutter = default.flutter_percent();
        let weighted_peak = self
            .band(Quantity::WeightedTwoSigma, flutter)
            .or_else(|| self.band(Quantity::WeightedQuasiPeakMax, flutter));
        if let Some((band, source)) = weighted_peak {
            limits.flutter.aim_weighted_peak_percent = band.aim;
            limits.flutter.accept_weighted_peak_percent = band.accept;
            limits.flutter.source = source;
        }
        if let Some((band, source)) = self.band(Quantity::Azimuth, default.azimuth_arcmin()) {
            limits.azimuth.aim_arcmin = band.aim;
            limits.azimuth.accept_arcmin = band.accept;
            limits.azimuth.source = source;
        }
        if let Some((band, source)) = self.band(Quantity::Balance, default.balance_db()) {
            limits.balance.aim_db = band.aim;
            limits.balance.accept_db = band.accept;
            limits.balance.source = source;
        }
        limits
    }

    /// The band of a quantity with its source.
    fn band(&self, quantity: Quantity, default: Band) -> Option<(Band, String)> {
        let limit = self.of(quantity)?;
        let below = limit.least.map_or(f64::INFINITY, |least| -least);
        let accept = below.min(limit.greatest.unwrap_or(f64::INFINITY));
        let aim = limit.aim.unwrap_or(default.aim).min(accept);
        let source = format!("{}: {}", self.title, limit.source);
        (accept > 0.0 && accept.is_finite()).then_some((Band { aim, accept }, source))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Limit, limit_shelf::limit_sets};

    fn default() -> Limits {
        Limits::supplied().expect("built-in table")
    }

    fn set(quantity: Quantity, least: Option<f64>, greatest: Option<f64>) -> LimitSet {
        LimitSet {
            name: "own".into(),
            title: "Own".into(),
            limits: vec![Limit {
                quantity,
                least,
                greatest,
                aim: None,
                source: "manual".into(),
            }],
        }
    }

    #[test]
    fn what_a_set_lacks_is_as_before() {
        let nothing = LimitSet {
            name: "none".into(),
            title: "None".into(),
            limits: vec![],
        };
        assert_eq!(nothing.targets(&default()), default());
        let speed = set(Quantity::SpeedDeviation, Some(-1.5), Some(1.5)).targets(&default());
        let band = speed.speed_percent();
        assert_eq!((band.aim, band.accept), (0.2, 1.5));
        assert_eq!(speed.speed.source, "Own: manual");
        assert_eq!(speed.azimuth, default().azimuth);
    }

    #[test]
    fn the_nearer_side_counts_and_the_aim_lies_within() {
        let uneven = set(Quantity::Azimuth, Some(-0.5), Some(4.0)).targets(&default());
        let band = uneven.azimuth_arcmin();
        assert_eq!((band.aim, band.accept), (0.5, 0.5));
        let flutter = set(Quantity::WeightedQuasiPeakMax, None, Some(0.3)).targets(&default());
        assert_eq!(flutter.flutter_percent().accept, 0.3);
        let off_zero = set(Quantity::Balance, Some(0.5), Some(1.5)).targets(&default());
        assert_eq!(off_zero, default());
        let one_sided = set(Quantity::SpeedDeviation, Some(-0.4), None).targets(&default());
        assert_eq!(one_sided.speed_percent().accept, 0.4);
    }

    #[test]
    fn every_supplied_set_yields_bands() {
        for set in limit_sets().expect("built-in tables") {
            let targets = set.targets(&default());
            for band in [
                targets.speed_percent(),
                targets.flutter_percent(),
                targets.azimuth_arcmin(),
                targets.balance_db(),
            ] {
                assert!(band.aim > 0.0 && band.aim <= band.accept, "{}", set.name);
            }
            assert_eq!(targets.input_level, default().input_level);
        }
    }
}
