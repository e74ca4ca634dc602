//! The list of parts by their share in the weighted reading; a click or the arrow keys choose one.

use super::kinds::Mark;
use crate::{
    readings::{Change, MechanismReading, Verdict},
    screen::{
        model::{format, mechanism::Item},
        paint::{table, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Color32, Painter, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, UiBuilder,
    WidgetInfo, accesskit::Role, pos2, vec2,
};

/// Width from which on all columns have room, points.
const ROOMY: f32 = 560.0;
/// Room for the mark before a name, points.
const MARK: f32 = 30.0;

/// Where the columns begin, as shares of the width.
struct Columns {
    rate: f32,
    peak: f32,
    share: f32,
    sure: f32,
    change: Option<f32>,
}

const ALL: Columns = Columns {
    rate: 0.34,
    peak: 0.46,
    share: 0.58,
    sure: 0.72,
    change: Some(0.86),
};
const UNCOMPARED: Columns = Columns {
    rate: 0.38,
    peak: 0.51,
    share: 0.64,
    sure: 0.79,
    change: None,
};

impl Columns {
    fn suiting(width: f32, compared: bool) -> Self {
        if width >= ROOMY && compared {
            ALL
        } else {
            UNCOMPARED
        }
    }

    /// Beginning and end of each column, points from the left.
    fn spans(&self, width: f32) -> [(f32, f32); 6] {
        let starts = [0.0, self.rate, self.peak, self.share, self.sure];
        let last = self.change.unwrap_or(1.0);
        std::array::from_fn(|i| {
            let start = starts.get(i).copied().unwrap_or(last);
            let end = starts.get(i + 1).copied().unwrap_or(last);
            let end = if i == 5 { 1.0 } else { end };
            (start * width, end * width - 8.0)
        })
    }
}

/// What is listed.
#[derive(Clone, Copy)]
pub struct List<'a> {
    /// The reading.
    pub reading: &'a MechanismReading,
    /// Its items.
    pub items: &'a [Item<'a>],
    /// Place of the chosen one.
    pub chosen: usize,
    /// Whether it has just been chosen by key, so that it must come into sight.
    pub follow: bool,
}

/// Shows the list in `rect`; returns the place of the item that was clicked.
pub fn show(ui: &mut Ui, rect: Rect, list: List<'_>) -> Option<usize> {
    let compared = list.reading.comparison.is_some();
    let columns = Columns::suiting(rect.width(), compared);
    let spans = columns.spans(rect.width());
    let palette = Palette::of(ui);
    let headings = [
        "part",
        "rate Hz",
        "peak %",
        "share",
        "sure",
        "since as found",
    ];
    for ((start, end), heading) in spans.into_iter().zip(headings) {
        if end > start {
            let galley = words::line(
                ui.painter(),
                heading,
                theme::text,
                theme::LABEL,
                11.0,
                end - start,
                palette.quiet,
            );
            let at = pos2(rect.left() + start, rect.top());
            words::put(ui.painter(), at, Align2::LEFT_TOP, galley);
        }
    }
    let below = rect.with_min_y(rect.top() + table::HEADING);
    let mut clicked = None;
    ui.scope_builder(UiBuilder::new().max_rect(below), |ui| {
        ScrollArea::vertical()
            .id_salt("mechanism parts")
            .auto_shrink(false)
            .show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                for place in 0..list.items.len() {
                    if row(ui, list, place, &spans) {
                        clicked = Some(place);
                    }
                }
            });
    });
    clicked
}

/// One row; true when it was clicked.
fn row(ui: &mut Ui, list: List<'_>, place: usize, spans: &[(f32, f32); 6]) -> bool {
    let (item, chosen) = (&list.items[place], place == list.chosen);
    let palette = Palette::of(ui);
    let size = vec2(ui.available_width(), table::ROW);
    let (place, response) = ui.allocate_exact_size(size, Sense::click());
    let figures = figures(item);
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, chosen, item.name()));
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_value(spoken(&figures));
        node.set_selected(chosen);
    });
    if chosen && list.follow {
        response.scroll_to_me(None);
    }
    if !ui.is_rect_visible(place) {
        return false;
    }
    let painter = ui.painter_at(place);
    if chosen {
        painter.rect_filled(place, 0.0, palette.panel);
        let bar = place.with_max_x(place.left() + 4.0);
        painter.rect_filled(bar, 0.0, palette.text);
    }
    if response.hovered() || response.has_focus() {
        painter.rect_stroke(
            place,
            0.0,
            Stroke::new(1.5, palette.text),
            StrokeKind::Inside,
        );
    }
    painter.hline(place.x_range(), place.top(), Stroke::new(1.0, palette.line));
    let heard = !matches!(item, Item::Unheard(_));
    let color = if heard { palette.text } else { palette.quiet };
    let mark = pos2(place.left() + 15.0, place.center().y);
    Mark::of_item(item, list.reading).paint(&painter, mark, 6.5, color, heard);
    paint_cells(&painter, place, item, &figures, spans, color, palette);
    response.clicked()
}

