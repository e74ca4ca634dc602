//! A sheet before it is set: blocks of words, tables and pictures, the same for paper and screen.

use super::Picture;
use jiff::Timestamp;

/// A sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// What the document is called.
    pub title: String,
    /// Job number.
    pub number: String,
    /// Name of the workshop; empty where it has none.
    pub workshop: String,
    /// The document's date: when the job was closed, or else when something last happened in it.
    pub dated: Timestamp,
    /// The owner's page.
    pub owner: Vec<Block>,
    /// The technical page.
    pub technical: Vec<Block>,
}

/// A block of a page.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// Who writes: name and address at the left, job and date at the right.
    Letterhead {
        /// Name of the workshop; may be empty.
        name: String,
        /// Its address, a line each.
        lines: Vec<String>,
        /// What stands at the right, a line each.
        beside: Vec<String>,
    },
    /// A heading of level 1 or 2.
    Heading(u8, String),
    /// A paragraph.
    Paragraph(String),
    /// A list, an item each.
    List(Vec<String>),
    /// What is called what: terms with their texts.
    Pairs(Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// Pictures side by side.
    Pictures(Vec<Picture>),
}

/// A table.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// What it shows, in words.
    pub caption: String,
    /// Its columns; the first heads the rows.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Row>,
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Its title.
    pub title: String,
    /// Its width as a share; shares of a table add up to anything.
    pub share: f32,
    /// Where its cells stand.
    pub align: Align,
}

impl Column {
    /// Words.
    pub fn words(title: &str, share: f32) -> Self {
        Self {
            title: title.into(),
            share,
            align: Align::Left,
        }
    }

    /// Numbers.
    pub fn numbers(title: &str, share: f32) -> Self {
        Self {
            align: Align::Right,
            ..Self::words(title, share)
        }
    }
}

/// Where a cell's text stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// At the left.
    Left,
    /// At the right.
    Right,
}

/// A row of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Row {
    /// A heading over the rows that follow.
    Group(String),
    /// A cell a column.
    Cells(Vec<String>),
}
