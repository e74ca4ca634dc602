//! Wow and flutter: the pointer, the wave, the bands, and the strongest components.

use super::{View, head, places, stems};
use crate::{
    readings::{Component, FlutterFigures, Readings, Trail},
    screen::{
        model::{format, stack::Part},
        paint::{
            cells,
            gauge::{self, Gauge, Marker},
            heard,
            ribbon::{self, Pen},
            table::{self, Row},
            words,
        },
        theme::{self, Palette},
    },
};
use eframe::egui::{Align2, Id, Rect, Stroke, StrokeKind, Ui, accesskit::Role, pos2};

/// Components listed.
const LISTED: usize = 5;

/// Shows the view in `rect`.
pub fn show(ui: &mut Ui, rect: Rect, view: &View<'_>, kept: &mut stems::Stems) {
    let flutter = &view.readings.flutter;
    let components = kept.follow(view.now_s(), &flutter.components);
    let [head_place, gauge_place, figures_place, parts_place] = places(
        rect,
        [
            head::PART,
            Part::of(gauge::LEAST)
                .wanting(gauge::LEAST + 60.0)
                .growing(0.5),
            Part::of(table::height(2)).ranked(1),
            Part::of(110.0)
                .wanting(table::height(LISTED))
                .growing(0.5)
                .ranked(2),
        ],
    );
    if let Some(place) = head_place {
        head::show(ui, place, view, &also(view.readings));
    }
    if let Some(place) = gauge_place {
        paint_gauge(ui, place, view);
    }
    if let Some(place) = figures_place {
        show_figures(ui, place, view.readings);
    }
    if let Some(place) = parts_place {
        show_parts(ui, place, view, components);
    }
}

fn paint_gauge(ui: &Ui, place: Rect, view: &View<'_>) {
    let painter = ui.painter_at(place);
    let flutter = &view.readings.flutter;
    let gauge = Gauge::new(place, view.glance, view.band(), Palette::of(ui));
    gauge.paint_scale(&painter);
    gauge.paint_trail(&painter, &flutter.pointer_trail, view.now_s(), |percent| {
        percent
    });
    if view.glance.needle.is_some() {
        let beside = flutter.weighted.recent_two_sigma_percent;
        if let Some(most) = flutter.weighted.quasi_peak_max_percent {
            gauge.paint_marker(&painter, Marker::Most { beside }, most, "most");
        }
        if let Some(two_sigma) = beside {
            gauge.paint_marker(&painter, Marker::Mean, two_sigma, "two-sigma");
        }
    }
    gauge.paint_needle(&painter);
    gauge.tell(ui, "");
}

fn also(readings: &Readings) -> String {
    let weighted = &readings.flutter.weighted;
    format!(
        "two-sigma 10 s {}   most {}",
        percent(weighted.recent_two_sigma_percent),
        percent(weighted.quasi_peak_max_percent)
    )
}

/// The second line of the card.
pub fn second_line(readings: &Readings) -> String {
    let weighted = &readings.flutter.weighted;
    format!(
        "weighted; two-sigma {}",
        percent(weighted.recent_two_sigma_percent)
    )
}

fn percent(value: Option<f64>) -> String {
    format::with_unit(value, 3, "%")
}

/// Both weightings in every form at the left, the bands at the right.
fn show_figures(ui: &Ui, place: Rect, readings: &Readings) {
    let flutter = &readings.flutter;
    let (left, right) = place.split_left_right_at_fraction(0.58);
    let headings = ["peak mean", "peak most", "two-sigma", "2σ last 10 s", "rms"];
    let row = |name: &str, figures: &FlutterFigures| Row {
        name: name.into(),
        figures: vec![
            percent(figures.quasi_peak_percent),
            percent(figures.quasi_peak_max_percent),
            percent(figures.two_sigma_percent),
            percent(figures.recent_two_sigma_percent),
            percent(figures.rms_percent),
        ],
    };
    let rows = [
        row("weighted", &flutter.weighted),
        row("unweighted", &flutter.unweighted),
    ];
    let left = left.with_max_x(left.right() - 16.0);
    table::show(
        ui,
        left,
        Id::unique("flutter figures"),
        0.18,
        &headings,
        &rows,
    );
    show_bands(ui, right, readings);
}

fn show_bands(ui: &Ui, place: Rect, readings: &Readings) {
    let bands = &readings.flutter.bands;
    let scrape = bands.scrape_upper_hz.map_or_else(
        || "scrape".to_owned(),
        |upper_hz| format!("scrape to {upper_hz:.0} Hz"),
    );
    let headings = if place.width() > 440.0 {
        [
            "drift < 0.5 Hz",
            "wow to 6 Hz",
            "flutter to 200 Hz",
            &scrape,
        ]
    } else {
        ["drift", "wow", "flutter", "scrape"]
    };
    let rows = [Row {
        name: "rms".into(),
        figures: vec![
            percent(bands.drift_rms_percent),
            percent(bands.wow_rms_percent),
            percent(bands.flutter_rms_percent),
            percent(bands.scrape_rms_percent),
        ],
    }];
    table::show(
        ui,
        place,
        Id::unique("flutter bands"),
        0.09,
        &headings,
        &rows,
    );
}

