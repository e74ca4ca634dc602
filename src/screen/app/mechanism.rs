//! The mechanism's part of the screen: choosing and editing its file, and keeping a reading as found.

use super::ScreenApp;
use crate::{
    meters::AsFound,
    screen::{
        deck_shelf::{DeckChoice, DeckList, DeckShelf},
        keys::{Command, Side},
        model::{Subject, mechanism_form::MechanismForm},
        panels::mechanism::{Asked, MechanismPanel},
        session::Session,
        views::{Edited, MechanismDesk, MechanismEditor, MechanismView, Wish},
    },
    tables::Mechanism,
};
use eframe::egui::{self, Ui};
use std::sync::Arc;

/// What the screen knows of mechanisms.
#[derive(Default)]
pub(super) struct Bench {
    shelf: DeckShelf,
    list: DeckList,
    choice: Option<DeckChoice>,
    /// Whether the technician has chosen, be it none: a deck's own file does not go before that.
    is_chosen: bool,
    problem: Option<String>,
    editor: Option<MechanismEditor>,
    desk: MechanismDesk,
}

impl Bench {
    pub(super) fn new(shelf: DeckShelf) -> Self {
        Self {
            shelf,
            ..Self::default()
        }
    }

    /// The mechanisms to choose from, as they were listed last.
    pub(super) fn list(&self) -> &DeckList {
        &self.list
    }

    /// What is drawn of another input has nothing to do with the new one.
    pub(super) fn clear(&mut self) {
        self.desk = MechanismDesk::default();
    }
}

impl ScreenApp {
    /// Takes up the mechanism of the run before, unless the command line names one.
    pub(super) fn recall_mechanism(&mut self, ctx: &egui::Context) {
        if self.setup.mechanism.is_some() {
            self.mechanisms.is_chosen = true;
            return;
        }
        let Some(choice) = self.remembered.mechanism.clone() else {
            return;
        };
        match self.mechanisms.shelf.open(&choice) {
            Ok(mechanism) => {
                self.mechanisms.choice = Some(choice);
                self.mechanisms.is_chosen = true;
                self.setup.mechanism = Some(Arc::new(mechanism));
            }
            Err(why) => self.warn(ctx, why),
        }
    }

    /// Takes the mechanism that the deck just opened names, or none where it names none, unless one was chosen. Not
    /// remembered: it comes with the deck.
    pub(super) fn take_decks_mechanism(&mut self, ctx: &egui::Context, named: Option<DeckChoice>) {
        if self.mechanisms.is_chosen {
            return;
        }
        let opened = named.map(|choice| (self.mechanisms.shelf.open(&choice), choice));
        let (mechanism, choice) = match opened {
            Some((Ok(mechanism), choice)) => (Some(Arc::new(mechanism)), Some(choice)),
            Some((Err(why), _)) => {
                self.warn(ctx, why);
                (None, None)
            }
            None => (None, None),
        };
        self.setup.mechanism = mechanism;
        self.mechanisms.choice = choice;
    }

    /// Looks at the folder of own files again.
    pub(super) fn list_mechanisms(&mut self) {
        self.mechanisms.list = self.mechanisms.shelf.list();
        self.mechanisms.problem = None;
    }

    pub(super) fn obey_mechanism(&mut self, ctx: &egui::Context, command: Command) {
        if self.shown != Subject::Mechanism {
            return;
        }
        let readings = self.session.as_ref().and_then(Session::shown);
        let reading = readings.and_then(|readings| readings.mechanism.as_deref());
        let desk = &mut self.mechanisms.desk;
        match command {
            Command::Keep => self.keep_as_found(ctx),
            Command::Part(by) => desk.move_choice(reading, by),
            Command::Quantity => desk.next_quantity(reading),
            Command::Weighting => desk.toggle_weighting(),
            Command::Details => desk.next_face(),
            _ => {}
        }
    }

    fn keep_as_found(&mut self, ctx: &egui::Context) {
        let readings = self.session.as_ref().and_then(Session::shown);
        let Some(reading) = readings.and_then(|readings| readings.mechanism.clone()) else {
            self.warn(
                ctx,
                "nothing to keep as found: the mechanism is not read yet",
            );
            return;
        };
        let said = format!(
            "kept as found: {:.0} s. After the repair press r: the new reading is compared with it (v)",
            reading.seconds
        );
        self.setup.mechanism_as_found = Some(AsFound(reading));
        self.send_setup();
        self.say(ctx, said);
    }

