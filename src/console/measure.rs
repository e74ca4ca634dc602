//! `trimwatch measure`: a recording from end to end, as fast as it can be read.

use super::{
    ConsoleError, Outcome, arguments::MeasureFormat, deliver, ends, json,
    settings::MeasureSettings, sheet::sheet,
};
use crate::worker;
use std::io::Write;

/// Reads the recording and writes its readings, also where none of them stands.
pub fn measure(
    mut settings: MeasureSettings,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    if settings.ends {
        return ends::measure_ends(settings, out);
    }
    let readings = worker::measure(&mut settings.recording, settings.expected.setup, None)?;
    let text = match settings.format {
        MeasureFormat::Text => sheet(&readings, &settings.expected.words),
        MeasureFormat::Json => json::object(&readings)?,
    };
    deliver(out, &text)?;
    Ok(Outcome::of(readings.any_valid()))
}
