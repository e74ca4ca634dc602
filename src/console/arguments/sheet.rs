//! The words of `trimwatch sheet`.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `trimwatch sheet`.
#[derive(Debug, Args)]
pub struct SheetArguments {
    /// The job: its number in the record, or a job file as 'export' writes it
    pub job: String,
    /// The sheet's file, .pdf or .html [default: the job's number, as PDF, here]
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Paper of a PDF
    #[arg(long, value_enum, default_value_t = PaperChoice::A4)]
    pub paper: PaperChoice,
    /// Record of the jobs [default: the user's own]
    #[arg(long, value_name = "FILE")]
    pub store: Option<PathBuf>,
    /// Job file of an earlier job of the deck, beside a JOB that is a file; may be given more than once
    #[arg(long, value_name = "FILE")]
    pub earlier: Vec<PathBuf>,
}

/// The paper of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PaperChoice {
    /// ISO A4
    A4,
    /// US Letter
    Letter,
}
