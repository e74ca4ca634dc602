//! The run-in log from outside: a deck that warms up, reverses and stops; hours in constant memory; a program that is
//! killed; disks that are full; files that are damaged or something else.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot set its stage should stop"
)]

mod deck;
mod ends;
mod files;
mod killed;
mod memory;
mod program;

#[global_allocator]
static COUNTING: memory::Counting = memory::Counting;
