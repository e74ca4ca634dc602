//! Mechanical checks: one row a gauge and one a thing looked at or done, as found and as left beside each other with
//! limit and verdict, and the field for the stage in hand.

use crate::{
    bench::{Check, CheckDone, LimitSet, Quantity, Stage, checks::Seen, sound, store::CheckId},
    screen::{
        model::{
            checks_form::{
                ChecksForm, Mark, Said, Subject, limit_words, standing, tries, try_words,
            },
            format, harmless,
        },
        paint::{heard, marks, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align, Align2, Button, Color32, EventFilter, Id, Key, Label, Modifiers, Pos2, Rect, Response,
    RichText, ScrollArea, Sense, Stroke, TextEdit, Ui, UiBuilder, Vec2, accesskit::Role, pos2,
    vec2,
};
use jiff::{Timestamp, tz::TimeZone};

/// Height of a row, points.
const ROW: f32 = 54.0;
/// Heights of the two lines in a row, from its top, points.
const LINES: [f32; 2] = [17.0, 38.0];
/// Width of the field for what a gauge is good for, points.
const GOOD_FOR: f32 = 78.0;
/// Tries shown at most.
const MOST_TRIES: usize = 12;

/// What the page shows.
#[derive(Clone, Copy, Debug)]
pub struct ChecksPage<'a> {
    /// The job's mechanical checks, oldest first.
    pub checks: &'a [CheckDone],
    /// What they are called in the record, in the same order; `None` for one that waits to be saved.
    pub ids: &'a [Option<CheckId>],
    /// The limits.
    pub limits: &'a LimitSet,
    /// The stage in hand.
    pub stage: Stage,
    /// What is wrong with the record, in words.
    pub problem: Option<&'a str>,
    /// The time a check is written down with.
    pub now: Timestamp,
    /// Whose dates are shown.
    pub zone: &'a TimeZone,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum ChecksWish {
    /// Write this down.
    Add(Box<CheckDone>),
    /// Withdraw this one: it stays in the record and counts for nothing.
    Withdraw(CheckId),
    /// Let this one count again.
    Restore(CheckId),
    /// Leave the page; what is typed stays.
    Leave,
}

/// Where the columns of a row are.
#[derive(Clone, Copy)]
struct Columns {
    /// Left edges, and the right edge of the last.
    edges: [f32; 5],
}

impl Columns {
    fn of(rect: Rect) -> Self {
        let at = |share: f32| rect.left() + share * rect.width();
        Self {
            edges: [at(0.0), at(0.24), at(0.465), at(0.69), rect.right()],
        }
    }

    fn left(self, column: usize) -> f32 {
        self.edges[column] + 8.0
    }

    fn width(self, column: usize) -> f32 {
        self.edges[column + 1] - self.edges[column] - 16.0
    }
}

impl ChecksPage<'_> {
    /// Shows the page in all the room there is; returns what was asked for.
    pub fn show(&self, ui: &mut Ui, form: &mut ChecksForm) -> Option<ChecksWish> {
        let leave = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
        let mut wish = leave.then_some(ChecksWish::Leave);
        self.head(ui, form);
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            self.headings(ui);
            for subject in Subject::ALL {
                let asked = self.row(ui, form, subject);
                wish = wish.take().or(asked);
            }
            ui.spacing_mut().item_spacing.y = 6.0;
            ui.add_space(8.0);
            let asked = self.history(ui, form.in_hand);
            wish = wish.take().or(asked);
        });
        wish
    }

    fn head(&self, ui: &mut Ui, form: &ChecksForm) {
        let palette = Palette::of(ui);
        ui.label(RichText::new("Mechanical checks").heading());
        let caution = match form.in_hand {
            Subject::Seen(seen) => seen.caution(),
            Subject::Gauge(_) => {
                "Moving parts: keep fingers, sleeves and hair away from reels, belts and roller while the deck runs."
            }
        };
        let (text, color) = match self.problem {
            Some(problem) => (format!("! {problem}"), palette.bad),
            None => (
                format!(
                    "Now: {}. Limits: {}. {caution}",
                    self.stage.words(),
                    harmless::line(&self.limits.title, 60)
                ),
                palette.quiet,
            ),
        };
        let line = ui.add(Label::new(RichText::new(&text).color(color)).wrap());
        heard::announced(ui, line.rect, line.id.with("spoken"), "checks", &text);
    }

    fn headings(&self, ui: &mut Ui) {
        let palette = Palette::of(ui);
        let size = vec2(ui.available_width(), 26.0);
        let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
        let columns = Columns::of(rect);
        let now = format!("{}: write down", self.stage.words());
        let names = ["check and limit", "as found", "as left", &now];
        for (column, name) in names.into_iter().enumerate() {
            let at = pos2(columns.left(column), rect.center().y);
            let width = columns.width(column);
            put(ui, at, name, theme::LABEL, width, palette.quiet);
        }
        let stroke = Stroke::new(1.0, palette.line);
        ui.painter().hline(rect.x_range(), rect.bottom(), stroke);
    }

    fn row(&self, ui: &mut Ui, form: &mut ChecksForm, subject: Subject) -> Option<ChecksWish> {
        let palette = Palette::of(ui);
        let size = vec2(ui.available_width(), ROW);
        let (rect, response) = ui.allocate_exact_size(size, Sense::CLICK);
        if response.clicked() {
            form.in_hand = subject;
            form.focus = Some(subject);
        }
        let columns = Columns::of(rect);
        if form.in_hand == subject {
            let bar = Rect::from_min_size(rect.min, vec2(3.0, ROW));
            ui.painter().rect_filled(bar, 0.0, palette.text);
        }
        self.named(ui, rect, columns, subject);
        for (column, stage) in [(1, Stage::AsFound), (2, Stage::AsLeft)] {
            self.found(ui, rect, columns, column, subject, stage);
        }
        let field = Rect::from_min_max(
            pos2(columns.left(3), rect.top() + 3.0),
            pos2(rect.right() - 8.0, rect.bottom() - 2.0),
        );
        let id = ui.make_persistent_id(subject);
        let mut inner = ui.new_child(UiBuilder::new().max_rect(field).id_salt(id));
        let check = match subject {
            Subject::Gauge(quantity) => self.gauge(&mut inner, form, quantity, id),
            Subject::Seen(seen) => self.seen(&mut inner, form, seen, id),
        };
        let stroke = Stroke::new(1.0, palette.line.gamma_multiply(0.5));
        ui.painter().hline(rect.x_range(), rect.bottom(), stroke);
        self.add(form, subject, check?)
    }

    /// A check that was entered: into the record, or back with words.
    fn add(
        &self,
        form: &mut ChecksForm,
        subject: Subject,
        check: Result<Check, String>,
    ) -> Option<ChecksWish> {
        let done = check.and_then(|check| {
            let done = CheckDone {
                at: self.now,
                stage: self.stage,
                check,
                withdrawn: None,
            };
            sound::check_check(&done).map(|()| done)
        });
        match done {
            Ok(done) => {
                form.entered(subject);
                Some(ChecksWish::Add(Box::new(done)))
            }
            Err(told) => {
                form.refused = Some((subject, told));
                form.focus = Some(subject);
                None
            }
        }
    }

    /// The name with the limit below it.
    fn named(&self, ui: &Ui, rect: Rect, columns: Columns, subject: Subject) {
        let palette = Palette::of(ui);
        let [first, second] = LINES.map(|y| pos2(columns.left(0), rect.top() + y));
        let width = columns.width(0);
        put(ui, first, &subject.name(), 17.0, width, palette.text);
        let limit = match subject {
            Subject::Gauge(quantity) => self
                .limits
                .of(quantity)
                .map_or_else(|| "no limit".into(), limit_words),
            Subject::Seen(_) => "by eye and hand".into(),
        };
        put(ui, second, &limit, 14.0, width, palette.quiet);
    }

    /// What counts for a stage: figure or words, and the verdict below.
    fn found(
        &self,
        ui: &Ui,
        rect: Rect,
        columns: Columns,
        column: usize,
        subject: Subject,
        stage: Stage,
    ) {
        let palette = Palette::of(ui);
        let cell = Rect::from_x_y_ranges(
            columns.edges[column]..=columns.edges[column + 1],
            rect.y_range(),
        );
        let [first, second] = LINES.map(|y| pos2(columns.left(column), rect.top() + y));
        let width = columns.width(column);
        let id = ui.make_persistent_id((subject, stage));
        let name = format!("{} {}", subject.short(), stage.words());
        let Some(done) = standing(self.checks, subject, stage) else {
            put(ui, first, format::NOTHING, 16.0, width, palette.quiet);
            heard::reading(ui, cell, id, Role::Meter, &name, "nothing yet");
            return;
        };
        let said = Said::of(&done.check, self.limits);
        put(ui, first, &said.words, 16.0, width, palette.text);
        verdict(ui, second, &said, width);
        heard::reading(ui, cell, id, Role::Meter, &name, &said.line());
    }

    /// The field of a gauge; what is typed is read as it is typed.
    fn gauge(
        &self,
        ui: &mut Ui,
        form: &mut ChecksForm,
        quantity: Quantity,
        id: Id,
    ) -> Option<Result<Check, String>> {
        let subject = Subject::Gauge(quantity);
        let entered = enter(ui, id);
        let width = ui.available_width() - GOOD_FOR - 28.0;
        let (top, left) = (ui.max_rect().top(), ui.max_rect().left());
        let place = |x: f32, width: f32| Rect::from_min_size(pos2(x, top), vec2(width, 26.0));
        let example = match quantity {
            Quantity::CapstanEndPlay => "0.2 mm",
            Quantity::RollerForce => "330 g or 3.2 N",
            _ => "45 g·cm or 4.4 mN·m",
        };
        let entry = form.entry_mut(subject);
        let edit = TextEdit::singleline(&mut entry.text)
            .id(id)
            .hint_text(example);
        let field = ui.put(place(left, width), edit.event_filter(keys()));
        let name = format!("{}, with unit", format::capitalised(quantity.name()));
        label(ui, &field, &name);
        let sign = pos2(left + width + 8.0, top + 13.0);
        put(ui, sign, "±", 16.0, 14.0, Palette::of(ui).quiet);
        let edit = TextEdit::singleline(&mut entry.good_for).hint_text("5 %");
        let at = place(left + width + 24.0, GOOD_FOR);
        let good_for = ui.put(at, edit.event_filter(keys()));
        let name = format!("{} gauge is good for ±", quantity.name());
        label(ui, &good_for, &name);
        follow(form, subject, &field, good_for.has_focus());
        let read = form.gauge(quantity, self.checks);
        self.preview(ui, form, subject, &field, read.as_ref());
        let entered_there = left_by_enter(ui, &good_for);
        if !(entered || entered_there) {
            return None;
        }
        if read.is_none() {
            // Nothing typed: on to the next.
            form.in_hand = subject.next();
            form.focus = Some(form.in_hand);
        }
        read
    }

    /// How what is typed is understood, or what is wrong with it.
    fn preview(
        &self,
        ui: &Ui,
        form: &mut ChecksForm,
        subject: Subject,
        field: &Response,
        read: Option<&Result<Check, String>>,
    ) {
        let palette = Palette::of(ui);
        if field.changed() {
            form.refused = None;
        }
        let at = pos2(field.rect.left(), field.rect.bottom() + 12.0);
        let width = ui.max_rect().right() - at.x;
        let (text, color) = match (refused(form, subject), read) {
            (Some(told), _) => (format!("! {told}"), palette.bad),
            (None, Some(Ok(check))) => {
                let said = Said::of(check, self.limits);
                (format!("= {}", said.line()), palette.text)
            }
            // While it is typed it is not wrong yet.
            (None, Some(Err(_))) => (
                "… number and unit; Enter writes it down".into(),
                palette.quiet,
            ),
            (None, None) => return,
        };
        told(ui, at, field, &text, width, color);
    }

    /// What was seen, and how good that is.
    fn seen(
        &self,
        ui: &mut Ui,
        form: &mut ChecksForm,
        seen: Seen,
        id: Id,
    ) -> Option<Result<Check, String>> {
        let subject = Subject::Seen(seen);
        let entered = enter(ui, id);
        let top = ui.max_rect().left_top();
        let field = Rect::from_min_size(top, vec2(ui.available_width(), 24.0));
        let entry = form.entry_mut(subject);
        let edit = TextEdit::singleline(&mut entry.text)
            .id(id)
            .hint_text(seen.good_words())
            .event_filter(keys());
        let field = ui.put(field, edit);
        label(ui, &field, &format!("{}, what was seen", seen.name()));
        if field.changed() {
            form.refused = None;
        }
        let below = Rect::from_min_size(top + vec2(0.0, 26.0), vec2(ui.max_rect().width(), 22.0));
        let mut inner = ui.new_child(UiBuilder::new().max_rect(below).id_salt((id, "judged")));
        let (pressed, focused) = judge(&mut inner, seen, entered);
        follow(form, subject, &field, focused);
        if let Some(words) = refused(form, subject) {
            let at = pos2(inner.min_rect().right() + 8.0, below.center().y);
            let width = below.right() - at.x;
            let words = format!("! {words}");
            told(ui, at, &field, &words, width, Palette::of(ui).bad);
        }
        Some(form.seen(seen, pressed?))
    }

    /// All tries of the subject in hand, the newest first, each to be withdrawn or brought back.
    fn history(&self, ui: &mut Ui, subject: Subject) -> Option<ChecksWish> {
        let mut wish = None;
        let all: Vec<usize> = tries(self.checks, subject).collect();
        let count = match all.len() {
            0 => "none yet".into(),
            count => format::counted(count as u64, "try", "tries"),
        };
        let title = format!("{}: {count}", subject.name());
        ui.label(RichText::new(title).strong());
        for &place in all.iter().take(MOST_TRIES) {
            let done = &self.checks[place];
            let text = try_words(done, self.limits, self.zone);
            ui.horizontal(|ui| {
                wish = wish.take().or(self.undo(ui, place, &text));
                let mut shown = RichText::new(&text);
                if done.withdrawn.is_some() {
                    shown = shown.weak().strikethrough();
                }
                ui.add(Label::new(shown).truncate());
            });
        }
        if all.len() > MOST_TRIES {
            let more = format!("… and {} before", all.len() - MOST_TRIES);
            ui.label(RichText::new(more).weak());
        }
        wish
    }

    fn undo(&self, ui: &mut Ui, place: usize, text: &str) -> Option<ChecksWish> {
        let Some(id) = self.ids.get(place).copied().flatten() else {
            ui.label(RichText::new("not saved yet").weak());
            return None;
        };
        let (name, wish) = match self.checks[place].withdrawn {
            None => ("Withdraw", ChecksWish::Withdraw(id)),
            Some(_) => ("Let it count", ChecksWish::Restore(id)),
        };
        let button = ui.add(Button::new(name).min_size(vec2(108.0, 0.0)));
        label(ui, &button, &format!("{name}: {text}"));
        if button.gained_focus() {
            button.scroll_to_me(Some(Align::Center));
        }
        button.clicked().then_some(wish)
    }
}

