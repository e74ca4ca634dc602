//! The top of the view: the answer in words, and what it rests on.

use super::MechanismView;
use crate::{
    readings::{LEAST_SECONDS, MechanismReading, Readings, Validity},
    screen::{
        model::{
            State,
            adjustment::advice,
            format,
            mechanism::{Answer, answer, brief},
        },
        paint::{heard, marks, words},
        theme::{self, Palette},
    },
};
use eframe::egui::{Align2, Id, Rect, Ui, Vec2, accesskit::Role, pos2, vec2};

/// Least height, points.
pub const LEAST: f32 = 46.0;
/// Comfortable height, points.
pub const WANTED: f32 = 72.0;
/// Share of the width for what it rests on.
const BASIS_SHARE: f32 = 0.3;
/// Tape speeds that differ by more than this part do not belong together.
const OTHER_SPEED: f64 = 0.01;

/// Shows the answer in `rect`.
pub fn show(ui: &Ui, rect: Rect, view: &MechanismView<'_>, reading: &MechanismReading) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let (left, right) = rect.split_left_right_at_fraction(1.0 - BASIS_SHARE);
    let left = left.with_max_x(left.right() - 20.0);
    let answer = answer(reading);
    let low = rect.height() < 60.0;
    let size = if low { 22.0 } else { 30.0 };
    let head = words::line(
        &painter,
        &answer.head,
        theme::strong,
        size,
        16.0,
        left.width(),
        palette.text,
    );
    let head = words::put(&painter, left.min, Align2::LEFT_TOP, head);
    let whole = painter.layout_no_wrap(answer.sentence.clone(), theme::text(17.0), palette.quiet);
    let sentence = if whole.size().x <= left.width() {
        whole
    } else {
        let font = theme::text(if low { 12.0 } else { 13.0 });
        let rows = if low { 1 } else { 2 };
        words::lines(
            &painter,
            &answer.sentence,
            font,
            rows,
            left.width(),
            palette.quiet,
        )
    };
    let at = pos2(left.left(), head.bottom() + if low { 0.0 } else { 2.0 });
    words::put(&painter, at, Align2::LEFT_TOP, sentence);
    tell(ui, rect, &answer);
    show_basis(ui, right, view, reading);
}

/// The mechanism file, the seconds read and the resolution, at the right.
fn show_basis(ui: &Ui, rect: Rect, view: &MechanismView<'_>, reading: &MechanismReading) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let lines = [
        deck(view),
        format!(
            "{:.0} s read; {} Hz apart stand as two",
            reading.seconds,
            format::plain(reading.resolution_hz, 3)
        ),
        format!(
            "weighted {} % rms ±{}",
            format::plain(reading.whole.weighted_rms_percent.value, 3),
            format::plain(reading.whole.weighted_rms_percent.uncertainty, 3)
        ),
    ];
    let row = (rect.height() / 3.0).min(21.0);
    for (i, line) in lines.iter().enumerate() {
        let warns = i == 0 && speed_warning(view).is_some();
        let color = if warns {
            palette.warn
        } else if i == 0 {
            palette.text
        } else {
            palette.quiet
        };
        let galley = words::line(
            &painter,
            line,
            theme::text,
            if row < 18.0 { 13.0 } else { 15.0 },
            11.0,
            rect.width() - if warns { 24.0 } else { 0.0 },
            color,
        );
        let at = pos2(rect.right(), rect.top() + row * i as f32);
        let put = words::put(&painter, at, Align2::RIGHT_TOP, galley);
        if warns {
            let mark = pos2(put.left() - 12.0, put.center().y);
            marks::warning(
                &painter,
                Rect::from_center_size(mark, Vec2::splat(15.0)),
                palette,
            );
        }
    }
    let id = Id::unique("mechanism basis");
    heard::reading(
        ui,
        rect,
        id,
        Role::Status,
        "mechanism read",
        &lines.join("; "),
    );
}

