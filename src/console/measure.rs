//! `trimwatch measure`: a recording from end to end, as fast as it can be read.

use super::{
    ConsoleError, Outcome, arguments::MeasureFormat, deliver, ends, json, pictures,
    settings::MeasureSettings, sheet::sheet,
};
use crate::{meters::AsFound, worker};
use std::io::Write;

/// Reads the recording and writes its readings, also where none of them stands.
pub fn measure(
    mut settings: MeasureSettings,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    if settings.ends {
        return ends::measure_ends(settings, out);
    }
    let mut setup = settings.expected.setup;
    if let Some(take) = &mut settings.as_found {
        let found = worker::measure(take, setup.clone(), None)?;
        let reading = found.mechanism.filter(|reading| reading.status.is_ok());
        setup.mechanism_as_found = Some(AsFound(reading.ok_or_else(|| {
            ConsoleError::Refused(format!(
                "the take as found, {}, gave no reading of the mechanism: speed is '{}'",
                found.source.description.name, found.speed.status
            ))
        })?));
    }
    let readings = worker::measure(&mut settings.recording, setup, None)?;
    let text = match settings.format {
        MeasureFormat::Text => sheet(&readings, &settings.expected.words),
        MeasureFormat::Json => json::object(&readings)?,
    };
    if let Some(folder) = &settings.pictures {
        pictures::write(folder, readings.mechanism.as_deref())?;
    }
    deliver(out, &text)?;
    Ok(Outcome::of(readings.any_valid()))
}
