//! Pictures of the mechanism for a folder: each spectrum and each part's once-round trace, as SVG and as PNG.

mod polar;
mod spectrum;
mod trace;

use super::ConsoleError;
use crate::readings::{MechanismReading, OnceRoundTrace, Quantity, TraceShape};
use plotters::{
    coord::Shift,
    drawing::DrawingAreaErrorKind,
    prelude::{BitMapBackend, DrawingArea, DrawingBackend, IntoDrawingArea as _, SVGBackend},
    style::{FontStyle, RGBColor, register_font},
};
use std::{fs, io::BufWriter, path::Path, sync::OnceLock};

/// Size of a picture, pixels.
const SIZE: (u32, u32) = (1200, 640);
/// Font of the pictures: that of the window, which the program carries.
const FONT: &str = "picture";
const FONT_IN_WINDOW: &str = "Ubuntu-Light";
/// Colours after Okabe and Ito; light ground.
const GROUND: RGBColor = RGBColor(255, 255, 255);
const INK: RGBColor = RGBColor(40, 40, 40);
const FAINT: RGBColor = RGBColor(200, 200, 200);
const CURVE: RGBColor = RGBColor(0, 114, 178);
const SECOND: RGBColor = RGBColor(213, 94, 0);

/// What is drawn: the same onto every kind of ground.
trait Picture {
    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
    ) -> Result<(), DrawingAreaErrorKind<B::ErrorType>>;
}

/// Writes the pictures of a reading into a folder, which is made where it is missing.
///
/// # Errors
/// When there is no reading to draw or the folder cannot be written.
pub fn write(folder: &Path, reading: Option<&MechanismReading>) -> Result<(), ConsoleError> {
    let Some(reading) = reading else {
        return Err(ConsoleError::Refused(
            "there is nothing to draw: the take gave no reading of the mechanism".into(),
        ));
    };
    fs::create_dir_all(folder).map_err(|error| cannot(folder, &error))?;
    for spectrum in &reading.spectra {
        let picture = spectrum::SpectrumPicture { spectrum, reading };
        let name = format!("spectrum-{}", file_name(spectrum.quantity.words()));
        write_both(folder, &name, &picture)?;
    }
    if let Some(spectrum) = &reading.wide_spectrum {
        let picture = spectrum::SpectrumPicture { spectrum, reading };
        write_both(folder, "spectrum-wide", &picture)?;
    }
    for part in &reading.parts {
        // Of phase and level only what shows something.
        let worth = |trace: &&OnceRoundTrace| {
            trace.quantity == Quantity::Speed || trace.shape != TraceShape::NotShown
        };
        for trace in part.traces.iter().filter(worth) {
            let picture = trace::TracePicture { part, trace };
            let quantity = file_name(trace.quantity.words());
            let name = format!("once-round-{}-{quantity}", file_name(&part.part));
            write_both(folder, &name, &picture)?;
        }
    }
    Ok(())
}

fn cannot(path: &Path, error: &dyn std::fmt::Display) -> ConsoleError {
    ConsoleError::Refused(format!("cannot write {}: {error}", path.display()))
}

/// A name with letters, digits and dashes only.
fn file_name(words: &str) -> String {
    let plain = |c: char| if c.is_alphanumeric() { c } else { '-' };
    let mut name: String = words.chars().map(plain).collect();
    while name.contains("--") {
        name = name.replace("--", "-");
    }
    name.trim_matches('-').to_lowercase()
}

fn write_both(folder: &Path, name: &str, picture: &impl Picture) -> Result<(), ConsoleError> {
    font()?;
    let path = folder.join(format!("{name}.svg"));
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, SIZE).into_drawing_area();
        picture.draw(&area).map_err(|error| cannot(&path, &error))?;
        area.present().map_err(|error| cannot(&path, &error))?;
    }
    fs::write(&path, text).map_err(|error| cannot(&path, &error))?;
    let path = folder.join(format!("{name}.png"));
    let mut pixels = vec![0; 3 * (SIZE.0 * SIZE.1) as usize];
    {
        let area = BitMapBackend::with_buffer(&mut pixels, SIZE).into_drawing_area();
        picture.draw(&area).map_err(|error| cannot(&path, &error))?;
        area.present().map_err(|error| cannot(&path, &error))?;
    }
    let file = fs::File::create(&path).map_err(|error| cannot(&path, &error))?;
    let mut encoder = png::Encoder::new(BufWriter::new(file), SIZE.0, SIZE.1);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let written = encoder
        .write_header()
        .and_then(|mut writer| writer.write_image_data(&pixels));
    written.map_err(|error| cannot(&path, &error))
}

/// Makes the window's font known to the pictures, once.
fn font() -> Result<(), ConsoleError> {
    static KNOWN: OnceLock<bool> = OnceLock::new();
    let known = *KNOWN.get_or_init(|| {
        let fonts = eframe::egui::FontDefinitions::default();
        fonts.font_data.get(FONT_IN_WINDOW).is_some_and(|data| {
            let bytes: &'static [u8] = Box::leak((*data.font).as_ref().into());
            register_font(FONT, FontStyle::Normal, bytes).is_ok()
        })
    });
    if known {
        Ok(())
    } else {
        Err(ConsoleError::Refused(
            "the font of the pictures is missing from the program".into(),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parts_name_makes_a_safe_file_name() {
        assert_eq!(file_name("take-up capstan"), "take-up-capstan");
        assert_eq!(file_name("../../etc/passwd"), "etc-passwd");
        assert_eq!(file_name("level, left"), "level-left");
    }
}
