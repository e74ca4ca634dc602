//! The mean turn of a part: round, as the part is, and straight, as the eye measures; with the scatter from turn to
//! turn, and in words what its shape suggests.

use crate::{
    readings::{LEAST_TURNS, MechanismReading, OnceRoundTrace, PartReading, Quantity},
    screen::{
        model::{format::capitalised, mechanism::Item},
        paint::{heard, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Color32, Id, Mesh, Painter, Pos2, Rect, Stroke, Ui, accesskit::Role, pos2, vec2,
};
use std::f32::consts::TAU;

/// Least side of the round picture, points.
const LEAST_ROUND: f32 = 84.0;
/// The mean circle's radius and the reach of the deviation, as parts of the round picture's half side.
const CIRCLE: f32 = 0.58;
const REACH: f32 = 0.36;
/// Below this height the words are cut after two lines, so that there is a picture, points.
const SHORT: f32 = 150.0;

/// Shows the turn of the chosen item's part in `rect`; the quantity asked for, or else the speed.
pub fn show(
    ui: &Ui,
    rect: Rect,
    reading: &MechanismReading,
    item: Option<&Item<'_>>,
    quantity: Quantity,
) {
    let name = item.and_then(Item::part_name);
    let part = reading
        .parts
        .iter()
        .find(|part| Some(part.part.as_str()) == name);
    let trace = part.and_then(|part| {
        let of = |quantity: Quantity| part.traces.iter().find(|one| one.quantity == quantity);
        of(quantity).or_else(|| of(Quantity::Speed))
    });
    match (part, trace) {
        (Some(part), Some(trace)) => show_trace(ui, rect, part, trace),
        (Some(part), None) => show_words(ui, rect, &part.part, &why_not(part, reading)),
        (None, _) => show_words(ui, rect, "No part", why_no_part(reading)),
    }
}

fn why_no_part(reading: &MechanismReading) -> &'static str {
    if reading.mechanism.is_none() {
        "Without a deck's mechanism no turn can be folded: m chooses one."
    } else {
        "Choose a part of the list (arrow keys or a click): its mean turn stands here."
    }
}

/// Why a part has no mean turn yet.
fn why_not(part: &PartReading, reading: &MechanismReading) -> String {
    let needed_s = LEAST_TURNS / part.expected_low_hz.max(1e-6);
    if needed_s > reading.seconds {
        return format!(
            "{} Its mean turn needs {LEAST_TURNS:.0} turns, that is {needed_s:.0} s; {:.0} s are read.",
            part.words, reading.seconds
        );
    }
    part.words.clone()
}

fn show_words(ui: &Ui, rect: Rect, head: &str, sentence: &str) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let galley = words::lines(
        &painter,
        sentence,
        theme::text(16.0),
        5,
        rect.width(),
        palette.text,
    );
    let at = rect.min + vec2(0.0, 8.0);
    words::put(&painter, at, Align2::LEFT_TOP, galley);
    let id = Id::unique("mechanism turn");
    heard::reading(ui, rect, id, Role::Image, head, sentence);
}

fn show_trace(ui: &Ui, rect: Rect, part: &PartReading, trace: &OnceRoundTrace) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let (text, size) = (said(part, trace), theme::text(15.0));
    let rows = if rect.height() < SHORT { 2 } else { 4 };
    let galley = words::lines(&painter, &text, size, rows, rect.width(), palette.text);
    let words_top = rect.bottom() - galley.size().y;
    words::put(
        &painter,
        pos2(rect.left(), words_top),
        Align2::LEFT_TOP,
        galley,
    );
    let picture = rect
        .with_max_y(words_top - 6.0)
        .with_min_y(rect.top() + 4.0);
    let side = picture.height().min(0.45 * picture.width());
    if side >= LEAST_ROUND {
        let round = Rect::from_min_size(picture.min, vec2(side, side));
        let scale = Scale::of(trace);
        paint_round(&painter, round, trace, &scale, palette);
        let straight = picture.with_min_x(round.right() + 14.0);
        paint_straight(&painter, straight, trace, &scale, palette);
    } else if picture.height() >= 40.0 {
        paint_straight(&painter, picture, trace, &Scale::of(trace), palette);
    }
    let id = Id::unique("mechanism turn");
    let name = format!("one turn of {}", part.part);
    heard::reading(ui, rect, id, Role::Image, &name, &text);
}

