//! The record of the jobs: kept, found, exported and taken in; killed writers, full and read-only disks, damaged files,
//! a second copy, hostile files from elsewhere.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test that cannot set its stage should stop; a child says what it did"
)]

mod backup;
mod child;
mod copies;
mod damaged;
mod files;
mod kept;
mod killed;
mod refused_disk;
mod speed;
mod stage;
mod tapes;
mod versions;
