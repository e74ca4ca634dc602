//! The main views, one an adjustment: each fills the window with its number, its scale and its trail.

mod azimuth;
pub mod checks;
mod flutter;
mod head;
pub mod job_list;
mod job_page;
mod level;
mod level_bars;
mod mechanism;
mod mechanism_editor;
pub mod new_job;
mod one_scale;
mod run_in;
mod speed;
mod stems;

use super::model::{Adjustment, Glance, Subject, stack, stack::Part};
use crate::{
    meters::MeterSetup,
    readings::Readings,
    tables::{Band, Limits},
};
use eframe::egui::{Rect, Sense, Ui, pos2, vec2};

pub use azimuth::{AzimuthDesk, AzimuthWish};
pub use job_page::{
    JobForm, JobPage, JobWish, show as show_job_page, show_taken as show_job_taken,
};
pub use mechanism::{MechanismDesk, MechanismView, Wish, short_answer};
pub use mechanism_editor::{Edited, MechanismEditor};
pub use run_in::{RunInView, show as show_run_in};
pub use stems::Stems;

/// What a view shows.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The adjustment at a glance.
    pub glance: &'a Glance,
    /// The readings.
    pub readings: &'a Readings,
    /// The settings they were read with: the tape format turns delay into azimuth.
    pub setup: &'a MeterSetup,
    /// The target bands.
    pub limits: &'a Limits,
    /// The keys that take the reading, as written on them.
    pub take_key: &'a str,
}

impl View<'_> {
    fn band(&self) -> Band {
        self.glance.adjustment.band(self.limits)
    }

    fn now_s(&self) -> f64 {
        self.readings.source.seconds
    }
}

/// Least height of a main view, points; below it the window scrolls.
pub const LEAST_HEIGHT: f32 = head::LEAST + GAP + super::paint::gauge::LEAST;
/// Room between the parts of a view, points.
const GAP: f32 = 8.0;

/// Shows the main view of the adjustment in all the room there is; returns what was asked for in it.
pub fn show(
    ui: &mut Ui,
    view: &View<'_>,
    stems: &mut Stems,
    desk: &mut AzimuthDesk,
) -> Option<AzimuthWish> {
    let size = vec2(
        ui.available_width(),
        ui.available_height().max(LEAST_HEIGHT),
    );
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    match view.glance.adjustment {
        Adjustment::Speed => speed::show(ui, rect, view),
        Adjustment::Flutter => flutter::show(ui, rect, view, stems),
        Adjustment::Azimuth => return azimuth::show(ui, rect, view, desk),
        Adjustment::Level => level::show(ui, rect, view),
    }
    None
}

/// Shows the mechanism in all the room there is; returns what was asked for.
pub fn show_mechanism(
    ui: &mut Ui,
    view: &MechanismView<'_>,
    desk: &mut MechanismDesk,
) -> Option<Wish> {
    let size = vec2(
        ui.available_width(),
        ui.available_height().max(LEAST_HEIGHT),
    );
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    mechanism::show(ui, rect, view, desk)
}

/// The second line of a card: a figure or two that belong to its number.
pub fn second_line(subject: Subject, readings: &Readings) -> String {
    match subject {
        Subject::Adjusting(Adjustment::Speed) => speed::second_line(readings),
        Subject::Adjusting(Adjustment::Flutter) => flutter::second_line(readings),
        Subject::Adjusting(Adjustment::Azimuth) => azimuth::second_line(readings),
        Subject::Adjusting(Adjustment::Level) => level::second_line(readings),
        Subject::Mechanism => mechanism::second_line(readings),
    }
}

/// Places of `parts` from the top of `rect` down.
fn places<const N: usize>(rect: Rect, parts: [Part; N]) -> [Option<Rect>; N] {
    let shared = stack::share(rect.height(), GAP, &parts);
    std::array::from_fn(|i| {
        shared[i].map(|(top, height)| {
            Rect::from_min_size(
                pos2(rect.left(), rect.top() + top),
                vec2(rect.width(), height),
            )
        })
    })
}
