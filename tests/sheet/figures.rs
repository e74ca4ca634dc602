//! Every figure on the sheet is the record's, to the last digit that is printed.

use crate::stage::{jobs, pdf_pages, unescaped};
use trimwatch::bench::{
    Check, Figure, Job, Quantity, Stage,
    sheet::{Paper, Sheet, html},
};

/// A number as the sheet must print it, written out anew.
fn printed(value: f64, decimals: usize, signed: bool) -> String {
    let text = if signed {
        format!("{value:+.decimals$}")
    } else {
        format!("{value:.decimals$}")
    };
    let zero: f64 = text.parse().expect("a number");
    if zero == 0.0 {
        return format!("{:.decimals$}", 0.0);
    }
    text.replace('-', "−")
}

/// The figure that counts, found without the sheet's help.
fn standing(job: &Job, quantity: Quantity, stage: Stage) -> Option<Figure> {
    let gauges = job
        .checks
        .iter()
        .rev()
        .filter(|done| done.withdrawn.is_none());
    let gauge = gauges
        .filter(|done| done.stage == stage)
        .find_map(|done| match &done.check {
            Check::Gauge { figure, .. } if figure.quantity == quantity => Some(*figure),
            _ => None,
        });
    let mut readings = job
        .readings
        .iter()
        .rev()
        .filter(|reading| reading.withdrawn.is_none());
    let place = (quantity.station(), stage);
    let reading = readings
        .find(|reading| (reading.station, reading.stage) == place)
        .and_then(|reading| {
            reading
                .figures
                .iter()
                .find(|figure| figure.quantity == quantity)
        });
    gauge.or(reading.copied())
}

/// What the row of a quantity must say, in this order.
fn wanted(job: &Job, quantity: Quantity) -> Vec<String> {
    let figures = [Stage::AsFound, Stage::AsLeft].map(|stage| standing(job, quantity, stage));
    let mut wanted = Vec::new();
    for figure in figures.into_iter().flatten() {
        wanted.push(printed(
            figure.value,
            quantity.decimals(),
            quantity.is_signed(),
        ));
        if let Some(uncertainty) = figure.uncertainty {
            let decimals = (quantity.decimals()..6)
                .find(|&decimals| {
                    uncertainty == 0.0 || uncertainty >= 0.5 * 10f64.powi(-(decimals as i32))
                })
                .unwrap_or(6);
            wanted.push(printed(uncertainty, decimals, false));
        }
    }
    wanted
}

fn name(quantity: Quantity) -> String {
    match quantity.unit() {
        "" => quantity.name().into(),
        unit => format!("{}, {unit}", quantity.name()),
    }
}

fn assert_in_order(row: &str, wanted: &[String], what: &str) {
    let row = row.replace('±', " ± ");
    let mut words = row.split(|c: char| c.is_whitespace() || "()".contains(c));
    for word in wanted {
        assert!(
            words.any(|other| other == word),
            "{word} of {what} in: {row}"
        );
    }
}

#[test]
fn every_figure_of_the_html_is_the_records() {
    for job in jobs() {
        let page = html(&Sheet::of(&job, &[]));
        let mut compared = 0;
        for &quantity in Quantity::ALL {
            let wanted = wanted(&job, quantity);
            let head = format!("<th scope=\"row\" dir=\"auto\">{}</th>", name(quantity));
            let rows: Vec<_> = page.match_indices(&head).collect();
            assert_eq!(
                rows.len(),
                usize::from(!wanted.is_empty()),
                "{} {}",
                job.number,
                name(quantity)
            );
            if let Some((at, _)) = rows.first() {
                let row = page[at + head.len()..]
                    .split("</tr>")
                    .next()
                    .expect("a row");
                let text = unescaped(&row.replace('<', " <").replace('>', "> "));
                assert_in_order(&text, &wanted, &name(quantity));
                compared += wanted.len();
            }
        }
        assert!(compared > 60, "{} figures of {}", compared, job.number);
    }
}

#[test]
fn every_figure_of_the_pdf_is_the_records() {
    for job in jobs() {
        let Some(pages) = pdf_pages(&Sheet::of(&job, &[]), Paper::A4) else {
            return;
        };
        let technical = pages[1..].join("\n").replace('\u{a0}', " ");
        for &quantity in Quantity::ALL {
            let wanted = wanted(&job, quantity);
            if wanted.is_empty() {
                continue;
            }
            let row = technical
                .lines()
                .find(|line| line.trim_start().starts_with(&name(quantity)));
            let row =
                row.unwrap_or_else(|| panic!("{} of {}:\n{technical}", name(quantity), job.number));
            assert_in_order(row, &wanted, &name(quantity));
        }
    }
}

/// A changed record changes the sheet: the comparison above does compare.
#[test]
fn a_figure_that_changes_is_printed_changed() {
    let mut job = jobs().swap_remove(0);
    let before = html(&Sheet::of(&job, &[]));
    let reading = job
        .readings
        .iter_mut()
        .rfind(|reading| reading.withdrawn.is_none())
        .expect("one");
    reading.figures[0].value += 0.1;
    assert_ne!(html(&Sheet::of(&job, &[])), before);
}
