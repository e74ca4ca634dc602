//! Both ends of the tape: the reading in hand is taken for the start, the middle or the end of a side, and what lies
//! between them is said.

use super::{heading, hint};
use crate::{
    readings::Readings,
    run_in::{EndReading, EndsLimits, EndsTaken, Measured, Place, Significance},
    screen::{
        model::{State, format, run_in::with_minus},
        paint::{heard, marks, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Button, Id, Label, Rect, Sense, Stroke, Ui, Vec2, accesskit::Role, pos2, vec2,
};

/// Share of the width that the names of the quantities have.
const NAMES: f32 = 0.2;
const ROW: f32 = 42.0;
const HEADINGS: f32 = 22.0;

/// What was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Take the reading in hand for this place.
    Take(Place),
    /// Bring back what was there before.
    Undo,
    /// Begin anew.
    Clear,
}

/// What the panel shows.
pub struct EndsPanel<'a> {
    /// What is taken.
    pub taken: &'a EndsTaken,
    /// The readings in hand.
    pub readings: Option<&'a Readings>,
    /// Whether there is something to undo.
    pub can_undo: bool,
    /// The place whose button is to get the focus.
    pub focus: Option<Place>,
}

/// A quantity of the table.
struct Quantity {
    name: &'static str,
    unit: &'static str,
    decimals: usize,
    has_sign: bool,
    get: fn(&EndReading) -> Option<Measured>,
}

const QUANTITIES: [Quantity; 4] = [
    Quantity {
        name: "speed",
        unit: "%",
        decimals: 3,
        has_sign: true,
        get: |reading| reading.speed_percent,
    },
    Quantity {
        name: "flutter",
        unit: "%",
        decimals: 3,
        has_sign: false,
        get: |reading| reading.weighted_two_sigma_percent,
    },
    Quantity {
        name: "delay",
        unit: "µs",
        decimals: 2,
        has_sign: true,
        get: |reading| reading.delay_us,
    },
    Quantity {
        name: "azimuth",
        unit: "arcmin",
        decimals: 2,
        has_sign: true,
        get: |reading| reading.azimuth_arcmin,
    },
];

