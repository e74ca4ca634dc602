//! The sound guide: where it is heard, how loud, and the caution before it starts.

use super::{heading, hint, sentence};
use crate::{
    guide::{CAUTION, MAX_LEVEL_DBFS, MIN_LEVEL_DBFS, OutputName},
    screen::{
        outputs::{OutputChoice, OutputChoices},
        theme::Palette,
    },
};
use eframe::egui::{Button, Frame, Label, Margin, RichText, ScrollArea, Slider, Stroke, Ui, Vec2};

/// What was asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Asked {
    /// Hear it there.
    Choose(OutputName),
    /// Start it; what is to be beware of comes first.
    Start,
    /// The caution was read and heeded: start it.
    Confirm,
    /// Do not start it.
    Refrain,
    /// Fade it out.
    Stop,
    /// Set the level, dBFS.
    Level(f64),
    /// List the outputs again.
    List,
    /// Offer the outputs of the input's own card too, or not.
    OfferAll(bool),
}

/// How far it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Silent.
    Off,
    /// The caution is asked about.
    Asking,
    /// The output is being opened.
    Starting,
    /// It can be heard.
    On,
}

/// What the panel shows.
pub struct GuidePanel<'a> {
    /// The outputs, once they are listed.
    pub list: Option<&'a OutputChoices>,
    /// Whether they are being listed.
    pub listing: bool,
    /// The one that is chosen.
    pub chosen: Option<&'a OutputName>,
    /// Whether outputs that may be heard in the input are offered.
    pub offer_all: bool,
    /// How far it is.
    pub stage: Stage,
    /// What it does at this moment, in words.
    pub state: &'a str,
    /// Why it cannot be heard.
    pub problem: Option<&'a str>,
    /// The level that is set, dBFS.
    pub level_dbfs: f64,
    /// Whether the panel, or a stage, has just opened: what is to be done next has the focus then.
    pub opened: bool,
}

impl GuidePanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&mut self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Sound guide");
        hint(
            ui,
            "Pips, the faster the farther off; none in the target or without a reading. High: fast, right late, or left \
             louder. Low: the other way. It follows the view: speed, azimuth, or the balance of the levels.",
        );
        ui.add_space(4.0);
        ui.add(Label::new(RichText::new(self.state).strong()).wrap());
        if let Some(problem) = self.problem {
            let text = RichText::new(problem).color(Palette::of(ui).bad);
            ui.add(Label::new(text).wrap());
        }
        let level = self.level(ui);
        let asked = match self.stage {
            Stage::On => self.stop(ui),
            Stage::Starting => None,
            Stage::Asking => self.caution(ui),
            Stage::Off => self.choose(ui),
        };
        asked.or(level)
    }

    /// A button that has the focus when the panel, or this stage of it, opens.
    fn first(&mut self, ui: &mut Ui, text: &str) -> bool {
        let button = ui.add(Button::new(text).wrap());
        if std::mem::take(&mut self.opened) {
            button.request_focus();
        }
        button.clicked()
    }

    fn level(&self, ui: &mut Ui) -> Option<Asked> {
        let label = ui.label("Level of the pips' peaks");
        let mut level_dbfs = self.level_dbfs;
        ui.spacing_mut().slider_width = (ui.available_width() - 120.0).max(60.0);
        let slider = Slider::new(&mut level_dbfs, MIN_LEVEL_DBFS..=MAX_LEVEL_DBFS)
            .suffix(" dBFS")
            .step_by(1.0)
            .fixed_decimals(0);
        let slider = ui.add(slider).labelled_by(label.id);
        ui.add_space(4.0);
        slider.changed().then_some(Asked::Level(level_dbfs))
    }

    fn stop(&mut self, ui: &mut Ui) -> Option<Asked> {
        self.first(ui, "Stop the guide").then_some(Asked::Stop)
    }

    /// The caution, and nothing is heard before it is confirmed.
    fn caution(&mut self, ui: &mut Ui) -> Option<Asked> {
        let palette = Palette::of(ui);
        let mut asked = None;
        Frame::new()
            .fill(palette.raised)
            .stroke(Stroke::new(2.0, palette.warn))
            .inner_margin(Margin::same(10))
            .show(ui, |ui| {
                sentence(ui, CAUTION);
                ui.add_space(4.0);
                if self.first(ui, "Not now") {
                    asked = Some(Asked::Refrain);
                }
                if ui
                    .add(Button::new("The volume is down: start").wrap())
                    .clicked()
                {
                    asked = Some(Asked::Confirm);
                }
            });
        asked
    }

    fn choose(&mut self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        let outputs = self.list.map_or(&[][..], |list| &list.outputs);
        let offered = |choice: &&OutputChoice| self.offer_all || !choice.leads_back;
        ui.label("Heard on");
        let most = (ui.available_height() * 0.55).max(120.0);
        ScrollArea::vertical()
            .id_salt("outputs")
            .max_height(most)
            .show(ui, |ui| {
                for choice in outputs.iter().filter(offered) {
                    let chosen = self.chosen == Some(&choice.output);
                    let focus = std::mem::take(&mut self.opened);
                    if entry(ui, choice, chosen, focus) {
                        asked = Some(Asked::Choose(choice.output.clone()));
                    }
                }
            });
        if self.listing {
            hint(ui, "looking for sound outputs …");
        } else if self.list.is_some() && outputs.is_empty() {
            hint(ui, "No sound output was found.");
        }
        if let Some(problem) = self.list.and_then(|list| list.problem.as_deref()) {
            hint(ui, problem);
        }
        if outputs.iter().any(|choice| choice.leads_back) {
            let mut all = self.offer_all;
            let text = "Offer the outputs of the input's own card too: only where they cannot be heard in the input";
            let wrapped = RichText::new(text);
            if ui.checkbox(&mut all, wrapped).changed() {
                asked = Some(Asked::OfferAll(all));
            }
        }
        ui.add_space(4.0);
        let start = match self.chosen {
            Some(output) => format!("Start on {} …", output.name),
            None => "Start: choose where it is heard first".into(),
        };
        let start = ui.add_enabled(self.chosen.is_some(), Button::new(start).wrap());
        if start.clicked() {
            asked = Some(Asked::Start);
        }
        if ui
            .add_enabled(!self.listing, Button::new("Look again"))
            .clicked()
        {
            asked = Some(Asked::List);
        }
        asked
    }
}

/// One output, the chosen one marked by a dot as well.
fn entry(ui: &mut Ui, choice: &OutputChoice, chosen: bool, focus: bool) -> bool {
    let mark = if chosen { "• " } else { "" };
    let size = Vec2::new(ui.available_width(), 0.0);
    let button = Button::new(format!("{mark}{}", choice.output.name))
        .selected(chosen)
        .wrap()
        .min_size(size);
    let button = ui.add(button);
    if focus {
        button.request_focus();
    }
    let heard = format!("output {}", choice.output.name);
    ui.ctx()
        .accesskit_node_builder(button.id, |node| node.set_label(heard));
    let own = if choice.leads_back {
        "; of the input's own card"
    } else {
        ""
    };
    hint(ui, &format!("{}{own}", choice.output.host));
    button.clicked()
}
