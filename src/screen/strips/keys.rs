//! The key strip: what can be asked for, each with its key, clickable too.

use crate::screen::{
    foot_keys::FootKeys,
    keys::{BINDINGS, Binding, Command, Side},
    paint::words,
    theme::{self, Palette},
};
use eframe::egui::{
    Align2, Galley, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, accesskit::Role, pos2,
    vec2,
};
use std::sync::Arc;

/// Between two keys, points.
const GAP: Vec2 = vec2(6.0, 4.0);

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

/// Shows the strip; returns what was clicked. Where not all keys have room in one row, only the vital ones are shown.
pub fn show(ui: &mut Ui, switched: Switched) -> Option<Command> {
    let mut shown: Vec<_> = BINDINGS
        .iter()
        .filter(|binding| !binding.short.is_empty() && !switched.is_idle(binding.command))
        .collect();
    let cap = |binding: &Binding| switched.foot.cap(binding.command).unwrap_or(binding.cap);
    let row: f32 = shown
        .iter()
        .map(|binding| Faces::of(ui, binding, cap(binding)).size().x + GAP.x)
        .sum();
    if switched.brief || row - GAP.x > ui.available_width() {
        shown.retain(|binding| binding.is_vital());
    }
    let mut clicked = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = GAP;
        for binding in shown {
            let on = switched.is_on(binding.command);
            if key(ui, binding, cap(binding), on) {
                clicked = Some(binding.command);
            }
        }
    });
    clicked
}

impl Switched {
    /// Whether the command means nothing at the moment.
    fn is_idle(&self, command: Command) -> bool {
        let elsewhere = if self.mechanism {
            command.is_of_adjusting()
        } else if self.azimuth && command.is_of_azimuth() {
            false
        } else {
            command.is_of_the_mechanism()
        };
        let turns_nothing = command == Command::Toggle(Side::Screwdrivers) && !self.screwdrivers;
        let of_the_job = matches!(
            command,
            Command::Job | Command::Jobs | Command::Stage | Command::Toggle(Side::Standards)
        );
        elsewhere || turns_nothing || (of_the_job && self.job.is_none())
    }

    fn is_on(&self, command: Command) -> bool {
        match command {
            Command::Hold => self.hold,
            Command::Job => self.job == Some(true),
            Command::Toggle(side) => self.side == Some(side),
            _ => false,
        }
    }
}

/// A key's cap and its word, laid out.
struct Faces {
    cap: Arc<Galley>,
    word: Arc<Galley>,
}

impl Faces {
    fn of(ui: &Ui, binding: &Binding, cap: &str) -> Self {
        let color = Palette::of(ui).text;
        let painter = ui.painter();
        Self {
            cap: painter.layout_no_wrap(cap.into(), theme::strong(14.0), color),
            word: painter.layout_no_wrap(binding.short.into(), theme::text(15.0), color),
        }
    }

    fn cap_width(&self) -> f32 {
        (self.cap.size().x + 10.0).max(22.0)
    }

    fn size(&self) -> Vec2 {
        vec2(self.cap_width() + 6.0 + self.word.size().x + 8.0, 26.0)
    }
}

fn key(ui: &mut Ui, binding: &Binding, cap: &str, on: bool) -> bool {
    let palette = Palette::of(ui);
    let faces = Faces::of(ui, binding, cap);
    let (place, response) = ui.allocate_exact_size(faces.size(), Sense::click());
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
    let cap_place = Rect::from_min_size(place.min + vec2(2.0, 2.0), vec2(faces.cap_width(), 22.0));
    painter.rect_filled(cap_place, 3.0, palette.raised);
    let edge = Stroke::new(1.0, palette.line);
    painter.rect_stroke(cap_place, 3.0, edge, StrokeKind::Inside);
    words::put(
        painter,
        cap_place.center(),
        Align2::CENTER_CENTER,
        faces.cap,
    );
    let at = pos2(cap_place.right() + 5.0, place.center().y);
    words::put(painter, at, Align2::LEFT_CENTER, faces.word);
    response.on_hover_text(binding.long).clicked()
}
