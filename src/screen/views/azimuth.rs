//! Azimuth: the interchannel delay as an angle, with its candidates while whole cycles are open.

use super::{View, one_scale::OneScale};
use crate::{
    readings::{PhaseMethod, PhaseReading, Readings},
    screen::{
        model::format,
        paint::{
            cells::{Cell, cell},
            gauge::{Gauge, Marker},
        },
        theme::Palette,
    },
};
use eframe::egui::{Rect, Ui};

/// Shows the view in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>) {
    OneScale {
        second_line: also(&view.readings.phase),
        figures: figures(view),
        figures_id: "azimuth figures",
        paint_gauge,
        view,
    }
    .show(ui, rect);
}

fn paint_gauge(ui: &Ui, place: Rect, view: &View<'_>) {
    let painter = ui.painter_at(place);
    let phase = &view.readings.phase;
    let gauge = Gauge::new(place, view.glance, view.band(), Palette::of(ui));
    gauge.paint_scale(&painter);
    gauge.paint_trail(&painter, &phase.trail, view.now_s(), |delay_us| {
        view.setup.tape_format.azimuth_arcmin(delay_us)
    });
    if view.glance.needle.is_some() {
        if phase.ambiguous {
            for candidate in phase.candidates.iter().skip(1) {
                let name = format!("{}?", format::signed(candidate.azimuth_arcmin, 1));
                gauge.paint_marker(&painter, Marker::Candidate, candidate.azimuth_arcmin, &name);
            }
        } else if let Some(mean) = phase.azimuth_arcmin {
            gauge.paint_marker(&painter, Marker::Mean, mean, "");
        }
    }
    gauge.paint_needle(&painter);
    gauge.tell(ui, "");
}

fn also(phase: &PhaseReading) -> String {
    let delay = phase.quick_delay_us.or(phase.delay_us);
    let degrees = phase.quick_degrees.or(phase.degrees);
    let delay = format::signed_with_unit(delay, 2, "µs");
    match (degrees, phase.tone_hz) {
        (Some(degrees), Some(tone_hz)) => format!(
            "delay {delay}   {}° at {}",
            format::signed(degrees, 1),
            format::tone(tone_hz.round())
        ),
        _ => format!("delay {delay}"),
    }
}

/// The second line of the card.
pub fn second_line(readings: &Readings) -> String {
    let phase = &readings.phase;
    let delay = phase.quick_delay_us.or(phase.delay_us);
    format!("delay {}", format::signed_with_unit(delay, 1, "µs"))
}

fn figures(view: &View<'_>) -> Vec<Cell> {
    let phase = &view.readings.phase;
    let wander = match phase.wander_rate_hz {
        Some(rate_hz) if rate_hz.is_finite() => format!("{rate_hz:.2} Hz"),
        _ => format::NOTHING.into(),
    };
    vec![
        cell(
            "mean since reset",
            format::signed_with_unit(phase.azimuth_arcmin, 2, "arcmin"),
        ),
        cell(
            "mean delay",
            format::signed_with_unit(phase.delay_us, 2, "µs"),
        ),
        cell(
            "its uncertainty",
            format::plus_minus(phase.delay_uncertainty_us, 2, "µs"),
        ),
        cell(
            "wander, peak to peak",
            format::with_unit(phase.wander_peak_to_peak_degrees, 1, "°"),
        ),
        cell(
            "wander, rms",
            format::with_unit(phase.wander_rms_degrees, 2, "°"),
        ),
        cell("wander rate", wander),
        cell(
            "mono sum loses",
            format::with_unit(phase.mono_sum_loss_db.map(f64::abs), 2, "dB"),
        ),
        cell("coherence", coherence(phase.coherence)),
        cell("read from", read_from(phase)),
        cell("tape format", view.setup.tape_format.title.clone()),
    ]
}

fn coherence(coherence: Option<f64>) -> String {
    coherence.map_or_else(|| format::NOTHING.into(), |value| format::plain(value, 3))
}

fn read_from(phase: &PhaseReading) -> String {
    match phase.method {
        None => format::NOTHING.into(),
        Some(PhaseMethod::Programme) => "programme".into(),
        Some(PhaseMethod::Tone) => phase.tone_hz.map_or_else(
            || "tone".into(),
            |tone_hz| format!("tone {}", format::tone(tone_hz.round())),
        ),
    }
}
