//! Level and balance: which channel is louder, both levels with their ballistics, dropouts, hum.

use super::{View, head, places};
use crate::{
    readings::{ChannelLevel, Hum, LevelReading, Readings, Trail},
    screen::{
        model::{format, stack::Part},
        paint::{
            cells::{self, Cell, cell},
            gauge::{self, Gauge, Marker},
            heard, marks, ribbon,
            table::{self, Row},
            words,
        },
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Color32, Id, Painter, Rect, Shape, Stroke, StrokeKind, Ui, accesskit::Role, pos2, vec2,
};

/// Foot of the bars, dBFS.
const LOWEST_DBFS: f64 = -60.0;
/// Top of the bars, dBFS: true peaks may pass full scale.
const HIGHEST_DBFS: f64 = 3.0;
/// Height of the numbers over the bars, points.
const NUMBERS: f32 = 24.0;
/// Height of one bar, points.
const BAR: f32 = 30.0;

/// Shows the view in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>) {
    let stereo = view.readings.source.description.channels > 1;
    let bars = NUMBERS + (BAR + 4.0) * if stereo { 2.0 } else { 1.0 };
    let rows = if stereo { 2 } else { 1 };
    let figures = figures(&view.readings.level);
    let figure_rows = cells::rows(figures.len(), rect.width());
    let [
        head_place,
        gauge_place,
        bars_place,
        table_place,
        cells_place,
    ] = places(
        rect,
        [
            head::PART,
            Part {
                min: gauge::LEAST,
                wanted: gauge::LEAST + 50.0,
                grows: 0.5,
                rank: 0,
            },
            Part {
                min: bars,
                wanted: bars + 50.0,
                grows: 0.5,
                rank: 1,
            },
            Part {
                min: table::height(rows),
                wanted: table::height(rows),
                grows: 0.0,
                rank: 2,
            },
            Part {
                min: cells::ROW,
                wanted: cells::ROW * figure_rows as f32,
                grows: 0.0,
                rank: 3,
            },
        ],
    );
    if let Some(place) = head_place {
        head::show(ui, place, view, &also(&view.readings.level));
    }
    if let Some(place) = gauge_place {
        paint_gauge(ui, place, view);
    }
    if let Some(place) = bars_place {
        paint_bars(ui, place, view, stereo);
    }
    if let Some(place) = table_place {
        show_table(ui, place, &view.readings.level, stereo);
    }
    if let Some(place) = cells_place {
        cells::show(ui, place, Id::unique("level figures"), &figures);
    }
}

fn paint_gauge(ui: &Ui, place: Rect, view: &View<'_>) {
    let painter = ui.painter_at(place);
    let level = &view.readings.level;
    let gauge = Gauge::new(place, view.glance, view.band(), Palette::of(ui));
    gauge.paint_scale(&painter);
    let trail = difference(&level.left.trail, &level.right.trail);
    gauge.paint_trail(&painter, &trail, view.now_s(), |db| db);
    if let (Some(_), Some(mean)) = (view.glance.needle, level.balance_db) {
        gauge.paint_marker(&painter, Marker::Mean, mean, "");
    }
    gauge.paint_needle(&painter);
}

/// The way from the right channel's trail to the left one's, value by value from the newest back.
fn difference(left: &Trail, right: &Trail) -> Trail {
    if (left.step_s - right.step_s).abs() > f64::EPSILON {
        return Trail::default();
    }
    let count = left.values.len().min(right.values.len());
    let newest = |trail: &Trail| trail.values[trail.values.len() - count..].to_vec();
    Trail {
        step_s: left.step_s,
        values: newest(left)
            .into_iter()
            .zip(newest(right))
            .map(|(left, right)| left - right)
            .collect(),
    }
}

fn paint_bars(ui: &Ui, place: Rect, view: &View<'_>, stereo: bool) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(place);
    let level = &view.readings.level;
    let axis = place
        .with_min_x(place.left() + 26.0)
        .shrink2(vec2(8.0, 0.0));
    let x = |dbfs: f64| {
        let part = (dbfs - LOWEST_DBFS) / (HIGHEST_DBFS - LOWEST_DBFS);
        axis.left() + axis.width() * part.clamp(0.0, 1.0) as f32
    };
    let hot_dbfs = view.limits.input_level.hot_above_dbfs;
    let bottom = paint_rows(ui, &painter, place, axis, level, stereo, &x, hot_dbfs);
    paint_numbers(&painter, place, &x, palette);
    let strip = Rect::from_min_max(pos2(axis.left(), bottom), axis.max);
    if strip.height() < 16.0 {
        return;
    }
    painter.rect_filled(strip, 0.0, palette.panel);
    if stereo {
        let trail = &level.right.trail;
        ribbon::down(&painter, strip, trail, view.now_s(), palette.second, &x);
    }
    let trail = &level.left.trail;
    ribbon::down(&painter, strip, trail, view.now_s(), palette.trail, &x);
}

