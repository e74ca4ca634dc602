//! IEC 60386 (equal to DIN 45507, AES6): the weighting curve. All values of the table from memory.

use crate::{
    stage::{TONE_HZ, assert_near, measure, tape},
    synth::{fluttering, mono, tone},
};
use trimwatch::{readings::Validity, signal::weighting::wow_flutter_weighting};

/// Hz and dB, typed in here anew, so that a slip in `calibration/weighting/` shows.
const TABLE: [(f64, f64); 16] = [
    (0.2, -30.6),
    (0.315, -19.7),
    (0.4, -15.0),
    (0.63, -8.4),
    (0.8, -6.0),
    (1.0, -4.2),
    (1.6, -1.8),
    (2.0, -0.9),
    (4.0, 0.0),
    (6.3, -0.9),
    (10.0, -2.1),
    (20.0, -5.9),
    (40.0, -10.4),
    (63.0, -14.2),
    (100.0, -17.3),
    (200.0, -23.0),
];
/// The table between its points, dB: straight lines over the logarithm of the rate, its ends continued.
pub fn table_db(hz: f64) -> f64 {
    let after = TABLE
        .partition_point(|(point_hz, _)| *point_hz < hz)
        .clamp(1, TABLE.len() - 1);
    let ((low_hz, low_db), (high_hz, high_db)) = (TABLE[after - 1], TABLE[after]);
    low_db + (high_db - low_db) * (hz / low_hz).ln() / (high_hz / low_hz).ln()
}

/// The project's bar, well inside the standard's own tolerances of ±2 and ±4 dB (from memory).
const BAR_DB: f64 = 0.25;
/// What the meters have averaged when they begin: the lock, its filters, the gate, and 6 s of settling.
const BEFORE_COUNTING_S: f64 = 7.5;

#[test]
fn the_filter_follows_the_table() {
    for rate_hz in [3675.0, 4000.0, 4166.7] {
        let filter = wow_flutter_weighting(rate_hz);
        for (hz, table_db) in TABLE {
            let db = 20.0 * filter.response(hz / rate_hz).norm().log10();
            assert_near(format!("{hz} Hz, dB"), db, table_db, BAR_DB);
        }
    }
}

/// A line of 0.1 % at each rate of the table that a take of reasonable length holds, from samples to the reading.
fn readings_follow_the_table(sample_rate_hz: f64) {
    const PEAK_PERCENT: f64 = 0.1;
    for (hz, table_db) in TABLE.into_iter().filter(|(hz, _)| *hz >= 0.4) {
        // Whole cycles: the rms of a sine is only then its amplitude over √2.
        let cycles = (8.0 * hz).max(5.0).ceil();
        let seconds = BEFORE_COUNTING_S + cycles / hz;
        let tape_at = fluttering([(hz, PEAK_PERCENT)]);
        let take = mono(sample_rate_hz, seconds, tone(TONE_HZ, 0.5, tape_at));
        let flutter = measure(sample_rate_hz, 1, &tape(TONE_HZ), &take).flutter;
        assert_eq!(
            flutter.status,
            Validity::Ok,
            "{hz} Hz at {sample_rate_hz} Hz, {seconds} s"
        );
        let true_rms = PEAK_PERCENT / 2f64.sqrt();
        let read_db = |percent: Option<f64>| 20.0 * (percent.unwrap() / true_rms).log10();
        let what = |path| format!("{path}, {hz} Hz at {sample_rate_hz} Hz, dB");
        let weighted_db = read_db(flutter.weighted.rms_percent);
        let unweighted_db = read_db(flutter.unweighted.rms_percent);
        assert_near(what("weighted"), weighted_db, table_db, BAR_DB);
        assert_near(what("unweighted"), unweighted_db, band_db(hz), BAR_DB);
        let ratio_db = table_db - band_db(hz);
        let read_ratio_db = weighted_db - unweighted_db;
        assert_near(what("ratio"), read_ratio_db, ratio_db, BAR_DB);
    }
}

/// The unweighted band, 0.2 to 200 Hz (from memory), has Butterworth edges of third and eighth order, −3 dB there.
fn band_db(hz: f64) -> f64 {
    let low: f64 = 1.0 + (0.2 / hz).powi(6);
    let high: f64 = 1.0 + (hz / 200.0).powi(16);
    -10.0 * (low * high).log10()
}

#[test]
fn readings_follow_the_table_at_16_khz() {
    readings_follow_the_table(16_000.0);
}

#[test]
fn readings_follow_the_table_at_44_khz() {
    readings_follow_the_table(44_100.0);
}

#[test]
fn readings_follow_the_table_at_48_khz() {
    readings_follow_the_table(48_000.0);
}

#[test]
fn readings_follow_the_table_at_96_khz() {
    readings_follow_the_table(96_000.0);
}
