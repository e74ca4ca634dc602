//! What is laid out goes into the document, with its structure.

use super::{
    super::{SheetError, document::Sheet},
    Paper,
    fonts::Fonts,
    placed::{Child, Element, Item, Page, Role, Shape},
};
use jiff::{Timestamp, tz::TimeZone};
use krilla::{
    Document,
    color::rgb,
    geom::{PathBuilder, Point, Rect},
    metadata::{DateTime, Metadata},
    num::NormalizedF32,
    page::PageSettings,
    paint::{Fill, Stroke, StrokeDash},
    surface::Surface,
    tagging::{
        Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node, SpanTag,
        TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
    },
};
use std::num::NonZeroU16;

const LANGUAGE: &str = "en";

/// Writes the document.
///
/// # Errors
/// When the library refuses it; one line.
pub fn document(
    sheet: &Sheet,
    pages: &[Page],
    structure: Vec<Element>,
    fonts: &Fonts,
    paper: Paper,
    generator: &str,
) -> Result<Vec<u8>, SheetError> {
    let mut document = Document::new();
    let (width, height) = paper.size();
    let mut leaves: Vec<Vec<Identifier>> = Vec::new();
    for page in pages {
        let settings = PageSettings::from_wh(width, height)
            .ok_or_else(|| SheetError("the paper has no size".into()))?;
        let mut page_out = document.start_page_with(settings);
        let mut surface = page_out.surface();
        for run in page.items.chunk_by(|a, b| a.leaf == b.leaf) {
            of_run(&mut surface, run, fonts, &mut leaves);
        }
        surface.finish();
        page_out.finish();
    }
    let mut tree = TagTree::new().with_lang(Some(LANGUAGE.into()));
    for element in structure {
        tree.push(group(element, &mut leaves));
    }
    document.set_tag_tree(tree);
    document.set_metadata(metadata(sheet, generator));
    document
        .finish()
        .map_err(|error| SheetError(format!("the sheet cannot be written as PDF: {error:?}")))
}

fn metadata(sheet: &Sheet, generator: &str) -> Metadata {
    let mut metadata = Metadata::new()
        .title(sheet.title.clone())
        .language(LANGUAGE.into())
        .creator(generator.into())
        .producer(generator.into())
        .document_id(sheet.title.clone());
    if !sheet.workshop.is_empty() {
        metadata = metadata.authors(vec![sheet.workshop.clone()]);
    }
    match date(sheet.dated) {
        Some(date) => metadata.creation_date(date),
        None => metadata,
    }
}

/// The document's date; `None` for a year that PDF cannot say.
fn date(at: Timestamp) -> Option<DateTime> {
    let at = at.to_zoned_datetime(TimeZone::UTC);
    let year = u16::try_from(at.year()).ok()?;
    let part = |value: i8| u8::try_from(value).unwrap_or_default();
    Some(
        DateTime::new(year)
            .month(part(at.month()))
            .day(part(at.day()))
            .hour(part(at.hour()))
            .minute(part(at.minute()))
            .second(part(at.second()))
            .utc_offset_hour(0)
            .utc_offset_minute(0),
    )
}

/// Neighbours that belong to the same leaf.
fn of_run(
    surface: &mut Surface<'_>,
    run: &[Item],
    fonts: &Fonts,
    leaves: &mut Vec<Vec<Identifier>>,
) {
    let Some(first) = run.first() else {
        return;
    };
    match first.leaf {
        Some(leaf) => {
            let text = run
                .iter()
                .all(|item| matches!(item.shape, Shape::Text { .. }));
            let tag = if text {
                ContentTag::Span(SpanTag::empty())
            } else {
                ContentTag::Other
            };
            let identifier = surface.start_tagged(tag);
            if leaves.len() <= leaf {
                leaves.resize_with(leaf + 1, Vec::new);
            }
            leaves[leaf].push(identifier);
        }
        None => {
            let artifact = Artifact::with_kind(ArtifactType::Layout);
            surface.start_tagged(ContentTag::Artifact(artifact));
        }
    }
    for item in run {
        draw(surface, item, fonts);
    }
    surface.end_tagged();
}

fn draw(surface: &mut Surface<'_>, item: &Item, fonts: &Fonts) {
    match &item.shape {
        Shape::Text { size, weight, text } => {
            surface.set_stroke(None);
            surface.set_fill(Some(fill((0x1a, 0x1a, 0x1a))));
            let glyphs = fonts.glyphs(text, *weight);
            let at = Point::from_xy(item.x, item.y);
            surface.draw_glyphs(at, &glyphs, fonts.font(*weight), text, *size, false);
        }
        Shape::Line {
            points,
            width,
            colour,
            dash,
        } => {
            let mut path = PathBuilder::new();
            for (at, (x, y)) in points.iter().enumerate() {
                let (x, y) = (item.x + x, item.y + y);
                if at == 0 {
                    path.move_to(x, y)
                } else {
                    path.line_to(x, y)
                }
            }
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                paint: ink(*colour).into(),
                width: *width,
                dash: dash.map(|(dash, gap)| StrokeDash {
                    array: vec![dash, gap],
                    offset: 0.0,
                }),
                ..Stroke::default()
            }));
            if let Some(path) = path.finish() {
                surface.draw_path(&path);
            }
        }
        Shape::Fill {
            width,
            height,
            colour,
        } => {
            let mut path = PathBuilder::new();
            if let Some(rect) = Rect::from_xywh(item.x, item.y, *width, *height) {
                path.push_rect(rect);
            }
            surface.set_stroke(None);
            surface.set_fill(Some(fill(*colour)));
            if let Some(path) = path.finish() {
                surface.draw_path(&path);
            }
        }
    }
}

fn ink((red, green, blue): (u8, u8, u8)) -> rgb::Color {
    rgb::Color::new(red, green, blue)
}

fn fill(colour: (u8, u8, u8)) -> Fill {
    Fill {
        paint: ink(colour).into(),
        opacity: NormalizedF32::ONE,
        ..Fill::default()
    }
}

/// An element with what was drawn for it.
fn group(element: Element, leaves: &mut [Vec<Identifier>]) -> Node {
    let mut group = TagGroup::new(kind(element.role));
    for child in element.children {
        match child {
            Child::Element(element) => group.push(self::group(element, leaves)),
            Child::Leaf(leaf) => {
                let drawn = leaves.get_mut(leaf).map(std::mem::take);
                for identifier in drawn.unwrap_or_default() {
                    group.push(identifier);
                }
            }
        }
    }
    Node::Group(group)
}

fn kind(role: Role) -> TagKind {
    match role {
        Role::Heading(level, text) => {
            let level = NonZeroU16::new(level.into()).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(text)).into()
        }
        Role::Paragraph => Tag::P.into(),
        Role::List => Tag::L(ListNumbering::Disc).into(),
        Role::ListItem => Tag::LI.into(),
        Role::ListBody => Tag::LBody.into(),
        Role::Table(summary) => Tag::Table.with_summary(Some(summary)).into(),
        Role::Row => Tag::TR.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Cell => Tag::TD.into(),
        Role::Caption => Tag::Caption.into(),
        Role::Figure(description) => Tag::Figure(Some(description)).into(),
    }
}
