//! Estimators against the Cramér–Rao bound, on few takes; `cargo bench --bench bounds` has many, and every
//! signal-to-noise ratio. The bound and its source are in `trial`.

use crate::trial;

/// Takes, each with noise of its own.
const TAKES: u64 = 50;
/// Project's bar for the rms error over the bound. Fifty long windows know their rms only within a tenth, so one
/// standard error more is let pass here; the bench holds it to the bar itself.
const BAR: f64 = 1.15;
/// An estimator cannot beat the bound, but so many standard errors of a ratio are luck.
const ERRORS_OF_LUCK: f64 = 4.0;
/// No error of some hundred Gaussian ones reaches so many bounds; one of a slipped cycle does.
const MOST: f64 = 6.0;

#[allow(
    clippy::print_stdout,
    reason = "the ratios are of interest, and the harness holds them back unless asked"
)]
fn stays_at_the_bound(snr_db: f64) {
    for errors in trial::run(snr_db, TAKES) {
        let (name, ratio) = (errors.name, errors.ratio());
        let count = errors.count();
        println!("{snr_db} dB: {name} at {ratio:.3} of the bound, {count} times");
        assert_eq!(errors.refused, 0, "{name} at {snr_db} dB");
        let least = 1.0 - ERRORS_OF_LUCK * errors.ratio_error();
        let most = BAR + errors.ratio_error();
        assert!((least..=most).contains(&ratio), "{name}: {ratio}");
        let (mean, error) = errors.mean();
        let luck = ERRORS_OF_LUCK * error;
        assert!(mean.abs() < luck, "{name}: biased by {mean} of the bound");
        assert!(errors.greatest() < MOST, "{name}: {}", errors.greatest());
    }
}

/// The least that the bar asks for: noise with a tenth of the tone's power.
#[test]
fn at_10_db() {
    stays_at_the_bound(10.0);
}

#[test]
fn at_40_db() {
    stays_at_the_bound(40.0);
}
