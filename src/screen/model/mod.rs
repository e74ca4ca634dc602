//! What is shown, before it is drawn: words, states, scale widths. No measuring, no painting.

pub mod adjustment;
pub mod bins;
pub mod dwell;
pub mod format;
pub mod glance;
pub mod level_reference;
pub mod stack;
pub mod swing;
pub mod tape;
pub mod zoom;

pub use adjustment::{Adjustment, Better};
pub use glance::{Follower, Glance, State};
