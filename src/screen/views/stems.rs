//! The strongest components of flutter as stems over their rate, changing no oftener than the eye can compare.

use crate::{
    readings::Component,
    screen::{
        model::format,
        theme::{self, Palette},
    },
};
use eframe::egui::{Rect, Sense, Stroke, Ui, UiBuilder, Vec2};
use egui_plot::{GridInput, GridMark, MarkerShape, Plot, PlotPoint, Points, Text};

/// Room over the highest stem, for its number.
const HEADROOM: f64 = 1.3;
/// At most twice a second.
const EVERY_S: f64 = 0.5;
/// Rates with a number on the axis, Hz.
const RATES_HZ: [f64; 9] = [0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];
/// Fewer rates, where all of them would run into one another, Hz.
const SPARSE_RATES_HZ: [f64; 4] = [0.2, 1.0, 10.0, 100.0];
/// Width from which on all rates have room, points.
const ROOMY: f32 = 330.0;
/// Room that a number takes, points, and a little more because the axes take some of the picture.
const NUMBER_WIDTH: f64 = 20.0;
const NUMBER_HEIGHT: f64 = 22.0;
/// Ends of the axis, Hz.
const LOWEST_HZ: f64 = 0.15;
const HIGHEST_HZ: f64 = 260.0;

/// The components as they were drawn last.
#[derive(Default)]
pub struct Stems {
    components: Vec<Component>,
    since_s: Option<f64>,
}

impl Stems {
    /// Takes new components if the old ones have stood long enough; returns those to show.
    pub fn follow(&mut self, now_s: f64, components: &[Component]) -> &[Component] {
        let fresh = self
            .since_s
            .is_some_and(|since_s| (since_s..since_s + EVERY_S).contains(&now_s));
        if !fresh {
            self.components = components.to_vec();
            self.since_s = Some(now_s);
        }
        &self.components
    }
}

/// Draws stems in `rect`; the rate runs over decades.
pub fn show(ui: &mut Ui, rect: Rect, components: &[Component]) {
    let palette = Palette::of(ui);
    let highest = components
        .iter()
        .map(|component| component.peak_percent)
        .fold(0.01, f64::max);
    let points: Vec<[f64; 2]> = components
        .iter()
        .map(|component| [decade(component.rate_hz), component.peak_percent])
        .collect();
    let numbers = numbers(components, highest, rect.size());
    ui.scope_builder(UiBuilder::new().max_rect(rect), |ui| {
        ui.visuals_mut().override_text_color = Some(palette.quiet);
        Plot::new("flutter components")
            .width(rect.width())
            .height(rect.height())
            .sense(Sense::hover())
            .allow_drag(false)
            .allow_zoom(false)
            .allow_scroll(false)
            .allow_boxed_zoom(false)
            .allow_double_click_reset(false)
            .show_x(false)
            .show_y(false)
            .show_background(false)
            .set_margin_fraction(Vec2::ZERO)
            .default_x_bounds(LOWEST_HZ.log10(), HIGHEST_HZ.log10())
            .default_y_bounds(0.0, highest * HEADROOM)
            .auto_bounds(false)
            .grid_color(palette.line)
            .x_grid_spacer(if rect.width() < ROOMY {
                sparse_rates
            } else {
                rates
            })
            .y_grid_spacer(move |_| sizes(highest))
            .x_axis_formatter(|mark, _| short(mark.value))
            .y_axis_formatter(|mark, _| percent(mark.value))
            .show(ui, |plot| {
                plot.set_plot_bounds_y(0.0..=highest * HEADROOM);
                plot.points(
                    Points::new("peak percent", points)
                        .stems(0.0)
                        .radius(5.0)
                        .shape(MarkerShape::Diamond)
                        .filled(true)
                        .color(palette.trail)
                        .allow_hover(false),
                );
                for (at, number) in numbers {
                    let text = eframe::egui::RichText::new(number)
                        .font(theme::strong(14.0))
                        .color(palette.text);
                    plot.text(Text::new("number", at, text).allow_hover(false));
                }
            });
    });
    ui.painter().rect_stroke(
        rect,
        0.0,
        Stroke::new(1.0, palette.line),
        eframe::egui::StrokeKind::Inside,
    );
}

