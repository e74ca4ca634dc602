//! The stations as a table: limit, as found, as left.

use super::{JobPage, JobWish};
use crate::{
    bench::{Stage, Station},
    screen::{
        model::job_table::{self, Cell, StationRow},
        paint::words,
        strips::job::verdict_mark,
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Color32, Id, Painter, Rect, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo,
    accesskit::Role, pos2, vec2,
};

/// Height of a station, points.
const ROW: f32 = 44.0;
/// Height of the heads of the columns, points.
const HEAD: f32 = 22.0;
/// Left edges of the columns as shares of the width: station, limit, as found, as left.
const COLUMNS: [f32; 4] = [0.0, 0.19, 0.33, 0.665];
/// Room left of the first column for the mark of the station in hand, points.
const MARGIN: f32 = 22.0;
/// Least size of the type, points.
const LEAST: f32 = 11.0;

/// Shows the table; returns the station that was clicked.
pub fn show(ui: &mut Ui, page: &JobPage<'_>) -> Option<JobWish> {
    head(ui, page.stage);
    let mut wish = None;
    for row in page.rows {
        if show_row(ui, row, page) {
            wish = Some(JobWish::Station(row.station));
        }
    }
    wish
}

/// The columns' places in a row.
fn columns(row: Rect) -> [Rect; 4] {
    let inner = Rect::from_min_max(pos2(row.left() + MARGIN, row.top()), row.max);
    std::array::from_fn(|i| {
        let left = inner.left() + COLUMNS[i] * inner.width();
        let right = COLUMNS
            .get(i + 1)
            .map_or(inner.right(), |next| inner.left() + next * inner.width());
        Rect::from_min_max(pos2(left, row.top()), pos2(right - 10.0, row.bottom()))
    })
}

fn head(ui: &mut Ui, stage: Stage) {
    let palette = Palette::of(ui);
    let (row, _) = ui.allocate_exact_size(vec2(ui.available_width(), HEAD), Sense::hover());
    let now = |of: Stage| {
        let now = if of == stage {
            ": readings go here"
        } else {
            ""
        };
        format!("{}{now}", of.words())
    };
    let names = [
        "station".to_owned(),
        "limit".to_owned(),
        now(Stage::AsFound),
        now(Stage::AsLeft),
    ];
    for (i, (place, name)) in columns(row).into_iter().zip(names).enumerate() {
        let on = i == 2 + stage as usize;
        let color = if on { palette.text } else { palette.quiet };
        let name = words::line(
            ui.painter(),
            &name,
            theme::text,
            15.0,
            LEAST,
            place.width(),
            color,
        );
        words::put(ui.painter(), place.left_center(), Align2::LEFT_CENTER, name);
        if on {
            let line = Stroke::new(3.0, palette.text);
            ui.painter()
                .hline(place.left()..=place.right(), place.bottom() - 1.5, line);
        }
    }
}

fn show_row(ui: &mut Ui, row: &StationRow, page: &JobPage<'_>) -> bool {
    let palette = Palette::of(ui);
    let spacing = std::mem::replace(&mut ui.spacing_mut().item_spacing.y, 2.0);
    let (place, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    ui.spacing_mut().item_spacing.y = spacing;
    let in_hand = row.station == page.station;
    let painter = ui.painter_at(place);
    painter.rect_filled(place, 3.0, palette.panel);
    if in_hand {
        painter.rect_stroke(
            place,
            3.0,
            Stroke::new(2.0, palette.text),
            StrokeKind::Inside,
        );
        let at = pos2(place.left() + 6.0, place.center().y);
        let points = vec![
            at + vec2(0.0, -7.0),
            at + vec2(0.0, 7.0),
            at + vec2(10.0, 0.0),
        ];
        painter.add(Shape::convex_polygon(points, palette.text, Stroke::NONE));
    }
    let [station, limit, found, left] = columns(place);
    one_line(&painter, station, row.station.words(), palette.text);
    one_line(&painter, limit, &row.limit, palette.quiet);
    cell(ui, &painter, found, &row.stages[0]);
    cell(ui, &painter, left, &row.stages[1]);
    tell(ui, place, row, in_hand)
}

fn one_line(painter: &Painter, place: Rect, text: &str, color: Color32) {
    let text = words::line(
        painter,
        text,
        theme::text,
        17.0,
        LEAST,
        place.width(),
        color,
    );
    words::put(painter, place.left_center(), Align2::LEFT_CENTER, text);
}

/// The figure, and under it the verdict as a sign and in words.
fn cell(ui: &Ui, painter: &Painter, place: Rect, cell: &Cell) {
    let palette = Palette::of(ui);
    let figure = words::line(
        painter,
        &cell.figure,
        theme::strong,
        18.0,
        LEAST,
        place.width(),
        if cell.done {
            palette.text
        } else {
            palette.quiet
        },
    );
    let at = pos2(place.left(), place.top() + 12.5);
    words::put(painter, at, Align2::LEFT_CENTER, figure);
    let y = place.bottom() - 11.5;
    let mut left = place.left();
    let mut color = palette.quiet;
    if let Some(verdict) = cell.verdict {
        let mark = Rect::from_center_size(pos2(left + 8.0, y), Vec2::splat(15.0));
        color = verdict_mark(ui, mark, Some(verdict));
        left += 22.0;
    }
    let mut said = cell.words.clone();
    if cell.waits {
        said = format!("NOT SAVED YET, {said}");
        color = palette.warn;
    }
    let said = words::line(
        painter,
        &said,
        theme::text,
        14.0,
        LEAST,
        place.right() - left,
        color,
    );
    words::put(painter, pos2(left, y), Align2::LEFT_CENTER, said);
}

/// For the mouse and for a screen reader; true when it is clicked.
fn tell(ui: &Ui, place: Rect, row: &StationRow, in_hand: bool) -> bool {
    let id = Id::unique(("job station", row.station as usize));
    let response = ui.interact(place, id, Sense::click());
    let name = match row.station {
        Station::Mechanical => "mechanical checks station".to_owned(),
        station => format!("{} station", station.words()),
    };
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, in_hand, &name));
    ui.ctx().accesskit_node_builder(id, |node| {
        node.set_value(job_table::spoken(row));
        node.set_live(eframe::egui::accesskit::Live::Polite);
    });
    if response.has_focus() {
        let stroke = Stroke::new(3.0, Palette::of(ui).moving);
        ui.painter()
            .rect_stroke(place, 3.0, stroke, StrokeKind::Inside);
    }
    response.clicked()
}
