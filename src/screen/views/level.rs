//! Level and balance: which channel is louder, both levels with their ballistics, dropouts, hum.

use super::{
    View, head,
    level_bars::{self, Bars},
    places,
};
use crate::{
    readings::{ChannelLevel, Hum, LevelReading, Readings, Trail},
    screen::{
        model::{format, stack::Part},
        paint::{
            cells::{self, Cell, cell},
            gauge::{self, Gauge, Marker},
            table::{self, Row},
        },
        theme::Palette,
    },
};
use eframe::egui::{Id, Rect, Ui};

/// Shows the view in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>) {
    let stereo = view.readings.source.description.channels > 1;
    let bars = level_bars::height(stereo);
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
            Part::of(gauge::LEAST)
                .wanting(gauge::LEAST + 50.0)
                .growing(0.5),
            Part::of(bars).wanting(bars + 50.0).growing(0.5).ranked(1),
            Part::of(table::height(rows)).ranked(2),
            Part::of(cells::ROW)
                .wanting(cells::ROW * figure_rows as f32)
                .in_steps_of(cells::ROW)
                .ranked(3),
        ],
    );
    if let Some(place) = head_place {
        head::show(ui, place, view, &under_the_number(view));
    }
    if let Some(place) = gauge_place {
        paint_gauge(ui, place, view);
    }
    if let Some(place) = bars_place {
        Bars::new(ui, place, view, stereo).show();
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
    gauge.tell(ui, "");
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

/// A column that is there once the interface is calibrated or a level tape has been read.
type Referred = (&'static str, fn(&ChannelLevel) -> Option<f64>);

const REFERRED: [Referred; 3] = [
    ("in dBV", |channel| channel.level_dbv),
    ("in dBu", |channel| channel.level_dbu),
    ("to ref., dB", |channel| channel.relative_to_reference_db),
];

fn show_table(ui: &Ui, place: Rect, level: &LevelReading, stereo: bool) {
    let mut headings = vec![
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
    let referred: Vec<Referred> = REFERRED
        .into_iter()
        .filter(|(_, value)| value(&level.left).is_some() || value(&level.right).is_some())
        .collect();
    headings.extend(referred.iter().map(|(heading, _)| *heading));
    let row = |name: &str, channel: &ChannelLevel| {
        let mut figures = vec![
            number(channel.quick_rms_dbfs),
            number(channel.rms_dbfs),
            number(channel.tone_dbfs),
            number(channel.recent_peak_dbfs),
            number(channel.peak_dbfs),
            number(channel.vu_dbfs),
            number(channel.ppm_i_dbfs),
            number(channel.ppm_ii_dbfs),
            number(channel.hum.map(|hum| hum.total_dbfs)),
        ];
        figures.extend(referred.iter().map(|(_, value)| number(value(channel))));
        Row {
            name: name.into(),
            figures,
        }
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

/// Both levels, in the terms that say most: to the reference, in dBu, or to full scale.
fn under_the_number(view: &View<'_>) -> String {
    let level = &view.readings.level;
    let both = |value: fn(&ChannelLevel) -> Option<f64>, unit: &str| {
        let (left, right) = (finite(value(&level.left))?, value(&level.right));
        let left = format::signed(left, 1);
        let right = format::signed_with_unit(right, 1, unit);
        Some(format!("L {left}   R {right}"))
    };
    let reference = view.setup.level_reference.and_then(|reference| {
        let unit = format!("dB to {} nWb/m", reference.fluxivity_nwb_per_m);
        both(|channel| channel.relative_to_reference_db, &unit)
    });
    reference
        .or_else(|| both(|channel| channel.level_dbu, "dBu"))
        .unwrap_or_else(|| also(level))
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

/// A level in words.
pub fn dbfs(value: Option<f64>) -> String {
    format::with_unit(value, 1, "dBFS")
}

fn number(value: Option<f64>) -> String {
    finite(value).map_or_else(|| format::NOTHING.into(), |value| format::plain(value, 1))
}

/// A value that can be drawn.
pub fn finite(value: Option<f64>) -> Option<f64> {
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
