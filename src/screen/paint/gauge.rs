//! The one scale of an adjustment: target band, needle, and the trail that runs down from it.

use super::{
    heard,
    marks::{self, Way},
    ribbon::{self, Pen},
    words,
};
use crate::{
    readings::Trail,
    screen::{
        model::{Adjustment, Glance, State, format},
        theme::{self, Palette},
    },
    tables::Band,
};
use eframe::egui::{
    Align2, Id, Mesh, Painter, Pos2, Rangef, Rect, Shape, Stroke, Ui, accesskit::Role, pos2, vec2,
};

/// Height of the row of numbers, points.
const NUMBERS: f32 = 26.0;
/// Height of the lane in which the needle moves, points.
const LANE: f32 = 52.0;
/// Least height of scale and lane together.
pub const LEAST: f32 = NUMBERS + LANE;
/// Half a minute needs this height to be more than a smear, points.
const LEAST_TRAIL: f32 = 20.0;
/// Width of the names of the times at the right of the trail, points.
const BESIDE_TIMES: f32 = 64.0;
/// Height that the bar of a stretch of time takes below the lane, points.
const SPAN: f32 = 11.0;
/// Room at both ends of the scale, points.
const END: f32 = 26.0;

/// A scale on its place.
pub struct Gauge<'a> {
    adjustment: Adjustment,
    glance: &'a Glance,
    band: Band,
    palette: &'a Palette,
    numbers: Rect,
    lane: Rect,
    strip: Rect,
}

/// A value besides the needle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Marker {
    /// A mean: a hollow diamond.
    Mean,
    /// The least value: a bar, its name on the outer side.
    Least,
    /// The greatest value: a bar, its name on the outer side unless this other marker stands there.
    Most {
        /// The value of the other marker.
        beside: Option<f64>,
    },
    /// A value that is possible too: a hollow diamond of another size.
    Candidate,
}

impl<'a> Gauge<'a> {
    /// Lays the gauge out in `rect`: numbers, lane, and what is left for the trail.
    pub fn new(rect: Rect, glance: &'a Glance, band: Band, palette: &'a Palette) -> Self {
        let numbers = Rect::from_min_size(rect.min, vec2(rect.width(), NUMBERS));
        let lane = Rect::from_min_size(numbers.left_bottom(), vec2(rect.width(), LANE));
        let strip = Rect::from_min_max(lane.left_bottom(), rect.max);
        Self {
            adjustment: glance.adjustment,
            glance,
            band,
            palette,
            numbers,
            lane,
            strip,
        }
    }

    /// Where a value stands; values beyond the scale stand at its end.
    pub fn x(&self, value: f64) -> f32 {
        let reach = self.glance.step.reach;
        self.unbounded_x(value.clamp(-reach, reach))
    }

    /// Where a value would stand, were the scale long enough: a trail that leaves the scale leaves the picture.
    fn unbounded_x(&self, value: f64) -> f32 {
        let part = (value / self.glance.step.reach).clamp(-5.0, 5.0) as f32;
        let (left, right) = (self.lane.left() + END, self.lane.right() - END);
        if !self.adjustment.is_two_sided() {
            return left + (right - left) * part.max(0.0);
        }
        let sign = if self.adjustment.is_mirrored() {
            -1.0
        } else {
            1.0
        };
        f32::midpoint(left, right) + (right - left) / 2.0 * part * sign
    }

    /// For a screen reader: how far the scale reaches, where its band is, and what else stands on it.
    pub fn tell(&self, ui: &Ui, also: &str) {
        let adjustment = self.adjustment;
        let sign = if adjustment.is_two_sided() {
            "±"
        } else {
            "0 to "
        };
        let Band { aim, accept, .. } = self.band;
        let unit = adjustment.spoken_unit();
        let reach = self.glance.step.reach;
        let mut words = format!(
            "{sign}{} {unit}, good within {aim}, accepted within {accept}",
            (reach * 1e3).round() / 1e3
        );
        if !also.is_empty() {
            words += &format!("; {also}");
        }
        let place = self.numbers.union(self.strip);
        let name = format!("{} scale", adjustment.name());
        let id = Id::unique(("scale", adjustment));
        heard::reading(ui, place, id, Role::Image, &name, &words);
    }

    /// The still part: ground, band, numbers, time lines.
    pub fn paint_scale(&self, painter: &Painter) {
        let whole = self.lane.union(self.strip);
        self.paint_band(painter, whole);
        self.paint_times(painter);
        self.paint_numbers(painter);
        let axis = Stroke::new(1.5, self.palette.line);
        painter.hline(whole.x_range(), self.lane.bottom(), axis);
        self.paint_ends(painter);
    }

