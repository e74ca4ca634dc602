//! What is looked at or done before anything is measured.

use crate::bench::Check;

/// Something looked at or done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Seen {
    /// Condition of the belts.
    Belt,
    /// Wear of the heads.
    HeadWear,
    /// Heads, guides, capstan and roller cleaned.
    Cleaned,
    /// Heads, guides and capstan demagnetised.
    Demagnetised,
}

impl Seen {
    /// All of them, in the order of the work: what a calibration tape meets is clean and free of magnetism.
    pub const ALL: [Self; 4] = [
        Self::Belt,
        Self::HeadWear,
        Self::Cleaned,
        Self::Demagnetised,
    ];

    /// What the record calls it.
    pub const fn what(self) -> &'static str {
        match self {
            Self::Belt => "belt",
            Self::HeadWear => "head wear",
            Self::Cleaned => "cleaned",
            Self::Demagnetised => "demagnetised",
        }
    }

    /// The one that the record calls so.
    pub fn of(what: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|seen| seen.what() == what)
    }

    /// What a technician calls it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Belt => "Belt condition",
            Self::HeadWear => "Head wear",
            Self::Cleaned => "Tape path cleaned",
            Self::Demagnetised => "Tape path demagnetised",
        }
    }

    /// What is usually found when it is as it should be.
    pub const fn good_words(self) -> &'static str {
        match self {
            Self::Belt => "supple, runs true",
            Self::HeadWear => "even, no ridge to be felt",
            Self::Cleaned | Self::Demagnetised => "done",
        }
    }

    /// What is usually found when it is not.
    pub const fn bad_words(self) -> &'static str {
        match self {
            Self::Belt => "slack or hardened",
            Self::HeadWear => "ridge worn into the face",
            Self::Cleaned | Self::Demagnetised => "not done",
        }
    }

    /// What to take care of.
    pub const fn caution(self) -> &'static str {
        match self {
            Self::Belt => {
                "Deck off and unplugged before a hand, a sleeve or hair comes near pulleys and belts."
            }
            Self::HeadWear => "No magnetised tool near a head, and nothing hard on its face.",
            Self::Cleaned => {
                "Deck off. Solvent burns and its vapour is harmful: little of it, with air, away from flames; \
                 keep it off rubber and plastics that it attacks, and let it dry before a tape is put in."
            }
            Self::Demagnetised => {
                "Deck off, tapes and monitors away. Switch the demagnetiser on and off an arm's length from the heads. \
                 Not with a pacemaker."
            }
        }
    }

    /// The check as the record keeps it; with the usual words where none are typed.
    pub fn check(self, found: &str, good: Option<bool>) -> Check {
        let found = match (found.trim(), good) {
            ("", Some(true)) => self.good_words(),
            ("", Some(false)) => self.bad_words(),
            (found, _) => found,
        };
        Check::Seen {
            what: self.what().into(),
            found: found.into(),
            good,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_counts_and_else_the_usual_words() {
        let Check::Seen { what, found, good } = Seen::Belt.check("  ", Some(false)) else {
            panic!("seen");
        };
        assert_eq!(
            (&*what, &*found, good),
            ("belt", "slack or hardened", Some(false))
        );
        let typed = Seen::HeadWear.check("slight groove", None);
        assert!(matches!(typed, Check::Seen { found, good: None, .. } if found == "slight groove"));
        for seen in Seen::ALL {
            assert_eq!(Seen::of(seen.what()), Some(seen));
        }
        assert_eq!(Seen::of("motor"), None);
    }
}
