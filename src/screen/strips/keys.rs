//! The key strip: what can be asked for, each with its key, clickable too.

use crate::screen::{
    foot_keys::FootKeys,
    keys::{BINDINGS, Binding, Command, Side},
    paint::words,
    theme::{self, Palette},
};
use eframe::egui::{
    Align2, Rect, Sense, Stroke, StrokeKind, Ui, WidgetInfo, accesskit::Role, pos2, vec2,
};

/// What is switched on, to be marked in the strip.
#[derive(Clone, Copy, Debug, Default)]
pub struct Switched {
    /// The display is held.
    pub hold: bool,
    /// The side panel that is open.
    pub side: Option<Side>,
    /// Whether there is something to turn.
    pub screwdrivers: bool,
    /// Whether room is short.
    pub brief: bool,
    /// Whether the mechanism is in the main view.
    pub mechanism: bool,
    /// Whether the job page is in the main view; `None` where no jobs are kept.
    pub job: Option<bool>,
    /// The keys of a foot switch.
    pub foot: FootKeys,
    /// Whether the azimuth is.
    pub azimuth: bool,
}

/// Shows the strip; returns what was clicked.
pub fn show(ui: &mut Ui, switched: Switched) -> Option<Command> {
    let mut clicked = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(6.0, 4.0);
        for binding in BINDINGS.iter().filter(|binding| !binding.short.is_empty()) {
            let command = binding.command;
            let turnable = command == Command::Toggle(Side::Screwdrivers);
            let elsewhere = if switched.mechanism {
                command.is_of_adjusting()
            } else if switched.azimuth && command.is_of_azimuth() {
                false
            } else {
                command.is_of_the_mechanism()
            };
            let of_the_job = matches!(
                command,
                Command::Job | Command::Jobs | Command::Stage | Command::Toggle(Side::Standards)
            );
            let idle = elsewhere
                || (turnable && !switched.screwdrivers)
                || (of_the_job && switched.job.is_none());
            if idle || (switched.brief && !binding.is_vital()) {
                continue;
            }
            let on = match binding.command {
                Command::Hold => switched.hold,
                Command::Job => switched.job == Some(true),
                Command::Toggle(side) => switched.side == Some(side),
                _ => false,
            };
            let cap = switched.foot.cap(command).unwrap_or(binding.cap);
            if key(ui, binding, cap, on) {
                clicked = Some(binding.command);
            }
        }
    });
    clicked
}

fn key(ui: &mut Ui, binding: &Binding, cap: &str, on: bool) -> bool {
    let palette = Palette::of(ui);
    let galley = ui
        .painter()
        .layout_no_wrap(cap.into(), theme::strong(14.0), palette.text);
    let word = ui
        .painter()
        .layout_no_wrap(binding.short.into(), theme::text(15.0), palette.text);
    let cap_width = (galley.size().x + 10.0).max(22.0);
    let size = vec2(cap_width + 6.0 + word.size().x + 8.0, 26.0);
    let (place, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| {
        let name = format!("{} ({cap})", binding.short);
        WidgetInfo::selected(Role::Button, true, on, name)
    });
    let painter = ui.painter();
    if on {
        painter.rect_filled(place, 3.0, palette.aim);
    }
    if response.hovered() || response.has_focus() {
        let edge = Stroke::new(1.5, palette.text);
        painter.rect_stroke(place, 3.0, edge, StrokeKind::Inside);
    }
    let cap_place = Rect::from_min_size(place.min + vec2(2.0, 2.0), vec2(cap_width, 22.0));
    painter.rect_filled(cap_place, 3.0, palette.raised);
    let edge = Stroke::new(1.0, palette.line);
    painter.rect_stroke(cap_place, 3.0, edge, StrokeKind::Inside);
    words::put(painter, cap_place.center(), Align2::CENTER_CENTER, galley);
    let at = pos2(cap_place.right() + 5.0, place.center().y);
    words::put(painter, at, Align2::LEFT_CENTER, word);
    response.on_hover_text(binding.long).clicked()
}
