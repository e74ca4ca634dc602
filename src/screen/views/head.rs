//! The top of a main view: the huge number, and in words what it means.

use super::View;
use crate::screen::{
    model::{State, format, stack::Part},
    paint::{heard, marks, marks::Way, words},
    sight,
    theme::{self, Palette},
};
use eframe::egui::{Align2, Galley, Id, Painter, Rect, Ui, Vec2, accesskit::Role, pos2, vec2};
use std::sync::Arc;

/// Least height, points.
pub const LEAST: f32 = 104.0;
/// Height at which number, state and words are read from where the deck is worked on (see [`sight`]), points.
const WANTED: f32 = 202.0;

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
/// Share of the width that number and unit take at most.
const NUMBER_SHARE: f32 = 0.46;
/// Smallest type of the sentence that says what to do, points.
const LEAST_SENTENCE: f32 = 15.0;
/// Height of a row of the strong type, in sizes.
const ROW: f32 = 1.17;
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
        .min(rect.width() * NUMBER_SHARE / widths)
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
    // Read from where the deck is worked on, wherever there is room for it.
    let least = if low {
        34.0
    } else {
        sight::size_of(sight::LEAST_ARCMIN).max(34.0)
    };
    let state_size = (rect.height() * 0.28).clamp(least, 84.0);
    let mark = Rect::from_min_size(rect.min + vec2(0.0, 2.0), Vec2::splat(state_size));
    let way = glance
        .better
        .map(|better| Way::on_scale(better, glance.adjustment.is_mirrored()));
    marks::state(painter, mark, glance.state, way, palette);
    let color = marks::color(glance.state, palette);
    let width = rect.width() - state_size - 16.0;
    let state = words::line(
        painter,
        &state_and_since(glance.state),
        theme::strong,
        state_size,
        18.0,
        width,
        color,
    );
    let at = pos2(mark.right() + 16.0, mark.center().y);
    words::put(painter, at, Align2::LEFT_CENTER, state);
    let at = pos2(rect.left(), mark.bottom() + if low { 4.0 } else { 6.0 });
    let room = vec2(rect.width(), rect.bottom() - at.y);
    let size = if low {
        19.0
    } else {
        words_size(state_size * 0.54, room.y)
    };
    let direction = sentence(painter, glance.words, size, room, palette);
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
    let at = pos2(rect.left(), direction.bottom() + 4.0);
    if at.y + next.size().y <= rect.bottom() + 2.0 {
        words::put(painter, at, Align2::LEFT_TOP, next);
    }
}

/// The state, and for how many seconds it has been in.
fn state_and_since(state: State) -> String {
    let words = state.words().to_uppercase();
    match state {
        State::In { for_s } => format!("{words} {}", format::duration(for_s)),
        _ => words,
    }
}

/// The size of the words in two rows of that height: large enough to be read from the deck, where there is room.
fn words_size(natural: f32, height: f32) -> f32 {
    let readable = sight::size_of(sight::LEAST_ARCMIN);
    natural
        .max(readable.min(height / (2.0 * ROW)))
        .max(LEAST_SENTENCE)
}

/// A sentence on one line, or else broken at its colon rather than anywhere, in smaller type where it must be: what
/// to do is never cut off while there is any way to show it.
fn sentence(
    painter: &Painter,
    text: &str,
    size: f32,
    room: Vec2,
    palette: &Palette,
) -> Arc<Galley> {
    let set =
        |text: &str| painter.layout_no_wrap(text.to_owned(), theme::strong(size), palette.text);
    let whole = set(text);
    if whole.size().x <= room.x {
        return whole;
    }
    let broken = text.replacen(": ", ":\n", 1);
    let natural = set(&broken);
    if natural.size().x <= room.x {
        return natural;
    }
    let rows = (room.y / (ROW * size)) as usize;
    if rows >= 2 {
        let font = theme::strong(size);
        let wrapped = words::lines(painter, text, font, rows, room.x, palette.text);
        if !wrapped.elided {
            return wrapped;
        }
    }
    let size = (size * room.x / natural.size().x)
        .floor()
        .max(LEAST_SENTENCE);
    let font = theme::strong(size);
    words::lines(painter, &broken, font, 3, room.x, palette.text)
}

/// The line under the words: which key takes it, or what the target is.
fn next_step(view: &View<'_>) -> String {
    let adjustment = view.glance.adjustment;
    match view.glance.state {
        State::In { .. } => format!("steady within the limits: {} takes it", view.take_key),
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
    let at = pos2(rect.left(), mark.bottom() + 8.0);
    let room = vec2(rect.width(), rect.bottom() - at.y);
    let size = if rect.height() < 150.0 {
        18.0
    } else {
        words_size(27.0, room.y)
    };
    let advice = sentence(painter, glance.words, size, room, palette);
    words::put(painter, at, Align2::LEFT_TOP, advice);
    rect
}

/// For a screen reader: the reading with its value, and a sentence that is spoken when it changes.
fn tell(ui: &Ui, rect: Rect, words: Rect, view: &View<'_>) {
    let glance = view.glance;
    let name = format!("{} reading", glance.adjustment.name());
    let id = Id::unique(("reading", glance.adjustment));
    heard::reading(ui, rect, id, Role::Meter, &name, &glance.spoken());
    if let State::In { for_s } = glance.state {
        let name = format!("{} in for", glance.adjustment.name());
        let since = format::duration(for_s);
        heard::reading(ui, words, id.with("since"), Role::Meter, &name, &since);
    }
    let sentence = format!("{}: {}", glance.state.words(), glance.words);
    let name = format!("{} state", glance.adjustment.name());
    heard::announced(ui, words, id.with("state"), &name, &sentence);
}
