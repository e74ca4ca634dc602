//! The readings that were taken in this session of the window.

use super::model::{Adjustment, State, format};
use crate::{
    bench::TakenReading,
    readings::{Readings, Trail},
};

/// One reading taken: everything the meters knew, without the trails.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The adjustment in hand.
    pub adjustment: Adjustment,
    /// The snapshot.
    pub readings: Box<Readings>,
    /// In and out, as it was shown.
    pub state: State,
    /// The reading in words.
    pub words: String,
    /// The reading as a job's record has it, where jobs are kept.
    pub record: Option<Box<TakenReading>>,
}

impl Taken {
    /// Takes the reading of `adjustment`.
    ///
    /// # Errors
    /// In words, when there is no valid reading to take.
    pub fn take(adjustment: Adjustment, readings: &Readings, state: State) -> Result<Self, String> {
        let name = adjustment.name();
        if let State::NotValid(validity) = state {
            return Err(format!("{name} not taken: {validity}"));
        }
        let words = words(adjustment, readings)
            .ok_or_else(|| format!("{name} not taken: the average is not there yet"))?;
        Ok(Self {
            adjustment,
            readings: Box::new(without_trails(readings)),
            state,
            words,
            record: None,
        })
    }
}

/// The averaged figure of an adjustment, with what it covers.
fn words(adjustment: Adjustment, readings: &Readings) -> Option<String> {
    match adjustment {
        Adjustment::Speed => {
            let speed = &readings.speed;
            Some(format!(
                "{} % {} ({})",
                format::signed(speed.deviation_percent?, 3),
                format::plus_minus(speed.uncertainty_percent, 3, "%"),
                format::duration(speed.averaged_seconds)
            ))
        }
        Adjustment::Flutter => {
            let weighted = &readings.flutter.weighted;
            let peak = format::with_unit(weighted.quasi_peak_max_percent, 3, "%");
            Some(format!(
                "weighted: two-sigma {} %, greatest peak {peak} ({})",
                format::plain(weighted.two_sigma_percent?, 3),
                format::duration(readings.flutter.averaged_seconds)
            ))
        }
        Adjustment::Azimuth => {
            let phase = &readings.phase;
            let fine = if phase.ambiguous { ", fine only" } else { "" };
            Some(format!(
                "{} arcmin, {}{fine}",
                format::signed(phase.azimuth_arcmin?, 2),
                format::signed_with_unit(phase.delay_us, 2, "µs")
            ))
        }
        Adjustment::Level => {
            let level = &readings.level;
            Some(format!(
                "left − right {} dB, L {} R {}",
                format::signed(level.balance_db?, 2),
                format::with_unit(level.left.rms_dbfs, 1, "dBFS"),
                format::with_unit(level.right.rms_dbfs, 1, "dBFS")
            ))
        }
    }
}

fn without_trails(readings: &Readings) -> Readings {
    let mut bare = readings.clone();
    bare.speed.trail = Trail::default();
    bare.flutter.trail = Trail::default();
    bare.flutter.pointer_trail = Trail::default();
    bare.level.left.trail = Trail::default();
    bare.level.right.trail = Trail::default();
    bare.phase.trail = Trail::default();
    bare
}
