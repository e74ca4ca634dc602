//! Azimuth in both directions of an auto-reverse deck.
//!
//! Turned by half a turn, the other pair of tracks lies as the first did, and the tape runs the same way: a head that
//! stands askew alike reads the same sign in both directions. What differs is in the two stops of the head.

use super::PhaseReading;

/// The way the tape runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Forward.
    Forward,
    /// Reverse.
    Reverse,
}

impl Direction {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Forward => "forward",
            Self::Reverse => "reverse",
        }
    }
}

/// An azimuth that was kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeptAzimuth {
    /// The azimuth, arc minutes.
    pub azimuth_arcmin: f64,
    /// Its expanded uncertainty (k = 2), arc minutes.
    pub uncertainty_arcmin: f64,
}

impl KeptAzimuth {
    /// The mean azimuth of a reading.
    ///
    /// # Errors
    /// In words, where it does not stand or its whole cycles are open.
    pub fn of(phase: &PhaseReading) -> Result<Self, String> {
        if !phase.status.is_ok() {
            return Err(phase.status.words().to_owned());
        }
        if phase.ambiguous {
            return Err("whole cycles are open".into());
        }
        let numbers = phase
            .azimuth_arcmin
            .zip(phase.azimuth_uncertainty_arcmin)
            .filter(|(azimuth, uncertainty)| azimuth.is_finite() && uncertainty.is_finite());
        let (azimuth_arcmin, uncertainty_arcmin) =
            numbers.ok_or_else(|| "the average is not there yet".to_owned())?;
        Ok(Self {
            azimuth_arcmin,
            uncertainty_arcmin,
        })
    }

    fn words(&self) -> String {
        let sign = if self.azimuth_arcmin < 0.0 {
            '−'
        } else {
            '+'
        };
        let size = self.azimuth_arcmin.abs();
        format!(
            "{sign}{size:.1} ± {:.1} arcmin",
            self.uncertainty_arcmin.max(0.1)
        )
    }
}

/// What was kept of both directions.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BothDirections {
    /// Forward.
    pub forward: Option<KeptAzimuth>,
    /// Reverse.
    pub reverse: Option<KeptAzimuth>,
}

impl BothDirections {
    /// Keeps an azimuth.
    pub fn keep(&mut self, direction: Direction, azimuth: KeptAzimuth) {
        match direction {
            Direction::Forward => self.forward = Some(azimuth),
            Direction::Reverse => self.reverse = Some(azimuth),
        }
    }

    /// Forward minus reverse with its expanded uncertainty, arc minutes. What both have in common, as the interface's
    /// delay, is not taken out of the uncertainty: it is rather too large.
    pub fn difference_arcmin(&self) -> Option<(f64, f64)> {
        let (forward, reverse) = self.forward.zip(self.reverse)?;
        let uncertainty = forward.uncertainty_arcmin.hypot(reverse.uncertainty_arcmin);
        Some((forward.azimuth_arcmin - reverse.azimuth_arcmin, uncertainty))
    }

    /// Whether the two are told apart.
    pub fn differ(&self) -> bool {
        self.difference_arcmin()
            .is_some_and(|(difference, uncertainty)| difference.abs() > uncertainty)
    }

    /// In words, what was kept and what it means.
    pub fn words(&self) -> String {
        let one = |direction: Direction, kept: Option<KeptAzimuth>| match kept {
            Some(kept) => format!("{} {}", direction.name(), kept.words()),
            None => format!("{} not kept yet", direction.name()),
        };
        let kept = format!(
            "{}, {}",
            one(Direction::Forward, self.forward),
            one(Direction::Reverse, self.reverse)
        );
        match self.difference_arcmin() {
            None => kept,
            Some((difference, uncertainty)) if self.differ() => format!(
                "{kept}: {:.1} ± {:.1} arcmin apart; set the head's two stops one after the other",
                difference.abs(),
                uncertainty.max(0.1)
            ),
            Some((_, uncertainty)) => {
                format!(
                    "{kept}: no difference shown (± {:.1} arcmin)",
                    uncertainty.max(0.1)
                )
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::Validity;

    fn kept(azimuth_arcmin: f64, uncertainty_arcmin: f64) -> KeptAzimuth {
        KeptAzimuth {
            azimuth_arcmin,
            uncertainty_arcmin,
        }
    }

    #[test]
    fn a_difference_counts_only_beyond_its_uncertainty() {
        let mut both = BothDirections::default();
        assert_eq!(both.words(), "forward not kept yet, reverse not kept yet");
        both.keep(Direction::Forward, kept(1.2, 0.3));
        assert_eq!(
            both.words(),
            "forward +1.2 ± 0.3 arcmin, reverse not kept yet"
        );
        both.keep(Direction::Reverse, kept(-4.0, 0.3));
        assert!(both.differ());
        assert_eq!(
            both.words(),
            "forward +1.2 ± 0.3 arcmin, reverse −4.0 ± 0.3 arcmin: 5.2 ± 0.4 arcmin apart; set the head's two stops one after the other"
        );
        both.keep(Direction::Reverse, kept(0.9, 0.3));
        assert!(!both.differ());
        assert!(both.words().ends_with("no difference shown (± 0.4 arcmin)"));
    }

    #[test]
    fn an_open_or_missing_azimuth_is_not_kept() {
        let mut phase = PhaseReading {
            status: Validity::Ok,
            azimuth_arcmin: Some(1.0),
            azimuth_uncertainty_arcmin: Some(0.1),
            ambiguous: true,
            ..PhaseReading::default()
        };
        assert!(KeptAzimuth::of(&phase).is_err());
        phase.ambiguous = false;
        assert_eq!(KeptAzimuth::of(&phase), Ok(kept(1.0, 0.1)));
        phase.status = Validity::NoTone;
        assert!(KeptAzimuth::of(&phase).is_err());
    }
}
