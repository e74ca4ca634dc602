//! Setting the keys of a foot switch, and putting cautions away.

use super::ScreenApp;
use crate::screen::{
    foot_keys::{FootAction, FootKeys},
    keys,
    model::cautions::Moment,
    panels::keys::{Asked, FootPanel},
    session::Session,
};
use eframe::egui::{self, Key, Ui};

/// What is being set.
#[derive(Default)]
pub(super) struct Setting {
    /// The action whose key is waited for.
    waiting: Option<FootAction>,
    /// Why the last key was refused.
    problem: Option<String>,
}

impl Setting {
    pub(super) fn is_waiting(&self) -> bool {
        self.waiting.is_some()
    }

    /// Waits for no key any more.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }
}

impl ScreenApp {
    /// Takes up the keys of the run before, as far as they are free.
    pub(super) fn recall_foot_keys(&mut self, ctx: &egui::Context) {
        let (keys, refused) = self.remembered.foot.checked();
        self.remembered.foot = keys;
        if let Some(why) = refused {
            self.warn(ctx, why);
        }
    }

    /// While a key is waited for, the next one is set, whatever it does otherwise. Esc leaves things as they are.
    pub(super) fn catch_key(&mut self, ctx: &egui::Context) {
        let Some(action) = self.foot.waiting else {
            return;
        };
        match keys::caught(ctx, &self.early) {
            None => {}
            Some(Key::Escape) => self.foot.forget(),
            Some(key) => match self.remembered.foot.with(action, key) {
                Ok(keys) => {
                    self.foot.forget();
                    self.use_foot_keys(ctx, keys);
                }
                Err(why) => self.foot.problem = Some(why),
            },
        }
    }

    fn use_foot_keys(&mut self, ctx: &egui::Context, keys: FootKeys) {
        self.remembered.foot = keys;
        let [take, next] = FootAction::ALL.map(|action| keys.in_words(action));
        self.say(ctx, format!("{take} takes the reading, {next} moves on"));
        self.keep(ctx);
    }

    pub(super) fn fill_keys(&mut self, ui: &mut Ui) {
        let panel = FootPanel {
            keys: self.remembered.foot,
            waiting: self.foot.waiting,
            problem: self.foot.problem.as_deref(),
        };
        let ctx = ui.ctx().clone();
        match panel.show(ui) {
            Some(Asked::Wait(action)) => {
                self.foot.problem = None;
                self.foot.waiting = Some(action);
                // A button that has the focus would take Enter and Space for itself, and Tab would leave it.
                ctx.memory_mut(|memory| {
                    if let Some(id) = memory.focused() {
                        memory.surrender_focus(id);
                    }
                });
            }
            Some(Asked::Forget) => self.foot.forget(),
            Some(Asked::Usual) => {
                self.foot.forget();
                self.use_foot_keys(&ctx, FootKeys::default());
            }
            None => {}
        }
    }

    /// The caution to show at this moment. The first steps say themselves what is to be known before the tape plays; the
    /// adjustment comes after them.
    pub(super) fn caution(&self) -> Option<Moment> {
        if self.lead.is_some() {
            return None;
        }
        let readings = self.session.as_ref().and_then(Session::live);
        let tape = self.setup.tone_hz.is_some();
        self.cautions.due(readings.map(|live| &**live), tape)
    }

    /// The caution on show was read.
    pub(super) fn caution_read(&mut self, ctx: &egui::Context) {
        match self.caution() {
            Some(moment) => self.cautions.was_read(moment),
            None => self.say(ctx, "no caution is due; c shows all of them"),
        }
    }
}
