//! What to beware of at a bench with an open deck. Short, always to be found, never in the way.

use super::{heading, hint};
use eframe::egui::{Label, RichText, Ui};

/// Where each danger is, and what to do about it.
const CAUTIONS: &[(&str, &str)] = &[
    (
        "Mains",
        "Transformer primary, switch and fuse stay live with the deck switched off. Pull the plug before you open \
         it; never lift the earth to cure hum.",
    ),
    (
        "Capacitors",
        "Reservoir capacitors hold their charge. Wait, discharge them through a resistor, and measure before you \
         touch.",
    ),
    (
        "Moving parts",
        "Keep hair, sleeves and tools away from reels, belts, flywheels and fans. Take rings and watches off.",
    ),
    (
        "Solvents",
        "Cleaning alcohol burns and its vapour too: little at a time, fresh air, no spark, deck unplugged.",
    ),
    (
        "Loud monitors",
        "Turn the monitors down before a test tape starts or an input is changed. A 10 kHz tone harms hearing and \
         tweeters at levels that seem harmless.",
    ),
    (
        "Test tapes",
        "Clean and demagnetise the path first; no magnetised tool near a head. Demagnetiser on and off only at a \
         distance, deck off, tapes away.",
    ),
    (
        "Guards",
        "Never defeat a guard, an interlock or a barrier; put back every one before the deck leaves the bench.",
    ),
    (
        "Who may",
        "Work on mains parts belongs to qualified people. Local rules and the deck's own service manual come first.",
    ),
];

/// The sentence shown at first, in the notices.
pub const FIRST: &str =
    "Before you open a deck: mains, charged capacitors, moving parts. c shows the cautions.";

/// Shows the panel.
pub fn show(ui: &mut Ui) {
    heading(ui, "Cautions");
    for (where_, what) in CAUTIONS {
        ui.add(Label::new(RichText::new(*where_).size(17.0).underline()));
        ui.add(Label::new(*what).wrap());
        ui.add_space(4.0);
    }
    hint(ui, "c closes this; it is always there.");
}
