//! The mechanism read from the sound: which part moves the tape unevenly, and how surely.
//!
//! Speed, phase and level of the last minute go in as plain series ([`MotionSeries`]), a [`MechanismReading`] comes
//! out: spectra, lines, the parts they belong to with the shares in the weighted reading, once-round traces,
//! steadiness, and what changed since as found. Nothing here knows of files, threads or screens; the same series give
//! the same reading.
//!
//! The way of an analysis: the series are brought to even travel where the speed drifts (`drift`), transformed
//! (`transform`), their lines found over the random floor (`lines`, `floor`), reels' lines with their changing rate
//! (`reels`); the lines go to parts (`parts`, `attribution`) and into the table (`table`); each part's turn is folded
//! (`once_round`, `shape`).

mod analyser;
mod attribution;
mod compare;
mod drift;
mod floor;
mod lines;
mod once_round;
mod parts;
mod reels;
mod report;
mod series;
mod shape;
mod steadiness;
mod table;
mod transform;
mod weighted;

pub use analyser::{Analyser, Options};
pub use compare::compare;
pub use report::component_names;
pub use series::{LONGEST_SECONDS, MotionSeries, WideSeries};

/// A line is seen from about this many times the floor's height on (its power against the threshold of `lines`).
const LEAST_VISIBLE_OVER_FLOOR: f64 = 4.5;