/// What the picture means, and the figures it rests on.
fn said(part: &PartReading, trace: &OnceRoundTrace) -> String {
    format!(
        "{}, {}: {}. {} {}. The band is the scatter from turn to turn.",
        part.part,
        trace.quantity.words(),
        trace.shape.words(),
        trace.words,
        capitalised(trace.evidence.trim_end_matches('.'))
    )
}

/// How far the picture reaches, in the quantity's unit: a round figure.
struct Scale {
    reach: f32,
}

impl Scale {
    fn of(trace: &OnceRoundTrace) -> Self {
        let most = (0..trace.mean.len())
            .map(|i| trace.mean[i].abs() + at(&trace.scatter, i))
            .filter(|size| size.is_finite())
            .fold(1e-6_f32, f32::max);
        let decade = 10_f32.powf(most.log10().floor());
        let reach = [1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0]
            .into_iter()
            .map(|digit| digit * decade)
            .find(|reach| *reach >= most)
            .unwrap_or(most);
        Self { reach }
    }

    fn words(&self, unit: &str) -> String {
        format!("{} {unit}", (self.reach * 1e6).round() / 1e6)
    }
}

fn at(values: &[f32], index: usize) -> f32 {
    values.get(index).copied().unwrap_or(0.0)
}

/// A part of the turn, 0 to 1, as a place round a centre; clockwise from the top.
fn around(center: Pos2, radius: f32, part_of_turn: f32) -> Pos2 {
    let angle = TAU * part_of_turn;
    center + radius * vec2(angle.sin(), -angle.cos())
}

fn paint_round(
    painter: &Painter,
    rect: Rect,
    trace: &OnceRoundTrace,
    scale: &Scale,
    palette: &Palette,
) {
    let half = rect.width() / 2.0;
    let center = rect.center();
    let line = Stroke::new(1.0, palette.line);
    painter.circle_stroke(center, CIRCLE * half, line);
    for quarter in 0..4_u8 {
        let part = f32::from(quarter) / 4.0;
        let from = around(center, (CIRCLE - REACH) * half, part);
        let to = around(center, (CIRCLE + REACH) * half, part);
        painter.line_segment(
            [from, to],
            Stroke::new(1.0, palette.line.gamma_multiply(0.5)),
        );
    }
    let count = trace.mean.len();
    let place = |index: usize, value: f32| {
        let radius = half * (CIRCLE + REACH * (value / scale.reach).clamp(-1.2, 1.2));
        around(center, radius, (index % count) as f32 / count as f32)
    };
    paint_band(painter, trace, palette, true, place);
    let mean: Vec<Pos2> = (0..=count)
        .map(|i| place(i, at(&trace.mean, i % count.max(1))))
        .collect();
    painter.line(mean, Stroke::new(2.0, palette.trail));
    // A dot at angle 0, where the first order is greatest.
    painter.circle_filled(place(0, at(&trace.mean, 0)), 3.5, palette.text);
}

