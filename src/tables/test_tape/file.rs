//! The TOML form of test tapes, and its checks.

use super::{Equalisation, TableError, TapeTone, TestTape, ToneUse, error_at};
use crate::tables::{parse_toml, tape_format};
use serde::Deserialize;
use std::ops::RangeInclusive;
use toml::Spanned;

/// Tones that make sense on a test tape, Hz.
const TONES_HZ: RangeInclusive<f64> = 20.0..=40_000.0;
/// Corrections beyond these are typing errors.
const CORRECTIONS_PERCENT: RangeInclusive<f64> = -5.0..=5.0;
const CORRECTIONS_DB: RangeInclusive<f64> = -6.0..=6.0;
const CORRECTIONS_ARCMIN: RangeInclusive<f64> = -30.0..=30.0;
const LEVELS_DB: RangeInclusive<f64> = -40.0..=12.0;
const FLUXIVITIES_NWB_PER_M: RangeInclusive<f64> = 10.0..=2000.0;
/// Time constants in use lie well inside, µs.
const TIME_CONSTANTS_US: RangeInclusive<f64> = 5.0..=10_000.0;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    tape: Vec<Tape>,
}

/// Either `tone_hz` with its two figures, or a list of tones.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tape {
    name: Spanned<String>,
    title: String,
    tone_hz: Option<Spanned<f64>>,
    frequency_correction_percent: Option<Spanned<f64>>,
    frequency_tolerance_percent: Option<Spanned<f64>>,
    fluxivity_nwb_per_m: Option<Spanned<f64>>,
    tape_format: Option<Spanned<String>>,
    equalisation: Option<TimeConstants>,
    #[serde(default)]
    tone: Vec<Tone>,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TimeConstants {
    treble_us: Spanned<f64>,
    bass_us: Option<Spanned<f64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tone {
    hz: Spanned<f64>,
    #[serde(rename = "use")]
    purpose: Purpose,
    frequency_correction_percent: Option<Spanned<f64>>,
    frequency_tolerance_percent: Option<Spanned<f64>>,
    level_db: Option<Spanned<f64>>,
    level_correction_db: Option<Spanned<f64>>,
    level_tolerance_db: Option<Spanned<f64>>,
    azimuth_correction_arcmin: Option<Spanned<f64>>,
    azimuth_tolerance_arcmin: Option<Spanned<f64>>,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Purpose {
    Speed,
    Level,
    Azimuth,
    Response,
}

impl From<Purpose> for ToneUse {
    fn from(purpose: Purpose) -> Self {
        match purpose {
            Purpose::Speed => Self::Speed,
            Purpose::Level => Self::Level,
            Purpose::Azimuth => Self::Azimuth,
            Purpose::Response => Self::Response,
        }
    }
}

/// Reads the tapes of a text.
pub(super) fn parse(file: &str, text: &str) -> Result<Vec<TestTape>, TableError> {
    let tapes = parse_toml::<File>(file, text)?.tape;
    let check = Check { file, text };
    for (index, tape) in tapes.iter().enumerate() {
        let name = tape.name.get_ref();
        if name.is_empty() || name.contains(char::is_whitespace) {
            return Err(check.wrong(&tape.name, "a name is one word"));
        }
        if tapes[..index]
            .iter()
            .any(|other| other.name.get_ref() == name)
        {
            return Err(check.wrong(
                &tape.name,
                &format!("a tape named '{name}' stands above already"),
            ));
        }
    }
    tapes.into_iter().map(|tape| check.tape(tape)).collect()
}

/// The text that errors point into.
struct Check<'a> {
    file: &'a str,
    text: &'a str,
}

impl Check<'_> {
    fn wrong<T>(&self, value: &Spanned<T>, what: &str) -> TableError {
        error_at(self.file, self.text, value.span().start, what)
    }

    fn within(
        &self,
        value: &Spanned<f64>,
        range: &RangeInclusive<f64>,
        unit: &str,
    ) -> Result<f64, TableError> {
        let number = *value.get_ref();
        if range.contains(&number) {
            return Ok(number);
        }
        let what = format!(
            "{number} is outside {} to {} {unit}",
            range.start(),
            range.end()
        );
        Err(self.wrong(value, &what))
    }

    fn maybe(
        &self,
        value: Option<&Spanned<f64>>,
        range: &RangeInclusive<f64>,
        unit: &str,
    ) -> Result<Option<f64>, TableError> {
        value
            .map(|value| self.within(value, range, unit))
            .transpose()
    }

    /// A tolerance is as large as a correction may be, and not negative.
    fn tolerance(
        &self,
        value: Option<&Spanned<f64>>,
        corrections: &RangeInclusive<f64>,
        unit: &str,
    ) -> Result<Option<f64>, TableError> {
        self.maybe(value, &(0.0..=*corrections.end()), unit)
    }

    fn tape(&self, tape: Tape) -> Result<TestTape, TableError> {
        let tones = self.tones(&tape)?;
        let main = tones.first().ok_or_else(|| {
            self.wrong(
                &tape.name,
                "this tape carries no tone; give tone_hz, or a [[tape.tone]]",
            )
        })?;
        if let Some(format) = &tape.tape_format {
            tape_format(format.get_ref()).map_err(|error| self.wrong(format, &error.0))?;
        }
        let equalisation = tape.equalisation.map(|constants| {
            Ok(Equalisation {
                treble_us: self.within(&constants.treble_us, &TIME_CONSTANTS_US, "µs")?,
                bass_us: self.maybe(constants.bass_us.as_ref(), &TIME_CONSTANTS_US, "µs")?,
            })
        });
        Ok(TestTape {
            tone_hz: main.hz,
            frequency_correction_percent: main.frequency_correction_percent,
            frequency_tolerance_percent: main.frequency_tolerance_percent,
            fluxivity_nwb_per_m: self.maybe(
                tape.fluxivity_nwb_per_m.as_ref(),
                &FLUXIVITIES_NWB_PER_M,
                "nWb/m",
            )?,
            tones,
            equalisation: equalisation.transpose()?,
            tape_format: tape.tape_format.map(Spanned::into_inner),
            name: tape.name.into_inner(),
            title: tape.title,
            source: tape.source,
        })
    }

    fn tones(&self, tape: &Tape) -> Result<Vec<TapeTone>, TableError> {
        if tape.tone.is_empty() {
            return tape
                .tone_hz
                .iter()
                .map(|hz| self.only_tone(tape, hz))
                .collect();
        }
        let figures = [
            &tape.tone_hz,
            &tape.frequency_correction_percent,
            &tape.frequency_tolerance_percent,
        ];
        if let Some(figure) = figures.into_iter().flatten().next() {
            return Err(self.wrong(figure, "this belongs into the [[tape.tone]] it is of"));
        }
        tape.tone.iter().map(|tone| self.tone(tone)).collect()
    }

    /// The short form: one tone, whose use follows from the rest.
    fn only_tone(&self, tape: &Tape, hz: &Spanned<f64>) -> Result<TapeTone, TableError> {
        let is_level = tape.fluxivity_nwb_per_m.is_some();
        Ok(TapeTone {
            hz: self.within(hz, &TONES_HZ, "Hz")?,
            purpose: if is_level {
                ToneUse::Level
            } else {
                ToneUse::Speed
            },
            frequency_correction_percent: self
                .maybe(
                    tape.frequency_correction_percent.as_ref(),
                    &CORRECTIONS_PERCENT,
                    "%",
                )?
                .unwrap_or(0.0),
            frequency_tolerance_percent: self.tolerance(
                tape.frequency_tolerance_percent.as_ref(),
                &CORRECTIONS_PERCENT,
                "%",
            )?,
            level_db: is_level.then_some(0.0),
            ..TapeTone::default()
        })
    }

    fn tone(&self, tone: &Tone) -> Result<TapeTone, TableError> {
        let correction = |value: &Option<Spanned<f64>>, range: &RangeInclusive<f64>, unit: &str| {
            Ok(self.maybe(value.as_ref(), range, unit)?.unwrap_or(0.0))
        };
        let tolerance = |value: &Option<Spanned<f64>>, range: &RangeInclusive<f64>, unit: &str| {
            self.tolerance(value.as_ref(), range, unit)
        };
        Ok(TapeTone {
            hz: self.within(&tone.hz, &TONES_HZ, "Hz")?,
            purpose: tone.purpose.into(),
            frequency_correction_percent: correction(
                &tone.frequency_correction_percent,
                &CORRECTIONS_PERCENT,
                "%",
            )?,
            frequency_tolerance_percent: tolerance(
                &tone.frequency_tolerance_percent,
                &CORRECTIONS_PERCENT,
                "%",
            )?,
            level_db: self.maybe(tone.level_db.as_ref(), &LEVELS_DB, "dB")?,
            level_correction_db: correction(&tone.level_correction_db, &CORRECTIONS_DB, "dB")?,
            level_tolerance_db: tolerance(&tone.level_tolerance_db, &CORRECTIONS_DB, "dB")?,
            azimuth_correction_arcmin: correction(
                &tone.azimuth_correction_arcmin,
                &CORRECTIONS_ARCMIN,
                "arc minutes",
            )?,
            azimuth_tolerance_arcmin: tolerance(
                &tone.azimuth_tolerance_arcmin,
                &CORRECTIONS_ARCMIN,
                "arc minutes",
            )?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: &str = r#"
[[tape]]
name = "mine-3"
title = "Service tape, three tones"
fluxivity_nwb_per_m = 250.0
tape_format = "cassette-stereo"
equalisation = { treble_us = 120.0, bass_us = 3180.0 }
source = "its certificate"

[[tape.tone]]
hz = 3150.0
use = "speed"
frequency_correction_percent = -0.04
frequency_tolerance_percent = 0.1

[[tape.tone]]
hz = 315.0
use = "level"
level_db = 0.0
level_correction_db = 0.2
level_tolerance_db = 0.3

[[tape.tone]]
hz = 10000.0
use = "azimuth"
level_db = -10.0
azimuth_correction_arcmin = 0.5
azimuth_tolerance_arcmin = 1.0
"#;

    #[test]
    fn everything_of_a_tape_is_read() {
        let tapes = parse("mine.toml", WHOLE).expect("sound");
        let [tape] = &tapes[..] else {
            panic!("{tapes:?}")
        };
        assert_eq!(
            (tape.tone_hz, tape.frequency_correction_percent),
            (3150.0, -0.04)
        );
        assert_eq!(tape.tones.len(), 3);
        assert_eq!(tape.tones[1].level_tolerance_db, Some(0.3));
        assert_eq!(tape.tones[2].purpose, ToneUse::Azimuth);
        assert_eq!(tape.tones[2].azimuth_correction_arcmin, 0.5);
        assert_eq!(tape.level_correction_db(), 0.2);
        let equalisation = tape.equalisation.expect("given");
        assert_eq!(
            (equalisation.treble_us, equalisation.bass_us),
            (120.0, Some(3180.0))
        );
    }

    #[test]
    fn what_is_wrong_is_told_with_file_line_key_and_value() {
        for (from, to, told) in [
            (
                "hz = 315.0",
                "hz = 3.0",
                "mine.toml, line 17, key hz: 3 is outside 20 to 40000 Hz",
            ),
            (
                "percent = -0.04",
                "percent = 40.0",
                "mine.toml, line 13, key frequency_correction_percent: 40 is outside -5 to 5 %",
            ),
            (
                "percent = 0.1",
                "percent = -0.1",
                "mine.toml, line 14, key frequency_tolerance_percent: -0.1 is outside 0 to 5 %",
            ),
            (
                "arcmin = 0.5",
                "arcmin = nan",
                "mine.toml, line 27, key azimuth_correction_arcmin: NaN is outside",
            ),
            (
                "250.0",
                "2.5",
                "mine.toml, line 5, key fluxivity_nwb_per_m: 2.5 is outside 10 to 2000 nWb/m",
            ),
            (
                "cassette-stereo",
                "vhs",
                "mine.toml, line 6, key tape_format: no tape format 'vhs'",
            ),
            (
                "\"mine-3\"",
                "\"my tape\"",
                "mine.toml, line 3, key name: a name is one word",
            ),
            (
                "fluxivity_nwb",
                "tone_hz = 3150.0\nfluxivity_nwb",
                "mine.toml, line 5, key tone_hz: this belongs into",
            ),
            (
                "use = \"level\"",
                "use = \"loudness\"",
                "mine.toml, line 18, key use: unknown variant",
            ),
            (
                "level_db = -10.0",
                "level = -10.0",
                "mine.toml, line 26, key level: unknown field",
            ),
        ] {
            assert_eq!(WHOLE.matches(from).count(), 1, "{from}");
            let error = parse("mine.toml", &WHOLE.replace(from, to)).expect_err(to);
            assert!(error.0.starts_with(told), "{error}");
        }
        let toneless = WHOLE.split("[[tape.tone]]").next().expect("a head");
        let error = parse("mine.toml", toneless).expect_err("no tone");
        assert!(
            error
                .0
                .contains("line 3, key name: this tape carries no tone"),
            "{error}"
        );
        let twice = WHOLE.to_owned() + WHOLE;
        let error = parse("mine.toml", &twice).expect_err("twice");
        assert!(error.0.contains("stands above already"), "{error}");
    }

    #[test]
    fn the_supplied_tapes_are_sound_and_say_where_they_come_from() {
        for tape in crate::tables::test_tapes().expect("the built-in table") {
            assert!(
                !tape.tones.is_empty() && !tape.source.is_empty(),
                "{tape:?}"
            );
            assert_eq!(tape.tone_hz, tape.tones[0].hz);
        }
    }
}
