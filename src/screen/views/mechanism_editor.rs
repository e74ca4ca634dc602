//! The editor of a mechanism, in the main view: the deck and its parts at the left with the rates that follow, the
//! figures of the chosen part at the right. Every key is checked at once.

use crate::{
    screen::{
        deck_shelf::DeckChoice,
        model::{
            format,
            mechanism_form::{Field, FormProblem, MechanismForm},
        },
        paint::marks,
        theme::{self, Palette},
    },
    tables::{Mechanism, PartKind, PartRate},
};
use eframe::egui::{
    Align, Button, ComboBox, Grid, Label, Rect, Response, RichText, Sense, TextEdit, Ui, Vec2,
    pos2, vec2,
};

/// Width of the left column, points, and as a part of all there is.
const LEFT: f32 = 340.0;
const LEFT_SHARE: f32 = 0.46;
/// Width of a field for a number, points.
const NUMBER: f32 = 110.0;

/// A mechanism being edited.
pub struct MechanismEditor {
    form: MechanismForm,
    /// The own file that it was opened from; saving writes it again.
    from: Option<DeckChoice>,
    part: usize,
    refused: Option<String>,
    opened: bool,
}

/// What was asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Edited {
    /// Keep this, instead of the file it was opened from, and use it.
    Save(Box<Mechanism>, Option<DeckChoice>),
    /// Leave it.
    Close,
}

impl MechanismEditor {
    /// Edits a form; `from` is the own file it came from.
    pub fn new(form: MechanismForm, from: Option<DeckChoice>) -> Self {
        Self {
            form,
            from,
            part: 0,
            refused: None,
            opened: true,
        }
    }

    /// Tells that it could not be saved.
    pub fn refuse(&mut self, why: String) {
        self.refused = Some(why);
    }

    /// Shows the editor; returns what was asked for.
    pub fn show(&mut self, ui: &mut Ui) -> Option<Edited> {
        let sound = self.form.mechanism();
        let (rates, problem) = match &sound {
            Ok((_, rates)) => (rates.as_slice(), None),
            Err(problem) => (&[][..], Some(problem.clone())),
        };
        let edited = self.head(ui, &sound);
        ui.add_space(6.0);
        let before = self.form.clone();
        let left = (LEFT_SHARE * ui.available_width()).min(LEFT);
        ui.horizontal_top(|ui| {
            ui.vertical(|ui| {
                ui.set_width(left);
                self.deck(ui, problem.as_ref());
                self.parts(ui, rates, problem.as_ref());
            });
            ui.add_space(14.0);
            ui.vertical(|ui| self.part_fields(ui, problem.as_ref()));
        });
        if self.form != before {
            self.refused = None;
        }
        edited
    }

