//! The three ways of giving a size to flutter, on a wave whose size is known in each of them.
//!
//! Of a sine of peak p: the value exceeded 5 % of the time is p·sin(0.95·π/2) = 0.9969 p, the rms p/√2. Weighted peak
//! means half of peak to peak (AES6, published abstract); two-sigma means exceeded 5 % of the time (from memory).

use crate::{
    stage::{TONE_HZ, assert_near, measure, tape},
    synth::{fluttering, mono, stereo, tone},
};

#[test]
fn a_steady_4_hz_sine_of_a_tenth_of_a_percent() {
    for sample_rate_hz in [44_100.0, 48_000.0, 96_000.0] {
        for tone_hz in [3000.0, TONE_HZ] {
            let wave = tone(tone_hz, 0.5, fluttering([(4.0, 0.1)]));
            let take = mono(sample_rate_hz, 17.5, wave);
            let flutter = measure(sample_rate_hz, 1, &tape(tone_hz), &take).flutter;
            for (path, figures) in [
                ("weighted", flutter.weighted),
                ("unweighted", flutter.unweighted),
            ] {
                let check = |detector, percent: Option<f64>, expected, tolerance| {
                    let what = format!("{path} {detector}, {tone_hz} Hz at {sample_rate_hz} Hz");
                    assert_near(what, percent.unwrap(), expected, tolerance);
                };
                check("quasi-peak", figures.quasi_peak_percent, 0.1, 0.000_5);
                check("maximum", figures.quasi_peak_max_percent, 0.1, 0.002);
                check("two-sigma", figures.two_sigma_percent, 0.099_69, 0.000_2);
                // The time averaged is no whole number of cycles: up to half a radian in the 500 of 10 s.
                check("rms", figures.rms_percent, 0.070_71, 0.000_15);
            }
        }
    }
}

#[test]
fn the_spectral_lines_are_the_ones_put_in() {
    let lines = [(0.6, 0.08), (6.06, 0.05), (27.0, 0.02)];
    let wave = tone(TONE_HZ, 0.5, fluttering(lines));
    let take = stereo(48_000.0, 30.0, wave, wave);
    let components = measure(48_000.0, 2, &tape(TONE_HZ), &take)
        .flutter
        .components;
    assert_eq!(components.len(), lines.len(), "{components:?}");
    for (component, (rate_hz, percent)) in components.iter().zip(lines) {
        assert_near("rate, Hz", component.rate_hz, rate_hz, 0.005);
        assert_near("peak, %", component.peak_percent, percent, 0.02 * percent);
    }
}

/// rms by bands: a line counts in its own band.
#[test]
fn each_band_has_its_own_line() {
    let wave = tone(
        TONE_HZ,
        0.5,
        fluttering([(0.2, 0.1), (2.0, 0.08), (40.0, 0.06), (500.0, 0.05)]),
    );
    let take = mono(48_000.0, 27.5, wave);
    let bands = measure(48_000.0, 1, &tape(TONE_HZ), &take).flutter.bands;
    let rms = |peak_percent: f64| peak_percent / 2f64.sqrt();
    let check = |what, percent: Option<f64>, peak| {
        assert_near(what, percent.unwrap(), rms(peak), 0.02 * rms(peak));
    };
    check("drift", bands.drift_rms_percent, 0.1);
    check("wow", bands.wow_rms_percent, 0.08);
    check("flutter", bands.flutter_rms_percent, 0.06);
    check("scrape", bands.scrape_rms_percent, 0.05);
    assert!(bands.scrape_upper_hz.unwrap() > 500.0);
}
