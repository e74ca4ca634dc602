//! A once-round trace: straight, with its scatter band, and round.

use super::{CURVE, FAINT, FONT, GROUND, INK, Picture, polar};
use crate::readings::{OnceRoundTrace, PartReading};
use plotters::{
    coord::Shift,
    drawing::DrawingAreaErrorKind,
    prelude::{
        ChartBuilder, Color as _, DrawingArea, DrawingBackend, IntoFont as _, LineSeries, Polygon,
        Text,
    },
};

/// Letters in a line of the words below.
const LINE_LETTERS: usize = 130;

pub(super) struct TracePicture<'a> {
    pub(super) part: &'a PartReading,
    pub(super) trace: &'a OnceRoundTrace,
}

/// A trace as points from 0 to 360 degrees: mean, lower and upper edge of the scatter.
pub(super) struct Course {
    pub(super) degrees: Vec<f64>,
    pub(super) mean: Vec<f64>,
    pub(super) scatter: Vec<f64>,
}

impl Course {
    /// The turn closed: the first value again at 360 degrees.
    pub(super) fn of(trace: &OnceRoundTrace) -> Self {
        let closed = |values: &[f32]| -> Vec<f64> {
            let first = values.first();
            values.iter().chain(first).map(|x| f64::from(*x)).collect()
        };
        Self {
            degrees: (0..=trace.mean.len())
                .map(|i| i as f64 * trace.step_degrees)
                .collect(),
            mean: closed(&trace.mean),
            scatter: closed(&trace.scatter),
        }
    }

    /// The largest distance from zero that is drawn.
    pub(super) fn reach(&self) -> f64 {
        let edges = self.mean.iter().zip(&self.scatter);
        edges.map(|(m, s)| m.abs() + s).fold(1e-9, f64::max)
    }
}

impl Picture for TracePicture<'_> {
    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
    ) -> Result<(), DrawingAreaErrorKind<B::ErrorType>> {
        let trace = self.trace;
        area.fill(&GROUND)?;
        let unit = trace.quantity.unit();
        let (upper, words) = area.split_vertically(560);
        let (left, right) = upper.split_horizontally(640);
        let course = Course::of(trace);
        let reach = 1.1 * course.reach();
        let title = format!(
            "{}: {} over one turn, {:.0} turns",
            self.part.part,
            trace.quantity.words(),
            trace.turns
        );
        let mut chart = ChartBuilder::on(&left)
            .caption(title, (FONT, 22).into_font().color(&INK))
            .margin(14)
            .x_label_area_size(44)
            .y_label_area_size(84)
            .build_cartesian_2d(0.0..360.0, -reach..reach)?;
        chart
            .configure_mesh()
            .x_desc("angle, degrees")
            .y_desc(unit)
            .x_labels(9)
            .axis_style(INK)
            .bold_line_style(FAINT.mix(0.6))
            .light_line_style(FAINT.mix(0.2))
            .label_style((FONT, 16).into_font().color(&INK))
            .draw()?;
        let edge = |sign: f64| {
            let values = course.mean.iter().zip(&course.scatter);
            course
                .degrees
                .iter()
                .copied()
                .zip(values.map(move |(m, s)| m + sign * s))
        };
        let mut band: Vec<(f64, f64)> = edge(1.0).collect();
        let mut below: Vec<(f64, f64)> = edge(-1.0).collect();
        below.reverse();
        band.extend(below);
        chart.draw_series([Polygon::new(band, CURVE.mix(0.2).filled())])?;
        let mean = course
            .degrees
            .iter()
            .copied()
            .zip(course.mean.iter().copied());
        chart.draw_series(LineSeries::new(mean, CURVE.stroke_width(2)))?;
        polar::draw(&right, &course, unit)?;
        let mut line = 0;
        for sentence in [&trace.words, &trace.evidence] {
            for text in super::super::page::wrap(sentence, LINE_LETTERS) {
                let style = (FONT, 17).into_font().color(&INK);
                words.draw(&Text::new(text, (30, 6 + 22 * line), style))?;
                line += 1;
            }
        }
        Ok(())
    }
}