fn paint_straight(
    painter: &Painter,
    rect: Rect,
    trace: &OnceRoundTrace,
    scale: &Scale,
    palette: &Palette,
) {
    let plot = rect.with_max_y(rect.bottom() - 16.0);
    let count = trace.mean.len();
    let place = |index: usize, value: f32| {
        let part = index as f32 / count.max(1) as f32;
        let y = plot.center().y - 0.5 * plot.height() * (value / scale.reach).clamp(-1.2, 1.2);
        pos2(plot.left() + plot.width() * part, y)
    };
    let line = Stroke::new(1.0, palette.line);
    painter.hline(plot.x_range(), plot.center().y, line);
    for quarter in 0..=4_u8 {
        let x = plot.left() + plot.width() * f32::from(quarter) / 4.0;
        painter.vline(
            x,
            plot.y_range(),
            Stroke::new(1.0, palette.line.gamma_multiply(0.5)),
        );
        let text = format!("{}°", 90 * u16::from(quarter));
        let galley = painter.layout_no_wrap(text, theme::text(13.0), palette.quiet);
        let half = galley.size().x / 2.0;
        let at = pos2(
            x.clamp(plot.left() + half, plot.right() - half),
            plot.bottom() + 1.0,
        );
        words::put(painter, at, Align2::CENTER_TOP, galley);
    }
    let inner = painter.with_clip_rect(plot.intersect(painter.clip_rect()));
    paint_band(&inner, trace, palette, false, place);
    let mean: Vec<Pos2> = (0..=count)
        .map(|i| place(i, at(&trace.mean, i % count.max(1))))
        .collect();
    inner.line(mean, Stroke::new(2.0, palette.trail));
    for (sign, corner, align) in [
        ("+", plot.left_top(), Align2::LEFT_TOP),
        ("−", plot.left_bottom(), Align2::LEFT_BOTTOM),
    ] {
        let text = format!("{sign}{}", scale.words(trace.quantity.unit()));
        let galley = painter.layout_no_wrap(text, theme::text(13.0), palette.quiet);
        let plate = align.anchor_size(corner, galley.size());
        painter.rect_filled(plate, 0.0, palette.ground);
        words::put(painter, corner, align, galley);
    }
}

/// The scatter from turn to turn, as one mesh: mean less scatter to mean plus scatter.
fn paint_band(
    painter: &Painter,
    trace: &OnceRoundTrace,
    palette: &Palette,
    closed: bool,
    place: impl Fn(usize, f32) -> Pos2,
) {
    let count = trace.mean.len();
    if count < 2 || trace.scatter.len() != count {
        return;
    }
    let fill: Color32 = palette.line.gamma_multiply(0.35);
    let mut band = Mesh::default();
    for i in 0..=count {
        let (mean, scatter) = (trace.mean[i % count], trace.scatter[i % count]);
        band.colored_vertex(place(i, mean - scatter), fill);
        band.colored_vertex(place(i, mean + scatter), fill);
    }
    for i in 0..count as u32 {
        band.add_triangle(2 * i, 2 * i + 1, 2 * i + 2);
        band.add_triangle(2 * i + 1, 2 * i + 2, 2 * i + 3);
    }
    painter.add(band);
    let edge = Stroke::new(1.0, palette.line);
    for sign in [-1.0, 1.0] {
        let points: Vec<Pos2> = (0..=count)
            .map(|i| place(i, trace.mean[i % count] + sign * trace.scatter[i % count]))
            .collect();
        if closed {
            painter.add(eframe::egui::Shape::closed_line(points, edge));
        } else {
            painter.line(points, edge);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_goes_clockwise_from_the_top() {
        let place = |part| around(Pos2::ZERO, 10.0, part);
        assert!((place(0.0) - pos2(0.0, -10.0)).length() < 1e-4);
        assert!((place(0.25) - pos2(10.0, 0.0)).length() < 1e-4);
        assert!((place(0.5) - pos2(0.0, 10.0)).length() < 1e-4);
    }

    #[test]
    fn a_part_without_a_turn_says_what_it_needs() {
        let part = PartReading {
            part: "take-up reel".into(),
            kind: "take-up reel".into(),
            expected_hz: 0.45,
            expected_low_hz: 0.4,
            expected_high_hz: 0.5,
            found_hz: None,
            orders: Vec::new(),
            share: 0.0,
            least_visible_percent: None,
            words: "Not seen between 0.40 and 0.50 Hz.".into(),
            traces: Vec::new(),
        };
        let mut reading = MechanismReading {
            seconds: 4.0,
            ..MechanismReading::default()
        };
        let told = why_not(&part, &reading);
        assert!(
            told.contains("4 turns, that is 10 s; 4 s are read"),
            "{told}"
        );
        reading.seconds = 30.0;
        assert_eq!(why_not(&part, &reading), part.words);
    }
}
