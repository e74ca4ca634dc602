//! Forward and reverse of an auto-reverse deck: both azimuths kept, and what they differ by.

use super::{AzimuthDesk, AzimuthWish};
use crate::{
    readings::Direction,
    screen::{
        paint::{heard, words},
        theme::{self, Palette},
        views::mechanism::choices,
    },
};
use eframe::egui::{Align2, Id, Rect, Ui, pos2};

/// Shows both directions in `rect`; returns what was asked for.
pub fn show(ui: &mut Ui, rect: Rect, desk: &AzimuthDesk) -> Option<AzimuthWish> {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let both = desk.both.words();
    let line = |text: &str, size: f32, color| {
        words::lines(&painter, text, theme::text(size), 3, rect.width(), color)
    };
    let galley = line(&both, 22.0, palette.text);
    let place = words::put(&painter, rect.min, Align2::LEFT_TOP, galley);
    let id = Id::unique("azimuth directions");
    heard::announced(ui, place, id, "forward and reverse", &both);
    let buttons = Rect::from_min_max(pos2(rect.left(), place.bottom() + 10.0), rect.max);
    let buttons = buttons.with_max_y(buttons.top() + choices::HEIGHT);
    let mut wish = None;
    choices::row(ui, buttons, |ui| {
        for (text, what) in [
            ("keep as forward (f)", AzimuthWish::Keep(Direction::Forward)),
            ("keep as reverse (u)", AzimuthWish::Keep(Direction::Reverse)),
            ("forget both", AzimuthWish::Forget),
        ] {
            if choices::one(ui, "azimuth", text, false) {
                wish = Some(what);
            }
        }
    });
    let hint = "Play the azimuth tape forward and keep it; turn to reverse, press r, let the mean settle, and keep that. \
                Turn one stop of the head at a time: each screw may move the other's stop.";
    let galley = line(hint, 16.0, palette.quiet);
    if buttons.bottom() + 8.0 + galley.size().y <= rect.bottom() + 1.0 {
        let at = pos2(rect.left(), buttons.bottom() + 8.0);
        words::put(&painter, at, Align2::LEFT_TOP, galley);
    }
    wish
}
