//! Mechanical checks as they are entered: figures from gauges with the unit on the gauge, and what was seen or done.

mod gauge;
mod seen;

pub use gauge::{gauge, gauge_words, units_of};
pub use seen::Seen;
