//! The level that is heard from a level tape, made the reference of all later levels.

use super::format;
use crate::{
    meters::{LevelReference, MeterSetup},
    readings::Readings,
};

/// Fluxivities that make sense on a level tape, nWb/m.
const FLUXIVITIES_NWB_PER_M: std::ops::RangeInclusive<f64> = 10.0..=2000.0;

/// The level that is played now, as that of a tape with a fluxivity in nWb/m. Where the tape chosen in `setup` carries the
/// tone at another level than that fluxivity, by its certificate, the reference is corrected by it.
///
/// # Errors
/// In words, when there is no level or the fluxivity is missing or out of range.
pub fn reference(
    heard: Option<&Readings>,
    setup: &MeterSetup,
    fluxivity_nwb_per_m: Option<f64>,
) -> Result<LevelReference, String> {
    let fluxivity_nwb_per_m =
        fluxivity_nwb_per_m.ok_or("fluxivity: type what the level tape's label says, in nWb/m")?;
    if !FLUXIVITIES_NWB_PER_M.contains(&fluxivity_nwb_per_m) {
        return Err(format!(
            "fluxivity: {fluxivity_nwb_per_m} nWb/m is outside {} to {} nWb/m",
            FLUXIVITIES_NWB_PER_M.start(),
            FLUXIVITIES_NWB_PER_M.end()
        ));
    }
    let readings = heard.ok_or("no level yet: play the level tape first")?;
    let level = &readings.level;
    if !level.status.is_ok() {
        return Err(format!("no level to refer to: {}", level.status));
    }
    let heard = |tone: Option<f64>, side: &str| {
        tone.filter(|dbfs| dbfs.is_finite())
            .ok_or_else(|| format!("no steady tone on the {side} channel: play the level tape"))
    };
    let left_dbfs = heard(level.left.tone_dbfs, "left")?;
    // A single channel is its own reference.
    let right_dbfs = match level.right.rms_dbfs {
        None => left_dbfs,
        Some(_) => heard(level.right.tone_dbfs, "right")?,
    };
    let tone_hz = readings.tone.left_hz.or(readings.tone.right_hz);
    Ok(LevelReference {
        left_dbfs,
        right_dbfs,
        fluxivity_nwb_per_m,
        correction_db: tone_hz.map_or(0.0, |tone_hz| setup.recorded_level_db(tone_hz)),
    })
}

/// `250 nWb/m at L −10.0, R −11.2 dBFS`, and `, a tone of −10.0 dB` where the tape carries it at another level.
pub fn in_words(reference: &LevelReference) -> String {
    let mut words = format!(
        "{} nWb/m at L {}, R {} dBFS",
        reference.fluxivity_nwb_per_m,
        format::plain(reference.left_dbfs, 1),
        format::plain(reference.right_dbfs, 1)
    );
    if reference.correction_db != 0.0 {
        words += &format!(
            ", read from a tone of {} dB",
            format::signed(reference.correction_db, 1)
        );
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        readings::{
            ChannelLevel, LevelReading, SourceDescription, SourceKind, SourceReading, ToneReading,
            Validity,
        },
        tables::TestTape,
    };

    fn playing(tone_hz: f64, left: Option<f64>, right: Option<f64>) -> Readings {
        let channel = |tone_dbfs: Option<f64>| ChannelLevel {
            rms_dbfs: Some(-9.0),
            tone_dbfs,
            ..ChannelLevel::default()
        };
        let mut readings = Readings::empty(SourceReading::new(SourceDescription {
            kind: SourceKind::SoundCard,
            name: "line in".into(),
            host: None,
            sample_format: "24-bit".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        }));
        readings.level = LevelReading {
            status: Validity::Ok,
            left: channel(left),
            right: channel(right),
            ..LevelReading::default()
        };
        readings.tone = ToneReading {
            status: Validity::Ok,
            left_hz: Some(tone_hz),
            ..ToneReading::default()
        };
        readings
    }

    fn no_tape() -> MeterSetup {
        MeterSetup::new().expect("table")
    }

    #[test]
    fn the_tone_of_both_channels_becomes_the_reference() {
        let heard = playing(315.0, Some(-10.0), Some(-11.25));
        let reference = reference(Some(&heard), &no_tape(), Some(250.0));
        let reference = reference.expect("a tone on both channels");
        assert_eq!(in_words(&reference), "250 nWb/m at L −10.0, R −11.2 dBFS");
        assert_eq!(
            (reference.right_dbfs, reference.correction_db),
            (-11.25, 0.0)
        );
    }

    #[test]
    fn a_tone_that_the_tape_carries_at_another_level_is_corrected_for() {
        let text = "[[tape]]\nname = \"own\"\ntitle = \"Own\"\nfluxivity_nwb_per_m = 320.0\nsource = \"made up\"\n\
                    [[tape.tone]]\nhz = 1000.0\nuse = \"level\"\nlevel_db = 0.0\nlevel_correction_db = 0.3\n\
                    [[tape.tone]]\nhz = 315.0\nuse = \"response\"\nlevel_db = -10.0\n";
        let tape = &TestTape::parse_all("own.toml", text).expect("a tape")[0];
        let setup = no_tape().with_tape(tape);
        for (tone_hz, recorded_db, words) in [
            (1004.0, 0.3, ", read from a tone of +0.3 dB"),
            (312.0, -10.0, ", read from a tone of −10.0 dB"),
        ] {
            let heard = playing(tone_hz, Some(-12.0), Some(-12.0));
            let reference = reference(Some(&heard), &setup, Some(320.0)).expect("a tone");
            assert_eq!(reference.correction_db, recorded_db);
            assert!(in_words(&reference).ends_with(words));
        }
    }

    #[test]
    fn what_cannot_be_a_reference_is_told() {
        let told = |heard: Option<&Readings>, fluxivity| {
            reference(heard, &no_tape(), fluxivity).expect_err("refused")
        };
        let sound = playing(315.0, Some(-10.0), Some(-11.0));
        assert!(told(Some(&sound), None).starts_with("fluxivity: type"));
        assert!(told(Some(&sound), Some(0.25)).starts_with("fluxivity: 0.25 nWb/m is outside"));
        assert!(told(None, Some(250.0)).starts_with("no level yet"));
        let programme = playing(315.0, Some(-10.0), None);
        assert!(told(Some(&programme), Some(250.0)).contains("right channel"));
        let mut weak = sound;
        weak.level.status = Validity::NoSignal;
        assert_eq!(
            told(Some(&weak), Some(250.0)),
            "no level to refer to: no signal"
        );
    }

    #[test]
    fn a_single_channel_is_its_own_reference() {
        let mut mono = playing(315.0, Some(-10.0), None);
        mono.level.right = ChannelLevel::default();
        let reference = reference(Some(&mono), &no_tape(), Some(320.0)).expect("one channel");
        assert_eq!(reference.right_dbfs, -10.0);
    }
}
