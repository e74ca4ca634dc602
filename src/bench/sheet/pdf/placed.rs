//! What stands where on a page, and what it means.

/// Weight of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// For reading.
    Regular,
    /// For headings.
    Bold,
}

/// A thing on a page; x to the right, y downwards from the upper edge, points.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A line of text on its base line.
    Text {
        /// Size, points.
        size: f32,
        /// Weight.
        weight: Weight,
        /// The text; every character has a glyph.
        text: String,
    },
    /// A line through points, relative to its place.
    Line {
        /// The points.
        points: Vec<(f32, f32)>,
        /// Width, points.
        width: f32,
        /// Grey or colour, red, green, blue.
        colour: (u8, u8, u8),
        /// Lengths of dash and gap.
        dash: Option<(f32, f32)>,
    },
    /// A filled rectangle.
    Fill {
        /// Width, points.
        width: f32,
        /// Height, points.
        height: f32,
        /// Red, green, blue.
        colour: (u8, u8, u8),
    },
}

/// A shape at its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// From the left edge, points.
    pub x: f32,
    /// From the upper edge, points.
    pub y: f32,
    /// What it is.
    pub shape: Shape,
    /// The leaf of the structure that it belongs to; `None`: decoration.
    pub leaf: Option<usize>,
}

impl Item {
    /// A decoration's text.
    pub fn text(x: f32, y: f32, size: f32, weight: Weight, text: String) -> Self {
        let shape = Shape::Text { size, weight, text };
        Self {
            x,
            y,
            shape,
            leaf: None,
        }
    }

    /// A decoration's straight line.
    pub fn rule(x: f32, y: f32, length: f32, width: f32, colour: (u8, u8, u8)) -> Self {
        let shape = Shape::Line {
            points: vec![(0.0, 0.0), (length, 0.0)],
            width,
            colour,
            dash: None,
        };
        Self {
            x,
            y,
            shape,
            leaf: None,
        }
    }

    /// The same as part of the text.
    pub fn of(self, leaf: usize) -> Self {
        Self {
            leaf: Some(leaf),
            ..self
        }
    }
}

/// A page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// What is on it, in reading order.
    pub items: Vec<Item>,
}

/// What an element of the structure is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// A heading of that level, with its text.
    Heading(u8, String),
    /// A paragraph.
    Paragraph,
    /// A list.
    List,
    /// An item of a list.
    ListItem,
    /// Its text.
    ListBody,
    /// A table, with what it shows.
    Table(String),
    /// A row.
    Row,
    /// The head of a column.
    ColumnHead,
    /// The head of a row.
    RowHead,
    /// A cell.
    Cell,
    /// A caption.
    Caption,
    /// A picture, with its description.
    Figure(String),
}

/// An element of the structure.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// What it is.
    pub role: Role,
    /// What it holds.
    pub children: Vec<Child>,
}

/// What an element holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Child {
    /// Another element.
    Element(Element),
    /// Whatever on the pages carries this leaf's number.
    Leaf(usize),
}

impl Element {
    /// An element.
    pub fn new(role: Role, children: Vec<Child>) -> Self {
        Self { role, children }
    }

    /// An element of one leaf.
    pub fn leaf(role: Role, leaf: usize) -> Self {
        Self::new(role, vec![Child::Leaf(leaf)])
    }
}
