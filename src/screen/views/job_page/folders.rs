//! The folders that belong to the whole job: notes, parts, circumstances, limits, the deck.

use super::{JobForm, JobPage, JobWish, hint};
use crate::{
    bench::{Environment, keeping::Entry, sheet::Paper},
    screen::{
        job_desk::{Which, words},
        model::{harmless, job_table},
    },
};
use eframe::egui::{Button, Label, RichText, Ui};

/// Letters of what was typed that are shown.
const SHOWN: usize = 300;
/// Width of a field for a number, points.
const NUMBER: f32 = 100.0;

/// Notes, some of them for the owner.
pub fn notes(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    let entered = JobForm::field(ui, &mut form.focus, "Note", &mut form.note, f32::INFINITY);
    let mut pressed = false;
    ui.horizontal_wrapped(|ui| {
        ui.checkbox(&mut form.for_owner, "for the owner's page");
        pressed = ui.button("Add the note").clicked();
    });
    let mut wish = None;
    if entered || pressed {
        wish = typed(&mut form.note, &mut form.problem, "the note is empty")
            .map(|text| JobWish::Note(text, form.for_owner));
    }
    let all = page.in_hand.job.notes.iter().zip(&page.in_hand.notes);
    for (note, which) in all.rev() {
        let owner = if note.for_owner {
            " (for the owner)"
        } else {
            ""
        };
        let typed = harmless::line(&note.text, SHOWN);
        let text = format!("{}{owner}: {typed}", job_table::clock(note.at, page.zone));
        wish = line(ui, &text, *which, || Entry::Note(note.clone())).or(wish);
    }
    bring_back(ui, page).or(wish)
}

/// Parts that were replaced.
pub fn parts(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    let entered = JobForm::field(
        ui,
        &mut form.focus,
        "Part replaced, and by what",
        &mut form.part,
        f32::INFINITY,
    );
    let pressed = ui.button("Add the part").clicked();
    let mut wish = None;
    if entered || pressed {
        wish = typed(&mut form.part, &mut form.problem, "say which part").map(JobWish::Part);
    }
    let all = page.in_hand.job.parts.iter().zip(&page.in_hand.parts);
    for (part, which) in all.rev() {
        let typed = harmless::line(&part.what, SHOWN);
        let text = format!("{}: {typed}", job_table::clock(part.at, page.zone));
        wish = line(ui, &text, *which, || Entry::Part(part.clone())).or(wish);
    }
    bring_back(ui, page).or(wish)
}

/// What was typed, and the field empty again; or what is wrong.
fn typed(text: &mut String, problem: &mut Option<String>, empty: &str) -> Option<String> {
    let typed = text.trim().to_owned();
    if typed.is_empty() {
        *problem = Some(empty.into());
        return None;
    }
    *problem = None;
    text.clear();
    Some(typed)
}

/// An entry with its button.
fn line(ui: &mut Ui, text: &str, which: Which, entry: impl Fn() -> Entry) -> Option<JobWish> {
    let mut wish = None;
    ui.horizontal_top(|ui| {
        if ui.add(Button::new("take back").small()).clicked() {
            wish = Some(JobWish::Withdraw(which, entry()));
        }
        let waits = if which == Which::Waiting {
            " (NOT SAVED YET)"
        } else {
            ""
        };
        let text = RichText::new(format!("{text}{waits}")).size(15.0);
        ui.add(Label::new(text).wrap());
    });
    wish
}

/// The way back for what was taken back last.
fn bring_back(ui: &mut Ui, page: &JobPage<'_>) -> Option<JobWish> {
    let entry = page.redo?;
    let name = format!(
        "Bring back (y): {}",
        harmless::line(&words::entry(entry), SHOWN)
    );
    ui.add(Button::new(name).wrap())
        .clicked()
        .then_some(JobWish::Redo)
}

/// Room temperature, mains, warm-up.
pub fn circumstances(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    let mut entered = false;
    ui.horizontal_wrapped(|ui| {
        for (name, text) in [
            ("Room temperature, °C", &mut form.temperature),
            ("Mains voltage, V", &mut form.mains),
            ("Warm-up before as left, minutes", &mut form.warm_up),
        ] {
            entered |= JobForm::field(ui, &mut form.focus, name, text, NUMBER);
        }
    });
    hint(
        ui,
        "Read the mains voltage from a meter made for it; mains work belongs to qualified people. Empty: not known.",
    );
    if !(ui.button("Save the circumstances").clicked() || entered) {
        return None;
    }
    let read = (|| {
        Ok::<_, String>(Environment {
            temperature_c: number("room temperature", &form.temperature, -40.0, 60.0)?,
            mains_volts: number("mains voltage", &form.mains, 0.0, 1000.0)?,
            warm_up_minutes: number("warm-up", &form.warm_up, 0.0, 10_000.0)?,
        })
    })();
    match read {
        Ok(environment) => {
            form.problem = None;
            (environment != page.in_hand.job.environment)
                .then_some(JobWish::Environment(environment))
        }
        Err(problem) => {
            form.problem = Some(problem);
            None
        }
    }
}

