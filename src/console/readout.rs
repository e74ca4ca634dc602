//! The live readout: a block of lines that is redrawn in place, or one line of a running table.

use super::{
    figures::{finite, plain, side, signed, uncertainty},
    page::{WIDTH, fit, wrap},
    sheet::kind_words,
};
use crate::readings::{
    FlutterReading, InputState, LevelReading, NeedleWow, PhaseReading, Readings, SourceReading,
    SpeedReading, ToneReading, Validity,
};

/// Notices shown under the readings.
const SHOWN_NOTICES: usize = 3;
/// Rows of the mechanism's table shown.
const SHOWN_PARTS: usize = 3;
/// Column the readings' words start in.
const WORDS_AT: usize = 10;

/// The readings as a block of lines, none wider than 80 columns.
pub fn block(readings: &Readings) -> Vec<String> {
    let mut lines = vec![
        source_line(&readings.source),
        state_line(&readings.source),
        String::new(),
        reading("Tone", &tone(&readings.tone)),
        reading("Speed", &speed(&readings.speed)),
        reading("Flutter", &flutter(&readings.flutter)),
        reading("Level", &level(&readings.level)),
        reading("Peak", &peak(&readings.level)),
        reading("Phase", &phase(&readings.phase)),
    ];
    if let Some(parts) = parts(readings) {
        lines.push(reading("Parts", &parts));
    }
    lines.push(String::new());
    for notice in readings.notices.iter().take(SHOWN_NOTICES) {
        lines.push(fit(&format!("- {}", notice.message), WIDTH));
    }
    lines
}

/// The parts that make most of the weighted reading, where the deck's are known.
fn parts(readings: &Readings) -> Option<String> {
    let mechanism = readings.mechanism.as_deref()?;
    mechanism.mechanism.as_ref()?;
    let rows: Vec<String> = mechanism
        .rows
        .iter()
        .take(SHOWN_PARTS)
        .map(|row| format!("{} {:.0} %", row.label, 100.0 * row.share))
        .collect();
    Some(format!("of the weighted reading: {}", rows.join(", ")))
}

/// The head of the running table.
pub fn table_head() -> Vec<String> {
    let mut lines = wrap(
        "Flutter: weighted two-sigma of the last 10 s. Delay: positive when the right channel arrives later; \
         '?' where whole cycles are open.",
        WIDTH,
    );
    lines.push(table_line(
        "time s",
        "speed %",
        "flutter %",
        ["L dBFS", "R dBFS"],
        "delay µs",
        "status",
    ));
    lines
}

/// The readings as one line of the running table.
pub fn table_row(readings: &Readings) -> String {
    let delay = signed(readings.phase.quick_delay_us, 2);
    let open = if readings.phase.ambiguous { "?" } else { "" };
    table_line(
        &plain(Some(readings.source.seconds), 1),
        &signed(readings.speed.steady.deviation_percent, 3),
        &plain(two_sigma(&readings.flutter), 3),
        [
            &plain(readings.level.left.quick_rms_dbfs, 1),
            &plain(readings.level.right.quick_rms_dbfs, 1),
        ],
        &format!("{delay}{open}"),
        &status_words(readings),
    )
}

fn table_line(
    time: &str,
    speed: &str,
    flutter: &str,
    levels: [&str; 2],
    delay: &str,
    status: &str,
) -> String {
    let [left, right] = levels;
    let line = format!("{time:>8}{speed:>9}{flutter:>11}{left:>8}{right:>8}{delay:>11}  {status}");
    fit(line.trim_end(), WIDTH)
}

/// The first thing that keeps a reading from standing; `ok` where all stand.
fn status_words(readings: &Readings) -> String {
    match &readings.source.state {
        InputState::Lost(_) => return Validity::InputLost.words().into(),
        InputState::Ended | InputState::Failed(_) => return "ended".into(),
        InputState::Opening | InputState::Running => {}
    }
    let [speed, flutter, level, phase] = [
        readings.speed.status,
        readings.flutter.status,
        readings.level.status,
        readings.phase.status,
    ];
    if !speed.is_ok() {
        return speed.words().into();
    }
    [("flutter", flutter), ("level", level), ("phase", phase)]
        .into_iter()
        .find(|(_, status)| !status.is_ok())
        .map_or_else(
            || Validity::Ok.words().into(),
            |(meter, status)| format!("{meter} {status}"),
        )
}

