//! What the meters and the window have to say, in sentences.

use crate::screen::{
    paint::{heard, marks, words},
    theme::{self, Palette},
};
use eframe::egui::{Align2, Id, Rect, Sense, Ui, Vec2, accesskit::Role, pos2, vec2};

/// One sentence.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The sentence.
    pub text: String,
    /// Whether it warns; otherwise it informs.
    pub warns: bool,
}

/// Sentences shown at once; the rest is counted.
const MOST: usize = 3;
const ROW: f32 = 24.0;

/// Shows the first sentences, each in at most `rows` rows.
pub fn show(ui: &mut Ui, lines: &[Line], rows: usize) {
    let palette = Palette::of(ui);
    let shown = if lines.len() > MOST {
        MOST - 1
    } else {
        lines.len()
    };
    for (i, line) in lines.iter().take(shown).enumerate() {
        sentence(ui, palette, Id::unique(("notice", i)), line, rows);
    }
    if lines.len() > shown {
        let more = Line {
            text: format!("and {} more", lines.len() - shown),
            warns: false,
        };
        sentence(ui, palette, Id::unique("more notices"), &more, 1);
    }
}

fn sentence(ui: &mut Ui, palette: &Palette, id: Id, line: &Line, rows: usize) {
    let width = ui.available_width();
    let galley = words::lines(
        ui.painter(),
        &line.text,
        theme::text(17.0),
        rows,
        width - 30.0,
        palette.text,
    );
    let height = galley.size().y.max(ROW - 4.0);
    let (place, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let mark = Rect::from_center_size(
        pos2(place.left() + 10.0, place.top() + ROW / 2.0 - 2.0),
        Vec2::splat(16.0),
    );
    if line.warns {
        marks::warning(ui.painter(), mark, palette);
    } else {
        ui.painter()
            .circle_filled(mark.center(), 4.0, palette.quiet);
    }
    let at = pos2(place.left() + 26.0, place.top());
    words::put(ui.painter(), at, Align2::LEFT_TOP, galley);
    let name = if line.warns { "Warning" } else { "Notice" };
    heard::reading(ui, place, id, Role::Note, name, &line.text);
}
