//! The typeface: what it can set, how wide that is, and where lines break.

use super::{SheetError, placed::Weight};
use krilla::{
    Data,
    text::{Font, GlyphId, KrillaGlyph},
};
use std::cell::Cell;
use ttf_parser::Face;

/// Stands for a character that cannot be set.
const LACKING: char = '□';

struct Typeface {
    face: Face<'static>,
    font: Font,
}

/// Both weights.
pub struct Fonts {
    regular: Typeface,
    bold: Typeface,
    lacked: Cell<bool>,
}

impl Fonts {
    /// Opens the typeface that the program carries.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn new() -> Result<Self, SheetError> {
        Ok(Self {
            regular: Typeface::new(dejavu::sans_condensed::regular())?,
            bold: Typeface::new(dejavu::sans_condensed::bold())?,
            lacked: Cell::new(false),
        })
    }

    /// The font to draw with.
    pub fn font(&self, weight: Weight) -> Font {
        self.typeface(weight).font.clone()
    }

    /// Whether [`Fonts::settable`] had to put a sign for something.
    pub fn lacked_a_character(&self) -> bool {
        self.lacked.get()
    }

    /// The text with a sign for every character that cannot be set: those without a glyph, and those of writing that runs
    /// from right to left, whose letters would have to be joined and turned.
    pub fn settable(&self, text: &str) -> String {
        text.chars()
            .map(|c| {
                let missing = runs_leftwards(c)
                    || self.regular.face.glyph_index(c).is_none()
                    || self.bold.face.glyph_index(c).is_none();
                if missing {
                    self.lacked.set(true);
                    LACKING
                } else {
                    c
                }
            })
            .collect()
    }

    /// Width of a text, points.
    pub fn width(&self, text: &str, weight: Weight, size: f32) -> f32 {
        let typeface = self.typeface(weight);
        text.chars().map(|c| typeface.advance(c)).sum::<f32>() * size
    }

    /// The glyphs of a text, each for itself: what is measured is what is drawn.
    pub fn glyphs(&self, text: &str, weight: Weight) -> Vec<KrillaGlyph> {
        let typeface = self.typeface(weight);
        text.char_indices()
            .map(|(at, c)| {
                let glyph = typeface.face.glyph_index(c).map_or(0, |glyph| glyph.0);
                KrillaGlyph::new(
                    GlyphId::new(glyph.into()),
                    typeface.advance(c),
                    0.0,
                    0.0,
                    0.0,
                    at..at + c.len_utf8(),
                    None,
                )
            })
            .collect()
    }

    /// The text broken at spaces into lines of that width; a longer word is broken where the line ends. Never empty.
    pub fn lines(&self, text: &str, weight: Weight, size: f32, width: f32) -> Vec<String> {
        let text = self.settable(text);
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            let together = format!("{line} {word}");
            if line.is_empty() {
                line = word.to_owned();
            } else if self.width(&together, weight, size) <= width {
                line = together;
            } else {
                lines.push(std::mem::replace(&mut line, word.to_owned()));
            }
            while self.width(&line, weight, size) > width {
                let Some((start, rest)) = self.broken(&line, weight, size, width) else {
                    break;
                };
                lines.push(start);
                line = rest;
            }
        }
        lines.push(line);
        lines
    }

    /// A word too wide for a line in two; `None`: not even two characters are there.
    fn broken(
        &self,
        word: &str,
        weight: Weight,
        size: f32,
        width: f32,
    ) -> Option<(String, String)> {
        let mut reached = 0.0;
        let at = word.char_indices().skip(1).find_map(|(at, _)| {
            let before = word[..at].chars().next_back()?;
            reached += self.typeface(weight).advance(before) * size;
            let next = word[at..].chars().next()?;
            let too_wide = reached + self.typeface(weight).advance(next) * size > width;
            too_wide.then_some(at)
        })?;
        Some((word[..at].to_owned(), word[at..].to_owned()))
    }

    /// The text cut with an ellipsis to that width.
    pub fn fitting(&self, text: &str, weight: Weight, size: f32, width: f32) -> String {
        let mut text = self.settable(text);
        if self.width(&text, weight, size) <= width {
            return text;
        }
        while !text.is_empty()
            && self.width(&text, weight, size) + self.width("…", weight, size) > width
        {
            text.pop();
        }
        text + "…"
    }

    fn typeface(&self, weight: Weight) -> &Typeface {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }
}

impl Typeface {
    fn new(data: &'static [u8]) -> Result<Self, SheetError> {
        let wrong = || SheetError("the sheet's typeface cannot be read".into());
        let face = Face::parse(data, 0).map_err(|_| wrong())?;
        let data: Data = data.to_vec().into();
        let font = Font::new(data, 0).ok_or_else(wrong)?;
        Ok(Self { face, font })
    }

    /// Width of a character as a share of the size.
    fn advance(&self, c: char) -> f32 {
        let glyph = self.face.glyph_index(c).unwrap_or_default();
        let units = self.face.glyph_hor_advance(glyph).unwrap_or_default();
        f32::from(units) / f32::from(self.face.units_per_em())
    }
}

/// The blocks of right-to-left writing.
fn runs_leftwards(c: char) -> bool {
    matches!(c,
        '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}'
        | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_the_sheet_writes_itself_can_be_set() {
        let fonts = Fonts::new().expect("fonts");
        let own = "AZaz09 ±−+µ·°′✔✘≈½¼…–’‘“”%²\u{a0}()[]/□";
        assert_eq!(fonts.settable(own), own);
        assert!(!fonts.lacked_a_character());
    }

    #[test]
    fn what_cannot_be_set_is_marked() {
        let fonts = Fonts::new().expect("fonts");
        assert_eq!(fonts.settable("a漢ש\u{1f39b}\u{e000}é"), "a□□□□é");
        assert!(fonts.lacked_a_character());
    }

    #[test]
    fn no_line_is_wider_than_asked_and_nothing_is_lost() {
        let fonts = Fonts::new().expect("fonts");
        let text = "one two three ".repeat(20) + &"W".repeat(200);
        let lines = fonts.lines(&text, Weight::Bold, 10.5, 120.0);
        assert!(
            lines
                .iter()
                .all(|line| fonts.width(line, Weight::Bold, 10.5) <= 120.0)
        );
        assert_eq!(lines.concat().matches('W').count(), 200);
        assert_eq!(lines.concat().matches("three").count(), 20);
        assert_eq!(fonts.lines("", Weight::Regular, 10.0, 5.0), [""]);
        assert_eq!(fonts.lines("WW", Weight::Regular, 10.0, 1.0), ["W", "W"]);
    }
}