fn source_line(source: &SourceReading) -> String {
    let what = &source.description;
    let host = what
        .host
        .as_ref()
        .map_or_else(String::new, |host| format!(" ({host})"));
    fit(
        &format!("{}: {}{host}", kind_words(what.kind), what.name),
        WIDTH,
    )
}

fn state_line(source: &SourceReading) -> String {
    let what = &source.description;
    let buffer = what
        .buffer_frames
        .map_or_else(String::new, |frames| format!(", {frames} frames a block"));
    let state = match &source.state {
        InputState::Opening => "opening".to_owned(),
        InputState::Running => format!(
            "{} Hz, {} ch, {}{buffer}; {:.1} s, {} lost",
            what.sample_rate_hz,
            what.channels,
            what.sample_format,
            source.seconds,
            source.lost_frames
        ),
        // The detail says what is waited for; a state is never only a word.
        InputState::Lost(waiting_for) => format!("input lost, waiting for {waiting_for}"),
        InputState::Ended => format!("ended after {:.1} s", source.seconds),
        InputState::Failed(why) => why.clone(),
    };
    fit(&state, WIDTH)
}

fn reading(label: &str, words: &str) -> String {
    fit(&format!("{label:<WORDS_AT$}{words}"), WIDTH)
}

fn tone(tone: &ToneReading) -> String {
    match (finite(tone.left_hz), finite(tone.right_hz)) {
        (None, None) => tone.status.words().into(),
        (left, right) => format!(
            "{}: L {} Hz, R {} Hz, {} dB above noise",
            tone.status,
            plain(left, 2),
            plain(right, 2),
            plain(tone.snr_db, 0)
        ),
    }
}

fn speed(speed: &SpeedReading) -> String {
    let Some(now) = speed_now(speed) else {
        return speed.status.words().into();
    };
    let now = Some(now);
    format!(
        "{} %{} now; mean {}{} %",
        signed(now, 3),
        side(now, 3, "slow", "fast"),
        signed(speed.deviation_percent, 3),
        uncertainty(speed.uncertainty_percent, 3)
    )
}

/// The needle where no wow swings it; otherwise the mean of 2 s.
fn speed_now(speed: &SpeedReading) -> Option<f64> {
    let rests = matches!(speed.needle.wow, NeedleWow::Removed | NeedleWow::None);
    finite(speed.needle.deviation_percent)
        .filter(|_| rests)
        .or(finite(speed.steady.deviation_percent))
        .or(finite(speed.quick.deviation_percent))
}

fn flutter(flutter: &FlutterReading) -> String {
    let weighted = &flutter.weighted;
    let Some(pointer) = finite(weighted.pointer_percent) else {
        return flutter.status.words().into();
    };
    let settling = if flutter.status.is_ok() {
        String::new()
    } else {
        format!("; {}", flutter.status)
    };
    format!(
        "weighted ±{} % quasi-peak, ±{} % two-sigma, {} % rms{settling}",
        plain(Some(pointer), 3),
        plain(two_sigma(flutter), 3),
        plain(weighted.rms_percent, 3)
    )
}

/// Of the last 10 s; of the time since the averages began while that is shorter.
fn two_sigma(flutter: &FlutterReading) -> Option<f64> {
    let weighted = &flutter.weighted;
    finite(weighted.recent_two_sigma_percent).or(weighted.two_sigma_percent)
}

fn level(level: &LevelReading) -> String {
    if finite(level.left.quick_rms_dbfs).is_none() && finite(level.right.quick_rms_dbfs).is_none() {
        return level.status.words().into();
    }
    let balance = finite(level.quick_balance_db).map_or_else(String::new, |_| {
        format!(
            "; balance {} dB{}",
            signed(level.quick_balance_db, 2),
            side(level.quick_balance_db, 2, "right louder", "left louder")
        )
    });
    format!(
        "L {} dBFS, R {} dBFS{balance}",
        plain(level.left.quick_rms_dbfs, 2),
        plain(level.right.quick_rms_dbfs, 2)
    )
}

