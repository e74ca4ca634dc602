//! The spectrum on an axis of decades, with the rates of the deck's parts marked by shape and word.
//!
//! The curve changes twice a second, the frame thirty times: its points are kept until the reading changes.

use super::{MechanismDesk, choices, kinds::Mark, quantities};
use crate::{
    readings::{MechanismReading, Quantity, RateMark, RowKind, Spectrum},
    screen::{
        model::{
            format,
            mechanism::{Item, RateAxis, SizeAxis, columns},
        },
        paint::{heard, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Id, Painter, Pos2, Rect, Shape, Stroke, Ui, Vec2, accesskit::Role, pos2, vec2,
};
use std::sync::Arc;

/// Least height, points.
pub const LEAST: f32 = 120.0;
/// Height of the line with title and choices, points.
const TITLE: f32 = choices::HEIGHT;
/// Height of the numbers below the axis, points.
const NUMBERS: f32 = 17.0;
/// Height of the lane in which all parts stand at their rates, points.
const LANE: f32 = 20.0;
/// Below this height of the whole the lane is left out, points.
const LANE_FROM: f32 = 140.0;
/// A range of rates narrower than this is as good as its middle, points.
const WIDE_RANGE: f32 = 14.0;
/// Lines that get their name over the peak.
const NAMED: usize = 9;

/// What was drawn last.
#[derive(Default)]
pub struct Curve {
    of: Option<(Arc<[f32]>, Rect)>,
    axes: Option<(RateAxis, SizeAxis)>,
    sizes: Vec<Pos2>,
    scrape: Vec<Pos2>,
    floor: Vec<Shape>,
    dark: bool,
}

/// Shows the spectrum of the chosen quantity in `rect`.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    reading: &MechanismReading,
    item: Option<&Item<'_>>,
    desk: &mut MechanismDesk,
) {
    let (top, below) = rect.split_top_bottom_at_y(rect.top() + TITLE);
    show_choices(ui, top, reading, desk);
    let Some(spectrum) = reading.spectrum(desk.quantity) else {
        let text = format!("no spectrum of the {}", desk.quantity.words());
        let galley = ui
            .painter()
            .layout_no_wrap(text, theme::text(17.0), Palette::of(ui).quiet);
        words::put(ui.painter(), below.min, Align2::LEFT_TOP, galley);
        return;
    };
    let lane = if rect.height() >= LANE_FROM {
        LANE
    } else {
        0.0
    };
    let plot = below.with_max_y(below.bottom() - NUMBERS - lane);
    let weighted = !desk.unweighted && !spectrum.weighted_peak.is_empty();
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    desk.curve.follow(ui, plot, reading, spectrum, weighted);
    let Some((rates, sizes)) = desk.curve.axes else {
        return;
    };
    painter.rect_filled(plot, 0.0, palette.panel);
    paint_grid(&painter, plot, &rates, &sizes, palette);
    let marks = Marks {
        reading,
        chosen: item.and_then(Item::part_name),
        rates: &rates,
        palette,
    };
    marks.paint_chosen(&painter, plot);
    desk.curve.paint(&painter, plot, palette);
    if desk.quantity == Quantity::Speed {
        marks.paint_named(&painter, plot, &sizes, weighted);
    }
    if lane > 0.0 {
        let lane = Rect::from_min_max(
            pos2(plot.left(), plot.bottom() + NUMBERS),
            plot.right_bottom() + vec2(0.0, NUMBERS + lane),
        );
        marks.paint_lane(&painter, lane);
    }
    let id = Id::unique("mechanism spectrum");
    let value = spoken(reading, desk.quantity);
    heard::reading(ui, plot, id, Role::Image, "spectrum", &value);
}

/// Title at the left, what to show at the right.
fn show_choices(ui: &mut Ui, rect: Rect, reading: &MechanismReading, desk: &mut MechanismDesk) {
    let palette = Palette::of(ui);
    let read = quantities(Some(reading));
    let (title, buttons) = rect.split_left_right_at_fraction(0.4);
    let has_weighting = desk.quantity == Quantity::Speed;
    let text = format!(
        "{} over rate in Hz: peak {}{}",
        desk.quantity.words(),
        desk.quantity.unit(),
        match (has_weighting, desk.unweighted) {
            (true, false) => ", weighted",
            (true, true) => ", unweighted",
            (false, _) => "",
        }
    );
    let galley = words::line(
        ui.painter(),
        &text,
        theme::text,
        theme::LABEL,
        11.0,
        title.width() - 8.0,
        palette.quiet,
    );
    let at = pos2(title.left(), title.center().y);
    words::put(ui.painter(), at, Align2::LEFT_CENTER, galley);
    let stands = read.iter().position(|one| *one == desk.quantity);
    choices::row(ui, buttons, |ui| {
        for (place, quantity) in read.iter().enumerate() {
            if choices::one(ui, "quantity", quantity.words(), stands == Some(place)) {
                desk.quantity = *quantity;
            }
        }
        ui.add_space(12.0);
        if has_weighting && choices::one(ui, "weighting", "weighted", !desk.unweighted) {
            desk.toggle_weighting();
        }
    });
}

impl Curve {
    /// Cuts the spectrum into pixels anew where it, its place or its colours have changed.
    fn follow(
        &mut self,
        ui: &Ui,
        plot: Rect,
        reading: &MechanismReading,
        spectrum: &Spectrum,
        weighted: bool,
    ) {
        let heights = if weighted {
            &spectrum.weighted_peak
        } else {
            &spectrum.peak
        };
        let dark = ui.visuals().dark_mode;
        let same = self
            .of
            .as_ref()
            .is_some_and(|(of, place)| Arc::ptr_eq(of, heights) && *place == plot);
        if same && dark == self.dark {
            return;
        }
        let wide = reading
            .wide_spectrum
            .as_ref()
            .filter(|_| spectrum.quantity == Quantity::Speed);
        let rates = RateAxis::new(plot.left(), plot.right(), wide.map(|wide| wide.high_hz));
        let first = (spectrum.low_hz / spectrum.step_hz.max(1e-9)) as usize;
        let greatest = heights
            .iter()
            .skip(first)
            .fold(0.0_f32, |most, size| most.max(*size));
        let sizes = SizeAxis::new(plot.bottom(), plot.top(), f64::from(greatest));
        let line = |heights: &[f32], step_hz: f64, from_hz: f64, to_hz: f64| -> Vec<Pos2> {
            columns(heights, step_hz, from_hz..=to_hz, &rates, &sizes)
                .into_iter()
                .map(Pos2::from)
                .collect()
        };
        let (low_hz, high_hz) = (spectrum.low_hz, spectrum.high_hz);
        self.sizes = line(heights, spectrum.step_hz, low_hz, high_hz);
        self.scrape = wide.map_or_else(Vec::new, |wide| {
            let heights = if weighted {
                &wide.weighted_peak
            } else {
                &wide.peak
            };
            line(heights, wide.step_hz, high_hz, wide.high_hz)
        });
        // The floor is that of the unweighted spectrum.
        let floor = if weighted {
            Vec::new()
        } else {
            line(&spectrum.floor, spectrum.step_hz, low_hz, high_hz)
        };
        let stroke = Stroke::new(1.2, Palette::of(ui).quiet);
        self.floor = Shape::dashed_line(&floor, stroke, 6.0, 5.0);
        self.axes = Some((rates, sizes));
        self.of = Some((heights.clone(), plot));
        self.dark = dark;
    }

    fn paint(&self, painter: &Painter, plot: Rect, palette: &Palette) {
        let painter = painter.with_clip_rect(plot.intersect(painter.clip_rect()));
        painter.extend(self.floor.iter().cloned());
        for (line, color) in [(&self.sizes, palette.trail), (&self.scrape, palette.second)] {
            if line.len() > 1 {
                painter.line(line.clone(), Stroke::new(1.4, color));
            }
        }
        if let (Some(first), false) = (self.scrape.first(), self.scrape.is_empty()) {
            let text = "scrape, coarse".to_owned();
            let galley = painter.layout_no_wrap(text, theme::text(12.0), palette.quiet);
            let at = pos2(first.x + 3.0, plot.top() + 1.0);
            if at.x + galley.size().x <= plot.right() {
                words::put(&painter, at, Align2::LEFT_TOP, galley);
            }
        }
    }
}

fn paint_grid(
    painter: &Painter,
    plot: Rect,
    rates: &RateAxis,
    sizes: &SizeAxis,
    palette: &Palette,
) {
    let line = Stroke::new(1.0, palette.line.gamma_multiply(0.4));
    for size in sizes.decades() {
        let y = sizes.y(size);
        painter.hline(plot.x_range(), y, line);
        let text = format!("{}", (size * 1e6).round() / 1e6);
        let galley = painter.layout_no_wrap(text, theme::text(13.0), palette.quiet);
        let at = pos2(plot.left() + 3.0, y + 1.0);
        words::put(painter, at, Align2::LEFT_TOP, galley);
    }
    let axis = Stroke::new(1.5, palette.line);
    painter.hline(plot.x_range(), plot.bottom(), axis);
    let mut free_from = f32::NEG_INFINITY;
    for rate_hz in rates.numbered_hz() {
        let x = rates.x(rate_hz);
        painter.vline(x, plot.bottom() - 5.0..=plot.bottom(), axis);
        let text = format!("{rate_hz}");
        let galley = painter.layout_no_wrap(text, theme::text(14.0), palette.quiet);
        let half = galley.size().x / 2.0;
        let at = x.clamp(plot.left() + half, plot.right() - half);
        if at - half > free_from {
            free_from = at + half + 6.0;
            words::put(
                painter,
                pos2(at, plot.bottom() + 1.0),
                Align2::CENTER_TOP,
                galley,
            );
        }
    }
}

/// The rates of the deck's parts.
struct Marks<'a> {
    reading: &'a MechanismReading,
    chosen: Option<&'a str>,
    rates: &'a RateAxis,
    palette: &'static Palette,
}

