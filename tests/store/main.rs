//! The record of the jobs: kept, found, exported and taken in; killed writers, full and read-only disks, damaged files,
//! a second copy, hostile files from elsewhere.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot set its stage should stop"
)]

mod files;
mod kept;
mod stage;
