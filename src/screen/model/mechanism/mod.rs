//! The reading of the mechanism as it is shown: the list of what was heard, the answer in words, and where rates and
//! sizes stand. No measuring.

mod answer;
mod axis;
mod list;

pub use answer::{Answer, answer, brief};
pub use axis::{RateAxis, SizeAxis, columns};
pub use list::{Item, ItemKey, chosen, items};
