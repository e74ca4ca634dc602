//! The program's signal path against the standards' own numbers, and against what its design promises of any signal.
//!
//! A number of a standard stands beside the check with its tolerance and source; 'value from memory' says that no
//! text of the standard was at hand for it.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot set its stage should stop"
)]

mod azimuth;
mod azimuth_coarse_to_fine;
mod bias;
mod changing_signals;
mod conventions;
mod cramer_rao;
mod cuts;
mod disturbances;
mod floors;
mod flutter_detectors;
mod full_scale;
mod gaps;
mod hostile_samples;
mod latency;
mod live_path;
mod memory;
mod phase_line;
mod ppm;
mod quasi_peak;
mod stage;
mod synth;
mod trial;
mod unusable_signals;
mod vu;
mod weighting;
#[allow(dead_code, reason = "the bench needs more of it")]
mod wow_step;

/// Counts what lives, thread by thread: see `memory`.
#[global_allocator]
static ALLOCATOR: memory::Counting = memory::Counting;
