//! The sheet as one HTML file: no script, nothing from outside, pictures drawn in place. Whatever was typed is escaped by
//! the template.

use super::{
    GENERATOR,
    document::{Align, Block, Column, Row, Sheet, Table},
    picture::{Anchor, Ink, Mark, Picture, TEXT_SIZE},
};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Size of a picture in its own unit; the page scales it.
const PICTURE: (f32, f32) = (250.0, 130.0);

const STYLE: &str = include_str!("sheet.css");
/// Nothing may be fetched and nothing run, even if somebody puts something in later.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// The file's text.
pub fn html(sheet: &Sheet) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(GENERATOR);
                title { (sheet.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main class="owner" { @for block in &sheet.owner { (of_block(block)) } }
                section class="technical" aria-label="Technical page" {
                    @for block in &sheet.technical { (of_block(block)) }
                }
            }
        }
    };
    page.into_string()
}

fn of_block(block: &Block) -> Markup {
    match block {
        Block::Letterhead {
            name,
            lines,
            beside,
        } => html! {
            header {
                address {
                    @if !name.is_empty() { strong dir="auto" { (name) } }
                    @for line in lines { span dir="auto" { (line) } }
                }
                p { @for line in beside { span dir="auto" { (line) } } }
            }
        },
        Block::Heading(1, text) => html! { h1 dir="auto" { (text) } },
        Block::Heading(_, text) => html! { h2 dir="auto" { (text) } },
        Block::Paragraph(text) => html! { p dir="auto" { (text) } },
        Block::List(items) => html! { ul { @for item in items { li dir="auto" { (item) } } } },
        Block::Pairs(pairs) => html! {
            dl { @for (term, text) in pairs { dt { (term) } dd dir="auto" { (text) } } }
        },
        Block::Table(table) => of_table(table),
        Block::Pictures(pictures) => html! {
            div class="pictures" { @for (at, picture) in pictures.iter().enumerate() { (of_picture(picture, at)) } }
        },
    }
}

fn of_table(table: &Table) -> Markup {
    html! {
        div class="table" {
            table {
                caption { (table.caption) }
                thead { tr {
                    @for (at, column) in table.columns.iter().enumerate() { (head(table, column, at)) }
                } }
                tbody { @for row in &table.rows { (of_row(table, row)) } }
            }
        }
    }
}

/// A column without a title of its own carries the verdict on the one before it.
fn head(table: &Table, column: &Column, at: usize) -> Markup {
    let spoken = match at
        .checked_sub(1)
        .and_then(|before| table.columns.get(before))
    {
        Some(before) if column.title.is_empty() => format!("{}: verdict", before.title),
        None if column.title.is_empty() => "figure".into(),
        _ => String::new(),
    };
    html! {
        th scope="col" class=(class(column)) {
            @if spoken.is_empty() { (column.title) } @else { span class="spoken" { (spoken) } }
        }
    }
}

fn of_row(table: &Table, row: &Row) -> Markup {
    match row {
        Row::Group(text) => html! {
            tr class="group" { th scope="rowgroup" colspan=(table.columns.len()) { (text) } }
        },
        Row::Cells(cells) => html! {
            tr {
                @for (at, (cell, column)) in cells.iter().zip(&table.columns).enumerate() {
                    @if at == 0 {
                        th scope="row" dir="auto" { (cell) }
                    } @else {
                        td class=(class(column)) dir="auto" { (cell) }
                    }
                }
            }
        },
    }
}

fn class(column: &Column) -> &'static str {
    match column.align {
        Align::Left => "words",
        Align::Right => "number",
    }
}

fn of_picture(picture: &Picture, at: usize) -> Markup {
    let (width, height) = PICTURE;
    let title = format!("picture-{at}");
    html! {
        figure {
            svg viewBox=(format!("0 0 {width} {height}")) role="img" aria-labelledby=(title) {
                title id=(title) { (picture.description) }
                @for mark in picture.marks(width, height) { (of_mark(&mark)) }
            }
            figcaption { (picture.title) ", % over seconds" }
        }
    }
}

fn of_mark(mark: &Mark) -> Markup {
    match mark {
        Mark::Band {
            x,
            y,
            width,
            height,
        } => html! {
            rect class="band" x=(coordinate(*x)) y=(coordinate(*y)) width=(coordinate(*width)) height=(coordinate(*height)) {}
        },
        Mark::Line(ink, points) => {
            let points: Vec<_> = points
                .iter()
                .map(|&(x, y)| format!("{},{}", coordinate(x), coordinate(y)))
                .collect();
            html! { polyline class=(ink_class(*ink)) points=(points.join(" ")) {} }
        }
        Mark::Text(anchor, (x, y), text) => {
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            html! {
                text x=(coordinate(*x)) y=(coordinate(*y)) text-anchor=(anchor) font-size=(TEXT_SIZE) { (text) }
            }
        }
    }
}

fn coordinate(value: f32) -> String {
    format!("{value:.2}")
}

fn ink_class(ink: Ink) -> &'static str {
    match ink {
        Ink::Frame => "frame",
        Ink::Grid => "grid",
        Ink::Zero => "zero",
        Ink::Limit => "limit",
        Ink::Curve => "curve",
    }
}
