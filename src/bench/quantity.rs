//! The figures that a job record holds: each with its key, its unit, and the station it belongs to.

use super::Station;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

/// Which way a figure can be wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Either way; the sign says which.
    Both,
    /// Only by being too great.
    Greatest,
    /// No limit is usual for it: it is kept to be compared.
    Neither,
}

macro_rules! quantities {
    ($($variant:ident, $key:literal, $name:literal, $unit:literal, $decimals:literal, $station:ident, $side:ident, $doc:literal;)+) => {
        /// One figure. The key, which files and the store use, carries the unit.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Quantity {
            $(#[doc = $doc] $variant,)+
        }

        impl Quantity {
            /// All of them, station by station.
            pub const ALL: &[Self] = &[$(Self::$variant,)+];

            /// The key in files: the name with its unit.
            pub const fn key(self) -> &'static str {
                match self { $(Self::$variant => $key,)+ }
            }

            /// What a technician calls it.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)+ }
            }

            /// The unit; empty where it is a number of things.
            pub const fn unit(self) -> &'static str {
                match self { $(Self::$variant => $unit,)+ }
            }

            /// Decimals it is written with.
            pub const fn decimals(self) -> usize {
                match self { $(Self::$variant => $decimals,)+ }
            }

            /// The station it is read at.
            pub const fn station(self) -> Station {
                match self { $(Self::$variant => Station::$station,)+ }
            }

            /// Which way it can be wrong.
            pub const fn side(self) -> Side {
                match self { $(Self::$variant => Side::$side,)+ }
            }
        }
    };
}

