//! The mechanism: which part it is. At the top the answer in words, below it the spectrum with the rates of the deck's
//! parts, below that the list of parts by their share, and beside it what is known of the part that is chosen.

mod answer;
pub(super) mod choices;
mod kinds;
mod list;
mod sentences;
mod spectrum;
mod turn;

pub use answer::{second_line, short_answer};

use super::places;
use crate::{
    meters::MeterSetup,
    readings::{MechanismReading, Quantity, Readings},
    screen::{
        model::{
            mechanism::{Item, ItemKey, chosen, items},
            stack::Part,
        },
        paint::table,
    },
};
use eframe::egui::{Rect, Ui};

/// Width from which on the list and what belongs to the chosen part stand side by side, points.
const WIDE: f32 = 720.0;
/// Share of the width that the list then takes.
const LIST_SHARE: f32 = 0.56;
/// Room between the two, points.
const BETWEEN: f32 = 18.0;

/// What stands beside the list (or, where room is short, in its place).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Face {
    /// The list alone.
    Parts,
    /// The mean turn of the chosen part.
    #[default]
    Turn,
    /// Phase and level steadiness.
    Steadiness,
    /// Against as found.
    Compared,
}

impl Face {
    const fn words(self) -> &'static str {
        match self {
            Self::Parts => "parts",
            Self::Turn => "one turn",
            Self::Steadiness => "steadiness",
            Self::Compared => "since as found",
        }
    }

    const fn all(wide: bool) -> &'static [Self] {
        const ALL: [Face; 4] = [Face::Parts, Face::Turn, Face::Steadiness, Face::Compared];
        if wide { ALL.split_at(1).1 } else { &ALL }
    }
}

/// What the technician has chosen to see, and what was drawn of it last.
#[derive(Default)]
pub struct MechanismDesk {
    quantity: Quantity,
    unweighted: bool,
    face: Face,
    item: Option<ItemKey>,
    moved: bool,
    wide: bool,
    curve: spectrum::Curve,
}

impl MechanismDesk {
    /// The next quantity of those that were read, round.
    pub fn next_quantity(&mut self, reading: Option<&MechanismReading>) {
        let read = quantities(reading);
        let at = read.iter().position(|one| *one == self.quantity);
        let next = at.map_or(0, |at| (at + 1) % read.len());
        self.quantity = read.get(next).copied().unwrap_or_default();
    }

    /// Weighted, or not.
    pub fn toggle_weighting(&mut self) {
        self.unweighted = !self.unweighted;
    }

    /// The next face, round.
    pub fn next_face(&mut self) {
        let faces = Face::all(self.wide);
        let at = faces.iter().position(|one| *one == self.face);
        self.face = faces[at.map_or(0, |at| (at + 1) % faces.len())];
    }

    /// Another item of the list, `by` places further down; stops at the ends.
    pub fn move_choice(&mut self, reading: Option<&MechanismReading>, by: isize) {
        let Some(reading) = reading else {
            return;
        };
        let items = items(reading);
        let at = chosen(&items, self.item.as_ref()).saturating_add_signed(by);
        self.item = items
            .get(at.min(items.len().saturating_sub(1)))
            .map(Item::key);
        self.moved = true;
    }

    fn face(&self) -> Face {
        match self.face {
            Face::Parts if self.wide => Face::Turn,
            face => face,
        }
    }
}

/// The quantities that were read.
fn quantities(reading: Option<&MechanismReading>) -> Vec<Quantity> {
    reading.map_or_else(Vec::new, |reading| {
        reading.spectra.iter().map(|one| one.quantity).collect()
    })
}

/// What the view shows.
#[derive(Clone, Copy)]
pub struct MechanismView<'a> {
    /// The readings.
    pub readings: &'a Readings,
    /// The settings: mechanism, and what is kept as found.
    pub setup: &'a MeterSetup,
}

impl<'a> MechanismView<'a> {
    fn reading(&self) -> Option<&'a MechanismReading> {
        self.readings.mechanism.as_deref()
    }
}

/// What was asked for in the view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// Keep this reading as found.
    Keep,
    /// Compare with nothing any more.
    Forget,
}

/// Shows the view in `rect`.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    view: &MechanismView<'_>,
    desk: &mut MechanismDesk,
) -> Option<Wish> {
    desk.wide = rect.width() >= WIDE;
    let Some(reading) = view.reading() else {
        answer::show_reason(ui, rect, view);
        return None;
    };
    let items = items(reading);
    let at = chosen(&items, desk.item.as_ref());
    let [head, spectrum_place, lower] = places(
        rect,
        [
            Part::of(answer::LEAST).wanting(answer::WANTED),
            Part::of(spectrum::LEAST)
                .wanting(170.0)
                .growing(0.45)
                .ranked(1),
            Part::of(choices::HEIGHT + table::height(3))
                .wanting(choices::HEIGHT + table::height(7))
                .growing(0.55),
        ],
    );
    if let Some(place) = head {
        answer::show(ui, place, view, reading);
    }
    if let Some(place) = spectrum_place {
        spectrum::show(ui, place, reading, items.get(at), desk);
    }
    lower.and_then(|place| show_lower(ui, place, view, reading, &items, at, desk))
}

/// The list, and beside it or in its place one of the faces.
fn show_lower(
    ui: &mut Ui,
    place: Rect,
    view: &MechanismView<'_>,
    reading: &MechanismReading,
    items: &[Item<'_>],
    at: usize,
    desk: &mut MechanismDesk,
) -> Option<Wish> {
    let face = desk.face();
    let mut beside = place;
    if desk.wide {
        let (left, right) = place.split_left_right_at_fraction(LIST_SHARE);
        let left = left.with_max_x(left.right() - BETWEEN / 2.0);
        show_list(ui, left, reading, items, at, desk);
        beside = right.with_min_x(right.left() + BETWEEN / 2.0);
    }
    let (top, below) = beside.split_top_bottom_at_y(beside.top() + choices::HEIGHT);
    let names = Face::all(desk.wide);
    let chosen_face = names.iter().position(|one| *one == face);
    let words = names.iter().map(|face| face.words());
    if let Some(pressed) = choices::show(ui, top, "details", words, chosen_face) {
        desk.face = names[pressed];
    }
    match face {
        Face::Parts => {
            show_list(ui, below, reading, items, at, desk);
            None
        }
        Face::Turn => {
            turn::show(ui, below, reading, items.get(at), desk.quantity);
            None
        }
        Face::Steadiness => {
            sentences::show_steadiness(ui, below, reading);
            None
        }
        Face::Compared => sentences::show_comparison(ui, below, view.setup, reading),
    }
}

fn show_list(
    ui: &mut Ui,
    place: Rect,
    reading: &MechanismReading,
    items: &[Item<'_>],
    at: usize,
    desk: &mut MechanismDesk,
) {
    let list = list::List {
        reading,
        items,
        chosen: at,
        follow: std::mem::take(&mut desk.moved),
    };
    if let Some(pressed) = list::show(ui, place, list) {
        desk.item = items.get(pressed).map(Item::key);
    }
}
