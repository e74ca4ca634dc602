//! What is shown, before it is drawn: words, states, scale widths. No measuring, no painting.

pub mod adjustment;
pub mod bins;
pub mod cautions;
pub mod checks_form;
pub mod dwell;
pub mod format;
pub mod glance;
pub mod harmless;
pub mod interface;
pub mod job_list;
pub mod job_table;
pub mod level_check;
pub mod level_reference;
pub mod mechanism;
pub mod mechanism_form;
pub mod new_job;
pub mod run_in;
pub mod stack;
pub mod standards_form;
pub mod subject;
pub mod swing;
pub mod tape;
pub mod zoom;

pub use adjustment::{Adjustment, Better};
pub use glance::{Follower, Glance, State};
pub use subject::Subject;
