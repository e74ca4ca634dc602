//! What stands under the azimuth's scale, and what was kept of both directions.

use crate::readings::{BothDirections, Direction};

/// What stands under the scale.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Face {
    /// The quiet figures.
    #[default]
    Figures,
    /// Both channels against each other.
    Xy,
    /// Phase over frequency.
    Line,
    /// Forward and reverse of an auto-reverse deck.
    Directions,
}

impl Face {
    /// All, in the order of the key.
    pub const ALL: [Self; 4] = [Self::Figures, Self::Xy, Self::Line, Self::Directions];

    /// Its name.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Figures => "figures",
            Self::Xy => "X–Y figure",
            Self::Line => "phase over frequency",
            Self::Directions => "forward and reverse",
        }
    }
}

/// What the technician asks for in the view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AzimuthWish {
    /// Keeps the azimuth as that of a direction.
    Keep(Direction),
    /// Forgets both.
    Forget,
}

/// What the technician has chosen to see, and has kept.
#[derive(Default)]
pub struct AzimuthDesk {
    pub(super) face: Face,
    /// What was kept of both directions.
    pub both: BothDirections,
}

impl AzimuthDesk {
    /// The next face, round.
    pub fn next_face(&mut self) {
        let at = Face::ALL.iter().position(|face| *face == self.face);
        self.face = Face::ALL[at.map_or(0, |at| (at + 1) % Face::ALL.len())];
    }

    /// Shows the two directions.
    pub fn show_directions(&mut self) {
        self.face = Face::Directions;
    }

    /// Whether the X–Y figure is looked at.
    pub fn shows_xy(&self) -> bool {
        self.face == Face::Xy
    }
}
