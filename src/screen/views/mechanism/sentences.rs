//! What is said in sentences: steadiness of phase and level by part, and what changed since as found.

use super::{Wish, list::paint_verdict};
use crate::{
    meters::MeterSetup,
    readings::{Comparison, ComparisonRow, Estimate, MechanismReading, Quantity, SteadinessHint},
    screen::{
        model::format,
        paint::{heard, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Button, Color32, Id, Label, Rect, RichText, ScrollArea, Sense, Stroke, Ui, UiBuilder,
    accesskit::Role, pos2, vec2,
};

/// Height of a compared figure, points.
const ROW: f32 = 40.0;

fn scrolled<T>(ui: &mut Ui, rect: Rect, salt: &str, fill: impl FnOnce(&mut Ui) -> T) -> T {
    ui.scope_builder(UiBuilder::new().max_rect(rect), |ui| {
        ScrollArea::vertical()
            .id_salt(salt)
            .auto_shrink(false)
            .show(ui, |ui| {
                ui.set_max_width(ui.available_width() - 10.0);
                ui.spacing_mut().item_spacing.y = 3.0;
                fill(ui)
            })
            .inner
    })
    .inner
}

/// Shows what wander at a part's rate suggests.
pub fn show_steadiness(ui: &mut Ui, rect: Rect, reading: &MechanismReading) {
    scrolled(ui, rect, "steadiness", |ui| {
        if reading.steadiness.is_empty() {
            ui.add(Label::new(nothing_unsteady(reading)).wrap());
        }
        for hint in &reading.steadiness {
            show_hint(ui, hint);
        }
        for remark in &reading.remarks {
            ui.add(Label::new(RichText::new(format!("Note: {remark}")).size(15.0)).wrap());
        }
    });
}

fn nothing_unsteady(reading: &MechanismReading) -> &'static str {
    if reading.spectra.len() < 2 {
        "Only the speed was read: phase and level need both channels."
    } else {
        "Neither phase nor level moves at the rate of a part."
    }
}

fn show_hint(ui: &mut Ui, hint: &SteadinessHint) {
    let size = format!(
        "{}: {} {} {}, {:.0} % of its movement",
        hint.quantity.words(),
        format::plain(hint.size.value, 2),
        hint.quantity.unit(),
        if hint.is_rms { "rms" } else { "peak" },
        100.0 * hint.share
    );
    let palette = Palette::of(ui);
    ui.add(Label::new(RichText::new(size).strong().underline().size(15.0)).wrap());
    ui.add(Label::new(RichText::new(&hint.suggests).size(15.0)).wrap());
    let check = RichText::new(&hint.check).size(15.0).color(palette.quiet);
    ui.add(Label::new(check).wrap());
    ui.add_space(4.0);
}

/// Shows what became of each figure since as found; returns what was asked for.
pub fn show_comparison(
    ui: &mut Ui,
    rect: Rect,
    setup: &MeterSetup,
    reading: &MechanismReading,
) -> Option<Wish> {
    scrolled(ui, rect, "since as found", |ui| {
        let Some(kept) = &setup.mechanism_as_found else {
            let text = "Nothing is kept as found. Keep this reading before the repair (f); the reading after it is \
                        then compared line by line.";
            ui.add(Label::new(text).wrap());
            return keep_button(ui, "Keep this as found (f)");
        };
        let mut wish = None;
        match &reading.comparison {
            Some(comparison) => show_rows(ui, comparison),
            None => {
                let text = format!(
                    "Kept as found: {:.0} s. The comparison comes with the next reading.",
                    kept.0.seconds
                );
                ui.add(Label::new(text).wrap());
            }
        }
        ui.horizontal(|ui| {
            wish = keep_button(ui, "Keep this as found instead (f)");
            let forget = Button::new(RichText::new("Compare no more").size(14.0));
            if ui.add(forget).clicked() {
                wish = Some(Wish::Forget);
            }
        });
        wish
    })
}

fn keep_button(ui: &mut Ui, name: &str) -> Option<Wish> {
    let button = Button::new(RichText::new(name).size(14.0));
    ui.add(button).clicked().then_some(Wish::Keep)
}

fn show_rows(ui: &mut Ui, comparison: &Comparison) {
    ui.add(Label::new(RichText::new(&comparison.words).size(16.0)).wrap());
    let seconds = format!(
        "as found {:.0} s, now {:.0} s; ± is k = 2",
        comparison.as_found_seconds, comparison.as_left_seconds
    );
    ui.add(Label::new(RichText::new(seconds).weak().size(14.0)).wrap());
    for (index, row) in comparison.rows.iter().enumerate() {
        show_row(ui, index, row);
    }
}

fn show_row(ui: &mut Ui, index: usize, row: &ComparisonRow) {
    let palette = Palette::of(ui);
    let (place, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    let painter = ui.painter_at(place);
    painter.hline(
        place.x_range(),
        place.top(),
        Stroke::new(1.0, palette.line.gamma_multiply(0.6)),
    );
    let figures = format!(
        "{} → {}",
        size(row.change.as_found, row.quantity),
        size(row.change.as_left, row.quantity)
    );
    let figures = match row.change.change_percent {
        Some(percent) if row.change.as_left.value > 0.0 => {
            format!("{figures}, {} %", format::signed(percent, 0))
        }
        _ => figures,
    };
    let verdict = row.change.verdict;
    let (top, bottom) = place.split_top_bottom_at_fraction(0.5);
    let line = |place: Rect, from: f32, text: &str, font: words::Type, color: Color32| {
        let left = place.left() + from;
        let width = place.right() - left;
        let galley = words::line(&painter, text, font, 15.0, 11.0, width, color);
        let at = pos2(left, place.center().y + 1.0);
        words::put(&painter, at, Align2::LEFT_CENTER, galley);
    };
    let verdict_from = 0.58 * place.width();
    let name = top.with_max_x(top.left() + verdict_from - 8.0);
    line(name, 0.0, &row.label, theme::text, palette.text);
    let mark = pos2(place.left() + verdict_from + 7.0, top.center().y + 1.0);
    paint_verdict(&painter, mark, 6.0, verdict, palette);
    line(
        top,
        verdict_from + 18.0,
        verdict.words(),
        theme::text,
        palette.text,
    );
    let below = match row.remark.as_str() {
        "" => figures.clone(),
        remark => format!("{figures}; {remark}"),
    };
    line(bottom, 12.0, &below, theme::strong, palette.quiet);
    let id = Id::unique(("compared", index));
    let value = format!("{figures}, {} {}", verdict.words(), row.remark);
    heard::reading(ui, place, id, Role::Row, &row.label, value.trim());
}

/// A size with its uncertainty; what was not seen is below what would have been.
fn size(estimate: Estimate, quantity: Quantity) -> String {
    let decimals = if quantity == Quantity::Speed { 4 } else { 2 };
    if estimate.value > 0.0 {
        format!(
            "{} ±{}",
            format::plain(estimate.value, decimals),
            format::plain(estimate.uncertainty, decimals)
        )
    } else {
        format!("< {}", format::plain(estimate.uncertainty, decimals))
    }
}
