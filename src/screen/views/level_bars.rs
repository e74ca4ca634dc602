//! Both levels as bars with their ballistics, and their trails under them, on one scale.

use super::{
    View,
    level::{dbfs, finite},
};
use crate::{
    readings::ChannelLevel,
    screen::{
        model::format,
        paint::{
            heard, marks,
            ribbon::{self, Pen},
            words,
        },
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Color32, Id, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Ui, accesskit::Role, pos2,
    vec2,
};

/// Foot of the bars, dBFS.
const LOWEST_DBFS: f64 = -60.0;
/// Top of the bars, dBFS: true peaks may pass full scale.
const HIGHEST_DBFS: f64 = 3.0;
/// Height of the numbers over the bars, points.
const NUMBERS: f32 = 24.0;
/// Height of one bar with the room under it, points.
const ROW: f32 = 38.0;
/// Room under a bar, points.
const GAP: f32 = 4.0;
/// Half a minute needs this height to be more than a smear, points.
const LEAST_TRAIL: f32 = 16.0;

/// Least height of the bars of one or two channels, points.
pub const fn height(stereo: bool) -> f32 {
    NUMBERS + if stereo { 2.0 * ROW } else { ROW }
}

/// The bars on their place.
pub struct Bars<'a> {
    ui: &'a Ui,
    painter: Painter,
    palette: &'a Palette,
    view: &'a View<'a>,
    place: Rect,
    axis: Rect,
    stereo: bool,
}

impl<'a> Bars<'a> {
    /// Lays the bars out in `place`.
    pub fn new(ui: &'a Ui, place: Rect, view: &'a View<'a>, stereo: bool) -> Self {
        Self {
            ui,
            painter: ui.painter_at(place),
            palette: Palette::of(ui),
            view,
            place,
            axis: place
                .with_min_x(place.left() + 26.0)
                .shrink2(vec2(8.0, 0.0)),
            stereo,
        }
    }

    /// Draws them.
    pub fn show(&self) {
        self.paint_numbers();
        let level = &self.view.readings.level;
        let top = self.place.top() + NUMBERS;
        if self.stereo {
            let color = self.palette.second;
            self.channel(top, "L", "left level", &level.left, self.palette.trail);
            self.channel(top + ROW, "R", "right level", &level.right, color);
        } else {
            self.channel(top, "1", "left level", &level.left, self.palette.trail);
        }
        self.paint_trails();
    }

    fn x(&self, dbfs: f64) -> f32 {
        let part = (dbfs - LOWEST_DBFS) / (HIGHEST_DBFS - LOWEST_DBFS);
        self.axis.left() + self.axis.width() * part.clamp(0.0, 1.0) as f32
    }

    fn paint_numbers(&self) {
        let (painter, place, palette) = (&self.painter, self.place, self.palette);
        let galley = painter.layout_no_wrap("dBFS".into(), theme::text(14.0), palette.quiet);
        words::put(painter, place.min, Align2::LEFT_TOP, galley);
        let legend =
            Rect::from_x_y_ranges(place.left() + 44.0..=self.x(-40.0) - 24.0, place.y_range());
        paint_legend(painter, legend, palette);
        for dbfs in [-40.0, -30.0, -20.0, -10.0, 0.0] {
            let text = format::plain(dbfs, 0);
            let galley = painter.layout_no_wrap(text, theme::strong(16.0), palette.text);
            let at = pos2(self.x(dbfs), place.top());
            words::put(painter, at, Align2::CENTER_TOP, galley);
        }
    }

    fn channel(&self, top: f32, letter: &str, name: &str, channel: &ChannelLevel, color: Color32) {
        let size = vec2(self.axis.width(), ROW - GAP);
        let bar = Rect::from_min_size(pos2(self.axis.left(), top), size);
        let letter =
            self.painter
                .layout_no_wrap(letter.into(), theme::strong(20.0), self.palette.text);
        let at = pos2(self.place.left() + 2.0, bar.center().y);
        words::put(&self.painter, at, Align2::LEFT_CENTER, letter);
        self.paint_bar(bar, channel, color);
        let spoken = format!(
            "rms {}, recent peak {}",
            dbfs(channel.quick_rms_dbfs),
            dbfs(channel.recent_peak_dbfs)
        );
        heard::reading(self.ui, bar, Id::unique(name), Role::Meter, name, &spoken);
    }

