//! The level that is heard from a level tape, made the reference of all later levels.

use super::format;
use crate::{meters::LevelReference, readings::LevelReading};

/// Fluxivities that make sense on a level tape, nWb/m.
const FLUXIVITIES_NWB_PER_M: std::ops::RangeInclusive<f64> = 10.0..=2000.0;

/// The level that is played now, as that of a tape with a fluxivity in nWb/m.
///
/// # Errors
/// In words, when there is no level or the fluxivity is missing or out of range.
pub fn reference(
    level: Option<&LevelReading>,
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
    let level = level.ok_or("no level yet: play the level tape first")?;
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
    Ok(LevelReference {
        left_dbfs,
        right_dbfs,
        fluxivity_nwb_per_m,
        correction_db: 0.0,
    })
}

/// `250 nWb/m at L −10.0, R −11.2 dBFS`.
pub fn in_words(reference: &LevelReference) -> String {
    format!(
        "{} nWb/m at L {}, R {} dBFS",
        reference.fluxivity_nwb_per_m,
        format::plain(reference.left_dbfs, 1),
        format::plain(reference.right_dbfs, 1)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{ChannelLevel, Validity};

    fn level(left: Option<f64>, right: Option<f64>) -> LevelReading {
        let channel = |tone_dbfs: Option<f64>| ChannelLevel {
            rms_dbfs: Some(-9.0),
            tone_dbfs,
            ..ChannelLevel::default()
        };
        LevelReading {
            status: Validity::Ok,
            left: channel(left),
            right: channel(right),
            ..LevelReading::default()
        }
    }

    #[test]
    fn the_tone_of_both_channels_becomes_the_reference() {
        let reference = reference(Some(&level(Some(-10.0), Some(-11.25))), Some(250.0));
        let reference = reference.expect("a tone on both channels");
        assert_eq!(in_words(&reference), "250 nWb/m at L −10.0, R −11.2 dBFS");
        assert_eq!(reference.right_dbfs, -11.25);
    }

    #[test]
    fn what_cannot_be_a_reference_is_told() {
        let told = |level: Option<&LevelReading>, fluxivity| {
            reference(level, fluxivity).expect_err("refused")
        };
        let sound = level(Some(-10.0), Some(-11.0));
        assert!(told(Some(&sound), None).starts_with("fluxivity: type"));
        assert!(told(Some(&sound), Some(0.25)).starts_with("fluxivity: 0.25 nWb/m is outside"));
        assert!(told(None, Some(250.0)).starts_with("no level yet"));
        let programme = level(Some(-10.0), None);
        assert!(told(Some(&programme), Some(250.0)).contains("right channel"));
        let weak = LevelReading {
            status: Validity::NoSignal,
            ..sound
        };
        assert_eq!(
            told(Some(&weak), Some(250.0)),
            "no level to refer to: no signal"
        );
    }

    #[test]
    fn a_single_channel_is_its_own_reference() {
        let mut mono = level(Some(-10.0), None);
        mono.right = ChannelLevel::default();
        let reference = reference(Some(&mono), Some(320.0)).expect("one channel");
        assert_eq!(reference.right_dbfs, -10.0);
    }
}
