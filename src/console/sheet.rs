//! The sheet: all readings of a take as a page of text.

use super::{
    figures::{finite, plain, side, signed, uncertainty},
    mechanism_sheet,
    page::Page,
};
use crate::readings::{
    ChannelLevel, Component, FlutterReading, LevelReading, Notice, PhaseLine, PhaseReading,
    Readings, SourceKind, SourceReading, SpeedReading, ToneReading, Validity,
};

/// Delays listed where whole cycles are open.
const SHOWN_CANDIDATES: usize = 5;

/// The readings as text, at most 80 columns wide. `expectation` says in words what they were read against.
pub fn sheet(readings: &Readings, expectation: &str) -> String {
    let mut page = Page::default();
    source(&mut page, &readings.source, expectation);
    tone(&mut page, &readings.tone);
    speed(&mut page, &readings.speed);
    flutter(&mut page, &readings.flutter);
    level(&mut page, &readings.level);
    phase(&mut page, &readings.phase);
    if let Some(reading) = readings.mechanism.as_deref() {
        mechanism_sheet::mechanism(&mut page, reading);
    }
    notices(&mut page, &readings.notices);
    page.into_text()
}

/// The kind of source in words.
pub fn kind_words(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::SoundCard => "Input",
        SourceKind::Recording => "Recording",
        SourceKind::VirtualDeck => "Virtual deck",
    }
}

fn source(page: &mut Page, source: &SourceReading, expectation: &str) {
    let what = &source.description;
    page.heading(kind_words(what.kind), &what.name);
    let channels = match what.channels {
        1 => "1 channel".to_owned(),
        count => format!("{count} channels"),
    };
    page.row(
        "format",
        &format!(
            "{} Hz, {channels}, {}",
            what.sample_rate_hz, what.sample_format
        ),
    );
    page.row("length", &format!("{:.2} s", source.seconds));
    if source.lost_frames > 0 || source.gaps > 0 {
        page.row(
            "lost",
            &format!("{} frames in {} gaps", source.lost_frames, source.gaps),
        );
    }
    page.row("read against", expectation);
}

fn tone(page: &mut Page, tone: &ToneReading) {
    page.heading("Tone", tone.status.words());
    if tone.left_hz.is_some() || tone.right_hz.is_some() {
        let hertz = |value| {
            finite(value).map_or("no tone".to_owned(), |_| format!("{} Hz", plain(value, 3)))
        };
        page.cells("", &["left".into(), "right".into()]);
        page.cells("frequency", &[hertz(tone.left_hz), hertz(tone.right_hz)]);
    }
    value(page, "signal to noise", tone.snr_db, |db| {
        format!("{} dB", plain(db, 1))
    });
    value(
        page,
        "second harmonic",
        tone.second_harmonic_percent,
        |percent| format!("{} %", plain(percent, 2)),
    );
    value(
        page,
        "third harmonic",
        tone.third_harmonic_percent,
        |percent| format!("{} %", plain(percent, 2)),
    );
}

fn speed(page: &mut Page, speed: &SpeedReading) {
    page.heading("Speed", speed.status.words());
    value(page, "deviation", speed.deviation_percent, |deviation| {
        format!(
            "{}{} %{}",
            signed(deviation, 3),
            uncertainty(speed.uncertainty_percent, 3),
            side(deviation, 3, "slow", "fast")
        )
    });
    value(page, "measured", speed.measured_hz, |measured| {
        format!("{} Hz", plain(measured, 3))
    });
    value(page, "reference", speed.reference_hz, |reference| {
        format!("{} Hz", plain(reference, 3))
    });
    if speed.min_percent.is_some() {
        page.row(
            "0.25 s means",
            &format!(
                "{} % to {} %",
                signed(speed.min_percent, 3),
                signed(speed.max_percent, 3)
            ),
        );
    }
    value(page, "trend", speed.trend_percent_per_minute, |trend| {
        format!("{} % a minute", signed(trend, 3))
    });
    averaged(page, speed.status, speed.averaged_seconds);
}

fn flutter(page: &mut Page, flutter: &FlutterReading) {
    page.heading("Wow and flutter", flutter.status.words());
    let figures = [&flutter.weighted, &flutter.unweighted];
    if figures.iter().any(|figures| figures.rms_percent.is_some()) {
        let percent = |get: fn(&crate::readings::FlutterFigures) -> Option<f64>| {
            figures.map(|figures| format!("{} %", plain(get(figures), 4)))
        };
        page.cells("", &["weighted".into(), "0.2 to 200 Hz".into()]);
        page.cells("quasi-peak (±), mean", &percent(|f| f.quasi_peak_percent));
        page.cells(
            "quasi-peak (±), maximum",
            &percent(|f| f.quasi_peak_max_percent),
        );
        page.cells("two-sigma (±)", &percent(|f| f.two_sigma_percent));
        page.cells("rms", &percent(|f| f.rms_percent));
    }
    let bands = &flutter.bands;
    let rms = |percent| format!("{} % rms", plain(percent, 4));
    value(page, "drift, below 0.5 Hz", bands.drift_rms_percent, rms);
    value(page, "wow, 0.5 to 6 Hz", bands.wow_rms_percent, rms);
    value(page, "flutter, 6 to 200 Hz", bands.flutter_rms_percent, rms);
    let scrape = finite(bands.scrape_upper_hz).map_or("scrape".to_owned(), |upper| {
        format!("scrape, 200 to {upper:.0} Hz")
    });
    value(page, &scrape, bands.scrape_rms_percent, rms);
    for (index, component) in flutter.components.iter().enumerate() {
        let label = if index == 0 { "strongest lines" } else { "" };
        page.row(label, &component_words(component));
    }
    averaged(page, flutter.status, flutter.averaged_seconds);
}