/// A number within bounds, with comma or point; nothing where the field is empty.
fn number(name: &str, text: &str, least: f64, greatest: f64) -> Result<Option<f64>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    let value: f64 = text
        .replace(',', ".")
        .replace('−', "-")
        .parse()
        .map_err(|_| format!("{name}: '{}' is not a number", shortened(text)))?;
    if (least..=greatest).contains(&value) {
        Ok(Some(value))
    } else {
        Err(format!(
            "{name}: {value} is not between {least} and {greatest}"
        ))
    }
}

fn shortened(text: &str) -> String {
    text.chars().take(40).collect()
}

/// The sets of limits to judge by.
pub fn limits(ui: &mut Ui, page: &JobPage<'_>) -> Option<JobWish> {
    let used = &page.in_hand.job.limits;
    let mut wish = None;
    ui.columns(2, |columns| {
        let [left, right] = columns else {
            return;
        };
        left.add(Label::new(RichText::new(format!("Judged by: {}", used.title)).strong()).wrap());
        for limit in &used.limits {
            let text = format!("{}: {}", limit.quantity.name(), limit.words());
            left.add(Label::new(RichText::new(text).size(15.0)).wrap())
                .on_hover_text(&limit.source);
        }
        right.label("Judge by other limits from now on:");
        for set in page.limits {
            let is_used = set == used;
            let name = if is_used {
                format!("{} (in use)", set.title)
            } else {
                set.title.clone()
            };
            let button = right.add_enabled(!is_used, Button::new(name).wrap());
            if button.clicked() {
                wish = Some(JobWish::Limits(Box::new(set.clone())));
            }
        }
        if let Some(problem) = page.limits_problem {
            super::problem_line(right, problem);
        }
        hint(
            right,
            "A deck's own limits, from its manual: a file of yours in the folder 'limits' beside the record.",
        );
    });
    wish
}

/// What the owner said, earlier jobs, the way out.
pub fn deck(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    let job = &page.in_hand.job;
    let mut wish = None;
    let entered = JobForm::field(
        ui,
        &mut form.focus,
        "What the owner says",
        &mut form.complaint,
        f32::INFINITY,
    );
    ui.horizontal_wrapped(|ui| {
        if ui.button("Save the owner's words").clicked() || entered {
            let complaint = form.complaint.trim();
            wish = (complaint != job.complaint).then(|| JobWish::Complaint(complaint.to_owned()));
        }
        if job.closed.is_some() {
            if ui.button("Reopen the job").clicked() {
                wish = Some(JobWish::Reopen);
            }
        } else if ui.button("Close the job: the deck goes back").clicked() {
            wish = Some(JobWish::Close);
        }
        if ui.button("Put the job away").clicked() {
            wish = Some(JobWish::PutAway);
        }
        for (name, paper) in [
            ("Owner's sheet, A4", Paper::A4),
            ("Owner's sheet, Letter", Paper::Letter),
        ] {
            if ui.button(name).clicked() {
                wish = Some(JobWish::Sheet(paper));
            }
        }
        if ui.button("Write it into a file (JSON)").clicked() {
            wish = Some(JobWish::Export);
        }
    });
    let since = format!("Here since {}.", job_table::clock(job.opened, page.zone));
    let closed = job.closed.map_or_else(String::new, |at| {
        format!(" Closed {}.", job_table::clock(at, page.zone))
    });
    hint(ui, &format!("{since}{closed}"));
    earlier(ui, page);
    wish
}

fn earlier(ui: &mut Ui, page: &JobPage<'_>) {
    if page.in_hand.earlier.is_empty() {
        let why = if page.in_hand.job.deck.serial.trim().is_empty() {
            "Earlier jobs are found by the serial number; this deck has none."
        } else {
            "This deck was not here before."
        };
        hint(ui, why);
        return;
    }
    for job in &page.in_hand.earlier {
        let text = format!(
            "{}, {}: {}",
            job.number,
            job_table::clock_date(job.opened, page.zone),
            job_table::in_short(job)
        );
        ui.add(Label::new(RichText::new(text).size(15.0)).wrap());
    }
}
