//! The virtual screwdrivers: what can be turned on a simulated deck while it plays.

use super::{heading, hint};
use crate::screen::screwdrivers::{Choice, Screwdrivers};
use eframe::egui::{Button, Slider, Ui};

/// Shows the panel. `opened` puts the focus on the first slider.
pub fn show(ui: &mut Ui, screwdrivers: &mut (dyn Screwdrivers + 'static), opened: bool) {
    heading(ui, "Virtual screwdrivers");
    hint(ui, "Drag; or Tab, and the arrow keys.");
    ui.add_space(4.0);
    for (index, item) in screwdrivers.list().into_iter().enumerate() {
        ui.label(&item.name);
        let mut value = item.value;
        ui.spacing_mut().slider_width = (ui.available_width() - 136.0).max(60.0);
        let unit = format!(" {}", item.unit);
        let step = step(item.min, item.max);
        let slider = Slider::new(&mut value, item.min..=item.max)
            .suffix(unit)
            .step_by(step)
            .fixed_decimals(decimals(step));
        let response = ui.add(slider);
        let name = item.name.clone();
        ui.ctx()
            .accesskit_node_builder(response.id, |node| node.set_label(name));
        if opened && index == 0 {
            response.request_focus();
        }
        if response.changed() {
            screwdrivers.set(index, value.clamp(item.min, item.max));
        }
    }
    ui.add_space(6.0);
    for (index, choice) in screwdrivers.choices().into_iter().enumerate() {
        if let Some(option) = choose(ui, &choice) {
            screwdrivers.choose(index, option);
        }
    }
}

/// The options in a row that wraps, the one that stands marked by a dot as well; returns the one that is pressed.
fn choose(ui: &mut Ui, choice: &Choice) -> Option<usize> {
    let mut pressed = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 5.0;
        ui.label(&choice.name);
        for (option, name) in choice.options.iter().enumerate() {
            let stands = option == choice.chosen;
            let mark = if stands { "• " } else { "" };
            let button = ui.add(Button::new(format!("{mark}{name}")).selected(stands));
            let heard = format!("{}: {name}", choice.name);
            ui.ctx()
                .accesskit_node_builder(button.id, |node| node.set_label(heard));
            if button.clicked() {
                pressed = Some(option);
            }
        }
    });
    pressed
}

/// A step of the arrow keys: a five-hundredth of the way or so, rounded down to 1, 2 or 5 times a power of ten.
fn step(min: f64, max: f64) -> f64 {
    let rough = (max - min).abs() / 400.0;
    if rough <= 0.0 || !rough.is_finite() {
        return 0.0;
    }
    let decade = 10_f64.powf(rough.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|digit| digit * decade)
        .find(|step| *step <= rough)
        .unwrap_or(decade)
}

/// Decimals that a step needs: with a fixed number of them a value stands still while it is turned.
fn decimals(step: f64) -> usize {
    let needed = |decimals: &usize| step * 10_f64.powi(*decimals as i32) > 0.999;
    (0..3).find(needed).unwrap_or(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_fine() {
        assert!((step(-5.0, 5.0) - 0.02).abs() < 1e-12);
        assert!((step(-30.0, 30.0) - 0.1).abs() < 1e-12);
        assert!((step(0.0, 1.0) - 0.002).abs() < 1e-12);
        assert_eq!(step(1.0, 1.0), 0.0);
        assert_eq!([0.5, 0.02, 0.1, 2.0, 1e-9].map(decimals), [1, 2, 1, 0, 3]);
    }
}