fn paint_numbers(painter: &Painter, place: Rect, x: &impl Fn(f64) -> f32, palette: &Palette) {
    let galley = painter.layout_no_wrap("dBFS".into(), theme::text(14.0), palette.quiet);
    words::put(painter, place.min, Align2::LEFT_TOP, galley);
    for dbfs in [-50.0, -40.0, -30.0, -20.0, -10.0, 0.0] {
        let text = format::plain(dbfs, 0);
        let galley = painter.layout_no_wrap(text, theme::strong(16.0), palette.text);
        words::put(
            painter,
            pos2(x(dbfs), place.top()),
            Align2::CENTER_TOP,
            galley,
        );
    }
}

/// Both bars; returns where they end.
#[expect(clippy::too_many_arguments, reason = "one place draws both bars")]
fn paint_rows(
    ui: &Ui,
    painter: &Painter,
    place: Rect,
    axis: Rect,
    level: &LevelReading,
    stereo: bool,
    x: &impl Fn(f64) -> f32,
    hot_dbfs: f64,
) -> f32 {
    let palette = Palette::of(ui);
    let mut top = place.top() + NUMBERS;
    let channels = [
        ("L", "left level", &level.left, palette.trail),
        ("R", "right level", &level.right, palette.second),
    ];
    for (letter, name, channel, color) in channels.into_iter().take(if stereo { 2 } else { 1 }) {
        let bar = Rect::from_min_size(pos2(axis.left(), top), vec2(axis.width(), BAR));
        let letter = painter.layout_no_wrap(letter.into(), theme::strong(20.0), palette.text);
        let at = pos2(place.left() + 2.0, bar.center().y);
        words::put(painter, at, Align2::LEFT_CENTER, letter);
        paint_bar(painter, bar, channel, x, hot_dbfs, color, palette);
        let spoken = format!(
            "rms {}, recent peak {}",
            dbfs(channel.quick_rms_dbfs),
            dbfs(channel.recent_peak_dbfs)
        );
        heard::reading(ui, bar, Id::unique(name), Role::Meter, name, &spoken);
        top += BAR + 4.0;
    }
    top
}

/// One bar: filled to the rms, a line at the recent peak, a triangle at VU, a diamond at PPM; the hot end hatched.
fn paint_bar(
    painter: &Painter,
    bar: Rect,
    channel: &ChannelLevel,
    x: &impl Fn(f64) -> f32,
    hot_dbfs: f64,
    color: Color32,
    palette: &Palette,
) {
    painter.rect_filled(bar, 0.0, palette.panel);
    let hot = Rect::from_x_y_ranges(x(hot_dbfs)..=bar.right(), bar.y_range());
    hatch(painter, hot, palette.warn);
    let galley = painter.layout_no_wrap("hot".into(), theme::text(14.0), palette.text);
    let word = Rect::from_center_size(hot.center(), galley.size() + vec2(6.0, 0.0));
    painter.rect_filled(word, 2.0, palette.panel);
    words::put(painter, word.center(), Align2::CENTER_CENTER, galley);
    if let Some(rms) = finite(channel.quick_rms_dbfs) {
        let filled = bar.with_max_x(x(rms)).shrink2(vec2(0.0, 5.0));
        if filled.is_positive() {
            painter.rect_filled(filled, 0.0, color);
        }
    }
    let edge = Stroke::new(1.0, palette.line);
    painter.rect_stroke(bar, 0.0, edge, StrokeKind::Inside);
    let outline = Stroke::new(1.5, palette.ground);
    if let Some(vu) = finite(channel.vu_dbfs) {
        let (x, y) = (x(vu), bar.top());
        let points = vec![pos2(x - 7.0, y), pos2(x + 7.0, y), pos2(x, y + 13.0)];
        painter.add(Shape::convex_polygon(points, palette.text, outline));
    }
    if let Some(ppm) = finite(channel.ppm_ii_dbfs) {
        let points = marks::diamond(pos2(x(ppm), bar.bottom() - 8.0), 7.0);
        painter.add(Shape::convex_polygon(points, palette.text, outline));
    }
    if let Some(peak) = finite(channel.recent_peak_dbfs) {
        painter.vline(x(peak), bar.y_range(), Stroke::new(3.0, palette.text));
    }
}

