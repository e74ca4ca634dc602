//! The owner's sheet: one page in plain words for the owner, one technical page that another technician can check.
//!
//! A [`Sheet`] is a plain document made from the job's record and nothing else: no clock, no time zone of the machine,
//! no file. [`pdf`] and [`html`] set it, and the same job gives the same bytes; [`write`] makes a file of it.

mod document;
mod file;
mod html;
mod owner;
mod pdf;
mod picture;
mod technical;
mod typed;
mod words;

pub use document::{Align, Block, Column, Row, Sheet, Table};
pub use file::write;
pub use html::html;
pub use pdf::{Paper, pdf};
pub use picture::Picture;
pub use words::{figure_words, uncertainty_words};

use super::Job;

/// What a file of ours carries, so that no other file is overwritten by a sheet.
pub const GENERATOR: &str = "trimwatch sheet";

/// Why a sheet cannot be made; one line.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct SheetError(pub String);

impl Sheet {
    /// The sheet of a job; `earlier` are other jobs of the same deck, in any order.
    pub fn of(job: &Job, earlier: &[Job]) -> Self {
        let earlier = before(job, earlier);
        let dated = words::document_time(job);
        let model = typed::or(&job.deck.model, typed::NAME, "a deck without a name");
        let number = typed::or(&job.number, typed::NAME, "without a number");
        Self {
            title: format!("Job {number}: {model}"),
            number,
            workshop: typed::or(&job.workshop.name, typed::NAME, ""),
            dated,
            owner: owner::page(job, &earlier),
            technical: technical::page(job, &earlier),
        }
    }
}

/// The jobs that came before this one, oldest first; this one itself is none of them.
fn before<'a>(job: &Job, others: &'a [Job]) -> Vec<&'a Job> {
    let mut earlier: Vec<_> = others
        .iter()
        .filter(|other| other.number != job.number && other.opened < job.opened)
        .collect();
    earlier.sort_by(|a, b| (a.opened, &a.number).cmp(&(b.opened, &b.number)));
    earlier
}
