//! A new job in ten seconds: the number is proposed, a known deck fills in itself, Enter goes from field to field and
//! makes the job at the last.

use crate::{
    bench::{LimitSet, store::NewJob},
    screen::{
        model::{
            format, harmless,
            new_job::{Decks, Field, NewJobForm, Visits},
        },
        paint::heard,
        theme::Palette,
    },
};
use eframe::egui::{
    Align, Button, ComboBox, EventFilter, Id, Key, KeyboardShortcut, Label, Layout, Modifiers,
    Response, RichText, ScrollArea, TextEdit, Ui, vec2,
};
use jiff::{Timestamp, tz::TimeZone};

/// Widths of a field's name and of the field, points.
const NAME: f32 = 130.0;
const FIELD: f32 = 320.0;
/// Below this width the known decks stand under the form, points.
const NARROW: f32 = 980.0;
/// Room of the form beside the known decks, points.
const FORM: f32 = 740.0;
/// Known decks shown at most.
const MOST_DECKS: usize = 8;

/// One of several things, by name.
#[derive(Clone, Copy, Debug)]
pub struct Named<'a> {
    /// What the record calls it.
    pub name: &'a str,
    /// What a person calls it.
    pub title: &'a str,
}

/// What the page knows.
#[derive(Clone, Copy, Debug)]
pub struct NewJobPage<'a> {
    /// The number that comes next; `None`: not known yet.
    pub proposed: Option<&'a str>,
    /// The last answer on known decks.
    pub decks: Option<Decks<'a>>,
    /// The last answer on a deck's earlier visits.
    pub visits: Option<Visits<'a>>,
    /// The tape formats.
    pub formats: &'a [Named<'a>],
    /// The mechanisms.
    pub mechanisms: &'a [Named<'a>],
    /// The sets of limits, the usual one first.
    pub limits: &'a [LimitSet],
    /// Why the record refused the job that was sent last.
    pub refused: Option<&'a str>,
    /// What else is wrong with the record, in words.
    pub problem: Option<&'a str>,
    /// Whether the job is being written down.
    pub busy: bool,
    /// The time at which it is opened.
    pub now: Timestamp,
    /// Whose dates are shown.
    pub zone: &'a TimeZone,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum NewJobWish {
    /// Known decks with these words.
    LookForDecks(String),
    /// The earlier visits of this deck.
    LookForVisits {
        /// Its model.
        model: String,
        /// Its serial number.
        serial: String,
    },
    /// To make this job.
    Make(Box<NewJob>),
    /// To leave the page; what is typed stays.
    Leave,
}

