//! The list of jobs: searched by typing, walked through with the arrow keys, opened with Enter.

use crate::{
    bench::store::{Filter, JobRow, State},
    screen::{
        model::job_list::{Answer, JobListForm, RowWords, count_words},
        paint::{heard, marks, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Button, Color32, EventFilter, Id, InputState, Key, Label, Modifiers, Rect, Response,
    RichText, ScrollArea, Sense, Stroke, TextEdit, Ui, WidgetInfo, accesskit::Role, pos2, vec2,
};
use jiff::tz::TimeZone;

/// Height of one row, points.
const ROW: f32 = 30.0;
/// Size of the type in a row, points.
const TYPE: f32 = 16.0;
/// Letters of a search that are of use.
const MOST_TYPED: usize = 200;
/// Below this width what the owner said is left out, points.
const NARROW: f32 = 760.0;

/// What the page shows.
#[derive(Clone, Copy, Debug)]
pub struct JobListPage<'a> {
    /// The last answer of the record; `None`: there was none yet.
    pub answer: Option<Answer<'a>>,
    /// How many jobs there are, and how many of their decks are here; `None`: not known yet.
    pub counts: Option<(u32, u32)>,
    /// What is wrong with the record, in words.
    pub problem: Option<&'a str>,
    /// Whose dates are shown.
    pub zone: &'a TimeZone,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum JobListWish {
    /// The jobs of this filter.
    Look(Filter),
    /// This job.
    Open(String),
    /// A new job.
    New,
    /// To leave the page.
    Leave,
}

impl JobListPage<'_> {
    /// Shows the page in all the room there is; returns what was asked for.
    pub fn show(&self, ui: &mut Ui, form: &mut JobListForm) -> Option<JobListWish> {
        form.follow(self.answer);
        let search = ui.make_persistent_id("job search");
        let mut wish = self.keys(ui, search, form);
        let pressed = if self.is_empty(form) {
            self.empty(ui, form)
        } else {
            let pressed = self.head(ui, search, form);
            self.state(ui, form);
            let clicked = self
                .answer
                .and_then(|answer| table(ui, answer.rows, form, self.zone));
            pressed.or(clicked.map(JobListWish::Open))
        };
        wish = wish.or(pressed);
        wish.or_else(|| form.opened(self.answer).map(JobListWish::Open))
            .or_else(|| form.ask().map(JobListWish::Look))
    }

    fn rows(&self) -> &[JobRow] {
        self.answer.map_or(&[], |answer| answer.rows)
    }

    /// Whether there is no job at all, and nothing is searched for.
    fn is_empty(&self, form: &JobListForm) -> bool {
        let none = self.counts.map_or_else(
            || form.state == State::Any && form.is_answered(self.answer) && self.rows().is_empty(),
            |(all, _)| all == 0 && self.answer.is_some(),
        );
        none && form.search.trim().is_empty() && self.problem.is_none()
    }

    /// The keys that belong to the list while it, or its search field, has them.
    fn keys(&self, ui: &Ui, search: Id, form: &mut JobListForm) -> Option<JobListWish> {
        let focused = ui.memory(|memory| memory.focused());
        let walking = focused.is_none_or(|id| id == search);
        let page = (ui.available_height() / ROW) as isize - 3;
        let rows = self.rows();
        ui.input_mut(|input| {
            if input.consume_key(Modifiers::COMMAND, Key::N) {
                return Some(JobListWish::New);
            }
            if input.consume_key(Modifiers::NONE, Key::Escape) {
                return Some(JobListWish::Leave);
            }
            if walking {
                walk(input, rows, page.max(1), form);
            }
            None
        })
    }

    /// Heading, search field, which jobs, and the way to a new one.
    fn head(&self, ui: &mut Ui, search: Id, form: &mut JobListForm) -> Option<JobListWish> {
        let mut wish = None;
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("Jobs").heading());
            ui.add_space(8.0);
            search_field(ui, search, form);
            ui.add_space(8.0);
            for (name, state) in [
                ("all", State::Any),
                ("here", State::Open),
                ("left", State::Closed),
            ] {
                if toggle(ui, name, form.state == state).clicked() {
                    form.state = state;
                    form.focus = true;
                }
            }
            ui.add_space(8.0);
            if ui.button("New job (Ctrl-N)").clicked() {
                wish = Some(JobListWish::New);
            }
        });
        wish
    }

    /// How many there are, that they are being looked for, or what is wrong.
    fn state(&self, ui: &mut Ui, form: &JobListForm) {
        let palette = Palette::of(ui);
        let (text, color) = match self.problem {
            Some(problem) => (format!("! {problem}"), palette.bad),
            None if form.is_answered(self.answer) => {
                let rows = self.rows();
                let mut text = count_words(form, rows.len(), self.counts);
                if rows.is_empty() {
                    text += ". Fewer words, or 'all', show more.";
                }
                (text, palette.quiet)
            }
            None => ("looking in the record …".into(), palette.quiet),
        };
        let line = ui.add(Label::new(RichText::new(&text).color(color)).wrap());
        let chosen = self.rows().get(form.chosen()).map(|row| {
            let words = RowWords::of(row, self.zone);
            format!(". Chosen: {}, {}", words.number, words.spoken())
        });
        // The search field keeps the focus: what the arrow keys choose is spoken from here.
        let spoken = format!("{text}{}", chosen.unwrap_or_default());
        heard::announced(ui, line.rect, line.id.with("spoken"), "job list", &spoken);
    }

    /// Nothing is there yet.
    fn empty(&self, ui: &mut Ui, form: &mut JobListForm) -> Option<JobListWish> {
        ui.label(RichText::new("Jobs").heading());
        ui.add_space(12.0);
        ui.label("No jobs yet: Ctrl-N (or n) makes the first one.");
        ui.add_space(6.0);
        let hint = "A job keeps what was found on a deck, what was done and how it left, with the limits it is judged by.";
        ui.add(Label::new(RichText::new(hint).weak()).wrap());
        ui.add_space(12.0);
        let new = ui.button("New job (Ctrl-N)");
        // The search field, which had the focus until the record was known to be empty, is gone.
        let unfocused = ui.memory(|memory| memory.focused()).is_none();
        if std::mem::take(&mut form.focus) || unfocused {
            new.request_focus();
        }
        let letter = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::N));
        (new.clicked() || letter).then_some(JobListWish::New)
    }
}

