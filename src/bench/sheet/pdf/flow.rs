//! Blocks one below the other, from page to page.

use super::{
    super::picture::{Anchor, Ink, Mark, Picture, TEXT_SIZE},
    FOOT, SIDE,
    fonts::Fonts,
    placed::{Child, Element, Item, Page, Role, Shape, Weight},
};

/// Margin above, points.
const ABOVE: f32 = 34.0;
/// Room that the foot takes, points.
const BELOW: f32 = FOOT + 11.0;
/// Gap between pictures, points.
const GUTTER: f32 = 14.0;
const BLACK: (u8, u8, u8) = (0x1a, 0x1a, 0x1a);
const GREY: (u8, u8, u8) = (0xcc, 0xcc, 0xcc);
const MIDDLE: (u8, u8, u8) = (0x77, 0x77, 0x77);
const BLUE: (u8, u8, u8) = (0x00, 0x72, 0xb2);
const PALE: (u8, u8, u8) = (0xdc, 0xea, 0xf3);

/// Sizes of a kind of page, points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Of the text.
    pub body: f32,
    /// From line to line.
    pub leading: f32,
    /// Of tables.
    pub table: f32,
    /// From line to line of a table.
    pub table_leading: f32,
    /// Of headings of level 1 and 2.
    pub headings: [f32; 2],
    /// Between blocks.
    pub gap: f32,
    /// Height of a picture.
    pub picture: f32,
}

impl Style {
    /// The owner's page.
    pub const OWNER: Self = Self {
        body: 10.5,
        leading: 13.3,
        table: 10.5,
        table_leading: 13.2,
        headings: [16.0, 11.5],
        gap: 6.0,
        picture: 100.0,
    };
    /// The owner's page where it would else run onto another: letters as large, set closer.
    pub const OWNER_CLOSE: Self = Self {
        leading: 12.0,
        table_leading: 11.8,
        headings: [14.0, 10.8],
        gap: 1.5,
        picture: 52.0,
        ..Self::OWNER
    };
    /// The technical page.
    pub const TECHNICAL: Self = Self {
        body: 7.6,
        leading: 9.2,
        table: 7.6,
        table_leading: 8.9,
        headings: [12.0, 9.0],
        gap: 5.0,
        picture: 100.0,
    };
    /// The technical page where it would else run onto another.
    pub const DENSE: Self = Self {
        body: 6.9,
        leading: 8.2,
        table: 6.9,
        table_leading: 7.9,
        gap: 3.5,
        ..Self::TECHNICAL
    };
}

/// Pages that grow.
pub struct Flow<'a> {
    /// The typeface.
    pub fonts: &'a Fonts,
    /// Sizes of the page in hand.
    pub style: Style,
    paper: (f32, f32),
    pages: Vec<Page>,
    structure: Vec<Element>,
    leaves: usize,
    /// Where the next block begins, points from the upper edge.
    pub y: f32,
}

impl<'a> Flow<'a> {
    /// No page yet.
    pub fn new(fonts: &'a Fonts, paper: (f32, f32)) -> Self {
        Self {
            fonts,
            style: Style::OWNER,
            paper,
            pages: Vec::new(),
            structure: Vec::new(),
            leaves: 0,
            y: 0.0,
        }
    }

    /// A new page of that kind.
    pub fn begin_page(&mut self, style: Style) {
        self.style = style;
        self.turn();
    }

    /// The next page.
    pub fn turn(&mut self) {
        self.pages.push(Page::default());
        self.y = ABOVE;
    }

    /// All pages, and what is on them in reading order.
    pub fn finish(self) -> (Vec<Page>, Vec<Element>) {
        (self.pages, self.structure)
    }

    /// Width between the margins, points.
    pub fn width(&self) -> f32 {
        self.paper.0 - 2.0 * SIDE
    }

    /// Goes to the next page where less than `height` is left; whether it did.
    pub fn make_room(&mut self, height: f32) -> bool {
        let full = self.y + height > self.paper.1 - BELOW && self.y > ABOVE;
        if full {
            self.turn();
        }
        full
    }

