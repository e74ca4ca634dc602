//! Makes the job files of the invented Harbour Lane workshop: plays the virtual decks, takes the readings as the bench
//! does, and adds what was typed. `cargo run --example demo_jobs [FOLDER]`; the folder is this one where none is named.

mod six;
mod workbench;

use std::{error::Error, fs, path::PathBuf};
use trimwatch::bench::job_file;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args_os().nth(1).map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo-data/jobs"),
        PathBuf::from,
    );
    fs::create_dir_all(&folder)?;
    for job in six::jobs()? {
        let text = job_file::to_text(&job)?;
        fs::write(folder.join(format!("{}.json", job.number)), text)?;
    }
    Ok(())
}