fn walk(input: &mut InputState, rows: &[JobRow], page: isize, form: &mut JobListForm) {
    for (modifiers, key, by) in [
        (Modifiers::NONE, Key::ArrowDown, 1),
        (Modifiers::NONE, Key::ArrowUp, -1),
        (Modifiers::NONE, Key::PageDown, page),
        (Modifiers::NONE, Key::PageUp, -page),
        (Modifiers::COMMAND, Key::End, isize::MAX),
        (Modifiers::COMMAND, Key::Home, isize::MIN),
    ] {
        // A key that repeats comes more than once in a slow frame.
        while input.consume_key(modifiers, key) {
            form.step(rows, by);
        }
    }
    if input.consume_key(Modifiers::NONE, Key::Enter) {
        form.enter();
    }
}

fn search_field(ui: &mut Ui, id: Id, form: &mut JobListForm) {
    let width = (ui.available_width() * 0.4).clamp(160.0, 420.0);
    // Esc leaves the page, not only the field.
    let keys = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        escape: true,
        ..EventFilter::default()
    };
    let edit = TextEdit::singleline(&mut form.search)
        .id(id)
        .hint_text("search: number, deck, serial, complaint, notes")
        .char_limit(MOST_TYPED)
        .event_filter(keys)
        .desired_width(width);
    let field = ui.add(edit);
    ui.ctx()
        .accesskit_node_builder(field.id, |node| node.set_label("Search jobs"));
    if std::mem::take(&mut form.focus) {
        field.request_focus();
    }
}

fn toggle(ui: &mut Ui, name: &str, on: bool) -> Response {
    let mark = if on { "• " } else { "" };
    let button = ui.add(Button::new(format!("{mark}{name}")).selected(on));
    button.widget_info(|| {
        WidgetInfo::selected(Role::RadioButton, true, on, format!("show jobs: {name}"))
    });
    button
}