    /// Ground and band. The fills lie side by side, none under another: a software renderer pays for every pixel.
    fn paint_band(&self, painter: &Painter, whole: Rect) {
        let palette = self.palette;
        let accept = self.across(self.band.accept, whole);
        let aim = self.across(self.band.aim, whole);
        let (ends, accepted) = (palette.panel, palette.accept);
        let mut fills = Mesh::default();
        for (from, to, fill) in [
            (whole.left(), accept.min, ends),
            (accept.min, aim.min, accepted),
            (aim.min, aim.max, palette.aim),
            (aim.max, accept.max, accepted),
            (accept.max, whole.right(), ends),
        ] {
            let place = Rect::from_x_y_ranges(from..=to, whole.y_range());
            fills.add_colored_rect(place, fill);
        }
        painter.add(fills);
        let edge = Stroke::new(2.0, palette.good);
        for band in [accept, aim] {
            if self.adjustment.is_two_sided() {
                painter.vline(band.min, whole.y_range(), edge);
            }
            painter.vline(band.max, whole.y_range(), edge);
        }
        if self.adjustment.is_two_sided() {
            let zero = Stroke::new(1.0, palette.text);
            painter.vline(self.x(0.0), whole.y_range(), zero);
        }
    }

    /// How far values up to `size` reach across the scale.
    fn across(&self, size: f64, whole: Rect) -> Rangef {
        let low = if self.adjustment.is_two_sided() {
            -size
        } else {
            0.0
        };
        let (a, b) = (self.x(low), self.x(size));
        Rangef::new(a.min(b).max(whole.left()), a.max(b).min(whole.right()))
    }

    /// Names the two parts of the band at its foot, where there is room: not by colour alone.
    fn paint_band_words(&self, painter: &Painter) {
        if self.strip.height() < 60.0 {
            return;
        }
        let (inner, outer) = (self.x(self.band.aim), self.x(self.band.accept));
        let foot = if self.adjustment.is_two_sided() {
            self.x(0.0)
        } else {
            self.lane.left() + END
        };
        let palette = self.palette;
        for (name, a, b, fill) in [
            ("good", foot, inner, palette.aim),
            ("accepted", inner, outer, palette.accept),
        ] {
            let galley = painter.layout_no_wrap(name.into(), theme::text(14.0), self.palette.text);
            if galley.size().x + 8.0 <= (b - a).abs() {
                let at = pos2(f32::midpoint(a, b), self.strip.bottom() - 3.0);
                let plate = Align2::CENTER_BOTTOM.anchor_size(at, galley.size());
                painter.rect_filled(plate, 0.0, fill);
                words::put(painter, at, Align2::CENTER_BOTTOM, galley);
            }
        }
    }

    fn paint_times(&self, painter: &Painter) {
        if self.strip.height() < 60.0 {
            return;
        }
        for age_s in [10.0_f32, 20.0] {
            let y = self.strip.top() + self.strip.height() * age_s / ribbon::SPAN_S as f32;
            let stroke = Stroke::new(1.0, self.palette.line.gamma_multiply(0.5));
            painter.hline(self.strip.x_range(), y, stroke);
            let label = format!("{age_s} s ago");
            let galley = painter.layout_no_wrap(label, theme::text(14.0), self.palette.quiet);
            let at = pos2(self.strip.right() - 4.0, y - 1.0);
            words::put(painter, at, Align2::RIGHT_BOTTOM, galley);
        }
    }

    fn paint_numbers(&self, painter: &Painter) {
        let step = self.glance.step;
        let stroke = Stroke::new(1.5, self.palette.line);
        // While the scale slides to another width its end lies between two marks.
        let ticks = (step.reach / step.tick_every + 1e-6).floor() as i32;
        let per_label = (step.label_every / step.tick_every).round() as i32;
        let first = if self.adjustment.is_two_sided() {
            -ticks
        } else {
            0
        };
        for tick in first..=ticks {
            let value = f64::from(tick) * step.tick_every;
            let x = self.x(value);
            let labelled = tick % per_label == 0;
            let length = if labelled { 12.0 } else { 6.0 };
            painter.vline(x, self.lane.top()..=self.lane.top() + length, stroke);
            if labelled {
                let decimals = decimals_of(step.label_every);
                let text = if self.adjustment.is_two_sided() {
                    format::signed(value, decimals)
                } else {
                    format::plain(value, decimals)
                };
                let galley = painter.layout_no_wrap(text, theme::strong(18.0), self.palette.text);
                let at = pos2(x, self.numbers.bottom() - 1.0);
                words::put(painter, at, Align2::CENTER_BOTTOM, galley);
            }
        }
    }

