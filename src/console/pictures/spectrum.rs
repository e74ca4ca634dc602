//! A spectrum: rate and size both logarithmic, the floor, and the lines by the names of their parts.

use super::{CURVE, FAINT, FONT, GROUND, INK, Picture, SECOND, SIZE};
use crate::readings::{MechanismReading, Quantity, Spectrum};
use plotters::{
    coord::Shift,
    drawing::DrawingAreaErrorKind,
    prelude::{
        ChartBuilder, Color as _, DrawingArea, DrawingBackend, IntoFont as _, IntoLogRange as _,
        LineSeries, PathElement, Text,
    },
};

/// Points across: the greatest of each column is drawn.
const COLUMNS: usize = 1100;
/// Decades of size below the greatest that are shown.
const DECADES: f64 = 4.0;
/// Labels stand in so many rows, one above the other.
const LABEL_ROWS: usize = 7;
/// Pixels a letter of a label takes.
const LETTER: f64 = 7.5;

pub(super) struct SpectrumPicture<'a> {
    pub(super) spectrum: &'a Spectrum,
    pub(super) reading: &'a MechanismReading,
}

impl SpectrumPicture<'_> {
    /// The greatest value in each column of the logarithmic axis.
    fn course(&self, values: &[f32]) -> Vec<(f64, f64)> {
        let spectrum = self.spectrum;
        let (low, high) = (spectrum.low_hz, spectrum.high_hz);
        let ratio = (high / low).powf(1.0 / COLUMNS as f64);
        let mut points = Vec::with_capacity(COLUMNS);
        let mut from_hz = low;
        for _ in 0..COLUMNS {
            let to_hz = from_hz * ratio;
            let first = (from_hz / spectrum.step_hz).ceil() as usize;
            let last = (to_hz / spectrum.step_hz).ceil() as usize;
            let part = values.get(first..last.min(values.len())).unwrap_or(&[]);
            if let Some(greatest) = part.iter().copied().reduce(f32::max) {
                points.push(((from_hz * to_hz).sqrt(), f64::from(greatest)));
            }
            from_hz = to_hz;
        }
        points
    }

    /// Labels of the lines with their places: rate, size, words.
    fn labels(&self) -> Vec<(f64, f64, String)> {
        let reading = self.reading;
        let mut labels: Vec<(f64, f64, String)> = match self.spectrum.quantity {
            Quantity::Speed => reading
                .rows
                .iter()
                .filter_map(|row| Some((row.rate_hz?.value, row.peak_percent?.value, &row.label)))
                .map(|(rate, peak, label)| (rate, peak, label.clone()))
                .collect(),
            quantity => reading
                .steadiness
                .iter()
                .filter(|hint| hint.quantity == quantity)
                .filter_map(|hint| Some((hint.rate_hz?, hint.size.value, hint.part.clone()?)))
                .collect(),
        };
        labels.retain(|(rate, _, _)| (self.spectrum.low_hz..self.spectrum.high_hz).contains(rate));
        labels.sort_by(|a, b| a.0.total_cmp(&b.0));
        labels
    }
}

impl Picture for SpectrumPicture<'_> {
    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
    ) -> Result<(), DrawingAreaErrorKind<B::ErrorType>> {
        let spectrum = self.spectrum;
        let curve = self.course(&spectrum.peak);
        let weighted = self.course(&spectrum.weighted_peak);
        let floor = self.course(&spectrum.floor);
        let top = curve.iter().map(|(_, y)| *y).fold(1e-9, f64::max);
        let highest = top * 30.0;
        let lowest = top / 10f64.powf(DECADES);
        area.fill(&GROUND)?;
        let unit = spectrum.quantity.unit();
        let title = format!(
            "Spectrum of the {}: {} peak; lines {:.3} Hz apart stand as two",
            spectrum.quantity.words(),
            unit,
            spectrum.resolution_hz
        );
        let mut chart = ChartBuilder::on(area)
            .caption(title, (FONT, 22).into_font().color(&INK))
            .margin(14)
            .x_label_area_size(44)
            .y_label_area_size(84)
            .build_cartesian_2d(
                (spectrum.low_hz..spectrum.high_hz).log_scale(),
                (lowest..highest).log_scale(),
            )?;
        chart
            .configure_mesh()
            .x_desc("rate, Hz")
            .y_desc(format!("{unit} peak"))
            .axis_style(INK)
            .bold_line_style(FAINT.mix(0.6))
            .light_line_style(FAINT.mix(0.25))
            .label_style((FONT, 16).into_font().color(&INK))
            .x_label_formatter(&|hz| plain(*hz))
            .y_label_formatter(&|size| plain(*size))
            .draw()?;
        let shown =
            |points: Vec<(f64, f64)>| points.into_iter().map(move |(x, y)| (x, y.max(lowest)));
        chart.draw_series(LineSeries::new(shown(floor), FAINT.stroke_width(2)))?;
        if !weighted.is_empty() {
            chart.draw_series(LineSeries::new(shown(weighted), SECOND.mix(0.6)))?;
        }
        chart.draw_series(LineSeries::new(shown(curve), CURVE.stroke_width(1)))?;
        let decades = (spectrum.high_hz / spectrum.low_hz).log10();
        let letter = LETTER * decades / f64::from(SIZE.0 - 130);
        let mut ends = [f64::NEG_INFINITY; LABEL_ROWS];
        for (rate, size, words) in self.labels() {
            let place = rate.log10();
            let Some(row) = ends.iter().position(|end| *end < place) else {
                continue;
            };
            ends[row] = place + letter * (words.chars().count() + 1) as f64;
            let height = top * 1.6 * 10f64.powf(row as f64 * 0.17);
            chart.draw_series([PathElement::new(
                [(rate, size.max(lowest)), (rate, height)],
                INK.mix(0.35),
            )])?;
            chart.draw_series([Text::new(
                words,
                (rate, height),
                (FONT, 15).into_font().color(&INK),
            )])?;
        }
        let key = match spectrum.quantity {
            Quantity::Speed => {
                "blue: unweighted; orange: through the weighting; grey: random floor"
            }
            _ => "blue: size; grey: random floor",
        };
        let at = (100, i32::try_from(SIZE.1).unwrap_or(0) - 24);
        area.draw(&Text::new(key, at, (FONT, 14).into_font().color(&INK)))
    }
}

/// A number with as many digits as it needs.
fn plain(x: f64) -> String {
    let text = format!("{x:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