/// Slanted lines: a region named by its texture, not by its colour alone.
fn hatch(painter: &Painter, rect: Rect, color: Color32) {
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let mut left = rect.left() - rect.height();
    while left < rect.right() {
        let line = [
            pos2(left, rect.bottom()),
            pos2(left + rect.height(), rect.top()),
        ];
        painter.line_segment(line, Stroke::new(2.0, color));
        left += 9.0;
    }
}

fn show_table(ui: &Ui, place: Rect, level: &LevelReading, stereo: bool) {
    let headings = [
        "rms 0.3 s",
        "rms mean",
        "tone",
        "peak ½ s",
        "peak most",
        "VU",
        "PPM I",
        "PPM II",
        "hum",
    ];
    let row = |name: &str, channel: &ChannelLevel| Row {
        name: name.into(),
        figures: vec![
            number(channel.quick_rms_dbfs),
            number(channel.rms_dbfs),
            number(channel.tone_dbfs),
            number(channel.recent_peak_dbfs),
            number(channel.peak_dbfs),
            number(channel.vu_dbfs),
            number(channel.ppm_i_dbfs),
            number(channel.ppm_ii_dbfs),
            number(channel.hum.map(|hum| hum.total_dbfs)),
        ],
    };
    let rows = if stereo {
        vec![
            row("left, dBFS", &level.left),
            row("right, dBFS", &level.right),
        ]
    } else {
        vec![row("only channel, dBFS", &level.left)]
    };
    table::show(ui, place, Id::unique("levels"), 0.11, &headings, &rows);
}

fn figures(level: &LevelReading) -> Vec<Cell> {
    vec![
        cell(
            "left − right, mean",
            format::signed_with_unit(level.balance_db, 2, "dB"),
        ),
        cell(
            "steadiness, rms",
            format::with_unit(level.steadiness_db_rms, 2, "dB"),
        ),
        cell(
            "peak to peak",
            format::with_unit(level.steadiness_db_peak_to_peak, 2, "dB"),
        ),
        cell("dropouts", level.dropouts.to_string()),
        cell(
            "deepest dropout",
            format::with_unit(level.deepest_dropout_db, 1, "dB"),
        ),
        cell(
            "longest dropout",
            format::with_unit(level.longest_dropout_ms, 0, "ms"),
        ),
        cell("hum left", hum(level.left.hum)),
        cell("hum right", hum(level.right.hum)),
    ]
}

fn hum(hum: Option<Hum>) -> String {
    hum.map_or_else(
        || format::NOTHING.into(),
        |hum| {
            format!(
                "{:.0} Hz {}",
                hum.mains_hz,
                number(Some(hum.fundamental_dbfs))
            )
        },
    )
}

fn also(level: &LevelReading) -> String {
    format!(
        "L {}   R {}",
        dbfs(level.left.quick_rms_dbfs),
        dbfs(level.right.quick_rms_dbfs)
    )
}

/// The second line of the card.
pub fn second_line(readings: &Readings) -> String {
    also(&readings.level)
}

fn dbfs(value: Option<f64>) -> String {
    format::with_unit(value, 1, "dBFS")
}

fn number(value: Option<f64>) -> String {
    finite(value).map_or_else(|| format::NOTHING.into(), |value| format::plain(value, 1))
}

fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_balance_trail_is_matched_from_the_newest_back() {
        let trail = |values: &[f32]| Trail {
            step_s: 0.1,
            values: values.to_vec(),
        };
        let balance = difference(&trail(&[-9.0, -10.0, -12.0]), &trail(&[-11.0, -11.0]));
        assert_eq!(balance.values, [1.0, -1.0]);
        let gap = difference(&trail(&[f32::NAN, 1.0]), &trail(&[0.0, 0.0]));
        assert!(gap.values[0].is_nan() && gap.values[1] == 1.0);
        assert!(
            difference(&trail(&[1.0]), &Trail::default())
                .values
                .is_empty()
        );
    }
}
