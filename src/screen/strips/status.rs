//! The status strip: input, rate, peak level, lost frames, tape, time averaged, state. Always visible, always live.

use crate::{
    readings::{InputState, LevelReading, NoticeCode, Readings, Validity},
    screen::{
        model::{format, level_check},
        paint::{heard, marks, words},
        theme::{self, Palette},
    },
    tables::InputLevelLimits,
};
use eframe::egui::{Align2, Color32, Id, Rect, Sense, Ui, Vec2, accesskit::Role, pos2, vec2};

/// From this width on there is room for the sound system and its buffer, points; the interface's panel has them always.
const WIDE: f32 = 1500.0;

/// One field of the strip.
struct Field {
    name: &'static str,
    value: String,
    warns: bool,
}

/// What the strip shows.
pub struct Status<'a> {
    /// The newest readings, held or not.
    pub readings: Option<&'a Readings>,
    /// What peak level suits the input.
    pub limits: &'a InputLevelLimits,
    /// The tape in use.
    pub tape: &'a str,
    /// The job in hand, and whether that warns; `None` where no jobs are kept.
    pub job: Option<(String, bool)>,
    /// Whether the interface's own errors are taken out of the readings, in words.
    pub corrected: &'static str,
    /// Whether readings should arrive but do not.
    pub stalled: bool,
    /// Whether room is short.
    pub brief: bool,
    /// What a run-in log has to say, and whether that warns.
    pub run_in: Option<(String, bool)>,
    /// What the sound guide does, while it is on.
    pub guide: Option<String>,
}

/// Shows the strip.
pub fn show(ui: &mut Ui, status: &Status<'_>) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(18.0, 2.0);
        let (job, run_in) = (job(status), run_in(status));
        let narrow = ui.available_width() < WIDE;
        for field in job.iter().chain(&fields(status, narrow)).chain(&run_in) {
            show_field(ui, field);
        }
    });
}

fn show_field(ui: &mut Ui, field: &Field) {
    let palette = Palette::of(ui);
    let name = words::line(
        ui.painter(),
        field.name,
        theme::text,
        theme::LABEL,
        theme::LABEL,
        200.0,
        palette.quiet,
    );
    let color: Color32 = if field.warns {
        palette.warn
    } else {
        palette.text
    };
    let mark = if field.warns { 22.0 } else { 0.0 };
    let most = (ui.max_rect().width() - name.size().x - 30.0 - mark).max(40.0);
    let value = words::line(
        ui.painter(),
        &field.value,
        theme::text,
        16.0,
        16.0,
        most,
        color,
    );
    let width = name.size().x + 6.0 + mark + value.size().x;
    let (place, _) = ui.allocate_exact_size(vec2(width, 22.0), Sense::hover());
    let y = place.center().y;
    let name = words::put(
        ui.painter(),
        pos2(place.left(), y),
        Align2::LEFT_CENTER,
        name,
    );
    if field.warns {
        let center = pos2(name.right() + 16.0, y);
        let rect = Rect::from_center_size(center, Vec2::splat(16.0));
        marks::warning(ui.painter(), rect, palette);
    }
    let at = pos2(name.right() + 6.0 + mark, y);
    words::put(ui.painter(), at, Align2::LEFT_CENTER, value);
    let id = Id::unique(("status", field.name));
    heard::reading(ui, place, id, Role::Status, field.name, &field.value);
}

fn run_in(status: &Status<'_>) -> Option<Field> {
    let (value, warns) = status.run_in.clone()?;
    Some(Field {
        name: "run-in",
        value,
        warns,
    })
}