impl EndsPanel<'_> {
    /// Shows the panel; returns what was asked for.
    pub fn show(&self, ui: &mut Ui) -> Option<Asked> {
        heading(ui, "Both ends of the tape");
        let mut asked = self.buttons(ui);
        self.undoing(ui, &mut asked);
        ui.add_space(4.0);
        self.table(ui);
        hint(
            ui,
            "Flutter: weighted, two-sigma of 10 s. ± at 95 %: scatter alone.",
        );
        self.differences(ui);
        asked
    }

    fn buttons(&self, ui: &mut Ui) -> Option<Asked> {
        let mut asked = None;
        hint(
            ui,
            "Play the start of a side; when it is steady, take it. Wind to the middle, then to the end, and do the same.",
        );
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 5.0;
            ui.label("Take the");
            for place in Place::ALL {
                let done = self.taken.at(place).is_some();
                let mark = if done { "• " } else { "" };
                let button = ui.add(Button::new(format!("{mark}{}", place.name())).selected(done));
                let heard = format!("take the {}", place.name());
                ui.ctx()
                    .accesskit_node_builder(button.id, |node| node.set_label(heard));
                if self.focus == Some(place) {
                    button.request_focus();
                }
                if button.clicked() {
                    asked = Some(Asked::Take(place));
                }
            }
        });
        asked
    }

    fn undoing(&self, ui: &mut Ui, asked: &mut Option<Asked>) {
        ui.horizontal_wrapped(|ui| {
            let undo = Button::new("Undo the last take");
            if ui.add_enabled(self.can_undo, undo).clicked() {
                *asked = Some(Asked::Undo);
            }
            let clear = Button::new("Begin anew");
            if ui.add_enabled(!self.taken.is_empty(), clear).clicked() {
                *asked = Some(Asked::Clear);
            }
        });
    }

    /// Start, middle, end and the reading in hand side by side.
    fn table(&self, ui: &mut Ui) {
        let palette = Palette::of(ui);
        let height = HEADINGS + ROW * QUANTITIES.len() as f32;
        let (place, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
        let now = self.readings.map(EndReading::of_snapshot);
        let columns = [
            ("start", self.reading(Place::Start)),
            ("middle", self.reading(Place::Middle)),
            ("end", self.reading(Place::End)),
            ("now", now),
        ];
        let names = place.width() * NAMES;
        let width = (place.width() - names) / columns.len() as f32;
        let left = |column: usize| place.left() + names + column as f32 * width;
        for (i, (name, _)) in columns.iter().enumerate() {
            let at = pos2(left(i), place.top());
            let galley = words::line(
                ui.painter(),
                name,
                theme::text,
                theme::LABEL,
                11.0,
                width - 4.0,
                palette.quiet,
            );
            words::put(ui.painter(), at, Align2::LEFT_TOP, galley);
        }
        for (i, quantity) in QUANTITIES.iter().enumerate() {
            let top = place.top() + HEADINGS + i as f32 * ROW;
            let row = Rect::from_min_size(pos2(place.left(), top), vec2(place.width(), ROW));
            let painter = ui.painter();
            painter.hline(row.x_range(), top, Stroke::new(1.0, palette.line));
            for (text, y) in [(quantity.name, 4.0), (quantity.unit, 23.0)] {
                let galley = words::line(
                    painter,
                    text,
                    theme::text,
                    15.0,
                    10.0,
                    names - 4.0,
                    palette.quiet,
                );
                words::put(painter, row.min + vec2(0.0, y), Align2::LEFT_TOP, galley);
            }
            let mut spoken = Vec::new();
            for (column, (name, reading)) in columns.iter().enumerate() {
                let measured = reading.as_ref().and_then(quantity.get);
                let (value, off) = quantity.words(measured);
                let at = pos2(left(column), top + 4.0);
                let galley = words::line(
                    painter,
                    &value,
                    theme::strong,
                    16.0,
                    10.0,
                    width - 4.0,
                    palette.text,
                );
                words::put(painter, at, Align2::LEFT_TOP, galley);
                let galley = words::line(
                    painter,
                    &off,
                    theme::strong,
                    13.0,
                    9.0,
                    width - 4.0,
                    palette.quiet,
                );
                words::put(painter, at + vec2(0.0, 19.0), Align2::LEFT_TOP, galley);
                spoken.push(match measured {
                    Some(_) => format!("{name} {value} {off} {}", quantity.unit),
                    None => format!("{name} not taken"),
                });
            }
            let id = Id::unique(("ends", quantity.name));
            let name = format!("ends: {}", quantity.name);
            heard::reading(ui, row, id, Role::Row, &name, &spoken.join(", "));
        }
    }

    fn reading(&self, place: Place) -> Option<EndReading> {
        self.taken.at(place).map(|taken| taken.reading)
    }

    /// What the differences say, with a shape for how much.
    fn differences(&self, ui: &mut Ui) {
        let ends = self.taken.ends(&EndsLimits::default());
        if ends.differences.is_empty() {
            let missing = match (self.taken.start, self.taken.end) {
                (None, None) => "Nothing to compare yet: take the start and the end of one side.",
                (None, Some(_)) => "Nothing to compare yet: take the start, too.",
                (Some(_), None) => "Nothing to compare yet: take the end, too.",
                (Some(_), Some(_)) => {
                    "Start and end have no reading in common: take one of them anew."
                }
            };
            hint(ui, missing);
            return;
        }
        for (i, difference) in ends.differences.iter().enumerate() {
            finding(
                ui,
                i,
                difference.significance,
                &with_minus(&difference.words),
            );
        }
        if self.taken.has_open_cycles() {
            hint(
                ui,
                "Whole cycles of the tone were open: the delays are put next to the first one. A lower tone tells for certain.",
            );
        }
        hint(
            ui,
            &format!("Limits of differences: {}.", ends.limits_source),
        );
    }
}

impl Quantity {
    fn words(&self, measured: Option<Measured>) -> (String, String) {
        let Some(measured) = measured else {
            return (format::NOTHING.into(), String::new());
        };
        let value = if self.has_sign {
            format::signed(measured.value, self.decimals)
        } else {
            format::plain(measured.value, self.decimals)
        };
        (
            value,
            format!("±{}", format::plain(measured.uncertainty, self.decimals)),
        )
    }
}

fn finding(ui: &mut Ui, index: usize, significance: Significance, text: &str) {
    let palette = Palette::of(ui);
    ui.horizontal_top(|ui| {
        let (place, _) = ui.allocate_exact_size(Vec2::splat(20.0), Sense::hover());
        let mark = Rect::from_center_size(place.center(), Vec2::splat(16.0));
        match significance {
            Significance::WorthALook => marks::warning(ui.painter(), mark, palette),
            Significance::Small => marks::state(ui.painter(), mark, State::FineOnly, None, palette),
            Significance::NotShown => {
                ui.painter()
                    .circle_filled(mark.center(), 4.0, palette.quiet);
            }
        }
        let label = ui.add(Label::new(text).wrap());
        let name = match significance {
            Significance::WorthALook => "worth a look",
            Significance::Small => "small difference",
            Significance::NotShown => "no difference shown",
        };
        let id = Id::unique(("ends difference", index));
        heard::reading(ui, label.rect, id, Role::Note, name, text);
    });
}
