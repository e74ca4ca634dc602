//! What a profile and its measurements look like on a page.

use super::super::{
    figures::{plain, signed, uncertainty},
    page::Page,
};
use crate::profile::{
    ClockFigure, CrosstalkFigure, InterfaceProfile, LevelFigure, NoiseFigure, PairFigure,
    StoredProfile, age_in_words,
    crosstalk::{Crosstalk, CrosstalkReading},
    noise::NoiseReading,
    y_lead::YLeadReading,
};
use crate::readings::ClockReading;
use std::{path::Path, time::SystemTime};

/// All profiles.
pub(super) fn list(folder: &Path, stored: &[StoredProfile], now: SystemTime) -> String {
    let mut page = Page::default();
    if stored.is_empty() {
        page.heading("No profile yet", "");
        page.item("'trimwatch profile clock' or 'y-lead' makes one of the input that is in use.");
    }
    for stored in stored {
        page.title(&stored.name);
        match &stored.profile {
            Ok(profile) => {
                page.row("device", &profile.device);
                page.row("sample rate", &format!("{} Hz", profile.sample_rate_hz));
                page.row("measured", &measured_words(profile));
                let age = profile.age_in_words(now);
                page.row("oldest figure", &age.unwrap_or_else(|| "none".into()));
            }
            Err(error) => page.row("cannot be used", &error.0),
        }
    }
    page.heading("Folder", &folder.display().to_string());
    page.into_text()
}

fn measured_words(profile: &InterfaceProfile) -> String {
    let parts = [
        ("clock", profile.clock.is_some()),
        ("inputs", profile.inputs.is_some()),
        ("level", profile.level.is_some()),
        ("noise", profile.noise.is_some()),
        ("crosstalk", profile.crosstalk.is_some()),
    ];
    let there: Vec<_> = parts
        .iter()
        .filter(|part| part.1)
        .map(|part| part.0)
        .collect();
    if there.is_empty() {
        "nothing".into()
    } else {
        there.join(", ")
    }
}

/// One profile.
pub(super) fn profile(name: &str, profile: &InterfaceProfile, now: SystemTime) -> String {
    let mut page = Page::default();
    page.heading("Profile", name);
    page.row("device", &profile.device);
    page.row("sample rate", &format!("{} Hz", profile.sample_rate_hz));
    match &profile.clock {
        Some(clock) => clock_figure(&mut page, clock, &age_in_words(&clock.measured, now)),
        None => page.heading("Sample clock", NOT_MEASURED),
    }
    match &profile.inputs {
        Some(inputs) => pair_figure(&mut page, inputs, &age_in_words(&inputs.measured, now)),
        None => page.heading("Inputs", NOT_MEASURED),
    }
    match &profile.level {
        Some(figure) => level(&mut page, figure, &age_in_words(&figure.measured, now)),
        None => page.heading("Full scale", NOT_MEASURED),
    }
    match &profile.noise {
        Some(figure) => noise_figure(&mut page, figure, &age_in_words(&figure.measured, now)),
        None => page.heading("Own noise", NOT_MEASURED),
    }
    match &profile.crosstalk {
        Some(figure) => crosstalk_figure(&mut page, figure, &age_in_words(&figure.measured, now)),
        None => page.heading("Crosstalk", NOT_MEASURED),
    }
    page.into_text()
}

const NOT_MEASURED: &str = "not measured";

/// `+37.02 ±0.09 ppm, fast; 1192 s`, or why not.
pub(super) fn clock_in_words(clock: &ClockReading) -> String {
    match clock.error_ppm {
        Some(error) => format!(
            "{}{} ppm, computer's clock {}",
            signed(Some(error), 2),
            uncertainty(clock.uncertainty_ppm, 2),
            clock.synchronisation.words()
        ),
        None => "listening: the clock takes half a minute at least, 20 minutes for 1 ppm".into(),
    }
}

pub(super) fn clock_reading(page: &mut Page, clock: &ClockReading) {
    let state = if clock.error_ppm.is_some() {
        "done"
    } else {
        "too little time"
    };
    page.heading("Sample clock", state);
    page.row("error", &clock_in_words(clock));
    page.row(
        "from",
        &format!("{} s of capture", plain(Some(clock.seconds), 0)),
    );
    if clock.set_aside_seconds > 0.0 {
        let words = format!(
            "{} s: the computer's clock was being put right",
            plain(Some(clock.set_aside_seconds), 0)
        );
        page.row("left out", &words);
    }
    if clock.breaks > 0 {
        page.row(
            "breaks",
            &format!(
                "{}: lost samples, a clock that was set, or sleep",
                clock.breaks
            ),
        );
    }
}

fn clock_figure(page: &mut Page, clock: &ClockFigure, age: &str) {
    page.heading("Sample clock", age);
    let error = format!(
        "{}{} ppm (positive = fast)",
        signed(Some(clock.error_ppm), 2),
        uncertainty(Some(clock.uncertainty_ppm), 2)
    );
    page.row("error", &error);
    page.row("computer's clock", &clock.computer_clock);
    let (_, used) = clock.usable();
    page.row("used with", &format!("±{} ppm", plain(Some(used), 1)));
}