    /// What is wrong, or that all is sound; and the ways out.
    fn head(
        &self,
        ui: &mut Ui,
        sound: &Result<(Mechanism, Vec<PartRate>), FormProblem>,
    ) -> Option<Edited> {
        let mut edited = None;
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("Mechanism").heading());
            ui.add_space(10.0);
            let save = ui.add_enabled(sound.is_ok(), Button::new("Save and use"));
            if let (true, Ok((mechanism, _))) = (save.clicked(), sound) {
                edited = Some(Edited::Save(Box::new(mechanism.clone()), self.from.clone()));
            }
            if ui.button("Leave without saving").clicked() {
                edited = Some(Edited::Close);
            }
        });
        match (sound, &self.refused) {
            (Err(problem), _) => warning(ui, &self.where_(problem)),
            (Ok(_), Some(refused)) => warning(ui, refused),
            (Ok((_, rates)), None) => {
                let count = format::counted(rates.len() as u64, "part", "parts");
                let remarks: Vec<_> = rates
                    .iter()
                    .filter_map(|rate| rate.remark.as_deref())
                    .collect();
                let words = match remarks.as_slice() {
                    [] => format!("Sound: {count}, every rate follows."),
                    some => format!("{count}. {}.", some.join("; ")),
                };
                ui.add(Label::new(RichText::new(words).weak()).wrap());
            }
        }
        edited
    }

    /// A problem with the name of the part it is in.
    fn where_(&self, problem: &FormProblem) -> String {
        let part = problem.part.and_then(|place| self.form.parts.get(place));
        match part {
            Some(part) => format!(
                "{}, {}: {}",
                part.name,
                key_words(&problem.key),
                problem.message
            ),
            None => problem.message.clone(),
        }
    }

    fn deck(&mut self, ui: &mut Ui, problem: Option<&FormProblem>) {
        let wrong = |key: &str| problem.is_some_and(|one| one.part.is_none() && one.key == key);
        let mut rows: [(&str, &mut String, bool); 4] = [
            ("Deck", &mut self.form.title, wrong("title")),
            ("File name", &mut self.form.name, false),
            (
                "Tape speed, cm/s",
                &mut self.form.tape_speed,
                wrong("tape_speed_m_per_s"),
            ),
            ("Figures from", &mut self.form.source, false),
        ];
        Grid::new("deck").num_columns(2).show(ui, |ui| {
            for (name, text, wrong) in &mut rows {
                let field = labelled(ui, name, text, f32::INFINITY, *wrong);
                if std::mem::take(&mut self.opened) {
                    field.request_focus();
                }
                ui.end_row();
            }
        });
    }

    fn parts(&mut self, ui: &mut Ui, rates: &[PartRate], problem: Option<&FormProblem>) {
        ui.add_space(6.0);
        for place in 0..self.form.parts.len() {
            let wrong = problem.is_some_and(|one| one.part == Some(place));
            let rate = rates.get(place);
            if part_row(
                ui,
                &self.form.parts[place].name,
                rate,
                wrong,
                place == self.part,
            ) {
                self.part = place;
            }
        }
        ui.horizontal(|ui| {
            if ui.button("Add a part").clicked() {
                self.part = self.form.add_part();
            }
            let any = !self.form.parts.is_empty();
            if ui
                .add_enabled(any, Button::new("Remove this part"))
                .clicked()
            {
                self.form.remove_part(self.part);
            }
        });
        self.part = self.part.min(self.form.parts.len().saturating_sub(1));
    }

    fn part_fields(&mut self, ui: &mut Ui, problem: Option<&FormProblem>) {
        let place = self.part;
        let Some(part) = self.form.parts.get(place) else {
            return;
        };
        let wrong =
            |key: &str| problem.is_some_and(|one| one.part == Some(place) && one.key == key);
        let mut name = part.name.clone();
        let others: Vec<String> = self
            .form
            .parts
            .iter()
            .filter(|other| other.name != part.name)
            .map(|other| other.name.clone())
            .collect();
        Grid::new("part").num_columns(2).show(ui, |ui| {
            labelled(ui, "Part", &mut name, 220.0, wrong("name"));
            ui.end_row();
            let part = &mut self.form.parts[place];
            choose_kind(ui, &mut part.kind);
            ui.end_row();
            choose_driver(ui, &mut part.driven_by, &others, wrong("driven_by"));
            ui.end_row();
            for (field, text) in Field::ALL.into_iter().zip(&mut part.numbers) {
                if field.suits(part.kind) {
                    labelled(ui, field.name(), text, NUMBER, wrong(field.key()));
                    ui.end_row();
                }
            }
            labelled(ui, "Note", &mut part.note, 300.0, false);
            ui.end_row();
        });
        if name != self.form.parts[place].name {
            self.form.rename_part(place, &name);
        }
        let kind = self.form.parts[place].kind;
        ui.add_space(4.0);
        ui.add(Label::new(RichText::new(how(kind)).weak().size(15.0)).wrap());
    }
}

/// What a rate follows from, for that kind of part.
const fn how(kind: PartKind) -> &'static str {
    match kind {
        PartKind::SupplyReel | PartKind::TakeUpReel => {
            "The rate follows from tape speed and pack, and changes with it: hub, full pack and tape thickness are \
             needed. The pack now may be left empty."
        }
        PartKind::Belt => {
            "A belt goes round as often as its length passes the pulley that drives it: length here, the diameter \
             under the belt at its driver."
        }
        PartKind::Capstan | PartKind::PinchRoller | PartKind::TapeRoller => {
            "The tape speed over the circumference under the tape is the rate; that of a wheel or belt drives on."
        }
        PartKind::Motor | PartKind::Idler | PartKind::Pulley | PartKind::Other => {
            "Either the rate itself, or what drives it (or what it drives) with the diameters of both, or the turns \
             for one turn of its driver."
        }
    }
}

