//! Speed: how far off, and where it has been.

use super::{View, one_scale::OneScale};
use crate::{
    readings::{Readings, SpeedReading, TurnReading},
    screen::{
        model::format,
        paint::{
            cells::{Cell, cell},
            gauge::{Gauge, Marker},
            heard,
        },
        theme::Palette,
    },
};
use eframe::egui::{Id, Rect, Ui, accesskit::Role};

/// Shows the view in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>) {
    let speed = &view.readings.speed;
    let wow = needle(speed);
    let id = Id::unique("speed needle");
    heard::reading(ui, rect, id, Role::Meter, "needle", wow);
    OneScale {
        second_line: if view.glance.quantity.contains(wow) {
            second_line(view.readings)
        } else {
            format!("{}   {wow}", second_line(view.readings))
        },
        figures: figures(view),
        figures_id: "speed figures",
        paint_gauge,
        view,
    }
    .show(ui, rect);
}

fn paint_gauge(ui: &Ui, place: Rect, view: &View<'_>) {
    let painter = ui.painter_at(place);
    let speed = &view.readings.speed;
    let gauge = Gauge::new(place, view.glance, view.band(), Palette::of(ui));
    gauge.paint_scale(&painter);
    gauge.paint_trail(&painter, &speed.trail, view.now_s(), |percent| percent);
    if view.glance.needle.is_some() {
        if let Some(least) = speed.min_percent {
            gauge.paint_marker(&painter, Marker::Least, least, "least");
        }
        if let Some(most) = speed.max_percent {
            gauge.paint_marker(&painter, Marker::Most { beside: None }, most, "most");
        }
        if let Some(steady) = speed.steady.deviation_percent {
            gauge.paint_marker(&painter, Marker::Mean, steady, "");
        }
    }
    gauge.paint_needle(&painter);
    let mut swing_in_words = String::new();
    if let (Some(_), Some(least), Some(most)) = (
        view.glance.needle,
        speed.last_turn.min_percent,
        speed.last_turn.max_percent,
    ) {
        let swing = format::with_unit(speed.last_turn.peak_to_peak_percent, 2, "%");
        let name = format!("swing {swing} in {}", turn_in_words(&speed.last_turn));
        gauge.paint_span(&painter, least, most, &name);
        swing_in_words = name;
    }
    gauge.tell(ui, &swing_in_words);
}

/// Which turn it is: of the slowest part, or a fixed time.
fn turn_in_words(turn: &TurnReading) -> String {
    match &turn.part {
        Some(part) => format!("one turn of the {part} ({:.1} s)", turn.seconds),
        None => format!("{:.1} s (no mechanism chosen)", turn.seconds),
    }
}

/// The second line of the card, and the line under the big number.
pub fn second_line(readings: &Readings) -> String {
    let speed = &readings.speed;
    format!(
        "10 s mean {}",
        format::signed_with_unit(speed.long.deviation_percent, 2, "%")
    )
}

/// What became of the wow in the needle.
fn needle(speed: &SpeedReading) -> &'static str {
    match speed.needle.deviation_percent {
        Some(_) => speed.needle.wow.words(),
        None if speed.quick.deviation_percent.is_some() => "¼ s mean, wow in it",
        None => format::NOTHING,
    }
}

fn figures(view: &View<'_>) -> Vec<Cell> {
    let speed = &view.readings.speed;
    let mean = format::signed_with_unit(speed.deviation_percent, 3, "%");
    vec![
        cell("mean since reset", mean),
        cell(
            "uncertainty (k = 2)",
            format::plus_minus(speed.uncertainty_percent, 3, "%"),
        ),
        cell("least to greatest ¼ s", range(speed)),
        cell(
            "trend, a minute",
            format::signed_with_unit(speed.trend_percent_per_minute, 3, "%"),
        ),
        cell(
            "peak to peak, last turn",
            format::with_unit(speed.last_turn.peak_to_peak_percent, 3, "%"),
        ),
        cell("measured", hertz(speed.measured_hz)),
        cell("reference", hertz(speed.reference_hz)),
    ]
}

/// From the least quarter of a second to the greatest.
fn range(speed: &SpeedReading) -> String {
    match (speed.min_percent, speed.max_percent) {
        (Some(least), Some(most)) => format!(
            "{} to {}",
            format::signed(least, 2),
            format::signed_with_unit(Some(most), 2, "%")
        ),
        _ => format::NOTHING.into(),
    }
}

fn hertz(frequency_hz: Option<f64>) -> String {
    frequency_hz.map_or_else(|| format::NOTHING.to_owned(), format::frequency)
}
