//! The first steps, where nothing is remembered yet: input, tape format, test tape, level. A strip above the main view,
//! which stays as it is; nothing waits for it.

use crate::screen::{
    model::level_check::LevelCheck,
    paint::{heard, marks},
    theme::{self, Palette},
};
use eframe::egui::{
    Button, Id, Label, Rect, Response, RichText, ScrollArea, Sense, Ui, Vec2, accesskit::Role, vec2,
};

/// Below this width only the step in hand is named and two rows of its choices are in sight, points.
const NARROW: f32 = 760.0;
const NARROW_CHOICES: f32 = 64.0;

/// A step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Choose what to listen to.
    Input,
    /// Choose the tape format.
    Format,
    /// Choose the test tape.
    Tape,
    /// Look at the level.
    Level,
}

impl Step {
    /// All, in their order.
    pub const ALL: [Self; 4] = [Self::Input, Self::Format, Self::Tape, Self::Level];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Input => "Input",
            Self::Format => "Tape format",
            Self::Tape => "Test tape",
            Self::Level => "Level",
        }
    }

    /// The next one; `None` after the last.
    pub fn next(self) -> Option<Self> {
        let at = Self::ALL.iter().position(|step| *step == self)?;
        Self::ALL.get(at + 1).copied()
    }

    const fn task(self) -> &'static str {
        match self {
            Self::Input => "Choose below what to listen to.",
            Self::Format => {
                "Which tape does the deck play? Azimuth is reckoned from its tracks and speed."
            }
            Self::Tape => {
                "Which test tape is in the deck? Without one, the speed tone nearest to what plays is taken."
            }
            Self::Level => {
                "Heads cleaned and demagnetised, monitor turned down? Then play the tape: its peaks should lie between \
                 −20 and −6 dBFS."
            }
        }
    }
}

/// What the strip shows.
pub struct Lead<'a> {
    /// The step in hand.
    pub step: Step,
    /// What there is to choose from in it, and the one that stands.
    pub choices: Vec<&'a str>,
    /// Place of the choice that stands.
    pub stands: Option<usize>,
    /// What the level is like.
    pub level: LevelCheck,
    /// Whether the step has just begun; the choice that stands gets the focus then.
    pub begun: bool,
}

/// What was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// This choice.
    Choose(usize),
    /// The level is as wanted.
    Done,
    /// Leave this step out.
    Skip,
    /// Leave all steps out.
    SkipAll,
}

/// Shows the strip.
pub fn show(ui: &mut Ui, lead: &mut Lead<'_>) -> Option<Asked> {
    ui.spacing_mut().item_spacing = vec2(8.0, 4.0);
    let narrow = ui.available_width() < NARROW;
    let mut asked = head(ui, lead.step, narrow);
    if !narrow {
        ui.add(Label::new(lead.step.task()).wrap());
    }
    match lead.step {
        Step::Input => {}
        Step::Format | Step::Tape => {
            let chosen = if narrow {
                // The main view keeps its share: the others are scrolled to.
                ScrollArea::vertical()
                    .id_salt(("choices of a step", lead.step.name()))
                    .min_scrolled_height(NARROW_CHOICES)
                    .max_height(NARROW_CHOICES)
                    .show(ui, |ui| choices(ui, lead))
                    .inner
            } else {
                choices(ui, lead)
            };
            asked = chosen.map(Asked::Choose).or(asked);
        }
        Step::Level => asked = level(ui, lead).or(asked),
    }
    asked
}

/// The steps in a row, the one in hand marked, and the ways round them.
fn head(ui: &mut Ui, now: Step, narrow: bool) -> Option<Asked> {
    let palette = Palette::of(ui);
    let mut asked = None;
    ui.horizontal_wrapped(|ui| {
        let number = Step::ALL.iter().position(|step| *step == now).unwrap_or(0);
        for (index, step) in Step::ALL.into_iter().enumerate() {
            if narrow && index != number {
                continue;
            }
            let name = format!("{} {}", index + 1, step.name());
            let text = if index == number {
                RichText::new(name).font(theme::strong(17.0)).underline()
            } else {
                RichText::new(name).color(palette.quiet)
            };
            ui.add(Label::new(text));
            if index < number {
                ui.add(Label::new(RichText::new("passed").color(palette.good)));
            }
        }
        let spoken = format!("step {} of {}: {}", number + 1, Step::ALL.len(), now.name());
        let (place, _) = ui.allocate_exact_size(vec2(1.0, 20.0), Sense::hover());
        heard::announced(ui, place, Id::unique("first steps"), "First steps", &spoken);
        if ui.button("Skip this step (x)").clicked() {
            asked = Some(Asked::Skip);
        }
        if ui.button("Skip all").clicked() {
            asked = Some(Asked::SkipAll);
        }
    });
    asked
}

fn choices(ui: &mut Ui, lead: &mut Lead<'_>) -> Option<usize> {
    let mut chosen = None;
    ui.horizontal_wrapped(|ui| {
        for (index, name) in lead.choices.iter().enumerate() {
            let stands = lead.stands == Some(index);
            let button = ui.add(Button::new(*name).selected(stands));
            if lead.begun && (stands || (lead.stands.is_none() && index == 0)) {
                take_focus(&button, &mut lead.begun);
            }
            if button.gained_focus() {
                button.scroll_to_me(None);
            }
            if button.clicked() {
                chosen = Some(index);
            }
        }
    });
    chosen
}

fn level(ui: &mut Ui, lead: &mut Lead<'_>) -> Option<Asked> {
    let palette = Palette::of(ui);
    let mut asked = None;
    ui.horizontal_wrapped(|ui| {
        let (place, _) = ui.allocate_exact_size(vec2(22.0, 28.0), Sense::hover());
        let mark = Rect::from_center_size(place.center(), Vec2::splat(18.0));
        let color = if lead.level.is_good {
            ui.painter().circle_filled(mark.center(), 7.0, palette.good);
            palette.good
        } else {
            marks::warning(ui.painter(), mark, palette);
            palette.text
        };
        let text = RichText::new(&lead.level.words).font(theme::strong(20.0));
        let place = ui.add(Label::new(text.color(color)).wrap()).rect;
        let id = Id::unique("level check");
        heard::reading(
            ui,
            place,
            id,
            Role::Status,
            "Level check",
            &lead.level.words,
        );
        let done = if lead.level.is_good {
            "Done"
        } else {
            "Done all the same"
        };
        let done = ui.button(done);
        if lead.begun {
            take_focus(&done, &mut lead.begun);
        }
        if done.clicked() {
            asked = Some(Asked::Done);
        }
    });
    asked
}

fn take_focus(button: &Response, begun: &mut bool) {
    button.request_focus();
    *begun = false;
}
