//! The job beside the readings: a line over the view of an adjustment, and the question about readings from before.

use crate::{
    bench::Verdict,
    screen::{
        model::{format, job_table::Cell},
        paint::{heard, marks, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Color32, Frame, Id, Label, Margin, Rect, Sense, Stroke, StrokeKind, Ui, Vec2,
    accesskit::Role, pos2, vec2,
};

/// Height of the line, points.
const HEIGHT: f32 = 28.0;
/// Least size of its type, points.
const LEAST: f32 = 12.0;

/// What the line says.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// As found or as left.
    pub stage: &'static str,
    /// The limit of the station's main figure, in words.
    pub limit: String,
    /// Whose limits they are.
    pub limits: String,
    /// What the limits say of the reading as it stands; `None`: there is no reading, or no limit.
    pub now: Option<Verdict>,
    /// The reading as it stands, with its uncertainty.
    pub figure: String,
    /// What is kept at this stage.
    pub kept: Cell,
}

impl Line {
    fn now_words(&self) -> String {
        let verdict = self.now.map_or("no verdict", Verdict::words);
        format!("now {verdict}")
    }

    fn kept_words(&self) -> String {
        if self.kept.done {
            format!("taken: {}, {}", self.kept.figure, self.kept.words)
        } else {
            self.kept.words.clone()
        }
    }
}

/// Shows the line of the adjustment called `name`.
pub fn show(ui: &mut Ui, name: &str, line: &Line) {
    let palette = Palette::of(ui);
    let (place, _) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let painter = ui.painter_at(place);
    let y = place.center().y;
    let stage =
        painter.layout_no_wrap(line.stage.to_uppercase(), theme::strong(15.0), palette.text);
    let tag = Rect::from_min_size(
        place.min + vec2(0.0, 2.0),
        vec2(stage.size().x + 16.0, HEIGHT - 4.0),
    );
    painter.rect_filled(tag, 3.0, palette.raised);
    painter.rect_stroke(tag, 3.0, Stroke::new(2.0, palette.text), StrokeKind::Inside);
    words::put(&painter, tag.center(), Align2::CENTER_CENTER, stage);
    let verdict = verdict(ui, pos2(tag.right() + 12.0, y), line.now, &line.now_words());
    let rest = place.right() - verdict.right() - 16.0;
    let figure = format!("{}  (limit {}: {})", line.figure, line.limit, line.limits);
    let figure = words::line(
        &painter,
        &figure,
        theme::text,
        16.0,
        LEAST,
        rest * 0.55,
        palette.text,
    );
    let at = pos2(verdict.right() + 16.0, y);
    words::put(&painter, at, Align2::LEFT_CENTER, figure);
    let kept = words::line(
        &painter,
        &line.kept_words(),
        theme::text,
        15.0,
        LEAST,
        rest * 0.42,
        palette.quiet,
    );
    let at = pos2(place.right(), y);
    words::put(&painter, at, Align2::RIGHT_CENTER, kept);
    let id = Id::unique(("job line", name));
    let said = line.now.map_or("no verdict", Verdict::words);
    heard::announced(ui, verdict, id, &format!("{name} verdict"), said);
    let value = format!(
        "{}, limit {}, {}; {}",
        line.stage,
        line.limit,
        line.limits,
        line.kept_words()
    );
    let name = format!("{name} in the job");
    heard::reading(ui, place, id.with("kept"), Role::Status, &name, &value);
}

/// A verdict as a sign and a word, from the point at its left; returns what it covers.
fn verdict(ui: &Ui, at: eframe::egui::Pos2, verdict: Option<Verdict>, text: &str) -> Rect {
    let mark = Rect::from_center_size(at + vec2(10.0, 0.0), Vec2::splat(20.0));
    let color = verdict_mark(ui, mark, verdict);
    let text = ui
        .painter()
        .layout_no_wrap(text.to_owned(), theme::strong(17.0), color);
    let text = words::put(
        ui.painter(),
        pos2(mark.right() + 8.0, at.y),
        Align2::LEFT_CENTER,
        text,
    );
    mark.union(text)
}

/// A verdict as a sign: a disc with a tick, a triangle, a hollow diamond; nothing where there is none. Returns its colour.
pub fn verdict_mark(ui: &Ui, rect: Rect, verdict: Option<Verdict>) -> Color32 {
    use crate::screen::model::State;
    let palette = Palette::of(ui);
    let Some(verdict) = verdict else {
        let half = rect.width() * 0.3;
        ui.painter().hline(
            rect.center().x - half..=rect.center().x + half,
            rect.center().y,
            Stroke::new(2.0, palette.quiet),
        );
        return palette.quiet;
    };
    let state = match verdict {
        Verdict::Pass | Verdict::Inside => State::In { for_s: 0.0 },
        Verdict::Fail | Verdict::Outside => State::Out,
        Verdict::WithinUncertainty => State::FineOnly,
    };
    marks::state(ui.painter(), rect, state, None, palette);
    marks::color(state, palette)
}

/// Asks whether `count` readings from before belong to job `number`; returns the answer.
pub fn left_behind(ui: &mut Ui, count: usize, number: &str, stage: &str) -> Option<bool> {
    let palette = Palette::of(ui);
    let text = format!(
        "{} taken before job {number} was open. Put into it, {stage}?",
        format::counted(count as u64, "reading was", "readings were")
    );
    let mut answer = None;
    Frame::new()
        .fill(palette.raised)
        .stroke(Stroke::new(2.0, palette.moving))
        .inner_margin(Margin::symmetric(10, 5))
        .show(ui, |ui| {
            ui.set_min_width(ui.available_width());
            ui.horizontal_wrapped(|ui| {
                let place = ui.add(Label::new(&text).wrap()).rect;
                let id = Id::unique("readings from before");
                heard::announced(ui, place, id, "Question", &text);
                if ui.button("Put them in (y)").clicked() {
                    answer = Some(true);
                }
                if ui.button("Leave them out (d)").clicked() {
                    answer = Some(false);
                }
            });
        });
    answer
}
