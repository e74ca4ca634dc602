//! Full scale in volts, from a sine whose voltage a multimeter tells.

use crate::readings::Readings;

/// What a multimeter's alternating-voltage range commonly keeps at audio frequencies, percent. Common practice, no
/// source.
pub const DEFAULT_METER_TOLERANCE_PERCENT: f64 = 1.0;
/// The tone's frequency agrees with what was said within this, percent.
const FREQUENCY_WITHIN_PERCENT: f64 = 2.0;
/// Volts that make sense at a line input.
const VOLTS: std::ops::RangeInclusive<f64> = 1e-3..=100.0;
/// A level nearer to full scale is likely to be clipped; one further below is measured by the noise.
const LEVELS_DBFS: std::ops::RangeInclusive<f64> = -60.0..=-0.1;
/// Steadiness that a generator has, dB rms.
const STEADY_DB: f64 = 0.1;

/// What the technician knows of the sine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownSine {
    /// Voltage at the input, rms.
    pub volts_rms: f64,
    /// The multimeter's tolerance at this frequency, percent (±).
    pub tolerance_percent: f64,
    /// Frequency, Hz.
    pub hz: f64,
}

/// Full scale of the inputs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FullScale {
    /// Voltage of a full-scale sine at the left input, V rms; `None` where the sine is not on it.
    pub left_volts_rms: Option<f64>,
    /// The same of the right input.
    pub right_volts_rms: Option<f64>,
    /// Uncertainty (k = 2) of both, percent: the multimeter's tolerance and the tone's unsteadiness.
    pub uncertainty_percent: f64,
}

/// Makes full scale of the readings taken while the sine came in.
///
/// # Errors
/// Says what does not fit, with the value, and what to do.
pub fn full_scale(readings: &Readings, sine: &KnownSine) -> Result<FullScale, String> {
    if !VOLTS.contains(&sine.volts_rms) {
        return Err(format!(
            "{} V is outside {} to {} V; give the rms voltage of the sine at the input",
            sine.volts_rms,
            VOLTS.start(),
            VOLTS.end()
        ));
    }
    if !readings.level.status.is_ok() {
        return Err(format!(
            "no level to calibrate by: {}; play the sine and turn it to about -12 dBFS",
            readings.level.status
        ));
    }
    let heard_hz = readings.tone.left_hz.or(readings.tone.right_hz);
    let heard_hz = heard_hz.ok_or_else(|| {
        format!(
            "no steady tone ({}); play the sine of {} Hz",
            readings.tone.status, sine.hz
        )
    })?;
    if (100.0 * (heard_hz / sine.hz - 1.0)).abs() > FREQUENCY_WITHIN_PERCENT {
        return Err(format!(
            "the tone is {heard_hz:.1} Hz and not {} Hz; say the frequency that is played",
            sine.hz
        ));
    }
    let steadiness_db = readings.level.steadiness_db_rms.unwrap_or(0.0);
    if steadiness_db > STEADY_DB {
        return Err(format!(
            "the tone's level moves by {steadiness_db:.2} dB rms; use a generator and not a tape"
        ));
    }
    let level = &readings.level;
    let tones = [level.left.tone_dbfs, level.right.tone_dbfs];
    let loudest = tones
        .into_iter()
        .flatten()
        .fold(f64::NEG_INFINITY, f64::max);
    if !LEVELS_DBFS.contains(&loudest) {
        return Err(format!(
            "the tone is at {loudest:.1} dBFS; bring it between {} and {} dBFS",
            LEVELS_DBFS.start(),
            LEVELS_DBFS.end()
        ));
    }
    // An input that only hears the other's crosstalk is not calibrated by it.
    let [left_volts_rms, right_volts_rms] = tones.map(|dbfs| {
        dbfs.filter(|dbfs| loudest - dbfs < 20.0)
            .map(|dbfs| sine.volts_rms * 10f64.powf(-dbfs / 20.0))
    });
    let steadiness_percent = 100.0 * (10f64.powf(2.0 * steadiness_db / 20.0) - 1.0);
    Ok(FullScale {
        left_volts_rms,
        right_volts_rms,
        uncertainty_percent: sine.tolerance_percent.hypot(steadiness_percent),
    })
}
