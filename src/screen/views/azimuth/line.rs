//! Phase over frequency: the points with their uncertainties, the line, and what it says.

use super::beside;
use crate::{
    readings::PhaseLine,
    screen::{
        model::format,
        paint::{heard, words},
        theme::{self, Palette},
        views::View,
    },
};
use eframe::egui::{Align2, Id, Painter, Pos2, Rect, Shape, Stroke, Ui, pos2, vec2};

/// What is said before there is a line.
const NOTHING_YET: &str = "play another tone, or programme: a line needs more than one frequency";
/// Room for the numbers of the axes, points.
const LEFT: f32 = 52.0;
const BELOW: f32 = 24.0;
/// Half the size of a point, points.
const POINT: f32 = 5.0;

/// Shows the line in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let (picture, text) = beside::split(rect, 0.56, false);
    let line = view.readings.phase.line.as_ref();
    if let Some(line) = line {
        Axes::of(picture, line).paint(&painter, line, palette);
    } else {
        beside::frame(&painter, picture, palette);
    }
    let verdict = line.map_or_else(|| NOTHING_YET.to_owned(), PhaseLine::words);
    let lines = line.map_or_else(Vec::new, |line| figures(line, view));
    beside::tell(&painter, text, &verdict, &lines, palette);
    let id = Id::unique("azimuth line");
    let spoken = [&[verdict], lines.as_slice()].concat().join("; ");
    heard::announced(ui, rect, id, "phase over frequency", &spoken);
}

fn figures(line: &PhaseLine, view: &View<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if let (Some(delay_us), Some(uncertainty)) = (line.delay_us, line.delay_uncertainty_us) {
        let tape = view.readings.phase.tape_azimuth_arcmin.unwrap_or(0.0);
        let azimuth = view.setup.tape_format.head_azimuth_arcmin(delay_us, tape);
        lines.push(format!(
            "slope {} ± {} µs, that is {} arcmin",
            format::signed(delay_us, 2),
            format::plain(uncertainty, 2),
            format::signed(azimuth, 2)
        ));
    }
    if let (Some(degrees), Some(uncertainty)) =
        (line.intercept_degrees, line.intercept_uncertainty_degrees)
    {
        lines.push(format!(
            "offset {} ± {}°",
            format::signed(degrees, 1),
            format::plain(uncertainty, 1)
        ));
    }
    lines.push(format!("{} points, k = 2", line.points.len()));
    lines
}

/// Where a frequency and a phase stand.
struct Axes {
    place: Rect,
    highest_hz: f64,
    reach_degrees: f64,
}

impl Axes {
    fn of(picture: Rect, line: &PhaseLine) -> Self {
        let highest_hz = line
            .points
            .iter()
            .map(|p| p.frequency_hz)
            .fold(1.0, f64::max);
        let ends = [0.0, highest_hz].map(|hz| line.degrees_at(hz).unwrap_or(0.0).abs());
        let reach = line
            .points
            .iter()
            .map(|p| p.degrees.abs() + p.uncertainty_degrees)
            .fold(ends[0].max(ends[1]).max(10.0), f64::max);
        Self {
            place: Rect::from_min_max(
                picture.min + vec2(LEFT, 0.0),
                picture.max - vec2(0.0, BELOW),
            ),
            highest_hz: 1.06 * highest_hz,
            reach_degrees: 1.12 * reach,
        }
    }

    fn at(&self, hz: f64, degrees: f64) -> Pos2 {
        let x = (hz / self.highest_hz) as f32 * self.place.width();
        let y = (degrees / self.reach_degrees) as f32 * 0.5 * self.place.height();
        pos2(self.place.left() + x, self.place.center().y - y)
    }

    fn paint(&self, painter: &Painter, line: &PhaseLine, palette: &Palette) {
        beside::frame(painter, self.place, palette);
        self.paint_numbers(painter, palette);
        if let (Some(start), Some(end)) = (line.degrees_at(0.0), line.degrees_at(self.highest_hz)) {
            let ends = [self.at(0.0, start), self.at(self.highest_hz, end)];
            painter.line_segment(ends, Stroke::new(2.5, palette.trail));
            painter.circle_stroke(ends[0], POINT, Stroke::new(2.0, palette.text));
        }
        for point in &line.points {
            let at = self.at(point.frequency_hz, point.degrees);
            let above = self.at(
                point.frequency_hz,
                point.degrees + point.uncertainty_degrees,
            );
            let half = at.y - above.y;
            let stroke = Stroke::new(2.0, palette.text);
            painter.vline(at.x, at.y - half..=at.y + half, stroke);
            let corners = [
                vec2(0.0, -1.0),
                vec2(1.0, 0.0),
                vec2(0.0, 1.0),
                vec2(-1.0, 0.0),
            ];
            let corners = corners.map(|way| at + POINT * way).to_vec();
            painter.add(Shape::convex_polygon(corners, palette.text, Stroke::NONE));
        }
    }

    fn paint_numbers(&self, painter: &Painter, palette: &Palette) {
        let thin = Stroke::new(1.0, palette.line);
        let put = |text: String, at: Pos2, align: Align2| {
            let text = painter.layout_no_wrap(text, theme::text(14.0), palette.quiet);
            words::put(painter, at, align, text);
        };
        let zero = self.at(0.0, 0.0).y;
        painter.hline(self.place.x_range(), zero, thin);
        let step = round_step(self.reach_degrees / 1.5);
        let most = (self.reach_degrees / step).floor() as i32;
        for degrees in (-most..=most).map(|mark| f64::from(mark) * step) {
            let at = self.at(0.0, degrees);
            painter.hline(at.x..=at.x + 6.0, at.y, thin);
            let number = format!("{}°", format::signed(degrees, 0));
            put(number, at - vec2(10.0, 0.0), Align2::RIGHT_CENTER);
        }
        let step_hz = round_step(self.highest_hz / 3.0);
        let marks = (self.highest_hz / step_hz).floor() as i32;
        for mark in 0..=marks {
            let at = self.at(f64::from(mark) * step_hz, -self.reach_degrees);
            painter.vline(at.x, at.y - 6.0..=at.y, thin);
            let khz = f64::from(mark) * step_hz / 1000.0;
            let unit = if mark == marks { " kHz" } else { "" };
            let align = if mark == marks {
                Align2::RIGHT_TOP
            } else {
                Align2::CENTER_TOP
            };
            let over = if mark == marks { 12.0 } else { 0.0 };
            put(format!("{khz}{unit}"), at + vec2(over, 4.0), align);
        }
    }
}

/// The greatest of 1, 2, 5 times a power of ten that is not above `most`.
fn round_step(most: f64) -> f64 {
    let decade = 10_f64.powf(most.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|digit| digit * decade)
        .find(|step| *step <= most)
        .unwrap_or(decade)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_fit() {
        for (most, step) in [(8.3, 5.0), (4500.0, 2000.0), (20.0, 20.0), (130.0, 100.0)] {
            assert!((round_step(most) - step).abs() < 1e-9, "{most}");
        }
    }
}
