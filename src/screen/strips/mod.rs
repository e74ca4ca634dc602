//! The strips around the main view: what runs, what is worth knowing or asked, the quiet figures, the keys, and the first
//! steps.

pub mod cards;
pub mod caution;
pub mod job;
pub mod keys;
pub mod lead;
pub mod notices;
pub mod question;
pub mod status;
