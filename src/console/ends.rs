//! Both ends of the tape, as a table; and `measure --ends`, which reads them from a recording.

use super::{
    ConsoleError, Outcome,
    arguments::MeasureFormat,
    deliver,
    figures::{NONE, signed, uncertainty},
    json,
    page::Page,
    settings::MeasureSettings,
};
use crate::{
    readings::Notice,
    run_in::{EndReading, Ends, EndsLimits, Line, LoggedReading, Measured, Recorder},
    worker,
};
use serde::Serialize;
use std::io::Write;

/// The name and version of the JSON form.
const SCHEMA: &str = "trimwatch.ends/1";
/// A reading of the take is made each so many seconds.
const READING_EVERY_S: f64 = 5.0;

/// What `measure --ends --format json` writes.
#[derive(Serialize)]
struct EndsOfATake<'a> {
    schema: &'static str,
    source: &'a str,
    seconds: f64,
    expected: &'a str,
    /// `null` where the take is too short or has no readings.
    ends: Option<&'a Ends>,
    notices: &'a [Notice],
}

/// Reads the recording and compares its first, middle and last stretch.
pub fn measure_ends(
    mut settings: MeasureSettings,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    let mut recorder = Recorder::new(READING_EVERY_S);
    let mut readings: Vec<LoggedReading> = Vec::new();
    let mut keep = |line| {
        if let Line::Reading(reading) = line {
            readings.push(reading);
        }
    };
    let whole = worker::measure_looking(
        &mut settings.recording,
        settings.expected.setup,
        &mut |snapshot| {
            recorder.take(snapshot, snapshot.source.seconds, &mut keep);
        },
    )?;
    recorder.finish(whole.source.seconds, "", &mut keep);
    let ends = Ends::of_logged(&readings, &EndsLimits::default());
    let source = &whole.source.description.name;
    let expected = &settings.expected.words;
    let text = match settings.format {
        MeasureFormat::Json => json::object(&EndsOfATake {
            schema: SCHEMA,
            source,
            seconds: whole.source.seconds,
            expected,
            ends: ends.as_ref(),
            notices: &whole.notices,
        })?,
        MeasureFormat::Text => {
            let mut page = Page::default();
            page.heading("Both ends of the tape", source);
            page.row("length", &format!("{:.1} s", whole.source.seconds));
            page.row("read against", expected);
            match &ends {
                Some(ends) => table(&mut page, ends),
                None => page.title(
                    "No readings for three stretches: the tone must be there for some 50 s at least, and for a whole \
                     side to say something about its ends.",
                ),
            }
            for notice in &whole.notices {
                page.item(&notice.message);
            }
            page.into_text()
        }
    };
    deliver(out, &text)?;
    Ok(Outcome::of(ends.is_some()))
}

/// The three places side by side, then what their differences say.
pub fn table(page: &mut Page, ends: &Ends) {
    let row = |label: &str, cells: [String; 3]| {
        let [start, middle, end] = cells;
        format!("  {label:<20}{start:>19}{middle:>19}{end:>19}")
    };
    let cells = |get: &dyn Fn(&EndReading) -> String| {
        ends.places.each_ref().map(|(_, reading)| get(reading))
    };
    let figure = |get: fn(&EndReading) -> Option<Measured>, decimals: usize| {
        cells(&|reading| {
            get(reading).map_or_else(
                || NONE.to_owned(),
                |one| {
                    let value = signed(Some(one.value), decimals);
                    format!("{value}{}", uncertainty(Some(one.uncertainty), decimals))
                },
            )
        })
    };
    page.title(" ");
    let names = ends
        .places
        .each_ref()
        .map(|(place, _)| place.name().to_owned());
    page.verbatim(&row("", names));
    let times = cells(&|reading| match (reading.from_s, reading.to_s) {
        (Some(from_s), Some(to_s)) => format!("{:.1} to {:.1}", from_s / 60.0, to_s / 60.0),
        _ => NONE.into(),
    });
    page.verbatim(&row("time, min", times));
    page.verbatim(&row("speed, %", figure(|one| one.speed_percent, 3)));
    page.verbatim(&row(
        "flutter, wtd 2σ, %",
        figure(|one| one.weighted_two_sigma_percent, 3),
    ));
    page.verbatim(&row("delay, µs", figure(|one| one.delay_us, 2)));
    page.verbatim(&row(
        "azimuth, arc min",
        figure(|one| one.azimuth_arcmin, 2),
    ));
    page.title(&format!(
        "± is scatter alone, at 95 %; limits of differences: {}.",
        ends.limits_source
    ));
    for difference in &ends.differences {
        page.item(&difference.words);
    }
}