fn fields(status: &Status<'_>, narrow: bool) -> Vec<Field> {
    // With a job before them all, the rest keeps to the one row.
    let crowded = narrow && status.job.is_some();
    let tape = plain("tape", status.tape.into());
    let guide = status.guide.clone().map(|words| plain("guide", words));
    let Some(readings) = status.readings else {
        let fields = vec![plain("input", "none".into()), tape];
        return fields.into_iter().chain(guide).collect();
    };
    let source = &readings.source;
    let (peak, peak_warns) = peak_in_words(readings, status.limits);
    let lost = source.lost_frames > 0 || source.gaps > 0;
    let (state, state_warns) = state_in_words(&source.state, status.stalled);
    let mut fields = vec![
        Field {
            name: "input",
            value: format!("{} ({state})", source.description.name),
            warns: state_warns,
        },
        plain(
            "rate",
            rate_in_words(readings, status.brief || crowded, narrow),
        ),
        Field {
            name: "peak",
            value: peak,
            warns: peak_warns,
        },
        Field {
            name: "lost",
            value: lost_in_words(source.lost_frames, source.gaps),
            warns: lost,
        },
        tape,
        plain("interface", status.corrected.into()),
    ];
    if !crowded {
        fields.push(plain("averaged", averaged_in_words(readings)));
    }
    fields.extend(guide);
    fields
}

fn job(status: &Status<'_>) -> Option<Field> {
    let (value, warns) = status.job.clone()?;
    Some(Field {
        name: "job",
        value,
        warns,
    })
}

fn plain(name: &'static str, value: String) -> Field {
    Field {
        name,
        value,
        warns: false,
    }
}

fn state_in_words(state: &InputState, stalled: bool) -> (String, bool) {
    match state {
        _ if stalled => ("no readings arrive".into(), true),
        InputState::Opening => ("opening".into(), false),
        InputState::Running => ("running".into(), false),
        InputState::Lost(name) => (format!("input lost, waiting for {name}"), true),
        InputState::Ended => ("ended".into(), false),
        InputState::Failed(why) => (format!("failed: {why}"), true),
    }
}

fn rate_in_words(readings: &Readings, brief: bool, narrow: bool) -> String {
    let description = &readings.source.description;
    if brief {
        return format::sample_rate(description.sample_rate_hz);
    }
    let channels = match description.channels {
        1 => "mono".to_owned(),
        2 => "stereo".to_owned(),
        n => format!("{n} channels"),
    };
    let mut words = format!(
        "{} · {} · {channels}",
        format::sample_rate(description.sample_rate_hz),
        description.sample_format
    );
    if narrow {
        return words;
    }
    if let Some(host) = &description.host {
        words += &format!(" · {host}");
    }
    if let Some(frames) = description.buffer_frames {
        words += &format!(" · {frames} frames");
    }
    words
}

/// The recent peak and what it means; true where it warns.
fn peak_in_words(readings: &Readings, limits: &InputLevelLimits) -> (String, bool) {
    let clipping = readings.tone.status == Validity::Clipped
        || readings.level.status == Validity::Clipped
        || readings
            .notices
            .iter()
            .any(|notice| notice.code == NoticeCode::Clipping);
    let numbers = peaks(&readings.level);
    let Some(highest) = level_check::highest(&readings.level) else {
        let words = if clipping {
            "CLIPPING"
        } else {
            format::NOTHING
        };
        return (words.into(), clipping);
    };
    let (verdict, warns) = if clipping {
        ("CLIPPING", true)
    } else if highest > limits.hot_above_dbfs {
        ("close to clipping", true)
    } else if highest < limits.low_below_dbfs {
        ("low", true)
    } else {
        ("good", false)
    };
    (format!("{numbers} dBFS {verdict}"), warns)
}

fn peaks(level: &LevelReading) -> String {
    let one = |value: Option<f64>| {
        value
            .filter(|value| value.is_finite())
            .map_or_else(|| format::NOTHING.to_owned(), |v| format::plain(v, 1))
    };
    if level.right.recent_peak_dbfs.is_none() {
        return one(level.left.recent_peak_dbfs);
    }
    format!(
        "{} / {}",
        one(level.left.recent_peak_dbfs),
        one(level.right.recent_peak_dbfs)
    )
}

fn lost_in_words(frames: u64, gaps: u64) -> String {
    if frames == 0 && gaps == 0 {
        return "nothing".into();
    }
    format!(
        "{} in {}",
        format::counted(frames, "frame", "frames"),
        format::counted(gaps, "gap", "gaps")
    )
}

fn averaged_in_words(readings: &Readings) -> String {
    format::duration(
        readings
            .speed
            .averaged_seconds
            .max(readings.flutter.averaged_seconds),
    )
}