quantities! {
    TakeUpTorque, "take_up_torque_mn_m", "take-up torque", "mN·m", 2, Mechanical, Both,
        "Torque of the take-up reel in play, mN·m.";
    BackTorque, "back_torque_mn_m", "back torque", "mN·m", 2, Mechanical, Both,
        "Holding torque of the supply reel in play, mN·m.";
    WindTorque, "wind_torque_mn_m", "wind torque, forward", "mN·m", 2, Mechanical, Both,
        "Torque of the take-up reel when winding forward, mN·m.";
    RewindTorque, "rewind_torque_mn_m", "wind torque, back", "mN·m", 2, Mechanical, Both,
        "Torque of the supply reel when winding back, mN·m.";
    CapstanEndPlay, "capstan_end_play_mm", "capstan end play", "mm", 2, Mechanical, Both,
        "Axial play of the capstan, mm.";
    RollerForce, "roller_force_n", "pinch roller force", "N", 2, Mechanical, Both,
        "Force of the pinch roller against the capstan, N.";

    SpeedDeviation, "speed_deviation_percent", "speed deviation", "%", 3, Speed, Both,
        "Mean speed deviation, percent; positive = fast.";
    SpeedLeast, "speed_least_percent", "least of ¼ s means", "%", 2, Speed, Neither,
        "Least 0.25 s mean of the speed deviation, percent.";
    SpeedGreatest, "speed_greatest_percent", "greatest of ¼ s means", "%", 2, Speed, Neither,
        "Greatest 0.25 s mean of the speed deviation, percent.";
    SpeedTrend, "speed_trend_percent_per_minute", "trend", "% a minute", 3, Speed, Neither,
        "Trend of the speed, percent a minute.";

    WeightedTwoSigma, "weighted_two_sigma_percent", "weighted, two-sigma", "%", 3, Flutter, Greatest,
        "Weighted flutter exceeded 5 % of the time, percent (±).";
    WeightedQuasiPeakMax, "weighted_quasi_peak_max_percent", "weighted, greatest quasi-peak", "%", 3, Flutter, Greatest,
        "Greatest weighted quasi-peak reading, percent (±).";
    WeightedQuasiPeak, "weighted_quasi_peak_percent", "weighted, mean quasi-peak", "%", 3, Flutter, Greatest,
        "Mean weighted quasi-peak reading, percent (±).";
    WeightedRms, "weighted_rms_percent", "weighted, rms", "%", 3, Flutter, Greatest,
        "Weighted flutter, rms, percent.";
    UnweightedTwoSigma, "unweighted_two_sigma_percent", "unweighted, two-sigma", "%", 3, Flutter, Greatest,
        "Unweighted flutter (0.2 to 200 Hz) exceeded 5 % of the time, percent (±).";
    UnweightedQuasiPeakMax, "unweighted_quasi_peak_max_percent", "unweighted, greatest quasi-peak", "%", 3, Flutter, Greatest,
        "Greatest unweighted quasi-peak reading, percent (±).";
    UnweightedRms, "unweighted_rms_percent", "unweighted, rms", "%", 3, Flutter, Greatest,
        "Unweighted flutter, rms, percent.";
    DriftRms, "drift_rms_percent", "drift below 0.5 Hz, rms", "%", 3, Flutter, Neither,
        "Speed variation below 0.5 Hz, rms, percent.";
    WowRms, "wow_rms_percent", "wow 0.5 to 6 Hz, rms", "%", 3, Flutter, Neither,
        "Speed variation from 0.5 to 6 Hz, rms, percent.";
    FlutterRms, "flutter_rms_percent", "flutter 6 to 200 Hz, rms", "%", 3, Flutter, Neither,
        "Speed variation from 6 to 200 Hz, rms, percent.";
    ScrapeRms, "scrape_rms_percent", "scrape flutter above 200 Hz, rms", "%", 3, Flutter, Neither,
        "Speed variation above 200 Hz, rms, percent.";

    Azimuth, "azimuth_arcmin", "azimuth", "arcmin", 2, Azimuth, Both,
        "Azimuth error, arc minutes; positive = right channel later.";
    Delay, "delay_us", "interchannel delay", "µs", 2, Azimuth, Neither,
        "Interchannel delay, µs; positive = right channel later.";
    PhaseWanderRms, "phase_wander_rms_degrees", "phase wander, rms", "°", 2, Azimuth, Neither,
        "Standard deviation of the interchannel phase over time, degrees.";
    PhaseWanderPeakToPeak, "phase_wander_peak_to_peak_degrees", "phase wander, peak to peak", "°", 1, Azimuth, Neither,
        "Greatest less least interchannel phase, degrees.";
    MonoSumLoss, "mono_sum_loss_db", "mono sum", "dB", 2, Azimuth, Neither,
        "Level of the mono sum against channels in phase, dB; 0 = nothing lost, negative = lost.";

    Balance, "balance_db", "left less right", "dB", 2, Level, Both,
        "Level of the left channel less that of the right, dB.";
    LeftLevel, "left_level_dbfs", "left level", "dBFS", 1, Level, Neither,
        "Level of the left channel, dBFS.";
    RightLevel, "right_level_dbfs", "right level", "dBFS", 1, Level, Neither,
        "Level of the right channel, dBFS.";
    LeftVolts, "left_level_dbv", "left level", "dBV", 2, Level, Neither,
        "Level of the left channel, dBV.";
    RightVolts, "right_level_dbv", "right level", "dBV", 2, Level, Neither,
        "Level of the right channel, dBV.";
    LeftToReference, "left_from_reference_db", "left to reference fluxivity", "dB", 2, Level, Both,
        "Level of the left channel relative to the reference fluxivity, dB.";
    RightToReference, "right_from_reference_db", "right to reference fluxivity", "dB", 2, Level, Both,
        "Level of the right channel relative to the reference fluxivity, dB.";
    LevelSteadiness, "level_steadiness_db_rms", "level steadiness, rms", "dB", 2, Level, Greatest,
        "Standard deviation of the tone's level, dB; of the less steady channel.";
    Dropouts, "dropouts", "dropouts", "", 0, Level, Greatest,
        "Dropouts counted.";
    LeftHum, "left_hum_dbfs", "left hum", "dBFS", 1, Level, Neither,
        "Hum of the left channel, mains frequency and harmonics, dBFS.";
    RightHum, "right_hum_dbfs", "right hum", "dBFS", 1, Level, Neither,
        "Hum of the right channel, mains frequency and harmonics, dBFS.";
}

impl Quantity {
    /// The quantity of that key.
    pub fn of_key(key: &str) -> Option<Self> {
        Self::ALL
            .iter()
            .copied()
            .find(|quantity| quantity.key() == key)
    }

    /// Whether its sign says something: it is then written with `+` or `−`.
    pub const fn is_signed(self) -> bool {
        !matches!(self.station(), Station::Mechanical) && matches!(self.side(), Side::Both)
            || matches!(
                self,
                Self::SpeedLeast | Self::SpeedGreatest | Self::SpeedTrend | Self::Delay
            )
    }
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.key())
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let key = String::deserialize(deserializer)?;
        Self::of_key(&key).ok_or_else(|| D::Error::custom(format!("no quantity '{key}'")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_key_is_its_own_and_leads_back() {
        let keys: HashSet<_> = Quantity::ALL
            .iter()
            .map(|quantity| quantity.key())
            .collect();
        assert_eq!(keys.len(), Quantity::ALL.len());
        for &quantity in Quantity::ALL {
            assert_eq!(Quantity::of_key(quantity.key()), Some(quantity));
        }
        assert_eq!(Quantity::of_key("wow_and_flutter"), None);
    }
}
