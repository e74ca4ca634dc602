//! DSP blocks: streaming state machines that know samples and rates, and nothing of tapes, devices or screens.
//!
//! All constructors allocate what the block will ever need; the `process`/`push` methods do not allocate.

pub mod angles;
pub mod ballistics;
pub mod biquad;
pub mod clipping;
pub mod cross_spectrum;
pub mod demodulator;
pub mod dropout;
pub mod fir;
pub mod frames;
pub mod history;
pub mod kaiser;
pub mod lanes;
pub mod lines;
pub mod magnitudes;
pub mod phase_fit;
pub mod phasors;
pub mod pipeline;
pub mod quantile;
pub mod quasi_peak;
pub mod regression;
pub mod running;
pub mod sliding_slope;
pub mod step_equaliser;
pub mod steps;
pub mod tone_search;
pub mod totals;
pub mod true_peak;
pub mod weighting;
pub mod wow_model;