fn component_words(component: &Component) -> String {
    let part = component
        .part
        .as_ref()
        .map_or_else(String::new, |part| match component.order {
            None | Some(1) => format!(", {part}"),
            Some(order) => format!(", {part}, {order} × its rate"),
        });
    format!(
        "{} Hz: {} % peak{part}",
        plain(Some(component.rate_hz), 2),
        plain(Some(component.peak_percent), 4)
    )
}

fn level(page: &mut Page, level: &LevelReading) {
    page.heading("Level", level.status.words());
    let both = [&level.left, &level.right];
    let dbfs = |get: fn(&ChannelLevel) -> Option<f64>| {
        both.map(|channel| match finite(get(channel)) {
            Some(value) => format!("{} dBFS", plain(Some(value), 2)),
            None => plain(None, 2),
        })
    };
    if both.iter().any(|channel| channel.rms_dbfs.is_some()) {
        page.cells("", &["left".into(), "right".into()]);
        page.cells("rms", &dbfs(|channel| channel.rms_dbfs));
        page.cells("true peak", &dbfs(|channel| channel.peak_dbfs));
        page.cells("tone alone", &dbfs(|channel| channel.tone_dbfs));
    }
    if both.iter().any(|channel| channel.hum.is_some()) {
        let hum = both.map(|channel| {
            channel.hum.map_or_else(
                || plain(None, 1),
                |hum| {
                    format!(
                        "{:.0} Hz: {} dBFS",
                        hum.mains_hz,
                        plain(Some(hum.total_dbfs), 1)
                    )
                },
            )
        });
        page.cells("hum and its harmonics", &hum);
    }
    value(page, "balance", level.balance_db, |balance| {
        format!(
            "{}{} dB{}",
            signed(balance, 2),
            uncertainty(level.balance_uncertainty_db, 2),
            side(balance, 2, "right louder", "left louder")
        )
    });
    value(page, "steadiness", level.steadiness_db_rms, |rms| {
        format!(
            "{} dB rms, {} dB peak to peak",
            plain(rms, 2),
            plain(level.steadiness_db_peak_to_peak, 2)
        )
    });
    if level.status.is_ok() {
        page.row("dropouts", &dropouts(level));
    }
}

fn dropouts(level: &LevelReading) -> String {
    match (level.deepest_dropout_db, level.longest_dropout_ms) {
        (Some(_), Some(_)) if level.dropouts > 0 => format!(
            "{}, deepest {} dB, longest {} ms",
            level.dropouts,
            plain(level.deepest_dropout_db, 1),
            plain(level.longest_dropout_ms, 0)
        ),
        _ => level.dropouts.to_string(),
    }
}

fn phase(page: &mut Page, phase: &PhaseReading) {
    let fine_only = if phase.ambiguous {
        "; fine only, whole cycles are open"
    } else {
        ""
    };
    page.heading("Phase", &format!("{}{fine_only}", phase.status.words()));
    if phase.status.is_ok() {
        let read_from = finite(phase.tone_hz).map_or("programme".to_owned(), |_| {
            format!("the tone at {} Hz", plain(phase.tone_hz, 2))
        });
        page.row("read from", &read_from);
    }
    let right = |value, decimals| side(value, decimals, "right earlier", "right later");
    value(page, "phase", phase.degrees, |degrees| {
        format!("{} degrees{}", signed(degrees, 2), right(degrees, 2))
    });
    value(page, "delay", phase.delay_us, |delay| {
        format!(
            "{}{} µs{}",
            signed(delay, 3),
            uncertainty(phase.delay_uncertainty_us, 3),
            right(delay, 3)
        )
    });
    value(page, "azimuth", phase.azimuth_arcmin, |azimuth| {
        format!(
            "{}{} arc minutes{}",
            signed(azimuth, 2),
            uncertainty(phase.azimuth_uncertainty_arcmin, 2),
            right(azimuth, 2)
        )
    });
    if phase.ambiguous {
        candidates(page, phase);
    }
    if let Some(by) = phase.cycles_settled_by {
        page.row("whole cycles", &format!("settled by {}", by.words()));
    }
    value(page, "wander", phase.wander_rms_degrees, |rms| {
        let rate = finite(phase.wander_rate_hz).map_or_else(String::new, |_| {
            format!(", most at {} Hz", plain(phase.wander_rate_hz, 2))
        });
        format!(
            "{} degrees rms, {} peak to peak{rate}",
            plain(rms, 2),
            plain(phase.wander_peak_to_peak_degrees, 2)
        )
    });
    value(page, "mono sum", phase.mono_sum_loss_db, |loss| {
        format!("{} dB", signed(loss, 2))
    });
    value(page, "at 10 kHz", phase.mono_sum_loss_10_khz_db, |loss| {
        format!("{} dB of a mono sum at this azimuth", signed(loss, 2))
    });
    if let Some(line) = &phase.line {
        phase_line(page, line);
    }
    value(page, "coherence", phase.coherence, |coherence| {
        plain(coherence, 3)
    });
}

