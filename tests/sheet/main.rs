//! The owner's sheet: its figures against the record, its pages, what was typed into it, and the command.

#![allow(clippy::print_stdout, reason = "a test that is skipped says so")]

mod command;
mod figures;
mod gaps;
mod pages;
mod stage;
mod typed;
