//! How the readings were taken: when, with what tape, through what input, in what surroundings.

use super::super::{
    document::{Column, Row, Table},
    typed::{self, NAME, REMARK},
    words,
};
use crate::bench::{Context, Job, Stage, Station, TakenReading, TapeUsed};

/// Notices that are shown.
const NOTICES: usize = 5;
/// Tapes that are shown.
const TAPES: usize = 6;
/// Different equipments that are shown.
const EQUIPMENTS: usize = 4;

/// One row a reading that stands, and one a station whose tries are all withdrawn.
pub fn readings(job: &Job) -> Option<Table> {
    let mut rows = Vec::new();
    for station in Station::ALL {
        for stage in Stage::ALL {
            rows.extend(row(job, station, stage));
        }
    }
    (!rows.is_empty()).then(|| Table {
        caption: "The readings (times in UTC)".into(),
        columns: vec![
            Column::words("", 1.05),
            Column::words("taken", 0.72),
            Column::numbers("averaged", 0.4),
            Column::words("tries", 0.66),
            Column::words("tape and tone", 1.5),
            Column::numbers("frames lost", 0.46),
        ],
        rows,
    })
}

fn row(job: &Job, station: Station, stage: Stage) -> Option<Row> {
    let tries = job.tries(station, stage).count();
    if tries == 0 {
        return None;
    }
    let withdrawn = job
        .tries(station, stage)
        .filter(|reading| reading.withdrawn.is_some())
        .count();
    let count = match withdrawn {
        0 => tries.to_string(),
        withdrawn => format!("{tries}, {withdrawn}\u{a0}withdrawn"),
    };
    let mut cells = vec![format!("{}, {}", station.words(), stage.words())];
    match job.standing(station, stage) {
        Some(reading) => cells.extend([
            words::date_and_time(reading.at),
            format!(
                "{}\u{a0}s",
                words::number(reading.context.averaged_seconds, 1, false)
            ),
            count,
            tape(&reading.context.tape),
            reading.context.lost_frames.to_string(),
        ]),
        None => cells.extend([
            "none stands".into(),
            "–".into(),
            count,
            "–".into(),
            "–".into(),
        ]),
    }
    Some(Row::Cells(cells))
}

fn title(tape: &TapeUsed) -> String {
    typed::or(
        &tape.title,
        NAME,
        &typed::or(&tape.name, NAME, "tape not named"),
    )
}

/// The tape and the tone that played.
fn tape(tape: &TapeUsed) -> String {
    match tape.tone_hz {
        Some(tone_hz) => format!(
            "{}, {}\u{a0}Hz",
            title(tape),
            words::number(tone_hz, 1, false)
        ),
        None => title(tape),
    }
}

/// What certificates say of the tones' frequencies, each tape once.
fn certificates(job: &Job) -> Option<(String, String)> {
    let mut said: Vec<String> = Vec::new();
    for tape in standing(job).map(|reading| &reading.context.tape) {
        let corrected = tape.frequency_correction_percent;
        let figures = match tape.frequency_tolerance_percent {
            Some(percent) => format!(
                "{}\u{a0}±\u{a0}{}\u{a0}%",
                words::number(corrected, 3, true),
                plain(percent)
            ),
            None if corrected == 0.0 => "not known".into(),
            None => format!(
                "{}\u{a0}%, tolerance not known",
                words::number(corrected, 3, true)
            ),
        };
        let words = format!("{}: {figures}", title(tape));
        if !said.contains(&words) {
            said.push(words);
        }
    }
    said.truncate(TAPES);
    (!said.is_empty()).then(|| {
        (
            "Certificates".into(),
            format!("Frequency of the tones. {}.", said.join("; ")),
        )
    })
}

/// Equipment, certificates, surroundings, notices.
pub fn pairs(job: &Job) -> Vec<(String, String)> {
    let mut pairs = equipment(job);
    pairs.extend(certificates(job));
    pairs.push(("Surroundings".into(), environment(job)));
    pairs.extend(notices(job));
    pairs
}

fn standing(job: &Job) -> impl Iterator<Item = &TakenReading> {
    Station::ALL
        .into_iter()
        .flat_map(move |station| Stage::ALL.map(|stage| job.standing(station, stage)))
        .flatten()
}

/// What listened; said once where it was the same for all.
fn equipment(job: &Job) -> Vec<(String, String)> {
    let mut kinds: Vec<(String, Vec<String>)> = Vec::new();
    for reading in standing(job) {
        let words = equipment_words(&reading.context);
        let name = format!("{} {}", reading.station.words(), reading.stage.words());
        match kinds.iter_mut().find(|kind| kind.0 == words) {
            Some(kind) => kind.1.push(name),
            None => kinds.push((words, vec![name])),
        }
    }
    let many = kinds.len() > 1;
    let more = kinds.len().saturating_sub(EQUIPMENTS);
    let mut text: Vec<String> = kinds
        .into_iter()
        .take(EQUIPMENTS)
        .map(|(words, readings)| {
            if many {
                format!("{}: {words}", words::capital(&readings.join(", ")))
            } else {
                words
            }
        })
        .collect();
    if more > 0 {
        text.push(format!("And {more} more."));
    }
    if text.is_empty() {
        return Vec::new();
    }
    vec![("Equipment".into(), text.join(" "))]
}

fn equipment_words(context: &Context) -> String {
    format!(
        "trimwatch {}; input {}, {} Hz; {}; sample clock {} ± {} ppm taken out; {}.",
        typed::or(&context.program, NAME, "of unknown version"),
        typed::or(&context.input, NAME, "not named"),
        context.sample_rate_hz,
        typed::or(
            &context.profile,
            REMARK,
            "nothing is known of the interface’s own errors"
        ),
        words::number(context.clock_error_ppm, 1, true),
        words::number(context.clock_tolerance_ppm, 1, false),
        typed::or(&context.tape_format, NAME, "tape format not named"),
    )
}

fn environment(job: &Job) -> String {
    let environment = &job.environment;
    let said = [
        environment
            .temperature_c
            .map(|value| format!("room {}\u{a0}°C", words::number(value, 1, false))),
        environment
            .mains_volts
            .map(|value| format!("mains {}\u{a0}V", words::number(value, 1, false))),
        environment.warm_up_minutes.map(|value| {
            format!(
                "deck warm for {}\u{a0}min before the readings as left",
                plain(value)
            )
        }),
    ];
    let said: Vec<_> = said.into_iter().flatten().collect();
    if said.is_empty() {
        "Not written down.".into()
    } else {
        format!("{}.", words::capital(&said.join("; ")))
    }
}

/// What stood beside the readings that stand, each once.
fn notices(job: &Job) -> Vec<(String, String)> {
    let mut notices: Vec<String> = Vec::new();
    for notice in standing(job).flat_map(|reading| &reading.context.notices) {
        let notice = words::capital(&typed::sentence(notice, 2 * REMARK));
        if !notice.is_empty() && !notices.contains(&notice) {
            notices.push(notice);
        }
    }
    if notices.is_empty() {
        return Vec::new();
    }
    let more = notices.len().saturating_sub(NOTICES);
    notices.truncate(NOTICES);
    if more > 0 {
        notices.push(format!("And {more} more."));
    }
    vec![("Notices".into(), notices.join(" "))]
}

/// A number with the digits that it has.
fn plain(value: f64) -> String {
    if value.abs() >= 1e7 {
        return words::number(value, 1, false);
    }
    let text = format!("{value:.3}");
    text.trim_end_matches('0')
        .trim_end_matches('.')
        .replace('-', "−")
}
