//! The side panels: tape, mechanism, inputs, interface, screwdrivers, readings taken, run-in and both ends, keys, cautions,
//! sound guide. One at a time, never modal.

pub mod cautions;
pub mod ends;
pub mod guide;
pub mod inputs;
pub mod interface;
pub mod keys;
pub mod mechanism;
pub mod run_in;
pub mod screwdrivers;
pub mod standards;
pub mod taken;
pub mod tape;

use eframe::egui::{Label, RichText, Ui};

/// A panel's heading.
fn heading(ui: &mut Ui, text: &str) {
    ui.add(Label::new(RichText::new(text).heading()).wrap());
    ui.add_space(4.0);
}

/// A wrapped sentence.
fn sentence(ui: &mut Ui, text: &str) {
    ui.add(Label::new(text).wrap());
}

/// A wrapped sentence in the quiet colour.
fn hint(ui: &mut Ui, text: &str) {
    ui.add(Label::new(RichText::new(text).weak()).wrap());
}