    /// A leaf of the structure that has not been given away.
    pub fn new_leaf(&mut self) -> usize {
        self.leaves += 1;
        self.leaves - 1
    }

    /// Puts something on the page in hand.
    pub fn put(&mut self, item: Item) {
        if let Some(page) = self.pages.last_mut() {
            page.items.push(item);
        }
    }

    /// Notes what was put.
    pub fn note(&mut self, element: Element) {
        self.structure.push(element);
    }

    /// A text in lines from `x` on, each put when it has room; the leaf it carries.
    fn text(
        &mut self,
        x: f32,
        width: f32,
        (size, leading): (f32, f32),
        weight: Weight,
        text: &str,
    ) -> usize {
        let leaf = self.new_leaf();
        for line in self.fonts.lines(text, weight, size, width) {
            self.make_room(leading);
            let base = self.y + 0.78 * leading;
            self.put(Item::text(x, base, size, weight, line).of(leaf));
            self.y += leading;
        }
        leaf
    }

    fn body(&self) -> (f32, f32) {
        (self.style.body, self.style.leading)
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str) {
        let leaf = self.text(SIDE, self.width(), self.body(), Weight::Regular, text);
        self.note(Element::leaf(Role::Paragraph, leaf));
        self.y += 0.4 * self.style.gap;
    }

    /// A heading; it does not stay alone at the foot of a page.
    pub fn heading(&mut self, level: u8, text: &str) {
        let at = usize::from(level.clamp(1, 2)) - 1;
        let size = self.style.headings[at];
        self.make_room(1.3 * size + 3.0 * self.style.leading);
        if self.y > ABOVE {
            self.y += self.style.gap;
        }
        let leaf = self.text(SIDE, self.width(), (size, 1.25 * size), Weight::Bold, text);
        self.y += 1.0;
        self.note(Element::leaf(Role::Heading(level, text.to_owned()), leaf));
    }

    /// A list.
    pub fn list(&mut self, items: &[String]) {
        let indent = self.style.body;
        let mut elements = Vec::new();
        for item in items {
            let lines = self.fonts.lines(
                item,
                Weight::Regular,
                self.style.body,
                self.width() - indent,
            );
            // An item of a few lines is not torn apart.
            self.make_room(self.style.leading * lines.len().min(4) as f32);
            let base = self.y + 0.78 * self.style.leading;
            self.put(Item::text(
                SIDE + 1.0,
                base,
                self.style.body,
                Weight::Regular,
                "·".into(),
            ));
            let leaf = self.text(
                SIDE + indent,
                self.width() - indent,
                self.body(),
                Weight::Regular,
                item,
            );
            let body = Element::leaf(Role::ListBody, leaf);
            elements.push(Child::Element(Element::new(
                Role::ListItem,
                vec![Child::Element(body)],
            )));
        }
        self.note(Element::new(Role::List, elements));
    }

    /// Terms with their texts beside them.
    pub fn pairs(&mut self, pairs: &[(String, String)]) {
        self.y += self.style.gap;
        let terms = pairs
            .iter()
            .map(|(term, _)| self.fonts.width(term, Weight::Bold, self.style.body))
            .fold(0.0, f32::max);
        let indent = (terms + self.style.body).min(0.3 * self.width());
        for (term, text) in pairs {
            self.make_room(2.0 * self.style.leading);
            let leaf = self.new_leaf();
            let term = self
                .fonts
                .fitting(term, Weight::Bold, self.style.body, indent - 4.0);
            let base = self.y + 0.78 * self.style.leading;
            self.put(Item::text(SIDE, base, self.style.body, Weight::Bold, term).of(leaf));
            let body = self.text(
                SIDE + indent,
                self.width() - indent,
                self.body(),
                Weight::Regular,
                text,
            );
            let children = vec![Child::Leaf(leaf), Child::Leaf(body)];
            self.note(Element::new(Role::Paragraph, children));
            self.y += 0.3 * self.style.gap;
        }
    }

