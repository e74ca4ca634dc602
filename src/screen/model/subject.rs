//! What the main view is about: one of the adjustments, or the mechanism.

use super::Adjustment;

/// What fills the main view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Subject {
    /// Something to turn until its needle is in the band.
    Adjusting(Adjustment),
    /// Which part it is: there is no needle, and nothing to turn.
    Mechanism,
}

impl Subject {
    /// All, in the order of their keys.
    pub const ALL: [Self; 5] = [
        Self::Adjusting(Adjustment::Speed),
        Self::Adjusting(Adjustment::Flutter),
        Self::Adjusting(Adjustment::Azimuth),
        Self::Adjusting(Adjustment::Level),
        Self::Mechanism,
    ];

    /// Its place in [`Subject::ALL`].
    pub const fn index(self) -> usize {
        match self {
            Self::Adjusting(adjustment) => adjustment.index(),
            Self::Mechanism => Adjustment::ALL.len(),
        }
    }

    /// The next one round.
    #[must_use]
    pub const fn next(self) -> Self {
        Self::ALL[(self.index() + 1) % Self::ALL.len()]
    }

    /// The one before, round.
    #[must_use]
    pub const fn previous(self) -> Self {
        Self::ALL[(self.index() + Self::ALL.len() - 1) % Self::ALL.len()]
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Adjusting(adjustment) => adjustment.name(),
            Self::Mechanism => "Mechanism",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn next_goes_round_and_previous_goes_back() {
        for (index, subject) in Subject::ALL.into_iter().enumerate() {
            assert_eq!(subject.index(), index);
            assert_eq!(subject.next().previous(), subject);
        }
        assert_eq!(
            Subject::Mechanism.next(),
            Subject::Adjusting(Adjustment::Speed)
        );
    }
}