/// A key of the file as the field is called.
fn key_words(key: &str) -> &str {
    let field = Field::ALL.into_iter().find(|field| field.key() == key);
    match (field, key) {
        (Some(field), _) => field.name(),
        (None, "driven_by") => "driven by",
        (None, other) => other,
    }
}

fn choose_kind(ui: &mut Ui, kind: &mut PartKind) {
    let label = ui.label("Kind");
    let chosen = ComboBox::from_id_salt("kind")
        .selected_text(kind.words())
        .width(220.0)
        .show_ui(ui, |ui| {
            for one in PartKind::ALL {
                ui.selectable_value(kind, one, one.words());
            }
        });
    chosen.response.labelled_by(label.id);
}

fn choose_driver(ui: &mut Ui, driver: &mut Option<String>, others: &[String], wrong: bool) {
    let label = ui.label(if wrong { "! Driven by" } else { "Driven by" });
    let chosen = ComboBox::from_id_salt("driver")
        .selected_text(driver.as_deref().unwrap_or("nothing, or not known"))
        .width(220.0)
        .show_ui(ui, |ui| {
            ui.selectable_value(driver, None, "nothing, or not known");
            for other in others {
                ui.selectable_value(driver, Some(other.clone()), other);
            }
        });
    chosen.response.labelled_by(label.id);
}

/// A named field; one that is wrong has a mark before its name and a frame in the warning colour.
fn labelled(ui: &mut Ui, name: &str, text: &mut String, width: f32, wrong: bool) -> Response {
    let bad = Palette::of(ui).bad;
    let label = if wrong {
        ui.label(RichText::new(format!("! {name}")).color(bad))
    } else {
        ui.label(name)
    };
    let field = ui
        .scope(|ui| {
            if wrong {
                let widgets = &mut ui.visuals_mut().widgets;
                for state in [&mut widgets.inactive, &mut widgets.hovered] {
                    state.bg_stroke.color = bad;
                    state.bg_stroke.width = 2.0;
                }
            }
            ui.add(TextEdit::singleline(text).desired_width(width))
        })
        .inner
        .labelled_by(label.id);
    if field.gained_focus() {
        field.scroll_to_me(Some(Align::Center));
    }
    field
}

/// One part of the list; true when it was clicked.
fn part_row(ui: &mut Ui, name: &str, rate: Option<&PartRate>, wrong: bool, chosen: bool) -> bool {
    let rate = rate.map_or_else(
        || {
            if wrong {
                "!".into()
            } else {
                format::NOTHING.into()
            }
        },
        |rate| match rate.high_hz / rate.low_hz > 1.5 {
            true => format!(
                "{} to {} Hz",
                format::plain(rate.low_hz, 2),
                format::plain(rate.high_hz, 2)
            ),
            false => format!("{} Hz", format::plain(rate.nominal_hz, 3)),
        },
    );
    let mark = if chosen { "• " } else { "" };
    let mut clicked = false;
    ui.horizontal(|ui| {
        let width = ui.available_width();
        let text = RichText::new(format!("{mark}{name}")).size(15.0);
        let button = ui.add_sized(
            vec2((0.62 * width).min(205.0), 24.0),
            Button::new(text).selected(chosen).truncate(),
        );
        let heard = format!("part {name}: {rate}");
        ui.ctx()
            .accesskit_node_builder(button.id, |node| node.set_label(heard));
        let palette = Palette::of(ui);
        let color = if wrong { palette.bad } else { palette.text };
        ui.label(RichText::new(rate).font(theme::strong(14.0)).color(color));
        clicked = button.clicked();
    });
    clicked
}

fn warning(ui: &mut Ui, text: &str) {
    let palette = Palette::of(ui);
    ui.horizontal(|ui| {
        let (place, _) = ui.allocate_exact_size(Vec2::splat(18.0), Sense::hover());
        let mark = Rect::from_center_size(pos2(place.center().x, place.center().y), place.size());
        marks::warning(ui.painter(), mark, palette);
        ui.add(Label::new(RichText::new(text).color(palette.bad)).wrap());
    });
}
