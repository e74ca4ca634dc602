//! `trimwatch jobs`, `export`, `import`, `backup`: the record of the jobs, as typed.

use super::MeasureFormat;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Which record.
#[derive(Debug, Default, Args)]
pub struct StoreArguments {
    /// The file that holds the jobs [default: jobs.db in your data folder]
    #[arg(long, value_name = "FILE")]
    pub store: Option<PathBuf>,
}

/// `trimwatch jobs`.
#[derive(Debug, Args)]
pub struct JobsArguments {
    /// Words of number, deck, complaint or notes, all of which must be there; a job's whole number shows that job
    pub search: Vec<String>,
    /// Only decks that are here
    #[arg(long, conflicts_with = "closed")]
    pub open: bool,
    /// Only decks that have left
    #[arg(long)]
    pub closed: bool,
    /// How the list is written
    #[arg(long, value_enum, default_value_t = MeasureFormat::Text)]
    pub format: MeasureFormat,
    /// Which record.
    #[command(flatten)]
    pub store: StoreArguments,
}

/// How a job is exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ExportFormat {
    /// The whole job, to be taken in elsewhere with 'import'
    Json,
    /// Its figures, a row each, for a spreadsheet
    Csv,
}

/// `trimwatch export`.
#[derive(Debug, Args)]
pub struct ExportArguments {
    /// The job's number
    pub job: String,
    /// The file to write, which must not be there yet [default: the standard output]
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// What is written
    #[arg(long, value_enum, default_value_t = ExportFormat::Json)]
    pub format: ExportFormat,
    /// Which record.
    #[command(flatten)]
    pub store: StoreArguments,
}

/// `trimwatch import`.
#[derive(Debug, Args)]
pub struct JobImportArguments {
    /// Job files that 'export' wrote
    #[arg(required = true)]
    pub files: Vec<PathBuf>,
    /// Take the job in under this number
    #[arg(long = "as", value_name = "NUMBER")]
    pub number: Option<String>,
    /// Which record.
    #[command(flatten)]
    pub store: StoreArguments,
}

/// `trimwatch backup`.
#[derive(Debug, Args)]
pub struct BackupArguments {
    /// The file to write, which must not be there yet
    pub file: PathBuf,
    /// Which record.
    #[command(flatten)]
    pub store: StoreArguments,
}