    /// Name and address at the left, job and date at the right, a line below.
    pub fn letterhead(&mut self, name: &str, lines: &[String], beside: &[String]) {
        let (from, half) = (self.y, 0.6 * self.width());
        let body = self.body();
        let mut children = Vec::new();
        if !name.is_empty() {
            children.push(Child::Leaf(self.text(
                SIDE,
                half,
                (13.0, 16.5),
                Weight::Bold,
                name,
            )));
        }
        for line in lines {
            children.push(Child::Leaf(self.text(
                SIDE,
                half,
                body,
                Weight::Regular,
                line,
            )));
        }
        let below = self.y;
        self.y = from + if name.is_empty() { 0.0 } else { 2.0 };
        let most = self.width() - half - 8.0;
        for line in beside {
            let leaf = self.new_leaf();
            let line = self.fonts.fitting(line, Weight::Regular, body.0, most);
            let x = SIDE + self.width() - self.fonts.width(&line, Weight::Regular, body.0);
            let base = self.y + 0.78 * body.1;
            self.put(Item::text(x, base, body.0, Weight::Regular, line).of(leaf));
            self.y += body.1;
            children.push(Child::Leaf(leaf));
        }
        self.note(Element::new(Role::Paragraph, children));
        self.y = self.y.max(below) + 4.0;
        self.put(Item::rule(SIDE, self.y, self.width(), 1.2, BLACK));
        self.y += 4.0;
    }

    /// Pictures side by side, their titles above.
    pub fn pictures(&mut self, pictures: &[Picture]) {
        const TITLE: f32 = 12.0;
        let height = self.style.picture;
        self.make_room(height + TITLE + self.style.gap);
        self.y += self.style.gap;
        let width = (self.width() - GUTTER) / 2.0;
        for (at, picture) in pictures.iter().take(2).enumerate() {
            let x = SIDE + at as f32 * (width + GUTTER);
            let caption = self.new_leaf();
            let title = format!("{}, % over seconds", picture.title);
            let base = self.y + 0.75 * TITLE;
            self.put(Item::text(x, base, self.style.body - 1.0, Weight::Bold, title).of(caption));
            let leaf = self.new_leaf();
            for mark in picture.marks(width, height) {
                let item = self.mark(mark, leaf);
                self.put(Item {
                    x: item.x + x,
                    y: item.y + self.y + TITLE,
                    ..item
                });
            }
            self.note(Element::leaf(
                Role::Figure(picture.description.clone()),
                leaf,
            ));
            self.note(Element::leaf(Role::Caption, caption));
        }
        self.y += TITLE + height;
    }

    fn mark(&self, mark: Mark, leaf: usize) -> Item {
        match mark {
            Mark::Band {
                x,
                y,
                width,
                height,
            } => Item {
                x,
                y,
                shape: Shape::Fill {
                    width,
                    height,
                    colour: PALE,
                },
                leaf: Some(leaf),
            },
            Mark::Line(ink, points) => {
                let (width, colour, dash) = match ink {
                    Ink::Frame => (0.7, BLACK, None),
                    Ink::Grid => (0.5, GREY, None),
                    Ink::Zero => (0.6, MIDDLE, None),
                    Ink::Limit => (0.8, BLUE, Some((4.0, 2.0))),
                    Ink::Curve => (0.9, BLACK, None),
                };
                Item {
                    x: 0.0,
                    y: 0.0,
                    shape: Shape::Line {
                        points,
                        width,
                        colour,
                        dash,
                    },
                    leaf: Some(leaf),
                }
            }
            Mark::Text(anchor, (x, y), text) => {
                let width = self.fonts.width(&text, Weight::Regular, TEXT_SIZE);
                let x = match anchor {
                    Anchor::Start => x,
                    Anchor::Middle => x - 0.5 * width,
                    Anchor::End => x - width,
                };
                Item::text(x, y, TEXT_SIZE, Weight::Regular, text).of(leaf)
            }
        }
    }
}