impl NewJobPage<'_> {
    /// Shows the page in all the room there is; returns what was asked for.
    pub fn show(&self, ui: &mut Ui, form: &mut NewJobForm) -> Option<NewJobWish> {
        form.propose(self.proposed);
        let mut leave = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
        let make = Modifiers::COMMAND;
        let mut made = ui.input_mut(|input| input.consume_key(make, Key::Enter));
        self.head(ui);
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            if ui.available_width() < NARROW {
                made |= self.fields(ui, form);
                (made, leave) = self.ways_out(ui, form, made, leave);
                ui.add_space(10.0);
                self.known(ui, form);
            } else {
                ui.horizontal_top(|ui| {
                    ui.vertical(|ui| {
                        ui.set_width(FORM);
                        made |= self.fields(ui, form);
                        (made, leave) = self.ways_out(ui, form, made, leave);
                    });
                    ui.add_space(14.0);
                    ui.vertical(|ui| self.known(ui, form));
                });
            }
        });
        if made && !self.busy {
            if let Some(job) = form.make(self.now, self.limits) {
                return Some(NewJobWish::Make(Box::new(job)));
            }
            ui.ctx().request_repaint();
        }
        if leave {
            return Some(NewJobWish::Leave);
        }
        if let Some(words) = form.ask_decks() {
            return Some(NewJobWish::LookForDecks(words));
        }
        let (model, serial) = form.ask_visits()?;
        Some(NewJobWish::LookForVisits { model, serial })
    }

    fn head(&self, ui: &mut Ui) {
        let palette = Palette::of(ui);
        ui.label(RichText::new("New job").heading());
        let (text, color) = match (self.problem, self.busy) {
            (Some(problem), _) => (format!("! {problem}"), palette.bad),
            (None, true) => ("writing the job down …".into(), palette.quiet),
            (None, false) => (
                "Number and model are enough. Enter goes on and makes the job at the last field; Ctrl-Enter makes it at once."
                    .into(),
                palette.quiet,
            ),
        };
        let line = ui.add(Label::new(RichText::new(&text).color(color)).wrap());
        heard::announced(ui, line.rect, line.id.with("spoken"), "new job", &text);
        ui.add_space(6.0);
    }

    /// All fields; true when Enter was pressed in the last.
    fn fields(&self, ui: &mut Ui, form: &mut NewJobForm) -> bool {
        let mut next = None;
        for field in Field::ALL {
            // A known deck that was picked has said where to go on.
            let said = form.focus;
            if self.field(ui, form, field) && (form.focus == said || form.focus.is_none()) {
                next = Some(field);
            }
        }
        match next.map(Field::next) {
            Some(Some(field)) => {
                form.focus.get_or_insert(field);
                false
            }
            Some(None) => true,
            None => false,
        }
    }

    /// One field with its name and what is wrong with it; true when Enter was pressed in it.
    fn field(&self, ui: &mut Ui, form: &mut NewJobForm, field: Field) -> bool {
        let problem = form.problem(field, self.refused);
        let beside = problem.clone().or_else(|| self.beside(form, field));
        let focus = form.focus == Some(field);
        let mut entered = false;
        ui.horizontal_top(|ui| {
            let name = name(ui, field.name(), problem.is_some());
            let response = framed(ui, problem.is_some(), |ui| match field {
                Field::TapeFormat | Field::Mechanism | Field::Limits => {
                    self.choice(ui, form, field, &mut entered)
                }
                Field::Number | Field::Model | Field::Serial | Field::Complaint => {
                    self.text(ui, form, field, &mut entered)
                }
            })
            .labelled_by(name.id);
            if focus {
                response.request_focus();
                response.scroll_to_me(Some(Align::Center));
                form.focus = None;
            } else if response.gained_focus() {
                response.scroll_to_me(Some(Align::Center));
            }
            if let Some(beside) = beside {
                remark(ui, &response, &beside, problem.is_some());
            }
        });
        entered
    }

    /// What stands beside a field when nothing is wrong with it.
    fn beside(&self, form: &NewJobForm, field: Field) -> Option<String> {
        match field {
            Field::Serial => form.here_before(self.visits, self.zone),
            Field::Complaint => Some("Shift-Enter begins a new line.".into()),
            _ => None,
        }
    }

    fn text(
        &self,
        ui: &mut Ui,
        form: &mut NewJobForm,
        field: Field,
        entered: &mut bool,
    ) -> Response {
        let id = ui.make_persistent_id(field);
        let focused = ui.memory(|memory| memory.has_focus(id));
        if focused {
            // With Shift it begins a new line, which egui does not tell apart by itself.
            *entered = ui.input_mut(|input| {
                !input.modifiers.shift && input.consume_key(Modifiers::NONE, Key::Enter)
            });
            if field == Field::Model {
                self.walk(ui, form, *entered);
            }
        }
        let keys = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            escape: true,
            ..EventFilter::default()
        };
        let text = match field {
            Field::Number => &mut form.number,
            Field::Model => &mut form.deck.model,
            Field::Serial => &mut form.deck.serial,
            _ => &mut form.complaint,
        };
        let edit = if field == Field::Complaint {
            let line = KeyboardShortcut::new(Modifiers::SHIFT, Key::Enter);
            TextEdit::multiline(text).desired_rows(3).return_key(line)
        } else {
            TextEdit::singleline(text)
        };
        let response = ui.add(
            edit.id(id)
                .event_filter(keys)
                .hint_text(hint(field))
                .desired_width(FIELD),
        );
        match field {
            Field::Number if response.changed() => form.number_edited(),
            Field::Number if response.lost_focus() => form.number_left(),
            Field::Model if response.changed() => form.model_edited(),
            _ => {}
        }
        response
    }

    /// Arrow keys go through the known decks, Enter picks the one they are on.
    fn walk(&self, ui: &Ui, form: &mut NewJobForm, entered: bool) {
        let decks = self.decks();
        for (key, down) in [(Key::ArrowDown, true), (Key::ArrowUp, false)] {
            while ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)) {
                form.step(decks.len(), down);
            }
        }
        if let Some(known) = form.on(decks.len()).filter(|_| entered) {
            form.take(&decks[known]);
        }
    }

    fn decks(&self) -> &[crate::bench::store::KnownDeck] {
        let decks = self.decks.map_or(&[][..], |answer| answer.decks);
        &decks[..decks.len().min(MOST_DECKS)]
    }

    fn choice(
        &self,
        ui: &mut Ui,
        form: &mut NewJobForm,
        field: Field,
        entered: &mut bool,
    ) -> Response {
        let limits: Vec<Named<'_>>;
        let (mut items, value): (Vec<Named<'_>>, &mut String) = match field {
            Field::TapeFormat => (self.formats.to_vec(), &mut form.deck.tape_format),
            Field::Mechanism => (self.mechanisms.to_vec(), &mut form.deck.mechanism),
            _ => {
                if let Some(set) = form.limits(self.limits) {
                    form.limits.clone_from(&set.name);
                }
                limits = self
                    .limits
                    .iter()
                    .map(|set| Named {
                        name: &set.name,
                        title: &set.title,
                    })
                    .collect();
                (limits, &mut form.limits)
            }
        };
        if field != Field::Limits {
            items.insert(
                0,
                Named {
                    name: "",
                    title: "not known",
                },
            );
        }
        choose(ui, field, &items, value, entered)
    }

    /// Make, leave, empty, take back.
    fn ways_out(
        &self,
        ui: &mut Ui,
        form: &mut NewJobForm,
        mut made: bool,
        mut leave: bool,
    ) -> (bool, bool) {
        ui.add_space(8.0);
        ui.horizontal_wrapped(|ui| {
            let make = Button::new(RichText::new("Make the job (Ctrl-Enter)").strong());
            made |= ui.add_enabled(!self.busy, make).clicked();
            leave |= ui.button("Leave (Esc)").clicked();
            if ui
                .add_enabled(form.is_begun(), Button::new("Empty the form"))
                .clicked()
            {
                form.clear();
            }
            if form.can_take_back() && ui.button("Take that back").clicked() {
                form.take_back();
            }
        });
        ui.label(RichText::new("What is typed stays when the page is left.").weak());
        (made, leave)
    }

    /// The decks that were here before.
    fn known(&self, ui: &mut Ui, form: &mut NewJobForm) {
        ui.label(RichText::new("Decks that were here before").strong());
        let Some(answer) = self.decks else {
            ui.label(RichText::new("looking in the record …").weak());
            return;
        };
        let decks = self.decks();
        let hint = match (decks.is_empty(), answer.search.is_empty()) {
            (true, true) => "None yet.",
            (true, false) => "None with these words: it is a new one.",
            (false, _) => "In the model's field: arrow keys choose, Enter takes it.",
        };
        ui.add(Label::new(RichText::new(hint).weak()).wrap());
        let on = form.on(decks.len());
        for (place, known) in decks.iter().enumerate() {
            let title = [&known.deck.model, &known.deck.serial]
                .map(|text| harmless::line(text, 40))
                .join("  ");
            let jobs = format::counted(u64::from(known.jobs), "job", "jobs");
            let mark = if on == Some(place) { "• " } else { "" };
            let text = format!("{mark}{} · {jobs}", title.trim_end());
            let button = ui.add(Button::new(&text).selected(on == Some(place)).truncate());
            let heard = format!("known deck {} {jobs}", title.trim_end());
            ui.ctx()
                .accesskit_node_builder(button.id, |node| node.set_label(heard));
            if button.clicked() {
                form.take(known);
            }
        }
        if answer.decks.len() > MOST_DECKS {
            ui.label(RichText::new("… and more: type more of the model.").weak());
        }
    }
}

