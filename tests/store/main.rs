//! The record of the jobs: kept, found, exported and taken in; killed writers, full and read-only disks, damaged files,
//! a second copy, hostile files from elsewhere.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot set its stage should stop"
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