fn paint_cells(
    painter: &Painter,
    place: Rect,
    item: &Item<'_>,
    figures: &[String; 5],
    spans: &[(f32, f32); 6],
    color: Color32,
    palette: &Palette,
) {
    let put = |(start, end): (f32, f32), text: &str, font: words::Type, size: f32, color| {
        if end > start && !text.is_empty() {
            let galley = words::line(painter, text, font, size, 11.0, end - start, color);
            let at = pos2(place.left() + start, place.center().y);
            words::put(painter, at, Align2::LEFT_CENTER, galley);
        }
    };
    let name = (spans[0].0 + MARK, spans[0].1);
    put(name, &item.name(), theme::text, 16.0, color);
    let [rate, peak, share, sure, change] = figures;
    put(spans[1], rate, theme::strong, 15.0, color);
    put(spans[2], peak, theme::strong, 15.0, color);
    if let Item::Heard(row) = item {
        paint_share(painter, place, spans[3], row.share, palette);
    }
    put(spans[3], share, theme::strong, 15.0, color);
    put(spans[4], sure, theme::text, 15.0, color);
    let (start, end) = spans[5];
    let verdict = match item {
        Item::Heard(row) => row.change.map(|change| change.verdict),
        Item::Line(_) | Item::Unheard(_) => None,
    };
    if let Some(verdict) = verdict.filter(|_| end > start) {
        let at = pos2(place.left() + start + 7.0, place.center().y);
        paint_verdict(painter, at, 6.5, verdict, palette);
        put((start + 18.0, end), change, theme::text, 15.0, color);
    }
}

/// A bar as long as the share, under the number.
fn paint_share(painter: &Painter, place: Rect, span: (f32, f32), share: f64, palette: &Palette) {
    let (left, right) = (place.left() + span.0, place.left() + span.1);
    let length = (right - left) * share.clamp(0.0, 1.0) as f32;
    let bar = Rect::from_min_max(
        pos2(left, place.bottom() - 5.0),
        pos2(left + length, place.bottom() - 2.0),
    );
    painter.rect_filled(bar, 0.0, palette.trail);
}

/// Better: an arrow head down in a good colour; worse: one up; no difference: two lines.
pub fn paint_verdict(
    painter: &Painter,
    at: eframe::egui::Pos2,
    radius: f32,
    verdict: Verdict,
    palette: &Palette,
) {
    let arrow = |down: f32, color: Color32| {
        let points = vec![
            at + vec2(0.0, down * radius),
            at + vec2(-radius, -down * radius * 0.8),
            at + vec2(radius, -down * radius * 0.8),
        ];
        painter.add(eframe::egui::Shape::convex_polygon(
            points,
            color,
            Stroke::NONE,
        ));
    };
    match verdict {
        Verdict::Better => arrow(1.0, palette.good),
        Verdict::Worse => arrow(-1.0, palette.bad),
        Verdict::NoDifferenceShown => {
            for y in [-0.35, 0.35] {
                let x = at.x - 0.8 * radius..=at.x + 0.8 * radius;
                painter.hline(x, at.y + y * radius, Stroke::new(1.8, palette.quiet));
            }
        }
    }
}

/// Rate, size, share, sureness, change.
fn figures(item: &Item<'_>) -> [String; 5] {
    match item {
        Item::Heard(row) => [
            row.rate_hz
                .map_or_else(String::new, |rate| format::plain(rate.value, 3)),
            row.peak_percent
                .map_or_else(String::new, |peak| format::plain(peak.value, 4)),
            format!("{} %", format::plain(100.0 * row.share, 1)),
            item.sureness(),
            row.change.map_or_else(String::new, change_words),
        ],
        Item::Line(line) => [
            format::plain(line.rate_hz.value, 3),
            format::plain(line.peak.value, 4),
            String::new(),
            String::new(),
            String::new(),
        ],
        Item::Unheard(part) => [
            format::plain(part.expected_hz, 2),
            part.least_visible_percent
                .map_or_else(String::new, |least| {
                    format!("< {}", format::plain(least, 4))
                }),
            String::new(),
            item.sureness(),
            String::new(),
        ],
    }
}

/// A change in a few words.
pub fn change_words(change: Change) -> String {
    let percent = change
        .change_percent
        .filter(|_| change.as_left.value > 0.0 && change.verdict != Verdict::NoDifferenceShown);
    match (percent, change.verdict) {
        (Some(percent), verdict) => {
            format!("{} ({} %)", verdict.words(), format::signed(percent, 0))
        }
        (None, Verdict::NoDifferenceShown) => "no difference".into(),
        (None, verdict) => verdict.words().into(),
    }
}

fn spoken(figures: &[String; 5]) -> String {
    ["rate Hz", "peak %", "share", "sure", "since as found"]
        .iter()
        .zip(figures)
        .filter(|(_, figure)| !figure.is_empty())
        .map(|(name, figure)| format!("{name} {figure}"))
        .collect::<Vec<_>>()
        .join(", ")
}