    fn paint_ends(&self, painter: &Painter) {
        let (negative, positive) = self.adjustment.ends();
        let (left, right) = if self.adjustment.is_mirrored() {
            (positive, negative)
        } else {
            (negative, positive)
        };
        let y = self.lane.top() + 12.0;
        for (text, x, align) in [
            (left, self.lane.left() + 6.0, Align2::LEFT_TOP),
            (right, self.lane.right() - 6.0, Align2::RIGHT_TOP),
        ] {
            let galley =
                painter.layout_no_wrap(text.to_owned(), theme::text(18.0), self.palette.quiet);
            words::put(painter, pos2(x, y), align, galley);
        }
    }

    /// The trail; `value` turns what the trail holds into the unit of the scale.
    pub fn paint_trail(
        &self,
        painter: &Painter,
        trail: &Trail,
        now_s: f64,
        value: impl Fn(f64) -> f64,
    ) {
        if self.strip.height() < LEAST_TRAIL {
            return;
        }
        let pen = Pen::solid(self.palette.trail);
        ribbon::down(painter, self.strip, trail, now_s, pen, |held| {
            self.unbounded_x(value(held))
        });
    }

    /// A named value besides the needle, at the lower edge of the lane.
    pub fn paint_marker(&self, painter: &Painter, marker: Marker, value: f64, name: &str) {
        if value.abs() > self.glance.step.reach {
            return;
        }
        let palette = self.palette;
        let at = pos2(self.x(value), self.lane.bottom() - 11.0);
        match marker {
            Marker::Mean => self.paint_diamond(painter, at, 7.0),
            Marker::Candidate => self.paint_diamond(painter, at, 10.0),
            Marker::Least | Marker::Most { .. } => {
                let stroke = Stroke::new(3.0, palette.text);
                painter.vline(at.x, at.y - 10.0..=at.y + 10.0, stroke);
            }
        }
        if !name.is_empty() {
            let galley = painter.layout_no_wrap(name.to_owned(), theme::text(14.0), palette.text);
            let needle = self.glance.needle.map_or(at.x, |needle| self.x(needle));
            let fits_right = at.x + 12.0 + galley.size().x <= self.lane.right();
            let to_the_left = match marker {
                Marker::Least => true,
                Marker::Most { beside } => beside.is_some_and(|other| {
                    let end = at.x + 12.0 + galley.size().x + 10.0;
                    (at.x..end).contains(&self.x(other))
                }),
                // On the side away from the needle, so that neither covers the other.
                Marker::Mean | Marker::Candidate => at.x < needle,
            };
            let (offset, align) = if to_the_left || !fits_right {
                (-12.0, Align2::RIGHT_CENTER)
            } else {
                (12.0, Align2::LEFT_CENTER)
            };
            words::put(painter, at + vec2(offset, 0.0), align, galley);
        }
    }

    /// From the least to the greatest of a stretch of time, as a bar with caps along the foot of the lane; its name
    /// below its middle, where there is room.
    pub fn paint_span(&self, painter: &Painter, least: f64, greatest: f64, name: &str) {
        if self.strip.height() < SPAN {
            return;
        }
        let (a, b) = (self.x(least), self.x(greatest));
        let (left, right) = (a.min(b), a.max(b));
        let y = self.lane.bottom() + 4.0;
        let palette = self.palette;
        for (width, color) in [(7.0, palette.ground), (3.0, palette.text)] {
            let stroke = Stroke::new(width, color);
            painter.hline(left..=right, y, stroke);
            for x in [left, right] {
                painter.vline(x, y - 6.0..=y + 6.0, stroke);
            }
        }
        if self.strip.height() < 2.0 * LEAST_TRAIL {
            return;
        }
        let galley = painter.layout_no_wrap(name.to_owned(), theme::text(16.0), palette.text);
        let half = galley.size().x / 2.0 + 4.0;
        let (first, last) = (
            self.strip.left() + half,
            self.strip.right() - BESIDE_TIMES - half,
        );
        let x = f32::midpoint(left, right).clamp(first, last.max(first));
        // Below the needle's tip, on a plate of its own: the trail runs behind it.
        let at = pos2(x, self.lane.bottom() + 16.0);
        let plate = Align2::CENTER_TOP.anchor_size(at, galley.size());
        painter.rect_filled(plate.expand2(vec2(4.0, 0.0)), 2.0, palette.panel);
        words::put(painter, at, Align2::CENTER_TOP, galley);
    }