const fn hint(field: Field) -> &'static str {
    match field {
        Field::Number => "such as HL-0031",
        Field::Model => "needed",
        Field::Serial => "may be empty",
        _ => "what is wrong with it, in the owner's words",
    }
}

/// A field's name in its column; a wrong one has a mark before it.
fn name(ui: &mut Ui, name: &str, wrong: bool) -> Response {
    let bad = Palette::of(ui).bad;
    let height = ui.spacing().interact_size.y;
    let middle = Layout::left_to_right(Align::Center);
    ui.allocate_ui_with_layout(vec2(NAME, height), middle, |ui| {
        ui.set_min_width(NAME);
        if wrong {
            ui.label(RichText::new(format!("! {name}")).color(bad))
        } else {
            ui.label(name)
        }
    })
    .inner
}

/// With a frame in the warning colour where something is wrong.
fn framed(ui: &mut Ui, wrong: bool, add: impl FnOnce(&mut Ui) -> Response) -> Response {
    let bad = Palette::of(ui).bad;
    ui.scope(|ui| {
        if wrong {
            let widgets = &mut ui.visuals_mut().widgets;
            for state in [&mut widgets.inactive, &mut widgets.hovered] {
                state.bg_stroke.color = bad;
                state.bg_stroke.width = 2.0;
            }
        }
        add(ui)
    })
    .inner
}

