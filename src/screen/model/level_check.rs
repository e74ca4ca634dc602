//! Whether the level at the computer's input suits: the last step of the first run.

use super::format;
use crate::readings::{LevelReading, NoticeCode, Readings, Validity};
use std::ops::RangeInclusive;

/// Peaks that leave room for a hot tape and stay well above the converter's noise, dBFS. Common practice, no source.
pub const PEAKS_DBFS: RangeInclusive<f64> = -20.0..=-6.0;

/// What the level is like.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelCheck {
    /// Whether it suits.
    pub is_good: bool,
    /// What it is and what to do, in words.
    pub words: String,
}

/// Judges the recent peaks of an input; `None`: no input, or nothing from it yet.
pub fn check(readings: Option<&Readings>) -> LevelCheck {
    let no = |words: String| LevelCheck {
        is_good: false,
        words,
    };
    let Some(readings) = readings else {
        return no("no input is open: press i and choose one".into());
    };
    let clips = readings.level.status == Validity::Clipped
        || readings
            .notices
            .iter()
            .any(|notice| notice.code == NoticeCode::Clipping);
    if clips {
        return no("clipping: turn the level down, at the deck or at the computer's input".into());
    }
    let Some(peak) = highest(&readings.level) else {
        return no(format!("{}: play the tape", readings.level.status));
    };
    let (least, most) = (*PEAKS_DBFS.start(), *PEAKS_DBFS.end());
    let at = format!("peaks at {} dBFS", format::plain(peak, 1));
    if peak > most {
        let by = format::plain(peak - most, 0);
        return no(format!("{at}, too high: turn it down by {by} dB or more"));
    }
    if peak < least {
        let by = format::plain(least - peak, 0);
        return no(format!(
            "{at}, too low: play the tape's tone, or turn it up by {by} dB or more"
        ));
    }
    LevelCheck {
        is_good: true,
        words: format!("{at}: good"),
    }
}

/// The highest recent peak of both channels, dBFS.
pub fn highest(level: &LevelReading) -> Option<f64> {
    [level.left.recent_peak_dbfs, level.right.recent_peak_dbfs]
        .into_iter()
        .flatten()
        .filter(|peak| peak.is_finite())
        .reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{Notice, SourceDescription, SourceKind, SourceReading};

    fn peaking(left: Option<f64>, right: Option<f64>) -> Readings {
        let mut readings = Readings::empty(SourceReading::new(SourceDescription {
            kind: SourceKind::SoundCard,
            name: "line in".into(),
            host: None,
            sample_format: "24-bit".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        }));
        readings.level.status = Validity::Ok;
        readings.level.left.recent_peak_dbfs = left;
        readings.level.right.recent_peak_dbfs = right;
        readings
    }

    #[test]
    fn the_louder_channel_decides_and_the_words_say_what_to_do() {
        for (left, right, good, words) in [
            (-12.0, -14.0, true, "peaks at −12.0 dBFS: good"),
            (-20.0, -30.0, true, "good"),
            (-6.0, -9.0, true, "good"),
            (-9.0, -4.4, false, "turn it down by 2 dB"),
            (-33.0, -41.0, false, "turn it up by 13 dB"),
        ] {
            let check = check(Some(&peaking(Some(left), Some(right))));
            assert_eq!(check.is_good, good, "{check:?}");
            assert!(check.words.contains(words), "{check:?}");
        }
    }

    #[test]
    fn without_a_level_the_words_say_why() {
        assert!(check(None).words.starts_with("no input"));
        let mut silent = peaking(None, Some(f64::NAN));
        silent.level.status = Validity::NoSignal;
        assert_eq!(check(Some(&silent)).words, "no signal: play the tape");
        let mut clipping = peaking(Some(-8.0), None);
        clipping
            .notices
            .push(Notice::new(NoticeCode::Clipping, "left"));
        assert!(!check(Some(&clipping)).is_good);
    }
}
