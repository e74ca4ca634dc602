//! The sheet as PDF: laid out here, written by a document library, tagged for screen readers. The same sheet gives the
//! same bytes.

mod flow;
mod fonts;
mod paint;
mod placed;
mod table;

use super::{
    GENERATOR, SheetError,
    document::{Block, Sheet},
    words,
};
use flow::{Flow, Style};
use fonts::Fonts;
use placed::{Item, Page, Weight};

/// The paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4.
    #[default]
    A4,
    /// US Letter.
    Letter,
}

impl Paper {
    /// Width and height, points.
    pub const fn size(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }

    /// The form in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::A4 => "PDF, A4",
            Self::Letter => "PDF, Letter",
        }
    }
}

/// Margin at the left and at the right, points.
const SIDE: f32 = 46.0;
/// Where the foot's line stands above the paper's lower edge, points.
const FOOT: f32 = 24.0;
/// Size of the foot's text, points.
const FOOT_SIZE: f32 = 7.5;

/// The document's bytes.
///
/// # Errors
/// When the document cannot be written; one line.
pub fn pdf(sheet: &Sheet, paper: Paper) -> Result<Vec<u8>, SheetError> {
    let fonts = Fonts::new()?;
    let pages_of = |blocks: &[Block], style| {
        let mut flow = Flow::new(&fonts, paper.size());
        set(&mut flow, style, blocks);
        flow.finish().0.len()
    };
    // The closer style where it saves a page.
    let fitting = |blocks: &[Block], [roomy, close]: [Style; 2]| {
        let saves = pages_of(blocks, close) < pages_of(blocks, roomy);
        if saves { close } else { roomy }
    };
    let mut flow = Flow::new(&fonts, paper.size());
    for (blocks, styles) in [
        (&sheet.owner, [Style::OWNER, Style::OWNER_CLOSE]),
        (&sheet.technical, [Style::TECHNICAL, Style::DENSE]),
    ] {
        set(&mut flow, fitting(blocks, styles), blocks);
    }
    let (mut pages, structure) = flow.finish();
    feet(sheet, &mut pages, &fonts, paper);
    paint::document(sheet, &pages, structure, &fonts, paper, GENERATOR)
}

/// Sets blocks from a new page on.
fn set(flow: &mut Flow<'_>, style: Style, blocks: &[Block]) {
    flow.begin_page(style);
    for block in blocks {
        of_block(flow, block);
    }
}

fn of_block(flow: &mut Flow<'_>, block: &Block) {
    match block {
        Block::Letterhead {
            name,
            lines,
            beside,
        } => flow.letterhead(name, lines, beside),
        Block::Heading(level, text) => flow.heading(*level, text),
        Block::Paragraph(text) => flow.paragraph(text),
        Block::List(items) => flow.list(items),
        Block::Pairs(pairs) => flow.pairs(pairs),
        Block::Table(table) => table::set(flow, table),
        Block::Pictures(pictures) => flow.pictures(pictures),
    }
}

/// The line at the foot of every page.
fn feet(sheet: &Sheet, pages: &mut [Page], fonts: &Fonts, paper: Paper) {
    let (width, height) = paper.size();
    let count = pages.len();
    let y = height - FOOT;
    let mut words = vec![sheet.title.clone()];
    if !sheet.workshop.is_empty() {
        words.push(sheet.workshop.clone());
    }
    words.push(words::date(sheet.dated));
    let left = words.join(" · ");
    for (at, page) in pages.iter_mut().enumerate() {
        let right = format!("page {} of {count}", at + 1);
        let right_x = width - SIDE - fonts.width(&right, Weight::Regular, FOOT_SIZE);
        let left = fonts.fitting(&left, Weight::Regular, FOOT_SIZE, right_x - SIDE - 12.0);
        page.items
            .push(Item::text(SIDE, y, FOOT_SIZE, Weight::Regular, left));
        page.items
            .push(Item::text(right_x, y, FOOT_SIZE, Weight::Regular, right));
        if fonts.lacked_a_character() {
            let note = "□ stands for a character that cannot be set here: the record and the HTML sheet have it.";
            page.items.push(Item::text(
                SIDE,
                y + 9.0,
                FOOT_SIZE,
                Weight::Regular,
                note.into(),
            ));
        }
    }
}
