//! The top of a main view: the huge number, and in words what it means.

use super::View;
use crate::screen::{
    model::{State, format, stack::Part},
    paint::{heard, marks, marks::Way, words},
    theme::{self, Palette},
};
use eframe::egui::{
    Align2, FontId, Galley, Id, Painter, Rect, Ui, Vec2, accesskit::Role, pos2, vec2,
};
use std::sync::Arc;

/// Least height, points.
pub const LEAST: f32 = 104.0;
/// Height at which the digits are read from a metre away, points.
const WANTED: f32 = 178.0;

/// The head's place in a stack of parts.
pub const PART: Part = Part::of(LEAST).wanting(WANTED).growing(0.35);

/// Width of a digit of the strong type, in sizes.
const DIGIT: f32 = 0.602;
/// Empty room above the digits in a row of the strong type, in sizes.
const ABOVE: f32 = 0.19;
/// From the top of the digits to their foot, in sizes.
const TALL: f32 = 0.74;
/// The unit's size against the digits'.
const UNIT: f32 = 0.34;
/// Smallest type of the sentence that says what to do, points.
const LEAST_SENTENCE: f32 = 15.0;
/// Places kept for the number, so that the words beside it do not move: sign, two digits, point, decimal.
const PLACES: f32 = 5.0;

/// Shows the head in `rect`; `also` is a second line of figures under the number.
pub fn show(ui: &Ui, rect: Rect, view: &View<'_>, also: &str) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let right = match view.glance.number() {
        Some(number) => paint_number(&painter, rect, view, palette, &number, also),
        None => paint_reason(&painter, rect, view, palette),
    };
    tell(ui, rect, right, view);
}

/// The number with its unit and the lines under it; returns the room left for the words.
fn paint_number(
    painter: &Painter,
    rect: Rect,
    view: &View<'_>,
    palette: &Palette,
    number: &str,
    also: &str,
) -> Rect {
    let adjustment = view.glance.adjustment;
    let unit = adjustment.unit();
    let low = rect.height() < 150.0;
    let below = if low { 24.0 } else { 54.0 };
    let widths = PLACES * DIGIT + UNIT * DIGIT * (unit.len() as f32 + 0.6);
    let size = ((rect.height() - below) / TALL)
        .min(rect.width() * 0.54 / widths)
        .max(40.0);
    let digits = painter.layout_no_wrap(number.to_owned(), theme::strong(size), palette.text);
    let right = rect.left() + PLACES * DIGIT * size;
    let at = pos2(right, rect.top() - ABOVE * size);
    words::put(painter, at, Align2::RIGHT_TOP, digits);
    let foot = rect.top() + TALL * size;
    let unit_size = size * UNIT;
    let unit = painter.layout_no_wrap(unit.to_owned(), theme::strong(unit_size), palette.text);
    let at = pos2(right + 0.3 * UNIT * size, foot - (ABOVE + TALL) * unit_size);
    let unit = words::put(painter, at, Align2::LEFT_TOP, unit);
    let line = |text: &str, size: f32, least: f32, color| {
        let width = unit.right() - rect.left() + 20.0;
        words::line(painter, text, theme::text, size, least, width, color)
    };
    let quantity = line(view.glance.quantity, 16.0, 12.0, palette.quiet);
    if low {
        words::put(
            painter,
            pos2(rect.left(), rect.bottom()),
            Align2::LEFT_BOTTOM,
            quantity,
        );
    } else {
        let also = line(also, 21.0, 14.0, palette.text);
        let at = pos2(rect.left(), foot + 6.0);
        let also = words::put(painter, at, Align2::LEFT_TOP, also);
        let at = pos2(rect.left(), also.bottom() + 1.0);
        words::put(painter, at, Align2::LEFT_TOP, quantity);
    }
    let words = Rect::from_min_max(pos2(unit.right() + 36.0, rect.top()), rect.max);
    paint_words(painter, words, view, palette);
    words
}