/// The peaks of the last half second: what the input's level is set by.
fn peak(level: &LevelReading) -> String {
    let [left, right] = [&level.left, &level.right].map(|channel| channel.recent_peak_dbfs);
    if finite(left).is_none() && finite(right).is_none() {
        return plain(None, 1);
    }
    format!(
        "L {} dB, R {} dB of full scale",
        plain(left, 1),
        plain(right, 1)
    )
}

fn phase(phase: &PhaseReading) -> String {
    let Some(delay) = finite(phase.quick_delay_us).or(finite(phase.delay_us)) else {
        return phase.status.words().into();
    };
    let degrees = finite(phase.quick_degrees.or(phase.degrees))
        .map_or_else(String::new, |degrees| {
            format!("{}°, ", signed(Some(degrees), 1))
        });
    let azimuth = finite(phase.quick_azimuth_arcmin.or(phase.azimuth_arcmin));
    let open = if phase.ambiguous { "; fine only" } else { "" };
    format!(
        "{degrees}{} µs{}; azimuth {}'{open}",
        signed(Some(delay), 2),
        side(Some(delay), 2, "right earlier", "right later"),
        signed(azimuth, 2)
    )
}

#[cfg(test)]
mod tests {
    use super::{
        super::{example, page::columns},
        *,
    };

    #[test]
    fn every_line_fits_eighty_columns_whatever_the_readings() {
        for readings in [example::empty(), example::full(), example::not_finite()] {
            let mut lines = block(&readings);
            lines.extend(table_head());
            lines.push(table_row(&readings));
            for line in lines {
                assert!(columns(&line) <= WIDTH, "{line}");
                assert!(!line.chars().any(char::is_control), "{line:?}");
                let words = line.to_lowercase();
                assert!(!words.contains("nan") && !words.contains("-inf"), "{line}");
            }
        }
    }

    #[test]
    fn the_block_shows_what_moves_with_its_side() {
        let text = block(&example::full()).join("\n");
        for words in [
            "+0.490 %, fast now; mean +0.487 ±0.006 %",
            "weighted ±0.152 % quasi-peak, ±0.138 % two-sigma, 0.076 % rms",
            "balance +100.43 dB, left louder",
            "-119.26 µs, right earlier",
            "fine only",
            "- the tone is assumed",
        ] {
            assert!(text.contains(words), "{words} in\n{text}");
        }
    }

    #[test]
    fn a_lost_input_is_named_as_such_in_both_forms() {
        let mut readings = example::full();
        readings.source.state = InputState::Lost("the line input".into());
        assert_eq!(
            block(&readings)[1],
            "input lost, waiting for the line input"
        );
        assert!(table_row(&readings).ends_with("input lost"));
    }

    #[test]
    fn the_table_names_the_first_thing_that_does_not_stand() {
        let mut readings = example::full();
        assert!(table_row(&readings).ends_with("  ok"));
        readings.phase.status = Validity::ChannelsDiffer;
        assert!(table_row(&readings).ends_with("phase channels differ"));
        readings.speed.status = Validity::NotTheExpectedTone;
        assert!(table_row(&readings).ends_with("  not the expected tone"));
    }

    #[test]
    fn the_columns_of_the_table_stand_under_their_heads() {
        let head = table_head();
        let head = head.last().expect("a head");
        let row = table_row(&example::full());
        let end_of = |line: &str, word: &str| {
            let start = line.find(word).expect(word);
            columns(&line[..start]) + columns(word)
        };
        for (title, value) in [
            ("time s", "60.0"),
            ("speed %", "+0.490"),
            ("flutter %", "0.138"),
            ("L dBFS", "-10.0"),
            ("R dBFS", "-110.4"),
            ("delay µs", "-119.26?"),
        ] {
            assert_eq!(end_of(head, title), end_of(&row, value), "{title}");
        }
    }
}