/// Three buttons; the arrow keys go from one to the next, `entered` brings the keyboard to the first. Returns the
/// judgement that was pressed, and whether one of them has the focus.
fn judge(ui: &mut Ui, seen: Seen, entered: bool) -> (Option<Option<bool>>, bool) {
    let mut pressed = None;
    let mut buttons = Vec::new();
    let judgements = [
        ("good", Some(true)),
        ("not good", Some(false)),
        ("not judged", None),
    ];
    ui.horizontal(|ui| {
        ui.spacing_mut().button_padding = vec2(8.0, 1.0);
        ui.spacing_mut().interact_size.y = 22.0;
        for (name, good) in judgements {
            let mark = match good {
                Some(true) => Mark::Good,
                Some(false) => Mark::Bad,
                None => Mark::None,
            };
            let button = ui.add(Button::new(
                RichText::new(format!("     {name}")).size(14.0),
            ));
            let at = pos2(button.rect.left() + 15.0, button.rect.center().y);
            sign(ui, Rect::from_center_size(at, Vec2::splat(12.0)), mark);
            label(ui, &button, &format!("{}: {name}", seen.name()));
            if button.clicked() {
                pressed = Some(good);
            }
            buttons.push(button);
        }
    });
    if let Some(first) = buttons.first().filter(|_| entered) {
        first.request_focus();
    }
    let at = buttons.iter().position(|button| button.has_focus());
    if let Some(at) = at {
        arrows(ui, &buttons, at);
    }
    (pressed, at.is_some())
}

