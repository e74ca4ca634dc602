//! The adjustments and the mechanism as quiet figures; a click puts one into the main view.

use crate::screen::{
    model::{Glance, Subject},
    paint::{marks, marks::Way, words},
    theme::{self, Palette},
};
use eframe::egui::{
    Align2, Rect, Response, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, accesskit::Role, pos2,
    vec2,
};

/// Height of the row, points.
pub const HEIGHT: f32 = 88.0;
/// Height where room is short: name, number and state only.
pub const LOW: f32 = 54.0;
const GAP: f32 = 8.0;
/// Room for the mark of an adjustment's state, points.
const STATE: f32 = 20.0;

/// What a card says.
pub struct Card<'a> {
    /// An adjustment's number and state; `None` without an input, and for the mechanism.
    pub glance: Option<&'a Glance>,
    /// What stands where there is no glance.
    pub words: String,
    /// A second line of figures.
    pub second: String,
}

impl Card<'_> {
    fn spoken(&self) -> String {
        self.glance
            .map_or_else(|| self.words.clone(), Glance::spoken)
    }
}

/// Shows all in `height`; returns the one that was clicked.
pub fn show<'a>(
    ui: &mut Ui,
    height: f32,
    shown: Subject,
    card_of: impl Fn(Subject) -> Card<'a>,
) -> Option<Subject> {
    let (row, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let count = Subject::ALL.len() as f32;
    let width = (row.width() - (count - 1.0) * GAP) / count;
    let mut clicked = None;
    for subject in Subject::ALL {
        let left = row.left() + subject.index() as f32 * (width + GAP);
        let place = Rect::from_min_size(pos2(left, row.top()), vec2(width, height));
        let response = card(ui, place, subject, &card_of(subject), subject == shown);
        if response.clicked() {
            clicked = Some(subject);
        }
    }
    clicked
}

fn card(ui: &Ui, place: Rect, subject: Subject, card: &Card<'_>, in_hand: bool) -> Response {
    let id = ui.scope_id().with(("card", subject));
    let response = ui.interact(place, id, Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::Tab, true, in_hand, subject.name()));
    ui.ctx().accesskit_node_builder(id, |node| {
        node.set_value(card.spoken());
        node.set_selected(in_hand);
    });
    paint(ui, place, subject, card, in_hand, &response);
    response
}

fn paint(
    ui: &Ui,
    place: Rect,
    subject: Subject,
    card: &Card<'_>,
    in_hand: bool,
    response: &Response,
) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(place.expand(1.0));
    painter.rect_filled(place, 4.0, palette.raised);
    let edge = if response.has_focus() || response.hovered() {
        Stroke::new(2.0, palette.text)
    } else {
        Stroke::new(1.0, palette.line)
    };
    painter.rect_stroke(place, 4.0, edge, StrokeKind::Inside);
    if in_hand {
        // A bar along the top: this one is in the main view above.
        let bar = Rect::from_min_size(place.min, vec2(place.width(), 6.0));
        painter.rect_filled(bar, 2.0, palette.text);
    }
    let low = place.height() < HEIGHT - 1.0;
    let inner = place.shrink2(vec2(10.0, if low { 7.0 } else { 9.0 }));
    let key = format!("{}", subject.index() + 1);
    let key = painter.layout_no_wrap(key, theme::strong(15.0), palette.quiet);
    let key = words::put(&painter, inner.min, Align2::LEFT_TOP, key);
    let name = words::line(
        &painter,
        subject.name(),
        theme::text,
        17.0,
        11.0,
        inner.right() - key.right() - 8.0 - card.glance.map_or(0.0, |_| STATE),
        palette.text,
    );
    let at = pos2(key.right() + 8.0, key.center().y);
    let name = words::put(&painter, at, Align2::LEFT_CENTER, name);
    if let Some(glance) = card.glance {
        paint_state(&painter, inner, name, glance, palette);
    }
    let number = card.glance.and_then(Glance::number_with_unit);
    let text = match (&number, card.glance) {
        (Some(number), _) => number.as_str(),
        (None, Some(glance)) => glance.state.words(),
        (None, None) => &card.words,
    };
    let size = if low { 20.0 } else { 25.0 };
    let galley = words::line(
        &painter,
        text,
        theme::strong,
        size,
        13.0,
        inner.width(),
        palette.text,
    );
    let y = if low {
        inner.bottom()
    } else {
        inner.bottom() - 19.0
    };
    words::put(&painter, pos2(inner.left(), y), Align2::LEFT_BOTTOM, galley);
    if !low {
        let galley = words::line(
            &painter,
            &card.second,
            theme::text,
            theme::LABEL,
            12.0,
            inner.width(),
            palette.quiet,
        );
        words::put(&painter, inner.left_bottom(), Align2::LEFT_BOTTOM, galley);
    }
}

fn paint_state(
    painter: &eframe::egui::Painter,
    inner: Rect,
    name: Rect,
    glance: &Glance,
    palette: &Palette,
) {
    let color = marks::color(glance.state, palette);
    let y = name.center().y;
    let words = glance.state.words().to_owned();
    let words = painter.layout_no_wrap(words, theme::text(17.0), color);
    let room = inner.right() - name.right() - 34.0;
    // Without a number the words stand in its place. Where they do not fit, the mark's shape still tells the state.
    let right = if glance.digits.is_some() && words.size().x <= room {
        words::put(painter, pos2(inner.right(), y), Align2::RIGHT_CENTER, words).left() - 5.0
    } else {
        inner.right()
    };
    let center = pos2(right - 8.0, y);
    let way = glance
        .better
        .map(|better| Way::on_scale(better, glance.adjustment.is_mirrored()));
    let mark = Rect::from_center_size(center, Vec2::splat(16.0));
    marks::state(painter, mark, glance.state, way, palette);
}
