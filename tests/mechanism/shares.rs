//! The shares add up to the whole, and the whole is the weighted reading (Parseval).

use super::decks::{self, RATE_HZ};
use trimwatch::{
    mechanism::{Analyser, MotionSeries, Options},
    readings::RowKind,
    signal::weighting::wow_flutter_weighting,
};

/// Rms of the weighted speed in time: the filter that the meter uses, at eight times the series' rate (held values
/// between, which the weighting's fall above 10 Hz makes harmless).
fn weighted_rms(series: &MotionSeries) -> f64 {
    let over = 8;
    let mut filter = wow_flutter_weighting(f64::from(over) * series.rate_hz);
    let mean = series.speed_percent.iter().sum::<f64>() / series.speed_percent.len() as f64;
    let settling = (4.0 * series.rate_hz) as usize;
    let (mut sum, mut count) = (0.0, 0.0);
    for (i, x) in series.speed_percent.iter().enumerate() {
        for _ in 0..over {
            let y = filter.process(x - mean);
            if i > settling {
                sum += y * y;
                count += 1.0;
            }
        }
    }
    f64::sqrt(sum / count)
}

#[test]
fn shares_add_up_to_one_and_their_powers_to_the_weighted_reading() {
    let mut analyser = Analyser::default();
    for seed in 0..5 {
        let deck = decks::drawn(seed, 60.0);
        let series = deck.series(60.0, 3);
        let reading = analyser.analyse(&series, Some(&deck.mechanism), None, Options::default());
        let shares: f64 = reading.rows.iter().map(|row| row.share).sum();
        assert!((shares - 1.0).abs() < 1e-9, "{shares}");
        let powers = reading
            .rows
            .iter()
            .map(|row| row.weighted_rms_percent.powi(2));
        let whole = powers.sum::<f64>().sqrt();
        let in_time = weighted_rms(&series);
        // The window weighs the middle of the take more; random wow differs there.
        assert!(
            (whole / in_time - 1.0).abs() < 0.02,
            "{seed}: {whole} {in_time}"
        );
        let stated = reading.whole.weighted_rms_percent;
        assert!(
            (stated.value / in_time - 1.0).abs() < 0.005,
            "{seed}: {stated:?} {in_time}"
        );
    }
}

/// Two lines of known size and little else: 0.1 % at 4 Hz (weighting 0 dB) and 0.1 % at 20 Hz (−5.9 dB, from memory).
#[test]
fn the_share_of_a_line_is_that_of_its_weighted_power() {
    let values = (0..(40.0 * RATE_HZ) as usize).map(|i| {
        let t = i as f64 / RATE_HZ;
        let wave = |hz: f64| 0.1 * (std::f64::consts::TAU * hz * t).sin();
        wave(4.0) + wave(20.0)
    });
    let series = MotionSeries {
        rate_hz: RATE_HZ,
        flat_to_hz: 250.0,
        speed_percent: values.collect(),
        ..MotionSeries::default()
    };
    let reading = Analyser::default().analyse(&series, None, None, Options::default());
    let rows: Vec<_> = reading
        .rows
        .iter()
        .filter(|row| row.kind == RowKind::Unexplained)
        .collect();
    assert_eq!(rows[0].lines, 2, "{:?}", reading.rows);
    let weighted: Vec<f64> = reading
        .speed_lines
        .iter()
        .map(|l| l.weighted_peak.unwrap())
        .collect();
    let expected = 0.1 * 10f64.powf(-5.9 / 20.0);
    let [a, b] = [weighted[0].max(weighted[1]), weighted[0].min(weighted[1])];
    assert!(
        (a - 0.1).abs() < 0.001 && (b / expected - 1.0).abs() < 0.02,
        "{weighted:?}"
    );
    // Rms of the whole: √((0.1² + 0.0507²)/2).
    let rms = f64::sqrt((0.01 + expected * expected) / 2.0);
    assert!((rows[0].weighted_rms_percent / rms - 1.0).abs() < 0.02);
    assert!(rows[0].share > 0.9999);
}
