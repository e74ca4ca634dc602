//! The strips around the main view: what runs, what is worth knowing, the quiet figures, the keys.

pub mod cards;
pub mod caution;
pub mod job;
pub mod keys;
pub mod notices;
pub mod status;