/// The line through several frequencies: what it says, and by which numbers.
fn phase_line(page: &mut Page, line: &PhaseLine) {
    page.row("over frequency", &line.words());
    value(page, "", line.delay_us, |delay| {
        format!(
            "slope {}{} µs, {} points",
            signed(delay, 2),
            uncertainty(line.delay_uncertainty_us, 2),
            line.points.len()
        )
    });
    value(page, "", line.intercept_degrees, |degrees| {
        format!(
            "offset {}{} degrees",
            signed(degrees, 1),
            uncertainty(line.intercept_uncertainty_degrees, 1)
        )
    });
}

fn candidates(page: &mut Page, phase: &PhaseReading) {
    for (index, candidate) in phase.candidates.iter().take(SHOWN_CANDIDATES).enumerate() {
        let label = if index == 0 { "possible" } else { "" };
        page.cells(
            label,
            &[
                format!("{} µs", signed(Some(candidate.delay_us), 2)),
                format!("{} arc minutes", signed(Some(candidate.azimuth_arcmin), 2)),
            ],
        );
    }
    let hidden = phase.candidates.len().saturating_sub(SHOWN_CANDIDATES);
    if hidden > 0 {
        page.row("", &format!("and {hidden} more"));
    }
    page.row("", "A lower tone or programme tells which.");
}

fn notices(page: &mut Page, notices: &[Notice]) {
    if notices.is_empty() {
        return;
    }
    page.heading("Notices", "");
    for notice in notices {
        page.item(&notice.message);
    }
}

/// A row that is only there when its number is.
fn value(
    page: &mut Page,
    label: &str,
    value: Option<f64>,
    words: impl FnOnce(Option<f64>) -> String,
) {
    if finite(value).is_some() {
        page.row(label, &words(value));
    }
}

fn averaged(page: &mut Page, status: Validity, seconds: f64) {
    if status.is_ok() {
        page.row("averaged over", &format!("{seconds:.2} s"));
    }
}

#[cfg(test)]
mod tests {
    use super::{
        super::{example, page},
        sheet,
    };

    #[test]
    fn the_fullest_sheet_fits_the_page_and_holds_every_number() {
        let text = sheet(
            &example::full(),
            "test tape 'Speed, 3150 Hz'; Cassette, stereo",
        );
        assert!(
            text.lines().all(|line| page::columns(line) <= page::WIDTH),
            "{text}"
        );
        for number in [
            "123456789 frames in 12345 gaps",
            "3165.342 Hz",
            "61.0 dB",
            "+0.487 ±0.006 %, fast",
            "+0.391 % to +0.582 %",
            "-0.012 % a minute",
            "58.25 s",
            "0.1521 %",
            "0.3629 %",
            "200 to 1200 Hz    0.0207 % rms",
            "6.06 Hz: 0.0521 % peak, take-up capstan",
            "3 × its rate",
            "-10.03 dBFS",
            "50 Hz: -70.6 dBFS",
            "+100.41 dB, left louder",
            "0.05 dB rms, 0.31 dB peak to peak",
            "3, deepest 24.3 dB, longest 48 ms",
            "ok; fine only, whole cycles are open",
            "-135.24 degrees, right earlier",
            "-118.683 ±0.021 µs, right earlier",
            "-21.59 ±0.17 arc minutes, right earlier",
            "and 4 more",
            "1.24 degrees rms, 6.31 peak to peak, most at 0.51 Hz",
            "-8.37 dB",
        ] {
            assert!(text.contains(number), "{number} in\n{text}");
        }
        assert!(
            !text.contains('\x1b'),
            "a name may not command the terminal"
        );
    }

    #[test]
    fn without_a_reading_the_sheet_says_why_and_gives_no_number() {
        let text = sheet(&example::empty(), "");
        for group in ["Tone", "Speed", "Wow and flutter", "Level", "Phase"] {
            let line = text.lines().find(|line| line.starts_with(group));
            let line = line.expect("every group has its line");
            assert!(line.ends_with("waiting for samples"), "{line}");
        }
        assert!(!text.contains('%') && !text.contains("dB"), "{text}");
    }

    #[test]
    fn what_is_no_number_is_not_shown_as_one() {
        let text = sheet(&example::not_finite(), "").to_lowercase();
        assert!(!text.contains("nan") && !text.contains("inf"), "{text}");
    }
}