/// The deck in use.
fn deck(view: &MechanismView<'_>) -> String {
    match (&view.setup.mechanism, speed_warning(view)) {
        (_, Some(warning)) => warning,
        (Some(deck), None) => deck.title.clone(),
        (None, None) => "no deck chosen (m)".into(),
    }
}

/// Says that the mechanism is of another tape speed than the tape format in use.
fn speed_warning(view: &MechanismView<'_>) -> Option<String> {
    let deck = view.setup.mechanism.as_ref()?;
    let format = &view.setup.tape_format;
    let ratio = deck.tape_speed_m_per_s / format.tape_speed_m_per_s;
    ((ratio - 1.0).abs() > OTHER_SPEED).then(|| {
        format!(
            "{} is for {} cm/s, the tape format (t) for {}",
            deck.title,
            format::plain(100.0 * deck.tape_speed_m_per_s, 2),
            format::plain(100.0 * format.tape_speed_m_per_s, 2)
        )
    })
}

/// Why there is nothing yet, and what to do about it.
pub fn show_reason(ui: &Ui, rect: Rect, view: &MechanismView<'_>) {
    let palette = Palette::of(ui);
    let painter = ui.painter_at(rect);
    let (validity, answer) = reason(view);
    let size = (rect.height() * 0.16).clamp(24.0, 44.0);
    let mark = Rect::from_min_size(rect.min + vec2(0.0, 6.0), Vec2::splat(size));
    marks::state(&painter, mark, State::NotValid(validity), None, palette);
    let width = rect.width() - size - 20.0;
    let head = words::line(
        &painter,
        &answer.head,
        theme::strong,
        size,
        18.0,
        width,
        palette.warn,
    );
    let at = pos2(mark.right() + 16.0, mark.center().y);
    words::put(&painter, at, Align2::LEFT_CENTER, head);
    let font = theme::text(20.0);
    let galley = words::lines(
        &painter,
        &answer.sentence,
        font,
        4,
        rect.width(),
        palette.text,
    );
    let at = pos2(rect.left(), mark.bottom() + 14.0);
    words::put(&painter, at, Align2::LEFT_TOP, galley);
    tell(ui, rect, &answer);
}

fn reason(view: &MechanismView<'_>) -> (Validity, Answer) {
    let deck = match &view.setup.mechanism {
        Some(deck) => format!(" The deck is '{}'.", deck.title),
        None => {
            " No deck is chosen: m chooses one, so that lines get the names of its parts.".into()
        }
    };
    let (validity, what) = match view.readings.flutter.status {
        Validity::Ok | Validity::Settling => (
            Validity::Settling,
            format!(
                "Let the tone run: the first lines take {LEAST_SECONDS:.0} s of it, a reel's some ten, and half a \
                 minute tells slow parts apart."
            ),
        ),
        other => (other, format!("{}.", format::capitalised(advice(other)))),
    };
    let answer = Answer {
        head: validity.words().into(),
        sentence: format!("{what}{deck}"),
    };
    (validity, answer)
}

fn tell(ui: &Ui, rect: Rect, answer: &Answer) {
    let id = Id::unique("mechanism answer");
    let value = format!("{}. {}", answer.head, answer.sentence);
    heard::announced(ui, rect, id, "Mechanism answer", &value);
}

/// The answer on the card.
pub fn short_answer(readings: &Readings) -> String {
    match &readings.mechanism {
        Some(reading) => brief(reading),
        None => match readings.flutter.status {
            Validity::Ok => Validity::Settling.words().into(),
            status => status.words().into(),
        },
    }
}

/// The second line of the card.
pub fn second_line(readings: &Readings) -> String {
    match &readings.mechanism {
        Some(reading) if reading.mechanism.is_some() => {
            format!("of the flutter; {:.0} s read", reading.seconds)
        }
        Some(_) => "no deck chosen (m)".into(),
        None => String::new(),
    }
}
