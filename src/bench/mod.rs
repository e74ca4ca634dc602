//! The job: what was found, done and left on one owner's deck, judged against stated limits and kept.
//!
//! [`Job`] is the plain record: what the store keeps, what a job file carries, what the owner's sheet is made of. A
//! reading enters it through [`taking`]; [`verdict`] judges its figures against a [`LimitSet`].

pub mod checks;
pub mod job;
pub mod job_file;
pub mod job_number;
pub mod keeping;
pub mod limit_set;
pub mod limit_shelf;
pub mod quantity;
pub mod readings_csv;
pub mod sheet;
pub mod sound;
pub mod standards;
pub mod store;
pub mod taking;
mod targets;
pub mod verdict;

pub use job::{
    Check, CheckDone, Context, Deck, Environment, Figure, Job, Note, PartReplaced, Series,
    SeriesKind, Skip, Stage, Station, TakenReading, TapeUsed, Workshop,
};
pub use keeping::{Entry, EntryId, Keeper, Kept, Waiting};
pub use limit_set::{Limit, LimitSet};
pub use quantity::{Quantity, Side};
pub use store::{Store, StoreError};
pub use verdict::Verdict;
