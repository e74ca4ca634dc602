//! Snapshots in, one reading an interval out.

use super::line::LoggedReading;
use crate::{readings::Readings, signal::running::Running};

/// Values are taken this far apart: the length of the quick speed mean, so that no moment counts twice.
const SAMPLE_EVERY_S: f64 = 0.25;

/// Gathers snapshots and closes an interval when it is asked to. Constant size.
#[derive(Clone, Debug, Default)]
pub struct Gatherer {
    speed: Running,
    two_sigma: Running,
    quasi_peak: Running,
    left: Running,
    right: Running,
    balance: Running,
    delay: Delays,
    snr: Running,
    status: &'static str,
    sampled_s: Option<f64>,
}

/// Delays of which whole cycles may be open: kept on the side of the first one.
#[derive(Clone, Copy, Debug, Default)]
struct Delays {
    us: Running,
    first_us: Option<f64>,
    cycle_us: Option<f64>,
    /// The delay farthest from zero with its azimuth: what turns one into the other.
    scale: Option<(f64, f64)>,
}

impl Gatherer {
    /// Takes the status of the moment.
    pub fn note_status(&mut self, readings: &Readings) {
        self.status = readings.speed.status.words();
    }

    /// Takes a snapshot of the moment `at_s`. More than four a second are thinned out.
    pub fn take(&mut self, readings: &Readings, at_s: f64) {
        if self
            .sampled_s
            .is_some_and(|before| at_s - before < SAMPLE_EVERY_S - 1e-9)
        {
            return;
        }
        self.sampled_s = Some(at_s);
        let push = |into: &mut Running, value: Option<f64>| {
            if let Some(value) = value.filter(|value| value.is_finite()) {
                into.push(value);
            }
        };
        push(&mut self.speed, readings.speed.quick.deviation_percent);
        let weighted = &readings.flutter.weighted;
        push(&mut self.two_sigma, weighted.recent_two_sigma_percent);
        push(&mut self.quasi_peak, weighted.pointer_percent);
        push(&mut self.left, readings.level.left.quick_rms_dbfs);
        push(&mut self.right, readings.level.right.quick_rms_dbfs);
        push(&mut self.balance, readings.level.quick_balance_db);
        push(&mut self.snr, readings.tone.snr_db);
        self.delay.take(readings);
    }

    /// The interval's reading; the next interval begins.
    pub fn close(&mut self, at_s: f64) -> LoggedReading {
        let gathered = std::mem::take(self);
        // The rhythm of the samples goes on over the border.
        self.sampled_s = gathered.sampled_s;
        let delay_us = gathered.delay.us.mean();
        LoggedReading {
            at_s,
            seconds: gathered.speed.count() as f64 * SAMPLE_EVERY_S,
            status: gathered.status.into(),
            speed_percent: gathered.speed.mean(),
            speed_min_percent: gathered.speed.min(),
            speed_max_percent: gathered.speed.max(),
            weighted_two_sigma_percent: gathered.two_sigma.mean(),
            weighted_quasi_peak_max_percent: gathered.quasi_peak.max(),
            left_dbfs: gathered.left.mean(),
            right_dbfs: gathered.right.mean(),
            balance_db: gathered.balance.mean(),
            delay_us,
            azimuth_arcmin: delay_us.and_then(|delay_us| gathered.delay.azimuth_arcmin(delay_us)),
            cycle_us: gathered.delay.cycle_us,
            snr_db: gathered.snr.mean(),
        }
    }

    /// Whether nothing was taken since the last close.
    pub fn is_empty(&self) -> bool {
        self.status.is_empty()
    }
}

impl Delays {
    fn take(&mut self, readings: &Readings) {
        let phase = &readings.phase;
        let (Some(delay_us), Some(azimuth_arcmin)) =
            (phase.quick_delay_us, phase.quick_azimuth_arcmin)
        else {
            return;
        };
        if !delay_us.is_finite() || !azimuth_arcmin.is_finite() {
            return;
        }
        let first_us = *self.first_us.get_or_insert(delay_us);
        self.cycle_us = phase
            .tone_hz
            .filter(|hz| phase.ambiguous && *hz > 0.0)
            .map(|hz| 1e6 / hz);
        let cycles_us = self.cycle_us.map_or(0.0, |cycle_us| {
            ((first_us - delay_us) / cycle_us).round() * cycle_us
        });
        self.us.push(delay_us + cycles_us);
        if self
            .scale
            .is_none_or(|(before_us, _)| delay_us.abs() > before_us.abs())
        {
            self.scale = Some((delay_us, azimuth_arcmin));
        }
    }

    /// At the angles of a head, azimuth and delay are proportional: at 40 arc minutes to 5 parts in 100 000.
    fn azimuth_arcmin(&self, delay_us: f64) -> Option<f64> {
        let (us, arcmin) = self.scale?;
        Some(if us == 0.0 {
            0.0
        } else {
            delay_us * arcmin / us
        })
    }
}