/// What stands beside a field, spoken with it too.
fn remark(ui: &mut Ui, field: &Response, text: &str, wrong: bool) {
    let palette = Palette::of(ui);
    let color = if wrong { palette.bad } else { palette.quiet };
    let text = harmless::line(text, 300);
    ui.ctx().accesskit_node_builder(field.id, |node| {
        node.set_description(text.clone());
    });
    ui.vertical(|ui| {
        ui.add_space(3.0);
        ui.add(Label::new(RichText::new(text).color(color)).wrap());
    });
}

/// One of several: the arrow keys go through them, Space opens the list, Enter goes on.
fn choose(
    ui: &mut Ui,
    salt: Field,
    items: &[Named<'_>],
    value: &mut String,
    entered: &mut bool,
) -> Response {
    let memory = ui.make_persistent_id(("choice", salt));
    let id: Option<Id> = ui.data(|data| data.get_temp(memory));
    let focused = id.is_some_and(|id| ui.memory(|memory| memory.has_focus(id)));
    let place = items.iter().position(|item| item.name == *value);
    let open = ui
        .data(|data| data.get_temp::<bool>(memory))
        .unwrap_or(false);
    if focused && !open {
        *entered = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Enter));
        let by = steps(ui);
        if by != 0 {
            let place = place.map_or(0, |place| place.saturating_add_signed(by));
            if let Some(item) = items.get(place.min(items.len().saturating_sub(1))) {
                item.name.clone_into(value);
            }
        }
    }
    let shown = items
        .iter()
        .find(|item| item.name == *value)
        .map_or(&**value, |item| item.title);
    let shown = harmless::line(shown, 60);
    let shut = ComboBox::from_id_salt(salt)
        .width(FIELD + 8.0)
        .truncate()
        .selected_text(&shown)
        .show_ui(ui, |ui| {
            for item in items {
                let title = harmless::line(item.title, 60);
                if ui.selectable_label(item.name == value, title).clicked() {
                    item.name.clone_into(value);
                }
            }
        });
    let response = shut.response;
    if response.has_focus() {
        // Otherwise egui moves the focus with the arrow keys.
        let keys = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, keys));
    }
    ui.data_mut(|data| {
        data.insert_temp(memory, response.id);
        data.insert_temp(memory, shut.inner.is_some());
    });
    response
}

/// How many places the arrow keys go down, less those they go up.
fn steps(ui: &Ui) -> isize {
    let mut by = 0;
    for (key, step) in [
        (Key::ArrowDown, 1),
        (Key::ArrowRight, 1),
        (Key::ArrowUp, -1),
        (Key::ArrowLeft, -1),
    ] {
        while ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)) {
            by += step;
        }
    }
    by
}