/// State, which way is better, and what to do next.
fn paint_words(painter: &Painter, rect: Rect, view: &View<'_>, palette: &Palette) {
    let glance = view.glance;
    let low = rect.height() < 150.0;
    let state_size = (rect.height() * 0.28).clamp(34.0, 84.0);
    let mark = Rect::from_min_size(rect.min + vec2(0.0, 2.0), Vec2::splat(state_size));
    let way = glance
        .better
        .map(|better| Way::on_scale(better, glance.adjustment.is_mirrored()));
    marks::state(painter, mark, glance.state, way, palette);
    let color = marks::color(glance.state, palette);
    let width = rect.width() - state_size - 16.0;
    let state = glance.state.words().to_uppercase();
    let state = words::line(
        painter,
        &state,
        theme::strong,
        state_size,
        18.0,
        width,
        color,
    );
    let at = pos2(mark.right() + 16.0, mark.center().y);
    words::put(painter, at, Align2::LEFT_CENTER, state);
    let font = theme::strong(if low { 19.0 } else { state_size * 0.54 });
    let direction = sentence(painter, glance.words, font, rect.width(), palette);
    let at = pos2(rect.left(), mark.bottom() + if low { 4.0 } else { 10.0 });
    let direction = words::put(painter, at, Align2::LEFT_TOP, direction);
    let next = words::line(
        painter,
        &next_step(view),
        theme::text,
        18.0,
        13.0,
        rect.width(),
        palette.quiet,
    );
    let at = pos2(rect.left(), direction.bottom() + 8.0);
    if at.y + next.size().y <= rect.bottom() + 2.0 {
        words::put(painter, at, Align2::LEFT_TOP, next);
    }
}

/// A sentence on one line, or else broken at its colon rather than anywhere, in smaller type where it must be: what
/// to do is never cut off while there is any way to show it.
fn sentence(
    painter: &Painter,
    text: &str,
    font: FontId,
    width: f32,
    palette: &Palette,
) -> Arc<Galley> {
    let set = |text: &str, size: f32| {
        let font = FontId::new(size, font.family.clone());
        painter.layout_no_wrap(text.to_owned(), font, palette.text)
    };
    let whole = set(text, font.size);
    if whole.size().x <= width {
        return whole;
    }
    let broken = text.replacen(": ", ":\n", 1);
    let natural = set(&broken, font.size);
    if natural.size().x <= width {
        return natural;
    }
    let size = (font.size * width / natural.size().x)
        .floor()
        .max(LEAST_SENTENCE);
    let font = FontId::new(size, font.family);
    words::lines(painter, &broken, font, 3, width, palette.text)
}

/// The line under the words: how long it has been in, or what the target is.
fn next_step(view: &View<'_>) -> String {
    let adjustment = view.glance.adjustment;
    match view.glance.state {
        State::In { for_s } => {
            format!("in for {}: space takes it", format::duration(for_s))
        }
        State::FineOnly => "the number is the candidate nearest 0".into(),
        _ => {
            let band = view.band();
            let unit = adjustment.unit();
            let sign = if adjustment.is_two_sided() {
                "±"
            } else {
                "below "
            };
            format!(
                "good {sign}{} {unit}, accepted {sign}{} {unit}",
                band.aim, band.accept
            )
        }
    }
}

/// Why there is no number, and what to do about it.
fn paint_reason(painter: &Painter, rect: Rect, view: &View<'_>, palette: &Palette) -> Rect {
    let glance = view.glance;
    let size = (rect.height() * 0.42).clamp(36.0, 84.0);
    let mark = Rect::from_min_size(rect.min + vec2(0.0, 6.0), Vec2::splat(size));
    marks::state(painter, mark, glance.state, None, palette);
    let width = rect.width() - size - 24.0;
    let color = marks::color(glance.state, palette);
    let reason = words::line(
        painter,
        glance.state.words(),
        theme::strong,
        size,
        20.0,
        width,
        color,
    );
    let at = pos2(mark.right() + 24.0, mark.center().y);
    words::put(painter, at, Align2::LEFT_CENTER, reason);
    let font = theme::strong(if rect.height() < 150.0 { 18.0 } else { 27.0 });
    let advice = sentence(painter, glance.words, font, rect.width(), palette);
    let at = pos2(rect.left(), mark.bottom() + 12.0);
    words::put(painter, at, Align2::LEFT_TOP, advice);
    rect
}

/// For a screen reader: the reading with its value, and a sentence that is spoken when it changes.
fn tell(ui: &Ui, rect: Rect, words: Rect, view: &View<'_>) {
    let glance = view.glance;
    let name = format!("{} reading", glance.adjustment.name());
    let id = Id::unique(("reading", glance.adjustment));
    heard::reading(ui, rect, id, Role::Meter, &name, &glance.spoken());
    let sentence = format!("{}: {}", glance.state.words(), glance.words);
    let name = format!("{} state", glance.adjustment.name());
    heard::announced(ui, words, id.with("state"), &name, &sentence);
}