pub(super) fn y_lead(page: &mut Page, reading: &YLeadReading) {
    page.heading("Inputs", reading.state.words());
    if let (Some(skew), Some(gain)) = (reading.skew_us, reading.gain_db) {
        pair(
            page,
            [Some(skew), reading.skew_uncertainty_us],
            [Some(gain), reading.gain_uncertainty_db],
            reading.opposite_polarity,
        );
    }
    page.row("leads", reading.leads.words());
    for tone in &reading.tones {
        page.cells(
            &format!("{} Hz", plain(Some(tone.hz), 1)),
            &[
                format!("{} µs", signed(Some(tone.delay_us), 3)),
                format!("{} dB", signed(Some(tone.gain_db), 3)),
            ],
        );
    }
}

fn pair_figure(page: &mut Page, inputs: &PairFigure, age: &str) {
    page.heading("Inputs", age);
    pair(
        page,
        [Some(inputs.skew_us), Some(inputs.skew_uncertainty_us)],
        [Some(inputs.gain_db), Some(inputs.gain_uncertainty_db)],
        inputs.opposite_polarity,
    );
    page.row("leads", &inputs.leads);
}

fn pair(page: &mut Page, skew: [Option<f64>; 2], gain: [Option<f64>; 2], opposite_polarity: bool) {
    page.row(
        "delay",
        &format!(
            "{}{} µs (positive = right later)",
            signed(skew[0], 3),
            uncertainty(skew[1], 3)
        ),
    );
    page.row(
        "gain",
        &format!(
            "{}{} dB (left minus right)",
            signed(gain[0], 3),
            uncertainty(gain[1], 3)
        ),
    );
    let polarity = if opposite_polarity {
        "opposite: the right one is turned over in the readings"
    } else {
        "the same"
    };
    page.row("polarity", polarity);
}

pub(super) fn level(page: &mut Page, figure: &LevelFigure, state: &str) {
    page.heading("Full scale", state);
    for (side, volts) in [
        ("left", figure.left_full_scale_volts_rms),
        ("right", figure.right_full_scale_volts_rms),
    ] {
        let words = volts.map_or("the sine was not on it".into(), |volts| {
            format!("{} V rms", plain(Some(volts), 4))
        });
        page.row(side, &words);
    }
    page.row(
        "uncertainty",
        &format!("{} %", plain(Some(figure.uncertainty_percent), 2)),
    );
    page.row(
        "from",
        &format!("{} V rms at {} Hz", figure.typed_volts_rms, figure.tone_hz),
    );
}

pub(super) fn noise(page: &mut Page, reading: &NoiseReading) {
    page.heading("Own noise", reading.state.words());
    if let Some(inputs) = reading.inputs {
        let hum = inputs.map(|input| input.hum.map(|hum| (hum.mains_hz, hum.total_dbfs)));
        noise_rows(
            page,
            inputs.map(|input| input.rms_dbfs),
            inputs.map(|input| input.a_weighted_dbfs),
            hum,
        );
    }
}

fn noise_figure(page: &mut Page, figure: &NoiseFigure, age: &str) {
    page.heading("Own noise", age);
    let hum =
        [figure.left_hum, figure.right_hum].map(|hum| hum.map(|hum| (hum.mains_hz, hum.dbfs)));
    noise_rows(page, figure.rms_dbfs, figure.a_weighted_dbfs, hum);
}

fn noise_rows(page: &mut Page, rms: [f64; 2], a_weighted: [f64; 2], hum: [Option<(f64, f64)>; 2]) {
    let dbfs = |values: [f64; 2]| values.map(|value| format!("{} dBFS", plain(Some(value), 1)));
    page.cells("", &["left".into(), "right".into()]);
    page.cells("20 Hz to 20 kHz", &dbfs(rms));
    page.cells("A-weighted", &dbfs(a_weighted));
    let hum = hum.map(|hum| {
        hum.map_or("none".into(), |(mains_hz, dbfs)| {
            format!(
                "{} Hz: {} dBFS",
                plain(Some(mains_hz), 0),
                plain(Some(dbfs), 1)
            )
        })
    });
    page.cells("hum", &hum);
}

pub(super) fn crosstalk(page: &mut Page, reading: &CrosstalkReading) {
    page.heading("Crosstalk", reading.state.words());
    for (direction, figures) in [
        ("left into right", &reading.into_right),
        ("right into left", &reading.into_left),
    ] {
        for figure in figures {
            page.cells(
                direction,
                &[
                    format!("{} Hz", plain(Some(figure.hz), 0)),
                    db_words(figure),
                ],
            );
        }
        if figures.is_empty() {
            page.row(direction, "not measured: drive that input, short the other");
        }
    }
}

fn db_words(figure: &Crosstalk) -> String {
    bound_words(figure.db, figure.at_most)
}

fn bound_words(db: f64, at_most: bool) -> String {
    let below = if at_most { "below " } else { "" };
    format!("{below}{} dB", plain(Some(db), 1))
}

fn crosstalk_figure(page: &mut Page, figure: &CrosstalkFigure, age: &str) {
    page.heading("Crosstalk", age);
    for (direction, db, at_most) in [
        ("left into right", figure.into_right_db, figure.at_most[0]),
        ("right into left", figure.into_left_db, figure.at_most[1]),
    ] {
        let words = db.map_or(NOT_MEASURED.into(), |db| bound_words(db, at_most));
        page.row(direction, &words);
    }
    let tones: Vec<_> = figure
        .tones_hz
        .iter()
        .map(|hz| plain(Some(*hz), 0))
        .collect();
    page.row("at", &format!("{} Hz", tones.join(", ")));
}