/// The numbers over the stems, strongest first, without those that would be printed over a stronger one's.
fn numbers(components: &[Component], highest: f64, size: Vec2) -> Vec<(PlotPoint, String)> {
    let per_decade = f64::from(size.x) / (HIGHEST_HZ / LOWEST_HZ).log10();
    let per_percent = f64::from(size.y) / (highest * HEADROOM);
    let mut numbers: Vec<(PlotPoint, String)> = Vec::new();
    for (i, component) in components.iter().enumerate() {
        let at = PlotPoint::new(
            decade(component.rate_hz),
            component.peak_percent + highest * 0.13,
        );
        let is_free = numbers.iter().all(|(other, _)| {
            (at.x - other.x).abs() * per_decade > NUMBER_WIDTH
                || (at.y - other.y).abs() * per_percent > NUMBER_HEIGHT
        });
        if is_free {
            numbers.push((at, (i + 1).to_string()));
        }
    }
    numbers
}

fn decade(rate_hz: f64) -> f64 {
    rate_hz.clamp(LOWEST_HZ, HIGHEST_HZ).log10()
}

fn rates(_: GridInput) -> Vec<GridMark> {
    marks(&RATES_HZ)
}

fn sparse_rates(_: GridInput) -> Vec<GridMark> {
    marks(&SPARSE_RATES_HZ)
}

fn marks(rates_hz: &[f64]) -> Vec<GridMark> {
    rates_hz
        .iter()
        .map(|rate_hz| GridMark {
            value: rate_hz.log10(),
            step_size: 1.0,
        })
        .collect()
}

/// Two or three round sizes up to `highest` percent; none at the foot, where it would run into the first rate.
fn sizes(highest: f64) -> Vec<GridMark> {
    let decade = 10_f64.powf(highest.log10().floor());
    let step = [0.5, 1.0, 2.0, 5.0]
        .into_iter()
        .map(|digit| digit * decade)
        .find(|step| 3.0 * step >= highest)
        .unwrap_or(5.0 * decade);
    (1..=3)
        .map(|n| f64::from(n) * step)
        .filter(|value| *value <= HEADROOM * highest)
        .map(|value| GridMark {
            value,
            step_size: 1.0,
        })
        .collect()
}

/// A size without the dust of binary fractions.
fn percent(value: f64) -> String {
    format!("{}", (value * 1e4).round() / 1e4)
}

fn short(decade: f64) -> String {
    let rate_hz = 10_f64.powf(decade);
    format::plain(rate_hz, usize::from(rate_hz < 0.95))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(rate_hz: f64) -> Component {
        Component {
            rate_hz,
            peak_percent: 0.05,
            part: None,
            order: None,
        }
    }

    #[test]
    fn stems_change_at_most_twice_a_second() {
        let mut stems = Stems::default();
        assert_eq!(stems.follow(1.0, &[line(6.0)])[0].rate_hz, 6.0);
        assert_eq!(stems.follow(1.4, &[line(7.0)])[0].rate_hz, 6.0);
        assert_eq!(stems.follow(1.5, &[line(8.0)])[0].rate_hz, 8.0);
        assert_eq!(
            stems.follow(0.1, &[line(9.0)])[0].rate_hz,
            9.0,
            "a new stream"
        );
    }

    #[test]
    fn a_number_gives_way_to_that_of_a_stronger_component_beside_it() {
        let size = Vec2::new(400.0, 100.0);
        let texts: Vec<_> = numbers(&[line(5.25), line(5.30), line(1.2)], 0.05, size)
            .into_iter()
            .map(|(_, text)| text)
            .collect();
        assert_eq!(texts, ["1", "3"]);
    }

    #[test]
    fn sizes_are_round_and_reach_the_highest() {
        let texts = |highest: f64| -> Vec<String> {
            sizes(highest)
                .iter()
                .map(|mark| percent(mark.value))
                .collect()
        };
        assert_eq!(texts(0.145), ["0.05", "0.1", "0.15"]);
        assert_eq!(texts(0.038), ["0.02", "0.04"]);
        assert_eq!(texts(1.0), ["0.5", "1"]);
    }

    #[test]
    fn every_rate_of_the_axis_reads_as_it_is() {
        let texts: Vec<_> = RATES_HZ.iter().map(|rate| short(rate.log10())).collect();
        let expected = ["0.2", "0.5", "1", "2", "5", "10", "20", "50", "100"];
        assert_eq!(texts, expected);
    }
}
