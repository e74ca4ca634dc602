//! Azimuth: the interchannel delay as an angle, with its candidates while whole cycles are open.

mod beside;
mod desk;
mod directions;
mod line;
mod xy;

pub use desk::{AzimuthDesk, AzimuthWish};

use super::{View, head, mechanism::choices, places};
use crate::{
    readings::{PhaseMethod, PhaseReading, Readings},
    screen::{
        model::{format, stack::Part},
        paint::{
            cells::{self, Cell, cell},
            gauge::{self, Gauge, Marker},
            heard, words,
        },
        theme::{self, Palette},
    },
};
use desk::Face;
use eframe::egui::{Align2, Id, Rect, Ui, accesskit::Role, pos2};

/// Height from which a figure under the scale is worth looking at, points.
const LEAST_FACE: f32 = 110.0;
/// Width that the choice of faces takes, points; beside it the mono sum is told.
const CHOICES: f32 = 560.0;

/// Shows the view in `rect`; returns what was asked for.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    view: &View<'_>,
    desk: &mut AzimuthDesk,
) -> Option<AzimuthWish> {
    let figures = figures(view);
    let rows = cells::rows(figures.len(), rect.width()) as f32;
    let (trail, face) = match desk.face {
        Face::Figures => (
            120.0,
            Part::of(cells::ROW)
                .wanting(cells::ROW * rows)
                .in_steps_of(cells::ROW),
        ),
        Face::Directions => (60.0, Part::of(LEAST_FACE).wanting(150.0)),
        Face::Xy | Face::Line => (0.0, Part::of(LEAST_FACE).wanting(260.0).growing(2.0)),
    };
    let [head_place, gauge_place, row_place, face_place] = places(
        rect,
        [
            head::PART,
            Part::of(gauge::LEAST)
                .wanting(gauge::LEAST + trail)
                .growing(1.0),
            Part::of(choices::HEIGHT).ranked(1),
            face.ranked(2),
        ],
    );
    if let Some(place) = head_place {
        head::show(ui, place, view, &also(&view.readings.phase));
    }
    if let Some(place) = gauge_place {
        paint_gauge(ui, place, view);
    }
    if let Some(place) = row_place {
        show_row(ui, place, view, desk);
    }
    let place = face_place?;
    match desk.face {
        Face::Figures => cells::show(ui, place, Id::unique("azimuth figures"), &figures),
        Face::Xy => xy::show(ui, place, view),
        Face::Line => line::show(ui, place, view),
        Face::Directions => return directions::show(ui, place, desk),
    }
    None
}

/// The choice of faces, and why to care: what a mono listener loses.
fn show_row(ui: &mut Ui, place: Rect, view: &View<'_>, desk: &mut AzimuthDesk) {
    let (left, right) = place.split_left_right_at_x(place.left() + CHOICES.min(place.width()));
    let names = Face::ALL.into_iter().map(Face::words);
    let stands = Face::ALL.iter().position(|face| *face == desk.face);
    if let Some(pressed) = choices::show(ui, left, "azimuth", names, stands) {
        desk.face = Face::ALL[pressed];
    }
    let Some(loss) = mono_loss(&view.readings.phase).filter(|_| right.width() > 150.0) else {
        return;
    };
    let palette = Palette::of(ui);
    let painter = ui.painter_at(right);
    let line = words::line(
        &painter,
        &loss,
        theme::text,
        18.0,
        13.0,
        right.width(),
        palette.text,
    );
    words::put(
        &painter,
        pos2(right.right(), right.center().y),
        Align2::RIGHT_CENTER,
        line,
    );
    let id = Id::unique("azimuth mono sum");
    heard::reading(ui, right, id, Role::Status, "mono sum", &loss);
}

/// What a mono listener loses, in words; `None` where it is not known.
fn mono_loss(phase: &PhaseReading) -> Option<String> {
    let loss_db = phase
        .mono_sum_loss_10_khz_db
        .filter(|loss| loss.is_finite())?
        .abs();
    Some(match loss_db {
        loss if loss < 0.05 => "mono listeners lose nothing at 10 kHz".into(),
        loss if loss >= 30.0 => "mono listeners lose 10 kHz altogether at this error".into(),
        loss => format!(
            "mono listeners lose {} dB at 10 kHz at this error",
            format::plain(loss, 1)
        ),
    })
}