/// The columns of a width: where each begins and how wide it is, points.
struct Columns {
    places: Vec<(&'static str, f32, f32)>,
}

impl Columns {
    fn of(width: f32) -> Self {
        let all: &[(&str, f32)] = &[
            ("job", 0.12),
            ("deck", 0.17),
            ("serial", 0.13),
            ("came", 0.11),
            ("deck is", 0.15),
            ("readings", 0.08),
            ("the owner said", 0.24),
        ];
        let shown = if width < NARROW {
            &all[..all.len() - 1]
        } else {
            all
        };
        let whole: f32 = shown.iter().map(|(_, share)| share).sum();
        let mut left = 0.0;
        let places = shown.iter().map(|&(name, share)| {
            let column = (name, left, width * share / whole - 10.0);
            left += width * share / whole;
            column
        });
        Self {
            places: places.collect(),
        }
    }
}

/// The rows that are in sight; returns the number of the one that was clicked.
fn table(ui: &mut Ui, rows: &[JobRow], form: &mut JobListForm, zone: &TimeZone) -> Option<String> {
    let palette = Palette::of(ui);
    let columns = Columns::of(ui.available_width() - 16.0);
    let (head, _) = ui.allocate_exact_size(vec2(ui.available_width(), 22.0), Sense::hover());
    for &(name, left, width) in &columns.places {
        let at = pos2(head.left() + 8.0 + left, head.center().y);
        put(ui, at, name, theme::LABEL, width, palette.quiet);
    }
    ui.painter().hline(
        head.x_range(),
        head.bottom(),
        Stroke::new(1.0, palette.line),
    );
    ui.spacing_mut().item_spacing.y = 0.0;
    let mut area = ScrollArea::vertical().auto_shrink(false);
    let reveal = std::mem::take(&mut form.reveal);
    let height = ui.available_height();
    if reveal {
        area = area.vertical_scroll_offset(offset(form.scrolled, form.chosen(), height));
    }
    let mut clicked = None;
    let output = area.show_rows(ui, ROW, rows.len(), |ui, seen| {
        for place in seen {
            let row = RowWords::of(&rows[place], zone);
            let chosen = place == form.chosen();
            if show_row(ui, &columns, &row, chosen, rows[place].closed.is_some()) {
                clicked = Some(place);
            }
        }
    });
    form.scrolled = output.state.clamped_offset().y;
    let place = clicked?;
    form.choose(rows, place);
    Some(rows.get(place)?.number.clone())
}

/// Scrolled from `before` so that the row is in sight, as little as needed: what is in sight already must not move.
fn offset(before: f32, place: usize, height: f32) -> f32 {
    let top = place as f32 * ROW;
    let least = (top + ROW - height).max(0.0);
    before.clamp(least.min(top), top)
}

/// One row; true when it was clicked.
fn show_row(ui: &mut Ui, columns: &Columns, row: &RowWords, chosen: bool, left: bool) -> bool {
    let palette = Palette::of(ui);
    let size = vec2(ui.available_width(), ROW);
    let (rect, response) = ui.allocate_exact_size(size, Sense::CLICK);
    let text = ground(ui, rect, chosen, response.hovered());
    let quiet = if chosen { text } else { palette.quiet };
    let texts = [
        (&row.number, text),
        (&row.model, text),
        (&row.serial, text),
        (&row.came, text),
        (&row.state, text),
        (&row.readings, text),
        (&row.complaint, quiet),
    ];
    for (column, (&(_, from, width), (words, color))) in
        columns.places.iter().zip(texts).enumerate()
    {
        let mut at = pos2(rect.left() + 8.0 + from, rect.center().y);
        let mut room = width;
        if column == 4 {
            let mark = Rect::from_center_size(pos2(at.x + 6.0, at.y), vec2(12.0, 12.0));
            presence(ui, mark, left, color);
            at.x += 20.0;
            room -= 20.0;
        }
        put(ui, at, words, TYPE, room, color);
    }
    response.widget_info(|| WidgetInfo::labeled(Role::ListBoxOption, true, &row.number));
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_value(row.spoken());
        node.set_selected(chosen);
    });
    response.clicked()
}

/// Ground of a row: the chosen one has a bar at its left too. Returns the colour to write in.
fn ground(ui: &Ui, rect: Rect, chosen: bool, hovered: bool) -> Color32 {
    let palette = Palette::of(ui);
    if chosen {
        ui.painter().rect_filled(rect, 2.0, palette.aim);
        let bar = Rect::from_min_max(rect.min, pos2(rect.left() + 4.0, rect.bottom()));
        ui.painter().rect_filled(bar, 0.0, palette.text);
    } else if hovered {
        ui.painter().rect_filled(rect, 2.0, palette.raised);
    }
    palette.text
}

/// A ring: the deck is here. An arrow head to the right: it has left.
fn presence(ui: &Ui, rect: Rect, left: bool, color: Color32) {
    if left {
        marks::arrow_head(
            ui.painter(),
            rect.center(),
            rect.width() * 0.4,
            marks::Way::Right,
            color,
        );
    } else {
        let ring = Stroke::new(2.0, color);
        ui.painter()
            .circle_stroke(rect.center(), rect.width() * 0.4, ring);
    }
}

fn put(ui: &Ui, at: eframe::egui::Pos2, text: &str, size: f32, width: f32, color: Color32) {
    let galley = words::line(ui.painter(), text, theme::text, size, size, width, color);
    words::put(ui.painter(), at, Align2::LEFT_CENTER, galley);
}
