//! The window: for a technician with both hands in a deck and half a second to look.
//!
//! [`ScreenApp`] draws from [`Readings`](crate::readings::Readings) snapshots and sends
//! [`Request`](crate::worker::Request)s; it measures nothing. `model` decides what is shown and says it in words,
//! `paint` holds the hand-drawn parts, `views` the main views, `strips` what stands around them, `panels` what
//! opens at the side. Sources reach it only through [`Inputs`] and [`Screwdrivers`], the sound guide through
//! [`Outputs`].

mod app;
mod backstage;
mod deck_shelf;
mod fields;
mod foot_keys;
mod inputs;
mod interface;
mod job_desk;
mod keys;
mod log_shelf;
mod mailbox;
mod memory;
mod model;
mod outputs;
mod paint;
mod panels;
mod screwdrivers;
mod session;
pub mod sight;
mod strips;
mod taken;
mod tape_shelf;
mod theme;
mod views;
mod window;

pub use app::ScreenApp;
pub use deck_shelf::{DeckChoice, DeckShelf};
pub use foot_keys::FootKeys;
pub use inputs::{InputChoice, InputEntry, InputList, Inputs, OpenInput, Wake};
pub use job_desk::{
    Answer, Change, Errand, FileRecord, InHand, JobDesk, JobRecord, Listed, Prepared, Standards,
    ToKeep, Which,
};
pub use log_shelf::{LogList, LogShelf};
pub use memory::{Memory, Remembered, RememberedTape};
pub use outputs::{Guide, OutputChoice, OutputChoices, Outputs};
pub use screwdrivers::{Adjustable, Choice, Screwdrivers};
pub use tape_shelf::{TapeList, TapeShelf};
pub use window::{ScreenError, ScreenOptions, run};

/// The pages and panels of the job, each by itself: plain data and what is typed go in, wishes come out.
pub mod job_pages {
    pub use super::model::checks_form::{ChecksForm, Subject};
    pub use super::model::job_list::{Answer, JobListForm};
    pub use super::model::new_job::{Decks, Field, NewJobForm, Visits};
    pub use super::model::standards_form::StandardsForm;
    pub use super::panels::standards::{BackupState, ProfileInUse, StandardsPanel, StandardsWish};
    pub use super::theme::install as install_theme;
    pub use super::views::checks::{ChecksPage, ChecksWish};
    pub use super::views::job_list::{JobListPage, JobListWish};
    pub use super::views::new_job::{Named, NewJobPage, NewJobWish};
}