    fn forget_as_found(&mut self, ctx: &egui::Context) {
        self.setup.mechanism_as_found = None;
        self.send_setup();
        self.say(ctx, "compared with nothing any more");
    }

    pub(super) fn send_setup(&self) {
        if let Some(session) = &self.session {
            session.change_setup(&self.setup);
        }
    }

    /// The mechanism in the main view, or its editor.
    pub(super) fn fill_mechanism(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let Some(readings) = self.session.as_ref().and_then(Session::shown) else {
            return;
        };
        let view = MechanismView {
            readings,
            setup: &self.setup,
        };
        let wish = crate::screen::views::show_mechanism(ui, &view, &mut self.mechanisms.desk);
        match wish {
            Some(Wish::Keep) => self.keep_as_found(&ctx),
            Some(Wish::Forget) => self.forget_as_found(&ctx),
            None => {}
        }
    }

    /// Whether a mechanism is being edited.
    pub(super) fn is_editing(&self) -> bool {
        self.shown == Subject::Mechanism && self.mechanisms.editor.is_some()
    }

    pub(super) fn fill_editor(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let Some(editor) = &mut self.mechanisms.editor else {
            return;
        };
        match editor.show(ui) {
            Some(Edited::Close) => self.mechanisms.editor = None,
            Some(Edited::Save(mechanism, from)) => {
                match self.mechanisms.shelf.save(&mechanism, from.as_ref()) {
                    Ok(choice) => {
                        self.mechanisms.editor = None;
                        self.use_mechanism(&ctx, Some((choice, *mechanism)));
                        self.list_mechanisms();
                    }
                    Err(why) => editor.refuse(why),
                }
            }
            None => {}
        }
    }

    pub(super) fn fill_mechanisms(&mut self, ui: &mut Ui, opened: bool) {
        let ctx = ui.ctx().clone();
        let bench = &self.mechanisms;
        let panel = MechanismPanel {
            list: &bench.list,
            used: self.setup.mechanism.as_deref(),
            choice: bench.choice.as_ref(),
            folder: bench.shelf.folder(),
            problem: bench.problem.as_deref(),
            opened,
        };
        match panel.show(ui) {
            Some(Asked::Use(choice)) => match self.mechanisms.shelf.open(&choice) {
                Ok(mechanism) => self.use_mechanism(&ctx, Some((choice, mechanism))),
                Err(why) => self.mechanisms.problem = Some(why),
            },
            Some(Asked::None) => self.use_mechanism(&ctx, None),
            Some(Asked::Edit) => self.edit_mechanism(),
            Some(Asked::New) => self.open_editor(MechanismForm::empty(), None),
            None => {}
        }
    }

    fn edit_mechanism(&mut self) {
        let Some(used) = &self.setup.mechanism else {
            return;
        };
        let mut form = MechanismForm::of(used);
        let own = self
            .mechanisms
            .choice
            .clone()
            .filter(|choice| matches!(choice, DeckChoice::File(_)));
        if own.is_none() {
            form.name += "-own";
            form.title += ", own copy";
        }
        self.open_editor(form, own);
    }

    fn open_editor(&mut self, form: MechanismForm, from: Option<DeckChoice>) {
        self.mechanisms.editor = Some(MechanismEditor::new(form, from));
        self.shown = Subject::Mechanism;
        self.side = self.side.filter(|side| *side != Side::Mechanism);
    }

    /// Uses a mechanism from now on, and in the next run; `None`: none.
    fn use_mechanism(&mut self, ctx: &egui::Context, used: Option<(DeckChoice, Mechanism)>) {
        let said = match &used {
            Some((_, mechanism)) => format!("mechanism in use: {}", mechanism.title),
            None => "no mechanism in use: lines have no names".into(),
        };
        let (choice, mechanism) = used.unzip();
        self.mechanisms.problem = None;
        self.mechanisms.is_chosen = true;
        self.mechanisms.choice.clone_from(&choice);
        self.setup.mechanism = mechanism.map(Arc::new);
        self.send_setup();
        self.say(ctx, said);
        if self.remembered.mechanism != choice {
            self.remembered.mechanism = choice;
            self.keep(ctx);
        }
    }
}
