//! The folder of the station in hand: the history of its tries, leaving it out, what earlier jobs had there.

use super::{JobForm, JobPage, JobWish, hint};
use crate::{
    bench::{Station, keeping::Entry},
    screen::{
        job_desk::{InHand, Which, words},
        model::{
            harmless,
            job_table::{self, Try},
        },
    },
};
use eframe::egui::{Button, Label, RichText, Ui};
use jiff::tz::TimeZone;

/// Shows the folder.
pub fn show(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    let mut wish = None;
    ui.columns(2, |columns| {
        let [left, right] = columns else {
            return;
        };
        let asked = leave_out(right, page, form);
        wish = history(left, page).or(asked);
    });
    wish
}

/// All tries at the station, newest first.
fn history(ui: &mut Ui, page: &JobPage<'_>) -> Option<JobWish> {
    let (in_hand, station) = (page.in_hand, page.station);
    let tries = job_table::tries(in_hand, station, page.zone);
    if tries.is_empty() {
        hint(
            ui,
            match station {
                Station::Mechanical => "No check yet.",
                _ => "No reading yet: space takes the one on its card below.",
            },
        );
        return None;
    }
    let mut wish = None;
    for one in &tries {
        wish = a_try(ui, in_hand, station, one).or(wish);
    }
    wish
}

fn a_try(ui: &mut Ui, in_hand: &InHand, station: Station, one: &Try) -> Option<JobWish> {
    let mut wish = None;
    ui.horizontal_top(|ui| {
        let entry = || entry_of(in_hand, station, one.place);
        let button = if one.withdrawn { "restore" } else { "withdraw" };
        let pressed = ui.add(Button::new(button).small()).clicked();
        if pressed && let Some((which, entry)) = entry() {
            wish = Some(if one.withdrawn {
                JobWish::Restore(which, entry)
            } else {
                JobWish::Withdraw(which, entry)
            });
        }
        let sign = match (one.withdrawn, one.waits, one.counts) {
            (true, ..) => "withdrawn",
            (_, true, _) => "NOT SAVED YET",
            (.., true) => "counts",
            _ => "earlier try",
        };
        let mut text = RichText::new(format!("{} ({sign})", one.words)).size(15.0);
        if one.withdrawn {
            text = text.strikethrough().weak();
        } else if !one.counts {
            text = text.weak();
        }
        ui.add(Label::new(text).wrap());
    });
    wish
}

fn entry_of(in_hand: &InHand, station: Station, place: usize) -> Option<(Which, Entry)> {
    if station == Station::Mechanical {
        let check = in_hand.job.checks.get(place)?.clone();
        Some((*in_hand.checks.get(place)?, Entry::Check(check)))
    } else {
        let reading = in_hand.job.readings.get(place)?.clone();
        Some((*in_hand.readings.get(place)?, Entry::Reading(reading)))
    }
}

/// Leaving the station out, and what earlier jobs had.
fn leave_out(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    let row = page.rows.iter().find(|row| row.station == page.station)?;
    if !row.earlier.is_empty() {
        ui.add(Label::new(format!("Earlier: {}.", row.earlier)).wrap());
    }
    let job = &page.in_hand.job;
    let mut wish = None;
    if page.station == Station::Mechanical {
        let button = ui.button("Type the checks");
        if std::mem::take(&mut form.focus) {
            button.request_focus();
        }
        if button.clicked() {
            wish = Some(JobWish::Checks);
        }
        ui.add_space(6.0);
    }
    let skip = job.skipped(page.station, page.stage);
    if let Some(skip) = skip {
        let place = job.skips.iter().position(|one| one == skip);
        ui.add(
            Label::new(format!(
                "Left out {}: {}",
                skip.stage.words(),
                harmless::line(&skip.reason, 300)
            ))
            .wrap(),
        );
        let which = place.and_then(|place| page.in_hand.skips.get(place));
        if ui.button("Do not leave it out").clicked()
            && let Some(which) = which
        {
            wish = Some(JobWish::Withdraw(*which, Entry::Skip(skip.clone())));
        }
        return wish;
    }
    let name = format!("Leave it out {}, because", page.stage.words());
    let entered = JobForm::field(ui, &mut form.focus, &name, &mut form.reason, f32::INFINITY);
    if ui.button("Leave this station out").clicked() || entered {
        let reason = form.reason.trim();
        if reason.is_empty() {
            form.problem = Some("to leave a station out, say why".into());
        } else {
            wish = Some(JobWish::Skip(reason.to_owned()));
            form.reason.clear();
            form.problem = None;
        }
    }
    wish
}

/// The readings of the whole job in the side panel, newest first.
pub fn show_taken(ui: &mut Ui, in_hand: &InHand, zone: &TimeZone) -> Option<JobWish> {
    ui.add(
        Label::new(RichText::new(format!("Readings of {}", in_hand.job.number)).heading()).wrap(),
    );
    ui.add_space(4.0);
    let job = &in_hand.job;
    if job.readings.is_empty() {
        hint(
            ui,
            "None yet. Space takes the reading of the adjustment in the main view.",
        );
        return None;
    }
    let mut wish = None;
    for (reading, which) in job.readings.iter().zip(&in_hand.readings).rev() {
        ui.separator();
        let entry = Entry::Reading(reading.clone());
        let title = format!(
            "{} {}",
            job_table::clock(reading.at, zone),
            words::entry(&entry)
        );
        ui.add(Label::new(title).wrap());
        let verdict = job_table::verdict_words(&reading.figures, &job.limits);
        let waits = if *which == Which::Waiting {
            ", not saved yet"
        } else {
            ""
        };
        if reading.withdrawn.is_some() {
            hint(ui, &format!("{verdict}, withdrawn{waits}"));
            if ui.add(Button::new("restore").small()).clicked() {
                wish = Some(JobWish::Restore(*which, entry));
            }
        } else {
            hint(ui, &format!("{verdict}{waits}"));
            if ui.add(Button::new("withdraw").small()).clicked() {
                wish = Some(JobWish::Withdraw(*which, entry));
            }
        }
    }
    wish
}