    /// Filled to the rms, a line at the recent peak, a triangle at VU, a diamond at PPM II; the hot end hatched.
    fn paint_bar(&self, bar: Rect, channel: &ChannelLevel, color: Color32) {
        let (painter, palette) = (&self.painter, self.palette);
        painter.rect_filled(bar, 0.0, palette.panel);
        self.paint_hot_end(bar);
        if let Some(rms) = finite(channel.quick_rms_dbfs) {
            let filled = bar.with_max_x(self.x(rms)).shrink2(vec2(0.0, 9.0));
            if filled.is_positive() {
                painter.rect_filled(filled, 0.0, color);
            }
        }
        let edge = Stroke::new(1.0, palette.line);
        painter.rect_stroke(bar, 0.0, edge, StrokeKind::Inside);
        if let Some(peak) = finite(channel.recent_peak_dbfs) {
            painter.vline(self.x(peak), bar.y_range(), Stroke::new(3.0, palette.text));
        }
        if let Some(vu) = finite(channel.vu_dbfs) {
            let at = pos2(self.x(vu), bar.top() + 6.0);
            sign(painter, at, Sign::Vu, palette);
        }
        if let Some(ppm) = finite(channel.ppm_ii_dbfs) {
            let at = pos2(self.x(ppm), bar.bottom() - 7.0);
            sign(painter, at, Sign::Ppm, palette);
        }
    }

    fn paint_hot_end(&self, bar: Rect) {
        let (painter, palette) = (&self.painter, self.palette);
        let hot_dbfs = self.view.limits.input_level.hot_above_dbfs;
        let hot = Rect::from_x_y_ranges(self.x(hot_dbfs)..=bar.right(), bar.y_range());
        hatch(painter, hot, palette.warn);
        let galley = painter.layout_no_wrap("hot".into(), theme::text(14.0), palette.text);
        let word = Rect::from_center_size(hot.center(), galley.size() + vec2(6.0, 0.0));
        painter.rect_filled(word, 2.0, palette.panel);
        words::put(painter, word.center(), Align2::CENTER_CENTER, galley);
    }

    fn paint_trails(&self) {
        let top = self.place.top() + height(self.stereo);
        let strip = Rect::from_min_max(pos2(self.axis.left(), top), self.axis.max);
        if strip.height() < LEAST_TRAIL {
            return;
        }
        self.painter.rect_filled(strip, 0.0, self.palette.panel);
        let level = &self.view.readings.level;
        let draw = |trail, pen| {
            let now_s = self.view.now_s();
            ribbon::down(&self.painter, strip, trail, now_s, pen, |dbfs| self.x(dbfs));
        };
        if self.stereo {
            draw(&level.right.trail, Pen::dashed(self.palette.second));
        }
        draw(&level.left.trail, Pen::solid(self.palette.trail));
    }
}

/// The shapes in the bars and what they stand for, where there is room.
fn paint_legend(painter: &Painter, place: Rect, palette: &Palette) {
    if place.width() < 230.0 {
        return;
    }
    let mut left = place.left();
    let y = place.top() + 9.0;
    for (name, shape) in [
        ("rms", Sign::Fill),
        ("peak", Sign::Peak),
        ("VU", Sign::Vu),
        ("PPM II", Sign::Ppm),
    ] {
        let at = pos2(left + 7.0, y);
        sign(painter, at, shape, palette);
        let galley = painter.layout_no_wrap(name.into(), theme::text(14.0), palette.quiet);
        let at = pos2(left + 17.0, place.top());
        left = words::put(painter, at, Align2::LEFT_TOP, galley).right() + 12.0;
    }
}

/// The shapes in a bar.
#[derive(Clone, Copy)]
enum Sign {
    Fill,
    Peak,
    Vu,
    Ppm,
}

fn sign(painter: &Painter, at: Pos2, sign: Sign, palette: &Palette) {
    let outline = Stroke::new(1.5, palette.ground);
    match sign {
        Sign::Fill => {
            let block = Rect::from_center_size(at, vec2(12.0, 8.0));
            painter.rect_filled(block, 0.0, palette.trail);
        }
        Sign::Peak => {
            painter.vline(
                at.x,
                at.y - 7.0..=at.y + 7.0,
                Stroke::new(3.0, palette.text),
            );
        }
        Sign::Vu => {
            let points = vec![
                at + vec2(-8.0, -6.0),
                at + vec2(8.0, -6.0),
                at + vec2(0.0, 6.0),
            ];
            painter.add(Shape::convex_polygon(points, palette.text, outline));
        }
        Sign::Ppm => {
            let points = marks::diamond(at, 7.0);
            painter.add(Shape::convex_polygon(points, palette.text, outline));
        }
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
