//! The turn as a circle: outside is more, inside is less than the mean.

use super::{CURVE, FAINT, FONT, INK, trace::Course};
use plotters::{
    coord::Shift,
    drawing::DrawingAreaErrorKind,
    prelude::{
        ChartBuilder, Color as _, DrawingArea, DrawingBackend, IntoFont as _, LineSeries,
        PathElement, Polygon, Text,
    },
};

/// Radius of the mean, of which the outermost value is half beyond.
const RADIUS: f64 = 1.0;
const REACH: f64 = 0.5;

/// Draws the course around a circle; 0 degrees is on top and the angle runs to the right.
pub(super) fn draw<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    course: &Course,
    unit: &str,
) -> Result<(), DrawingAreaErrorKind<B::ErrorType>> {
    let scale = REACH / course.reach();
    let at = |degrees: f64, value: f64| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let radius = RADIUS + scale * value;
        (radius * sin, radius * cos)
    };
    let mut chart = ChartBuilder::on(area)
        .caption(
            format!(
                "outside = more; inner and outer ring ±{:.4} {unit}",
                course.reach()
            ),
            (FONT, 18).into_font().color(&INK),
        )
        .margin(14)
        .build_cartesian_2d(-1.75..1.75, -1.65..1.65)?;
    let ring = |value: f64| (0..=120).map(move |k| at(3.0 * f64::from(k), value));
    for value in [-course.reach(), 0.0, course.reach()] {
        chart.draw_series(LineSeries::new(ring(value), FAINT))?;
    }
    for degrees in [0.0, 90.0, 180.0, 270.0] {
        let spoke = [at(degrees, -course.reach()), at(degrees, course.reach())];
        chart.draw_series([PathElement::new(spoke, FAINT)])?;
        let (x, y) = at(degrees, 1.25 * course.reach());
        let style = (FONT, 15).into_font().color(&INK);
        chart.draw_series([Text::new(
            format!("{degrees:.0}°"),
            (x - 0.06, y + 0.05),
            style,
        )])?;
    }
    let edge = |sign: f64| -> Vec<(f64, f64)> {
        let values = course.mean.iter().zip(&course.scatter);
        let values = values.map(|(m, s)| m + sign * s);
        let points = course.degrees.iter().zip(values);
        points.map(|(degrees, value)| at(*degrees, value)).collect()
    };
    let mut band = edge(1.0);
    let mut inner = edge(-1.0);
    inner.reverse();
    band.extend(inner);
    chart.draw_series([Polygon::new(band, CURVE.mix(0.2).filled())])?;
    chart.draw_series(LineSeries::new(edge(0.0), CURVE.stroke_width(2)))?;
    Ok(())
}