/// Left and right among a row of buttons, instead of anywhere on the page.
fn arrows(ui: &Ui, buttons: &[Response], at: usize) {
    let filter = EventFilter {
        horizontal_arrows: true,
        escape: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(buttons[at].id, filter));
    for (key, to) in [
        (Key::ArrowRight, (at + 1).min(buttons.len() - 1)),
        (Key::ArrowLeft, at.saturating_sub(1)),
    ] {
        if ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)) {
            buttons[to].request_focus();
        }
    }
}

/// Gives the field the focus where it is its turn, and takes its subject in hand while it has it.
fn follow(form: &mut ChecksForm, subject: Subject, field: &Response, beside: bool) {
    if form.focus == Some(subject) {
        form.focus = None;
        field.request_focus();
    }
    if field.has_focus() || beside {
        form.in_hand = subject;
    }
    if field.gained_focus() {
        field.scroll_to_me(None);
    }
}

fn refused(form: &ChecksForm, subject: Subject) -> Option<&str> {
    let refused = form.refused.as_ref();
    refused
        .filter(|(of, _)| *of == subject)
        .map(|(_, words)| &**words)
}

/// Whether Enter is pressed in the field, taken before the field loses the focus by it.
fn enter(ui: &Ui, id: Id) -> bool {
    ui.memory(|memory| memory.has_focus(id))
        && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Enter))
}

