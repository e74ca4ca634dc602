//! From readings to an offset: what is guided, to where, and how far off is far.

use crate::{
    readings::Readings,
    tables::{Band, Limits},
};

/// So many times the target's half-width off is as far as the guide tells: 3 % of speed with a target of ±0.2 %.
const FAR: f64 = 15.0;

/// What can be guided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GuideOf {
    /// The speed deviation.
    Speed,
    /// The azimuth.
    Azimuth,
    /// Left minus right.
    Balance,
}

/// Guides one adjustment to zero; within the limits' aim it is there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aim {
    of: GuideOf,
    /// Half the width of the target, in the reading's unit.
    target: f64,
}

impl Aim {
    /// An aim by the limits that are in use.
    pub fn new(of: GuideOf, limits: &Limits) -> Self {
        let Band { aim, .. } = match of {
            GuideOf::Speed => limits.speed_percent(),
            GuideOf::Azimuth => limits.azimuth_arcmin(),
            GuideOf::Balance => limits.balance_db(),
        };
        Self { of, target: aim }
    }

    /// How far off the reading is: 0 in the target, ±1 at fifteen times its half-width and beyond, NaN without a reading.
    pub fn offset(&self, readings: &Readings) -> f32 {
        let value = match self.of {
            GuideOf::Speed => readings.speed.needle.deviation_percent,
            GuideOf::Azimuth => readings.phase.quick_azimuth_arcmin,
            GuideOf::Balance => readings.level.quick_balance_db,
        };
        // A balance is read of noise and of one channel too; to guide by, there must be a tone.
        let stands = match self.of {
            GuideOf::Speed => readings.speed.status.is_ok(),
            GuideOf::Azimuth => readings.phase.status.is_ok(),
            GuideOf::Balance => readings.level.status.is_ok() && readings.tone.status.is_ok(),
        };
        let Some(value) = value.filter(|value| stands && value.is_finite()) else {
            return f32::NAN;
        };
        let beyond = (value.abs() - self.target).max(0.0) / (self.target * (FAR - 1.0));
        (beyond.min(1.0) * value.signum()) as f32
    }

    /// What the technician must know about it at this moment.
    pub fn remark(&self, readings: &Readings) -> Option<&'static str> {
        let open = self.of == GuideOf::Azimuth
            && readings.phase.status.is_ok()
            && readings.phase.ambiguous;
        open.then_some(
            "Guide: whole cycles are open; its silence may be a wrong zero until a lower tone or programme tells which",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        readings::{SourceDescription, SourceKind, SourceReading, Validity},
        tables::Limits,
    };

    fn readings() -> Readings {
        let source = SourceReading::new(SourceDescription {
            kind: SourceKind::SoundCard,
            name: "line input".into(),
            host: None,
            sample_format: "32-bit float".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        });
        Readings::unread(source, Validity::Ok)
    }

    fn offset_of_speed(percent: Option<f64>) -> f32 {
        let aim = Aim::new(GuideOf::Speed, &Limits::supplied().expect("supplied"));
        let mut readings = readings();
        readings.speed.needle.deviation_percent = percent;
        aim.offset(&readings)
    }

    #[test]
    fn the_target_is_zero_and_the_sign_is_the_readings() {
        for in_it in [0.0, 0.19, -0.2] {
            assert_eq!(offset_of_speed(Some(in_it)), 0.0);
        }
        assert!(offset_of_speed(Some(0.25)) > 0.0 && offset_of_speed(Some(-0.25)) < 0.0);
        assert_eq!(offset_of_speed(Some(3.0)), 1.0);
        assert_eq!(offset_of_speed(Some(-30.0)), -1.0);
        assert!(offset_of_speed(Some(1.0)) > offset_of_speed(Some(0.5)));
    }

    #[test]
    fn without_a_reading_there_is_no_offset() {
        assert!(offset_of_speed(None).is_nan());
        assert!(offset_of_speed(Some(f64::NAN)).is_nan());
        let limits = Limits::supplied().expect("supplied");
        let mut readings = readings();
        readings.level.quick_balance_db = Some(1.0);
        let aim = Aim::new(GuideOf::Balance, &limits);
        assert!(aim.offset(&readings) > 0.0);
        readings.tone.status = Validity::NoTone;
        assert!(aim.offset(&readings).is_nan());
    }

    #[test]
    fn an_azimuth_with_open_cycles_is_guided_with_a_remark() {
        let aim = Aim::new(GuideOf::Azimuth, &Limits::supplied().expect("supplied"));
        let mut readings = readings();
        readings.phase.quick_azimuth_arcmin = Some(-5.0);
        assert!(aim.offset(&readings) < 0.0 && aim.remark(&readings).is_none());
        readings.phase.ambiguous = true;
        assert!(aim.remark(&readings).is_some());
    }
}
