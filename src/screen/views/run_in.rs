//! The run-in in the main view: the speed over the hours with its trend, the flutter below, what happened between
//! them, and in words what it shows.

use crate::{
    run_in::{Evaluation, Event, EventKind, Trend, Verdict},
    screen::{
        model::{
            format,
            run_in::{Scale, pieces, with_minus},
        },
        paint::{heard, ribbon::Pen, run_chart::RunChart, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Align2, Id, Label, Painter, Rect, RichText, ScrollArea, Sense, Stroke, StrokeKind, Ui,
    UiBuilder, Vec2, accesskit::Role, pos2, vec2,
};

/// From this width on the words stand beside the curves, points.
const WIDE: f32 = 900.0;
/// Share of the width that the curves have then.
const CURVES: f32 = 0.6;
/// Least height of the curves, points.
const LEAST_CURVES: f32 = 250.0;
/// The strip between the curves, with the letters of the events, points.
const EVENTS: f32 = 24.0;
/// The strip with the typed temperatures, points.
const TEMPERATURES: f32 = 22.0;
/// Hours and minutes below, points.
const TIMES: f32 = 24.0;
/// From this width on a row's label stands beside its words, points.
const BESIDE: f32 = 420.0;
/// Width of the labels then, points.
const LABELS: f32 = 140.0;
/// An arrow key moves the words by this much, points.
const SCROLLED: f32 = 120.0;
/// Events listed at each end of a long list.
const LISTED: usize = 20;

/// What the view shows.
pub struct RunInView<'a> {
    /// The log's name.
    pub name: &'a str,
    /// Where it stands, in words.
    pub state: &'a str,
    /// When it started, in words.
    pub started: &'a str,
    /// What it shows.
    pub shown: &'a Evaluation,
    /// By how many key presses the words are to be moved: down is positive.
    pub moved: isize,
}

/// Shows the view in all the room there is; true when it is to be closed.
pub fn show(ui: &mut Ui, view: &RunInView<'_>) -> bool {
    if ui.available_width() < WIDE {
        scroll(ui, view.moved);
    }
    let closed = head(ui, view);
    let (width, height) = (ui.available_width(), ui.available_height());
    if width >= WIDE {
        let height = height.max(LEAST_CURVES);
        let (place, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
        let (left, right) = place.split_left_right_at_fraction(CURVES);
        curves(ui, left.with_max_x(left.right() - 16.0), view.shown);
        let mut beside = ui.new_child(UiBuilder::new().max_rect(right));
        ScrollArea::vertical()
            .id_salt("run-in words")
            .auto_shrink(false)
            .show(&mut beside, |ui| {
                scroll(ui, view.moved);
                sentences(ui, view.shown);
            });
    } else {
        let (place, _) = ui.allocate_exact_size(vec2(width, LEAST_CURVES), Sense::hover());
        curves(ui, place, view.shown);
        ui.add_space(6.0);
        sentences(ui, view.shown);
    }
    closed
}

/// Moves the words as asked by keys.
fn scroll(ui: &mut Ui, moved: isize) {
    if moved != 0 {
        ui.scroll_with_delta(vec2(0.0, -SCROLLED * moved as f32));
    }
}

fn head(ui: &mut Ui, view: &RunInView<'_>) -> bool {
    let closed = ui
        .horizontal_wrapped(|ui| {
            let closed = ui.button("Close (Esc)").clicked();
            let title = format!("Run-in: {}", view.name);
            ui.add(Label::new(RichText::new(title).font(theme::strong(20.0))).truncate());
            closed
        })
        .inner;
    let shown = view.shown;
    let mut words = format!(
        "{}. {}, started {}; {}",
        view.state,
        format::duration(shown.seconds),
        view.started,
        format::counted(shown.readings, "reading", "readings")
    );
    if shown.sessions > 1 {
        words += &format!(" in {} sessions", shown.sessions);
    }
    if shown.damaged_lines > 0 {
        let damaged = format::counted(shown.damaged_lines, "damaged line", "damaged lines");
        words += &format!("; {damaged} passed over");
    }
    words += &format!(". {}, read against {}", shown.source, shown.expected);
    ui.add(Label::new(RichText::new(words).weak()).wrap());
    ui.add_space(2.0);
    closed
}

/// Speed above, flutter below, events and temperatures between them, one axis of time for all.
fn curves(ui: &Ui, place: Rect, shown: &Evaluation) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(place);
    let speeds = shown
        .course
        .steps
        .iter()
        .filter_map(|step| step.speed_percent.value());
    let Some(scale) = Scale::holding(speeds, 6) else {
        let text =
            "No speed was read yet: the first reading comes after some seconds of a steady tone.";
        let galley = words::lines(
            &painter,
            text,
            theme::text(17.0),
            3,
            place.width(),
            palette.quiet,
        );
        words::put(&painter, place.min, Align2::LEFT_TOP, galley);
        heard::reading(
            ui,
            place,
            Id::unique("run-in speed"),
            Role::Image,
            "speed over the run",
            text,
        );
        return;
    };
    let typed = if shown.temperatures.is_empty() {
        0.0
    } else {
        TEMPERATURES
    };
    let rest = place.height() - EVENTS - typed - TIMES;
    let above = Rect::from_min_size(place.min, vec2(place.width(), rest * 0.6));
    let below = Rect::from_min_size(
        pos2(place.left(), above.bottom() + EVENTS),
        vec2(place.width(), rest * 0.4),
    );
    let speed = RunChart::new(above, shown.seconds, scale);
    paint_speed(&painter, &speed, shown, palette);
    heard::reading(
        ui,
        above,
        Id::unique("run-in speed"),
        Role::Image,
        "speed over the run",
        &spoken(shown),
    );
    let bottom = paint_flutter(ui, &painter, below, shown, palette);
    paint_events(
        &painter,
        &speed,
        (above.bottom(), bottom),
        &shown.events,
        palette,
    );
    paint_steady(&painter, &speed, shown, palette);
    if typed > 0.0 {
        paint_temperatures(&painter, &speed, bottom, shown, palette);
    }
    speed.paint_times(&painter, bottom + typed, palette);
}

fn paint_speed(painter: &Painter, chart: &RunChart, shown: &Evaluation, palette: &Palette) {
    let trends: Vec<&Trend> = [&shown.trend, &shown.trend_lately]
        .into_iter()
        .flatten()
        .filter(|trend| trend.verdict() != Verdict::NoDifferenceShown)
        .collect();
    let steady = &shown.steady;
    let mut title = "speed deviation, % (minute means); time in h:min".to_owned();
    if !trends.is_empty() {
        title += "; dashed: trend";
    }
    if steady.since_s.is_some() {
        title += "; band: steady";
    }
    chart.paint_scale(painter, &title, palette);
    if let (Some(since_s), Some(mean)) = (steady.since_s, steady.mean_percent) {
        let within = steady.within_percent;
        let band = (mean - within, mean + within);
        chart.paint_band(painter, since_s, band, palette.accept);
    }
    paint_unknown(painter, chart, shown, palette);
    for trend in trends {
        let half_s = trend.seconds / 2.0;
        let line = [trend.through_s - half_s, trend.through_s + half_s]
            .map(|at_s| (at_s, trend.percent_at(at_s)));
        chart.paint_curve(painter, &[line.to_vec()], Pen::dashed(palette.second));
    }
    let steps = &shown.course.steps;
    let curve = pieces(steps, shown.course.step_s, |step| {
        step.speed_percent.value()
    });
    chart.paint_curve(painter, &curve, Pen::solid(palette.trail));
}

/// Where the deck became steady, over everything else.
fn paint_steady(painter: &Painter, chart: &RunChart, shown: &Evaluation, palette: &Palette) {
    let Some(since_s) = shown.steady.since_s else {
        return;
    };
    let x = chart.x(since_s);
    painter.vline(x, chart.plot.y_range(), Stroke::new(2.0, palette.good));
    let text = format!("steady since {}", format::duration(since_s));
    let galley = painter.layout_no_wrap(text, theme::text(15.0), palette.good);
    let left = (x + 2.0).min(chart.plot.right() - galley.size().x - 10.0);
    let size = galley.size() + vec2(8.0, 4.0);
    let place = Rect::from_min_size(pos2(left, chart.plot.bottom() - size.y - 2.0), size);
    painter.rect_filled(place, 3.0, palette.raised);
    words::put(painter, place.center(), Align2::CENTER_CENTER, galley);
}

/// Returns where the chart ends.
fn paint_flutter(
    ui: &Ui,
    painter: &Painter,
    place: Rect,
    shown: &Evaluation,
    palette: &Palette,
) -> f32 {
    let steps = &shown.course.steps;
    let values = || {
        steps
            .iter()
            .filter_map(|step| step.weighted_two_sigma_percent.value())
    };
    let title = "weighted flutter, two-sigma, %";
    let Some(scale) =
        Scale::holding(values().chain([0.0]), 3).filter(|_| values().next().is_some())
    else {
        let text = format!("{title}: not read yet");
        let galley = painter.layout_no_wrap(text, theme::text(theme::LABEL), palette.quiet);
        words::put(painter, place.min, Align2::LEFT_TOP, galley);
        return place.bottom();
    };
    let chart = RunChart::new(place, shown.seconds, scale);
    chart.paint_scale(painter, title, palette);
    paint_unknown(painter, &chart, shown, palette);
    let curve = pieces(steps, shown.course.step_s, |step| {
        step.weighted_two_sigma_percent.value()
    });
    chart.paint_curve(painter, &curve, Pen::solid(palette.trail));
    let ends = values().next().zip(values().next_back());
    let heard = ends.map_or_else(String::new, |(first, last)| {
        format!(
            "first {} %, last {} %",
            format::plain(first, 3),
            format::plain(last, 3)
        )
    });
    heard::reading(
        ui,
        place,
        Id::unique("run-in flutter"),
        Role::Image,
        "flutter over the run",
        &heard,
    );
    place.bottom()
}

fn paint_unknown(painter: &Painter, chart: &RunChart, shown: &Evaluation, palette: &Palette) {
    for event in &shown.events {
        if let (EventKind::NotKept, Some(until_s)) = (event.kind, event.until_s) {
            chart.paint_unknown(painter, event.at_s, until_s, palette);
        }
    }
}

/// A line through both charts at each event, and its letter between them where there is room.
fn paint_events(
    painter: &Painter,
    chart: &RunChart,
    (strip, bottom): (f32, f32),
    events: &[Event],
    palette: &Palette,
) {
    let mut taken = f32::NEG_INFINITY;
    for event in events {
        let Some(mark) = event.kind.mark() else {
            continue;
        };
        let x = chart.x(event.at_s);
        let line = Stroke::new(1.0, palette.warn);
        painter.vline(x, chart.plot.top()..=strip, line);
        painter.vline(
            x,
            strip + EVENTS + super::super::paint::run_chart::ABOVE..=bottom,
            line,
        );
        let center = pos2(
            x.clamp(chart.plot.left() + 9.0, chart.plot.right() - 9.0),
            strip + 12.0,
        );
        if center.x - taken < 20.0 {
            continue;
        }
        taken = center.x;
        let place = Rect::from_center_size(center, Vec2::splat(18.0));
        painter.rect_filled(place, 3.0, palette.raised);
        painter.rect_stroke(
            place,
            3.0,
            Stroke::new(1.5, palette.warn),
            StrokeKind::Inside,
        );
        let letter = painter.layout_no_wrap(mark.to_string(), theme::strong(14.0), palette.text);
        words::put(painter, center, Align2::CENTER_CENTER, letter);
    }
}

fn paint_temperatures(
    painter: &Painter,
    chart: &RunChart,
    top: f32,
    shown: &Evaluation,
    palette: &Palette,
) {
    let mut free = f32::NEG_INFINITY;
    for typed in &shown.temperatures {
        let x = chart.x(typed.at_s);
        painter.vline(x, top..=top + 5.0, Stroke::new(2.0, palette.text));
        let text = format!("{} °C", format::plain(typed.celsius, 1));
        let galley = painter.layout_no_wrap(text, theme::text(14.0), palette.text);
        let left = (x - galley.size().x / 2.0).clamp(
            chart.plot.left(),
            (chart.plot.right() - galley.size().x).max(chart.plot.left()),
        );
        if left > free {
            free = left + galley.size().x + 6.0;
            words::put(painter, pos2(left, top + 4.0), Align2::LEFT_TOP, galley);
        }
    }
}

fn spoken(shown: &Evaluation) -> String {
    let rows = shown.speed_rows();
    let told = rows.iter().filter(|(label, _)| *label != "steady means");
    let told: Vec<String> = told
        .map(|(label, words)| format!("{label} {}", with_minus(words)))
        .collect();
    told.join("; ")
}

/// Everything the evaluation says.
fn sentences(ui: &mut Ui, shown: &Evaluation) {
    section(ui, "Speed", &shown.speed_rows());
    section(ui, "Warm-up", &shown.warm_up_rows());
    section(ui, "First to last ten minutes", &shown.change_rows());
    if let Some(ends) = &shown.ends {
        title(ui, "Both ends of the tape, of the longest pass");
        for difference in &ends.differences {
            ui.add(Label::new(with_minus(&difference.words)).wrap());
        }
    }
    title(ui, "Events");
    if shown.events.is_empty() {
        ui.label("None.");
    }
    let count = shown.events.len();
    let left_out = count.saturating_sub(2 * LISTED);
    for (i, event) in shown.events.iter().enumerate() {
        if left_out > 0 && (LISTED..count - LISTED).contains(&i) {
            if i == LISTED {
                ui.add(Label::new(
                    RichText::new(format!("… {left_out} more …")).weak(),
                ));
            }
            continue;
        }
        one_event(ui, i, event);
    }
    if shown.events_not_listed > 0 {
        let more = format!(
            "and {} more that were only counted",
            shown.events_not_listed
        );
        ui.add(Label::new(RichText::new(more).weak()).wrap());
    }
}

fn one_event(ui: &mut Ui, index: usize, event: &Event) {
    let mark = event
        .kind
        .mark()
        .map_or_else(String::new, |mark| format!("{mark}  "));
    let head = format!(
        "{mark}{}  {}",
        format::duration(event.at_s),
        event.kind.name()
    );
    let response = ui.add(Label::new(RichText::new(head).font(theme::strong(15.0))).wrap());
    let words = with_minus(&event.words);
    let rect = response.rect;
    let name = format!("event {}", event.kind.name());
    let value = format!("at {}: {words}", format::duration(event.at_s));
    heard::reading(
        ui,
        rect,
        Id::unique(("run-in event", index)),
        Role::Row,
        &name,
        &value,
    );
    ui.add(Label::new(words).wrap());
}

fn section(ui: &mut Ui, name: &str, rows: &[(&'static str, String)]) {
    if rows.is_empty() {
        return;
    }
    title(ui, name);
    let beside = ui.available_width() >= BESIDE;
    for (label, words) in rows {
        let words = with_minus(words);
        let id = Id::unique(("run-in words", name, *label));
        let rect = if beside {
            one_row(ui, label, &words)
        } else {
            let above = ui.add(Label::new(quiet(label)).wrap()).rect;
            above.union(ui.add(Label::new(&words).wrap()).rect)
        };
        heard::reading(ui, rect, id, Role::Row, label, &words);
    }
}

/// The label at the left, the words in the rest of the width.
fn one_row(ui: &mut Ui, label: &str, words: &str) -> Rect {
    ui.horizontal_top(|ui| {
        let name = words::lines(
            ui.painter(),
            label,
            theme::text(theme::LABEL),
            2,
            LABELS - 8.0,
            Palette::of(ui).quiet,
        );
        let (place, _) = ui.allocate_exact_size(vec2(LABELS, name.size().y), Sense::hover());
        words::put(ui.painter(), place.min, Align2::LEFT_TOP, name);
        ui.add(Label::new(words).wrap());
    })
    .response
    .rect
}

fn quiet(text: &str) -> RichText {
    RichText::new(text).small().weak()
}

fn title(ui: &mut Ui, text: &str) {
    ui.add_space(4.0);
    ui.add(Label::new(RichText::new(text).font(theme::strong(16.0))).wrap());
}