fn left_by_enter(ui: &Ui, field: &Response) -> bool {
    field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter))
}

/// Esc leaves the page, not only the field.
fn keys() -> EventFilter {
    EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        escape: true,
        ..EventFilter::default()
    }
}

fn label(ui: &Ui, response: &Response, name: &str) {
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_label(name.to_owned()));
}

/// A line below or beside a field, spoken with it.
fn told(ui: &Ui, at: Pos2, field: &Response, text: &str, width: f32, color: Color32) {
    let galley = words::line(ui.painter(), text, theme::text, 14.0, 12.0, width, color);
    let rect = words::put(ui.painter(), at, Align2::LEFT_CENTER, galley);
    ui.ctx().accesskit_node_builder(field.id, |node| {
        node.set_description(text.to_owned());
    });
    // All of it where it is cut.
    ui.interact(rect, field.id.with("told"), Sense::hover())
        .on_hover_text(text);
}

/// Sign and word of a verdict.
fn verdict(ui: &Ui, at: Pos2, said: &Said, width: f32) {
    let place = Rect::from_center_size(pos2(at.x + 7.0, at.y), Vec2::splat(14.0));
    let color = sign(ui, place, said.mark);
    let words_at = at + vec2(22.0, 0.0);
    put(ui, words_at, said.verdict, 14.0, width - 22.0, color);
}

