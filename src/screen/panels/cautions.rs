//! What to beware of at a bench with an open deck. Short, always to be found, never in the way.

use super::{heading, hint};
use eframe::egui::{Label, RichText, Ui};

/// Each danger, and what to do about it.
const CAUTIONS: &[(&str, &str)] = &[
    (
        "Who may",
        "Mains parts belong to qualified people. Local rules and the service manual come first.",
    ),
    (
        "Mains",
        "Transformer primary, switch and fuse stay live when the deck is switched off. Pull the plug before opening; \
         never lift the earth to cure hum.",
    ),
    (
        "Capacitors",
        "They hold their charge: wait, discharge through a resistor, measure.",
    ),
    (
        "Moving parts",
        "Hair, sleeves, rings and tools away from reels, belts and flywheels.",
    ),
    (
        "Solvents",
        "Cleaning alcohol and its vapour burn: deck unplugged, fresh air, no spark.",
    ),
    (
        "Screws and trimmers",
        "Non-conducting screwdriver, one hand where it is live; no magnetised tool near a head.",
    ),
    (
        "Loud monitors",
        "Down before a test tape or the sound guide starts: tones harm hearing and tweeters at levels that seem \
         harmless. The guide's output must never lead into the deck.",
    ),
    (
        "Test tapes",
        "Clean and demagnetise first; demagnetiser on and off only at a distance, tapes away.",
    ),
    (
        "Guards",
        "Never defeat a guard or an interlock; put every one back.",
    ),
];

/// Shows the panel.
pub fn show(ui: &mut Ui) {
    heading(ui, "Cautions");
    ui.spacing_mut().item_spacing.y = 3.0;
    for (danger, what) in CAUTIONS {
        ui.add(Label::new(RichText::new(*danger).underline()));
        ui.add(Label::new(RichText::new(*what).size(15.0)).wrap());
        ui.add_space(3.0);
    }
    hint(ui, "c closes this; it is always there.");
}
