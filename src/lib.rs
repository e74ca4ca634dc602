//! trimwatch measures a tape deck's line output while the deck is adjusted.
//!
//! The data flows one way: a [`source`] fills a lock-free ring, the [`worker`] drains it into the [`meters`], these
//! publish [`readings`], and the screen and the console show them. `signal` holds the DSP blocks the meters are
//! built of, [`tables`] the calibration data, [`profile`] what is known of the interface, [`bench`] the
//! record of the job.

pub mod bench;
pub mod console;
pub mod guide;
pub mod mechanism;
pub mod meters;
pub mod profile;
pub mod readings;
pub mod run_in;
pub mod screen;
pub mod signal;
pub mod source;
pub mod tables;
pub mod worker;