/// The wave, the stems and the list of components, as far as the width allows.
fn show_parts(ui: &mut Ui, place: Rect, view: &View<'_>, components: &[Component]) {
    if place.width() < 720.0 {
        let (left, right) = place.split_left_right_at_fraction(0.4);
        paint_wave(ui, left.with_max_x(left.right() - 12.0), view);
        list(ui, right, components);
        return;
    }
    let (left, rest) = place.split_left_right_at_fraction(0.33);
    let (middle, right) = rest.split_left_right_at_fraction(0.5);
    paint_wave(ui, left.with_max_x(left.right() - 12.0), view);
    titled(
        ui,
        middle,
        "components: peak % over rate in Hz",
        |ui, place| {
            stems::show(ui, place, components);
        },
    );
    list(ui, right.with_min_x(right.left() + 16.0), components);
}

fn titled(ui: &mut Ui, place: Rect, title: &str, show: impl FnOnce(&mut Ui, Rect)) {
    let palette = Palette::of(ui);
    let galley = words::line(
        ui.painter(),
        title,
        theme::text,
        theme::LABEL,
        12.0,
        place.width(),
        palette.quiet,
    );
    words::put(ui.painter(), place.min, Align2::LEFT_TOP, galley);
    show(ui, place.with_min_y(place.top() + table::HEADING));
}

/// The wave itself, on a scale of its own that only grows in steps.
fn paint_wave(ui: &mut Ui, place: Rect, view: &View<'_>) {
    let trail = &view.readings.flutter.trail;
    let reach = wave_reach(trail);
    let title = format!("speed about its mean, last 30 s, ±{reach} %");
    titled(ui, place, &title, |ui, place| {
        let palette = Palette::of(ui);
        let painter = ui.painter_at(place);
        painter.rect_filled(place, 0.0, palette.panel);
        let y = |percent: f64| place.center().y - (percent / reach) as f32 * place.height() / 2.0;
        painter.hline(
            place.x_range(),
            place.center().y,
            Stroke::new(1.0, palette.line),
        );
        let pen = Pen::solid(palette.trail);
        ribbon::across(&painter, place, trail, view.now_s(), pen, y);
        let edge = Stroke::new(1.0, palette.line);
        painter.rect_stroke(place, 0.0, edge, StrokeKind::Inside);
        let id = Id::unique("flutter wave");
        heard::reading(ui, place, id, Role::Image, "speed wave", &title);
    });
}

/// Half the height of the wave's scale, percent: the step that holds the last half minute.
fn wave_reach(trail: &Trail) -> f64 {
    let most = trail
        .values
        .iter()
        .filter(|value| value.is_finite())
        .fold(0.0_f32, |most, value| most.max(value.abs()));
    [0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0]
        .into_iter()
        .find(|reach| f64::from(most) <= *reach)
        .unwrap_or(10.0)
}

fn list(ui: &Ui, place: Rect, components: &[Component]) {
    let rows: Vec<Row> = components
        .iter()
        .take(LISTED)
        .enumerate()
        .map(|(i, component)| Row {
            name: format!("{}", i + 1),
            figures: vec![
                format!("{:.2} Hz", component.rate_hz),
                format!("±{} %", format::plain(component.peak_percent, 3)),
                part(component),
            ],
        })
        .collect();
    let headings = ["rate", "peak", "part"];
    table::show(ui, place, Id::unique("components"), 0.08, &headings, &rows);
    if rows.is_empty() {
        let palette = Palette::of(ui);
        let at = pos2(
            place.left(),
            place.top() + table::HEADING + cells::ROW / 4.0,
        );
        let text = "no component stands out yet".to_owned();
        let galley = ui
            .painter()
            .layout_no_wrap(text, theme::text(17.0), palette.quiet);
        words::put(ui.painter(), at, Align2::LEFT_TOP, galley);
    }
}

fn part(component: &Component) -> String {
    match (&component.part, component.order) {
        (Some(part), Some(order)) if order > 1 => format!("{part} ×{order}"),
        (Some(part), _) => part.clone(),
        (None, _) => format::NOTHING.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wave_has_steps_that_hold_it() {
        let trail = |most: f32| Trail {
            step_s: 0.01,
            values: vec![f32::NAN, -most, 0.0],
        };
        assert_eq!(wave_reach(&trail(0.03)), 0.05);
        assert_eq!(wave_reach(&trail(0.15)), 0.2);
        assert_eq!(wave_reach(&trail(50.0)), 10.0);
        assert_eq!(wave_reach(&Trail::default()), 0.02);
    }
}