impl Marks<'_> {
    fn part_name(&self, mark: &RateMark) -> &str {
        self.reading
            .parts
            .get(mark.part)
            .map_or("", |part| &part.part)
    }

    fn is_chosen(&self, mark: &RateMark) -> bool {
        self.chosen == Some(self.part_name(mark))
    }

    fn shape(&self, mark: &RateMark) -> Mark {
        self.reading
            .parts
            .get(mark.part)
            .map_or(Mark::Open, |part| Mark::of_words(&part.kind))
    }

    fn on_axis(&self) -> impl Iterator<Item = &RateMark> {
        self.reading
            .marks
            .iter()
            .filter(|mark| self.rates.holds(mark.rate_hz))
    }

    /// The chosen part's orders: a line each, unbroken where it was heard, and a band where it may lie.
    fn paint_chosen(&self, painter: &Painter, plot: Rect) {
        let palette = self.palette;
        for mark in self.on_axis().filter(|mark| self.is_chosen(mark)) {
            let x = self.rates.x(mark.rate_hz);
            let (low, high) = (self.rates.x(mark.low_hz), self.rates.x(mark.high_hz));
            if high - low > WIDE_RANGE {
                let band = Rect::from_x_y_ranges(low..=high, plot.bottom() - 6.0..=plot.bottom());
                painter.rect_filled(band, 0.0, palette.moving);
            }
            let stroke = Stroke::new(1.2, palette.text);
            if mark.seen {
                painter.vline(x, plot.y_range(), stroke);
            } else {
                let ends = [pos2(x, plot.top()), pos2(x, plot.bottom())];
                painter.extend(Shape::dashed_line(&ends, stroke, 3.0, 5.0));
            }
        }
    }

    /// Shape and word over the peaks that the table names.
    fn paint_named(&self, painter: &Painter, plot: Rect, sizes: &SizeAxis, weighted: bool) {
        let is_line =
            |kind: RowKind| matches!(kind, RowKind::Part | RowKind::Group | RowKind::Open);
        let rows = self.reading.rows.iter().filter(|row| is_line(row.kind));
        let marked: Vec<(Item<'_>, Pos2)> = rows
            .take(NAMED)
            .filter_map(|row| {
                let size = if weighted {
                    // The weighted line's peak: its rms times √2.
                    row.weighted_rms_percent * std::f64::consts::SQRT_2
                } else {
                    row.peak_percent?.value
                };
                let y = (sizes.y(size) - 8.0).max(plot.top() + 8.0);
                let at = pos2(self.rates.x(row.rate_hz?.value), y);
                Some((Item::Heard(row), at))
            })
            .collect();
        let around = |at: Pos2| Rect::from_center_size(at, Vec2::splat(16.0));
        let mut taken: Vec<Rect> = marked.iter().map(|(_, at)| around(*at)).collect();
        let color = self.palette.text;
        for (item, at) in &marked {
            let galley = painter.layout_no_wrap(item.name(), theme::text(14.0), color);
            if let Some(place) = beside(around(*at), galley.size(), plot, &taken) {
                painter.rect_filled(place, 0.0, self.palette.panel);
                words::put(painter, place.min, Align2::LEFT_TOP, galley);
                taken.push(place);
            }
        }
        for (item, at) in &marked {
            let is_chosen = item.part_name() == self.chosen;
            let radius = if is_chosen { 7.0 } else { 5.5 };
            Mark::of_item(item, self.reading).paint(painter, *at, radius, color, true);
        }
    }

    /// Every part at its once-round rate, and the orders of the chosen one, below the axis.
    fn paint_lane(&self, painter: &Painter, lane: Rect) {
        let palette = self.palette;
        let y = lane.center().y;
        let mut marks: Vec<&RateMark> = self
            .on_axis()
            .filter(|mark| mark.order == 1 || self.is_chosen(mark))
            .collect();
        // The chosen part has the first choice of the room, then what was heard.
        marks.sort_by_key(|mark| (!self.is_chosen(mark), mark.order, !mark.seen));
        let mut taken: Vec<Rect> = Vec::new();
        for mark in &marks {
            let at = pos2(self.rates.x(mark.rate_hz), y);
            let radius = if self.is_chosen(mark) { 6.0 } else { 5.0 };
            let color = if self.is_chosen(mark) {
                palette.text
            } else {
                palette.quiet
            };
            self.shape(mark)
                .paint(painter, at, radius, color, mark.seen);
            taken.push(Rect::from_center_size(at, Vec2::splat(14.0)));
        }
        for mark in marks {
            let x = self.rates.x(mark.rate_hz);
            let text = match mark.order {
                1 => self.part_name(mark).to_owned(),
                order => format!("×{order}"),
            };
            let color = if self.is_chosen(mark) {
                palette.text
            } else {
                palette.quiet
            };
            let galley = painter.layout_no_wrap(text, theme::text(13.0), color);
            let mark = Rect::from_center_size(pos2(x, y), Vec2::splat(14.0));
            if let Some(place) = beside(mark, galley.size(), lane, &taken) {
                words::put(painter, place.min, Align2::LEFT_TOP, galley);
                taken.push(place);
            }
        }
    }
}

