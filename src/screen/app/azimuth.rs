//! The azimuth's part of the screen: what stands under its scale, and what is kept of both directions.

use super::ScreenApp;
use crate::{
    readings::{Direction, KeptAzimuth},
    screen::{
        keys::Command,
        model::{Adjustment, Subject},
        session::Session,
        views::AzimuthWish,
    },
};
use eframe::egui;

impl ScreenApp {
    /// Whether the azimuth is in the main view.
    pub(super) fn is_at_azimuth(&self) -> bool {
        self.shown == Subject::Adjusting(Adjustment::Azimuth)
    }

    pub(super) fn obey_azimuth(&mut self, ctx: &egui::Context, command: Command) {
        match command {
            Command::Details => self.azimuth.next_face(),
            Command::Keep => self.keep_direction(ctx, Direction::Forward),
            Command::KeepReverse => self.keep_direction(ctx, Direction::Reverse),
            _ => {}
        }
    }

    pub(super) fn grant_azimuth(&mut self, ctx: &egui::Context, wish: AzimuthWish) {
        match wish {
            AzimuthWish::Keep(direction) => self.keep_direction(ctx, direction),
            AzimuthWish::Forget => {
                self.azimuth.both = crate::readings::BothDirections::default();
                self.say(ctx, "forward and reverse are forgotten");
            }
        }
    }

    fn keep_direction(&mut self, ctx: &egui::Context, direction: Direction) {
        let readings = self.session.as_ref().and_then(Session::shown);
        let kept = match readings {
            Some(readings) => KeptAzimuth::of(&readings.phase),
            None => Err("no input is open".into()),
        };
        match kept {
            Ok(azimuth) => {
                self.azimuth.both.keep(direction, azimuth);
                self.azimuth.show_directions();
                let said = self.azimuth.both.words();
                self.say(ctx, said);
            }
            Err(why) => self.warn(ctx, format!("{} not kept: {why}", direction.name())),
        }
    }

    /// Lets the meters keep the X–Y figure only while it is looked at.
    pub(super) fn ask_for_xy(&mut self) {
        let wanted = self.is_at_azimuth() && self.azimuth.shows_xy();
        if self.setup.xy_shown == wanted {
            return;
        }
        self.setup.xy_shown = wanted;
        if let Some(session) = &self.session {
            session.change_setup(&self.setup);
        }
    }
}
