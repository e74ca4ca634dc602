//! The owner's sheet: its figures against the record, its pages, what was typed into it, and the command.

mod command;
mod figures;
mod gaps;
mod pages;
mod stage;
mod typed;