/// Room for a name at the right of its mark, else at its left, where it covers nothing.
fn beside(mark: Rect, size: Vec2, within: Rect, taken: &[Rect]) -> Option<Rect> {
    let top = mark.center().y - size.y / 2.0;
    [mark.right() + 2.0, mark.left() - 2.0 - size.x]
        .into_iter()
        .map(|left| Rect::from_min_size(pos2(left, top), size))
        .find(|place| {
            place.left() >= within.left()
                && place.right() <= within.right()
                && taken
                    .iter()
                    .filter(|other| **other != mark)
                    .all(|other| !other.intersects(*place))
        })
}

/// The lines in words.
fn spoken(reading: &MechanismReading, quantity: Quantity) -> String {
    let lines = match quantity {
        Quantity::Speed => &reading.speed_lines,
        Quantity::Phase => &reading.phase_lines,
        Quantity::LevelLeft => &reading.level_lines[0],
        Quantity::LevelRight => &reading.level_lines[1],
    };
    if lines.is_empty() {
        return format!("{}: no line stands out", quantity.words());
    }
    let strongest: Vec<_> = lines
        .iter()
        .take(5)
        .map(|line| {
            format!(
                "{} {} at {} Hz",
                format::plain(line.peak.value, 4),
                quantity.unit(),
                format::plain(line.rate_hz.value, 2)
            )
        })
        .collect();
    format!("{}: {}", quantity.words(), strongest.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_stands_at_the_right_else_at_the_left_else_nowhere() {
        let within = Rect::from_min_size(Pos2::ZERO, vec2(200.0, 20.0));
        let mark = |x: f32| Rect::from_center_size(pos2(x, 10.0), Vec2::splat(14.0));
        let size = vec2(60.0, 14.0);
        let right = beside(mark(50.0), size, within, &[]).expect("room");
        assert!(right.left() > 50.0);
        let left = beside(mark(50.0 + 100.0), size, within, &[]).expect("room");
        assert!(left.right() < 150.0, "the edge is near");
        let taken = [mark(80.0), mark(120.0)];
        assert_eq!(beside(mark(100.0), size, within, &taken), None);
    }
}