    fn paint_diamond(&self, painter: &Painter, center: Pos2, radius: f32) {
        let points = marks::diamond(center, radius);
        let stroke = Stroke::new(2.0, self.palette.text);
        painter.add(Shape::convex_polygon(points, self.palette.panel, stroke));
    }

    /// The needle, beside it the way in which it should go, and the names of the band, which the trail must not
    /// cover. Comes last.
    pub fn paint_needle(&self, painter: &Painter) {
        self.paint_band_words(painter);
        let Some(value) = self.glance.needle else {
            return;
        };
        if value.abs() > self.glance.step.reach {
            self.paint_off_scale(painter, value);
            return;
        }
        let palette = self.palette;
        let x = self.x(value);
        let (top, tip) = (self.lane.top() + 2.0, self.lane.bottom());
        let stroke = Stroke::new(2.5, palette.ground);
        let body = vec![pos2(x - 15.0, top), pos2(x + 15.0, top), pos2(x, tip)];
        painter.add(Shape::convex_polygon(body, palette.text, stroke));
        let below = (self.strip.top() + 14.0).min(self.strip.bottom());
        painter.vline(x, tip..=below, Stroke::new(3.0, palette.text));
        if let (State::Out | State::Settling, Some(better)) =
            (self.glance.state, self.glance.better)
        {
            let way = Way::on_scale(better, self.adjustment.is_mirrored());
            let middle = self.lane.center().y - 6.0;
            let room = self.room_to_target(x);
            for place in [30.0, 52.0, 74.0] {
                if place > 30.0 && place + 9.0 > room {
                    break;
                }
                let center = pos2(x + way.sign() * place, middle);
                let color = marks::color(self.glance.state, palette);
                marks::arrow_head(painter, center, 9.0, way, color);
            }
        }
    }

    /// From the needle at `x` to the nearest edge of the good part of the band, points.
    fn room_to_target(&self, x: f32) -> f32 {
        let edge = |value: f64| (self.x(value) - x).abs();
        if self.adjustment.is_two_sided() {
            edge(self.band.aim).min(edge(-self.band.aim))
        } else {
            edge(self.band.aim)
        }
    }

    fn paint_off_scale(&self, painter: &Painter, value: f64) {
        let outwards = if (value > 0.0) == self.adjustment.is_mirrored() {
            Way::Left
        } else {
            Way::Right
        };
        let inwards = -outwards.sign();
        let x = self.x(value);
        let y = self.lane.center().y - 4.0;
        for place in [0.0, 20.0] {
            let center = pos2(x + inwards * place, y);
            marks::arrow_head(painter, center, 14.0, outwards, self.palette.text);
        }
        let align = match outwards {
            Way::Right => Align2::RIGHT_CENTER,
            Way::Left => Align2::LEFT_CENTER,
        };
        let text = "beyond the scale".to_owned();
        let galley = painter.layout_no_wrap(text, theme::text(18.0), self.palette.text);
        words::put(painter, pos2(x + inwards * 44.0, y), align, galley);
    }
}

/// Decimals that a multiple of `every` needs.
fn decimals_of(every: f64) -> usize {
    (0..4)
        .find(|&decimals| {
            let scaled = every * 10_f64.powi(decimals);
            (scaled - scaled.round()).abs() < 1e-9
        })
        .and_then(|decimals| usize::try_from(decimals).ok())
        .unwrap_or(4)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{screen::model::Follower, tables::Limits};
    use eframe::egui::Theme;

    fn at(adjustment: Adjustment, value: f64) -> f32 {
        let limits = Limits::supplied().expect("table");
        let follower = Follower::new(adjustment, &limits);
        let rect = Rect::from_min_size(pos2(100.0, 0.0), vec2(1000.0, 300.0));
        let palette = Palette::of_theme(Theme::Dark);
        Gauge::new(rect, follower.glance(), adjustment.band(&limits), palette).x(value)
    }

    #[test]
    fn values_stand_where_the_scale_says_and_never_outside_it() {
        assert_eq!(at(Adjustment::Speed, 0.0), 600.0);
        assert!(at(Adjustment::Speed, 0.2) > 600.0);
        assert!(
            at(Adjustment::Level, 0.2) < 600.0,
            "left louder is at the left"
        );
        assert_eq!(at(Adjustment::Speed, 1e6), 1100.0 - END);
        assert_eq!(at(Adjustment::Speed, -1e6), 100.0 + END);
        assert_eq!(at(Adjustment::Flutter, 0.0), 100.0 + END);
    }

    #[test]
    fn numbers_have_the_decimals_they_need() {
        assert_eq!(decimals_of(0.05), 2);
        assert_eq!(decimals_of(0.1), 1);
        assert_eq!(decimals_of(5.0), 0);
    }
}
