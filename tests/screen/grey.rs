//! Without colours: the picture of a view turned to grey still shows needle, band and words.
//!
//! Grey is the relative luminance of WCAG 2, and contrast its ratio (L₁ + 0.05) / (L₂ + 0.05); 3 to 1 is what it asks of
//! the parts of a picture that mean something, 4.5 to 1 of text (success criteria 1.4.11 and 1.4.3).

use crate::{
    fixtures,
    stage::{LAPTOP, Stage},
};
use eframe::egui::{Key, Rect, Theme, accesskit::Role};

/// The needle stands out more than the arrows beside it, which reach some 7 to 1.
const NEEDLE: f64 = 9.0;

/// A picture in relative luminances.
struct Grey {
    width: usize,
    height: usize,
    luminance: Vec<f64>,
}

impl Grey {
    fn of(stage: &mut Stage) -> Self {
        let picture = stage.harness.render().expect("a picture");
        let linear = |value: u8| {
            let part = f64::from(value) / 255.0;
            if part <= 0.04045 {
                part / 12.92
            } else {
                ((part + 0.055) / 1.055).powf(2.4)
            }
        };
        Self {
            width: picture.width() as usize,
            height: picture.height() as usize,
            luminance: picture
                .pixels()
                .map(|pixel| {
                    let [r, g, b, _] = pixel.0.map(linear);
                    0.2126 * r + 0.7152 * g + 0.0722 * b
                })
                .collect(),
        }
    }

    /// One row of it from the left of a place to its right.
    fn row(&self, place: Rect, y: f32) -> &[f64] {
        let start = (y as usize).min(self.height - 1) * self.width;
        let right = (place.right() as usize).min(self.width);
        &self.luminance[start + place.left() as usize..start + right]
    }
}

fn contrast(a: f64, b: f64) -> f64 {
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Stretches of like grey along a row: where each begins, how long it is, how bright. Edges between two pixels, which
/// are neither, count with the one before.
fn stretches(row: &[f64]) -> Vec<(usize, usize, f64)> {
    let mut found: Vec<(usize, usize, f64)> = Vec::new();
    for (x, &luminance) in row.iter().enumerate() {
        match found.last_mut() {
            Some((_, length, before)) if contrast(*before, luminance) < 1.06 => *length += 1,
            _ => found.push((x, 1, luminance)),
        }
    }
    found
}

#[test]
fn needle_and_band_stand_out_in_grey_in_every_view() {
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixtures::fast_deck);
        for (view, key, edges) in [
            ("Speed", Key::Num1, 4),
            ("Flutter", Key::Num2, 2),
            ("Azimuth", Key::Num3, 4),
            ("Level", Key::Num4, 4),
        ] {
            stage.press(key);
            let name = format!("{view} scale");
            let place = stage.node(Role::Image, &name).rect();
            let grey = Grey::of(&mut stage);
            // Across the lane, under the short marks: the needle is some twenty pixels wide there.
            let row = grey.row(place, place.top() + 26.0 + 16.0);
            let stretches = stretches(row);
            let wide = |length: usize| length >= 6;
            let grounds: Vec<f64> = stretches
                .iter()
                .filter(|(_, length, _)| *length >= 14)
                .map(|(_, _, luminance)| *luminance)
                .collect();
            assert!(grounds.len() >= 3, "{theme:?} {view}: {stretches:?}");
            let needle = stretches.iter().any(|(_, length, luminance)| {
                wide(*length)
                    && *length < 30
                    && grounds
                        .iter()
                        .filter(|ground| contrast(**ground, *luminance) >= NEEDLE)
                        .count()
                        >= 2
            });
            assert!(needle, "{theme:?} {view}: no needle in {stretches:?}");
            // The edges of the band are thin lines, unlike what is on either side of them.
            let found = stretches
                .windows(3)
                .filter(|three| {
                    let [before, edge, after] = three else {
                        return false;
                    };
                    edge.1 <= 3
                        && contrast(before.2, edge.2) >= 3.0
                        && contrast(after.2, edge.2) >= 3.0
                })
                .count();
            assert!(
                found >= edges,
                "{theme:?} {view}: {found} edges in {stretches:?}"
            );
        }
    }
}

#[test]
fn the_number_stands_out_in_grey_in_every_view() {
    for theme in [Theme::Dark, Theme::Light] {
        let mut stage = Stage::playing_in(LAPTOP, 1.0, theme, fixtures::fast_deck);
        for (view, key) in [
            ("Speed", Key::Num1),
            ("Flutter", Key::Num2),
            ("Azimuth", Key::Num3),
            ("Level", Key::Num4),
        ] {
            stage.press(key);
            let place = stage.node(Role::Meter, &format!("{view} reading")).rect();
            let grey = Grey::of(&mut stage);
            // Through the digits, and through the middle of the state beside them.
            let row = grey.row(place, place.top() + place.height() * 0.15);
            let ground = row[0];
            let inked = |part: &[f64]| {
                let inked = part.iter().filter(|ink| contrast(**ink, ground) >= 4.5);
                inked.count()
            };
            let (number, state) = row.split_at(row.len() / 2);
            assert!(inked(number) >= 20, "{theme:?} {view}: the number");
            assert!(inked(state) >= 8, "{theme:?} {view}: the state");
        }
    }
}