/// Good: a disc with a tick. Bad: a cross. Open: a diamond. None: a ring. Returns its colour.
fn sign(ui: &Ui, rect: Rect, mark: Mark) -> Color32 {
    let palette = Palette::of(ui);
    let painter = ui.painter();
    let (center, radius) = (rect.center(), rect.width() / 2.0);
    match mark {
        Mark::Good => {
            painter.circle_filled(center, radius, palette.good);
            let tick = [vec2(-0.45, 0.05), vec2(-0.12, 0.4), vec2(0.48, -0.35)];
            let points = tick.map(|at| center + at * radius).to_vec();
            painter.line(points, Stroke::new(2.0, palette.ground));
            palette.good
        }
        Mark::Bad => {
            let stroke = Stroke::new(2.5, palette.bad);
            let reach = radius * 0.75;
            for y in [-reach, reach] {
                let (from, to) = (center + vec2(-reach, y), center + vec2(reach, -y));
                painter.line_segment([from, to], stroke);
            }
            palette.bad
        }
        Mark::Open => {
            let stroke = Stroke::new(2.0, palette.warn);
            painter.line(marks::diamond(center, radius - 1.0), stroke);
            let first = center + vec2(0.0, 1.0 - radius);
            painter.line_segment([center + vec2(1.0 - radius, 0.0), first], stroke);
            palette.warn
        }
        Mark::None => {
            painter.circle_stroke(center, radius - 1.5, Stroke::new(1.5, palette.quiet));
            palette.quiet
        }
    }
}

fn put(ui: &Ui, at: Pos2, text: &str, size: f32, width: f32, color: Color32) {
    let galley = words::line(ui.painter(), text, theme::text, size, 12.0, width, color);
    words::put(ui.painter(), at, Align2::LEFT_CENTER, galley);
}
