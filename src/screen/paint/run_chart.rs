//! A curve over the hours of a run: its scales, its pieces, its marks.

use super::{ribbon::Pen, words};
use crate::screen::{
    model::{
        format,
        run_in::{Scale, time_step_s},
    },
    theme::{self, Palette},
};
use eframe::egui::{Align2, Color32, Painter, Rect, Shape, Stroke, StrokeKind, pos2, vec2};

/// Room for the numbers at the left, points.
pub const LEFT: f32 = 62.0;
/// Room for the title above, points.
pub const ABOVE: f32 = 22.0;
const THICKNESS: f32 = 2.0;
const DASH: f32 = 8.0;
const GAP: f32 = 5.0;
/// Points from one time on the axis to the next, at least.
const TIME_EVERY: f32 = 90.0;

/// A curve's place and its scales.
#[derive(Clone, Copy, Debug)]
pub struct RunChart {
    /// Where the curve is.
    pub plot: Rect,
    /// Length of the run, seconds.
    pub seconds: f64,
    /// The scale of the values.
    pub scale: Scale,
}

impl RunChart {
    /// A chart in `place`, title and numbers included.
    pub fn new(place: Rect, seconds: f64, scale: Scale) -> Self {
        Self {
            plot: Rect::from_min_max(place.min + vec2(LEFT, ABOVE), place.max),
            seconds: seconds.max(1.0),
            scale,
        }
    }

    /// Where a time of the run is.
    pub fn x(&self, at_s: f64) -> f32 {
        self.plot.left() + (at_s / self.seconds).clamp(0.0, 1.0) as f32 * self.plot.width()
    }

    /// Where a value is.
    pub fn y(&self, value: f64) -> f32 {
        let share = (value - self.scale.low) / (self.scale.high - self.scale.low);
        self.plot.bottom() - share.clamp(0.0, 1.0) as f32 * self.plot.height()
    }

    /// Ground, title, numbers and the lines at them.
    pub fn paint_scale(&self, painter: &Painter, title: &str, palette: &Palette) {
        painter.rect_filled(self.plot, 0.0, palette.panel);
        let at = self.plot.left_top() - vec2(LEFT, ABOVE);
        let width = self.plot.width() + LEFT;
        let title = words::line(
            painter,
            title,
            theme::text,
            theme::LABEL,
            11.0,
            width,
            palette.quiet,
        );
        words::put(painter, at, Align2::LEFT_TOP, title);
        let hair = Stroke::new(0.5, palette.line);
        let room =
            self.plot.height() * (self.scale.step / (self.scale.high - self.scale.low)) as f32;
        let each = if room < 15.0 { 2 } else { 1 };
        for tick in self.scale.ticks().step_by(each) {
            let y = self.y(tick);
            painter.hline(self.plot.x_range(), y, hair);
            let decimals = self.scale.decimals;
            let number = if self.scale.low < 0.0 {
                format::signed(tick, decimals)
            } else {
                format::plain(tick, decimals)
            };
            let galley = painter.layout_no_wrap(number, theme::strong(13.0), palette.text);
            let y = y.clamp(self.plot.top() + 6.0, self.plot.bottom() - 6.0);
            words::put(
                painter,
                pos2(self.plot.left() - 6.0, y),
                Align2::RIGHT_CENTER,
                galley,
            );
        }
        painter.rect_stroke(
            self.plot,
            0.0,
            Stroke::new(1.0, palette.line),
            StrokeKind::Inside,
        );
    }

    /// Hours and minutes under the curve, from `top` down.
    pub fn paint_times(&self, painter: &Painter, top: f32, palette: &Palette) {
        let ticks = (self.plot.width() / TIME_EVERY).max(1.0) as usize;
        let step_s = time_step_s(self.seconds, ticks);
        let count = (self.seconds / step_s).floor() as u32;
        for i in 0..=count {
            let at_s = f64::from(i) * step_s;
            let x = self.x(at_s);
            painter.vline(x, top..=top + 4.0, Stroke::new(1.0, palette.line));
            let text = if i == 0 { "0".to_owned() } else { clock(at_s) };
            let galley = painter.layout_no_wrap(text, theme::strong(13.0), palette.text);
            let half = galley.size().x / 2.0;
            let x = x.clamp(
                self.plot.left() + half,
                (self.plot.right() - half).max(self.plot.left() + half),
            );
            words::put(painter, pos2(x, top + 4.0), Align2::CENTER_TOP, galley);
        }
    }

    /// A curve in pieces.
    pub fn paint_curve(&self, painter: &Painter, pieces: &[Vec<(f64, f64)>], pen: Pen) {
        for piece in pieces {
            let points: Vec<_> = piece
                .iter()
                .map(|(at_s, value)| pos2(self.x(*at_s), self.y(*value)))
                .collect();
            if let [alone] = points.as_slice() {
                painter.circle_filled(*alone, THICKNESS, pen.color);
            } else if pen.dashed {
                let stroke = Stroke::new(THICKNESS, pen.color);
                painter.extend(Shape::dashed_line(&points, stroke, DASH, GAP));
            } else {
                painter.line(points, Stroke::new(THICKNESS, pen.color));
            }
        }
    }

    /// A band of values from a time on to the end.
    pub fn paint_band(
        &self,
        painter: &Painter,
        from_s: f64,
        (low, high): (f64, f64),
        color: Color32,
    ) {
        let band = Rect::from_min_max(
            pos2(self.x(from_s), self.y(high)),
            pos2(self.plot.right(), self.y(low)),
        );
        painter.rect_filled(band, 0.0, color);
    }

    /// A time in which nothing is known: hatched.
    pub fn paint_unknown(&self, painter: &Painter, from_s: f64, to_s: f64, palette: &Palette) {
        let place = Rect::from_x_y_ranges(self.x(from_s)..=self.x(to_s), self.plot.y_range());
        let painter = painter.with_clip_rect(place.intersect(painter.clip_rect()));
        let hair = Stroke::new(1.0, palette.line);
        let mut x = place.left() - place.height();
        while x < place.right() {
            painter.line_segment(
                [
                    pos2(x, place.bottom()),
                    pos2(x + place.height(), place.top()),
                ],
                hair,
            );
            x += 9.0;
        }
    }
}

/// A time on the axis: `0:30` is half an hour; seconds only where the run is a matter of minutes.
fn clock(at_s: f64) -> String {
    let whole = at_s.max(0.0) as u64;
    if !whole.is_multiple_of(60) {
        return format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
    }
    format!("{}:{:02}", whole / 3600, whole / 60 % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_hours_and_minutes() {
        assert_eq!(clock(1800.0), "0:30");
        assert_eq!(clock(36_000.0), "10:00");
        assert_eq!(clock(90.0), "0:01:30");
    }

    #[test]
    fn what_lies_outside_is_put_at_the_edge() {
        let scale = Scale {
            low: -0.1,
            high: 0.1,
            step: 0.05,
            decimals: 2,
        };
        let place = Rect::from_min_size(pos2(0.0, 0.0), vec2(LEFT + 100.0, ABOVE + 50.0));
        let chart = RunChart::new(place, 100.0, scale);
        assert_eq!(chart.x(50.0), LEFT + 50.0);
        assert_eq!(chart.x(1e9), LEFT + 100.0);
        assert_eq!(chart.y(0.0), ABOVE + 25.0);
        assert_eq!(chart.y(9.0), ABOVE);
    }
}
