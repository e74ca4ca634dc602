//! The layout of a view that is one scale: the number above it, the quiet figures below.

use super::{View, head, places};
use crate::screen::{
    model::stack::Part,
    paint::{
        cells::{self, Cell},
        gauge,
    },
};
use eframe::egui::{Id, Rect, Ui};

/// What such a view differs in.
pub struct OneScale<'a> {
    /// The line under the number.
    pub second_line: String,
    /// The quiet figures.
    pub figures: Vec<Cell>,
    /// Name of the block of figures.
    pub figures_id: &'static str,
    /// Paints the scale in its place.
    pub paint_gauge: fn(&Ui, Rect, &View<'_>),
    /// What is shown.
    pub view: &'a View<'a>,
}

impl OneScale<'_> {
    /// Shows the view in `rect`.
    pub fn show(&self, ui: &Ui, rect: Rect) {
        let rows = cells::rows(self.figures.len(), rect.width());
        let [head_place, gauge_place, cells_place] = places(
            rect,
            [
                head::PART,
                Part::of(gauge::LEAST)
                    .wanting(gauge::LEAST + 120.0)
                    .growing(1.0),
                Part::of(cells::ROW)
                    .wanting(cells::ROW * rows as f32)
                    .in_steps_of(cells::ROW)
                    .ranked(1),
            ],
        );
        if let Some(place) = head_place {
            head::show(ui, place, self.view, &self.second_line);
        }
        if let Some(place) = gauge_place {
            (self.paint_gauge)(ui, place, self.view);
        }
        if let Some(place) = cells_place {
            cells::show(ui, place, Id::unique(self.figures_id), &self.figures);
        }
    }
}