fn paint_gauge(ui: &Ui, place: Rect, view: &View<'_>) {
    let painter = ui.painter_at(place);
    let phase = &view.readings.phase;
    let tape_arcmin = phase.tape_azimuth_arcmin.unwrap_or(0.0);
    let gauge = Gauge::new(place, view.glance, view.band(), Palette::of(ui));
    gauge.paint_scale(&painter);
    gauge.paint_trail(&painter, &phase.trail, view.now_s(), |delay_us| {
        view.setup
            .tape_format
            .head_azimuth_arcmin(delay_us, tape_arcmin)
    });
    if view.glance.needle.is_some() {
        if phase.ambiguous {
            for candidate in phase.candidates.iter().skip(1) {
                let name = format!("{}?", format::signed(candidate.azimuth_arcmin, 1));
                gauge.paint_marker(&painter, Marker::Candidate, candidate.azimuth_arcmin, &name);
            }
        } else if let Some(mean) = phase.azimuth_arcmin {
            gauge.paint_marker(&painter, Marker::Mean, mean, "");
        }
    }
    gauge.paint_needle(&painter);
    gauge.tell(ui, "");
}

fn also(phase: &PhaseReading) -> String {
    let delay = phase.quick_delay_us.or(phase.delay_us);
    let degrees = phase.quick_degrees.or(phase.degrees);
    let delay = format::signed_with_unit(delay, 2, "µs");
    match (degrees, phase.tone_hz) {
        (Some(degrees), Some(tone_hz)) => format!(
            "delay {delay}   {}° at {}",
            format::signed(degrees, 1),
            format::tone(tone_hz.round())
        ),
        _ => format!("delay {delay}"),
    }
}

/// The second line of the card.
pub fn second_line(readings: &Readings) -> String {
    let phase = &readings.phase;
    let delay = phase.quick_delay_us.or(phase.delay_us);
    format!("delay {}", format::signed_with_unit(delay, 1, "µs"))
}

fn figures(view: &View<'_>) -> Vec<Cell> {
    let phase = &view.readings.phase;
    let wander = match phase.wander_rate_hz {
        Some(rate_hz) if rate_hz.is_finite() => format!("{rate_hz:.2} Hz"),
        _ => format::NOTHING.into(),
    };
    vec![
        cell(
            "mean since reset",
            format::signed_with_unit(phase.azimuth_arcmin, 2, "arcmin"),
        ),
        cell(
            "mean delay",
            format::signed_with_unit(phase.delay_us, 2, "µs"),
        ),
        cell(
            "its uncertainty",
            format::plus_minus(phase.delay_uncertainty_us, 2, "µs"),
        ),
        cell(
            "wander, peak to peak",
            format::with_unit(phase.wander_peak_to_peak_degrees, 1, "°"),
        ),
        cell(
            "wander, rms",
            format::with_unit(phase.wander_rms_degrees, 2, "°"),
        ),
        cell("wander rate", wander),
        cell(
            "mono sum loses",
            format::with_unit(phase.mono_sum_loss_db.map(f64::abs), 2, "dB"),
        ),
        cell("whole cycles by", whole_cycles(phase)),
        cell("coherence", coherence(phase.coherence)),
        cell("read from", read_from(phase)),
        cell("tape format", view.setup.tape_format.title.clone()),
    ]
}

fn coherence(coherence: Option<f64>) -> String {
    coherence.map_or_else(|| format::NOTHING.into(), |value| format::plain(value, 3))
}

fn whole_cycles(phase: &PhaseReading) -> String {
    match phase.cycles_settled_by {
        Some(by) => by.words().into(),
        None if phase.ambiguous => "open".into(),
        None => format::NOTHING.into(),
    }
}

fn read_from(phase: &PhaseReading) -> String {
    match phase.method {
        None => format::NOTHING.into(),
        Some(PhaseMethod::Programme) => "programme".into(),
        Some(PhaseMethod::Tone) => phase.tone_hz.map_or_else(
            || "tone".into(),
            |tone_hz| format!("tone {}", format::tone(tone_hz.round())),
        ),
    }
}
