//! `trimwatch virtual`: a take of the virtual deck, whose true values its file tells.

use super::{ConsoleError, Outcome, deliver, settings::VirtualSettings};
use crate::source::{FrameSource as _, take_writer};
use std::io::Write;

/// Writes the take and says what it is.
pub fn write_take(
    mut settings: VirtualSettings,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    let description = settings.deck.description().clone();
    let frames = take_writer::write_take(
        &mut settings.deck,
        &settings.out,
        settings.seconds,
        settings.bits,
    )?;
    let seconds = frames as f64 / f64::from(description.sample_rate_hz);
    let text = format!(
        "{}: {seconds:.2} s of {}, {} Hz, {} channels\n",
        settings.out.display(),
        description.name,
        description.sample_rate_hz,
        description.channels
    );
    deliver(out, &text)?;
    Ok(Outcome::Complete)
}
