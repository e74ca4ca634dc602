//! Speed: how far off, and where it has been.

use super::{View, one_scale::OneScale};
use crate::{
    readings::Readings,
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
        second_line: second_line(view.readings),
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
}

/// The second line of the card, and the line under the big number.
pub fn second_line(readings: &Readings) -> String {
    let speed = &readings.speed;
    format!(
        "10 s mean {}",
        format::signed_with_unit(speed.long.deviation_percent, 2, "%")
    )
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
        cell(
            "least ¼ s",
            format::signed_with_unit(speed.min_percent, 2, "%"),
        ),
        cell(
            "greatest ¼ s",
            format::signed_with_unit(speed.max_percent, 2, "%"),
        ),
        cell(
            "trend, a minute",
            format::signed_with_unit(speed.trend_percent_per_minute, 3, "%"),
        ),
        cell("measured", hertz(speed.measured_hz)),
        cell("reference", hertz(speed.reference_hz)),
        cell("averaged", format::duration(speed.averaged_seconds)),
    ]
}

fn hertz(frequency_hz: Option<f64>) -> String {
    frequency_hz.map_or_else(|| format::NOTHING.to_owned(), format::frequency)
}
