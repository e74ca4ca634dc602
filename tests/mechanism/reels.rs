//! Reels: their rate changes with the pack, and that tells the take-up reel from the supply reel.

use super::decks::{self, CASSETTE_M_PER_S, RATE_HZ};
use rand::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};
use std::f64::consts::{PI, TAU};
use trimwatch::{
    mechanism::{Analyser, MotionSeries, Options},
    tables::{Part, PartKind},
};

const THICKNESS_M: f64 = 18e-6;

fn reel(kind: PartKind) -> Part {
    let mut reel = Part::new(kind.words(), kind);
    reel.hub_radius_mm = Some(11.0);
    reel.full_radius_mm = Some(25.5);
    reel.tape_thickness_um = Some(18.0);
    reel
}

/// Angle of a reel, turns, from the exact pack: r² = r₀² ± h·v·t/π, and the angle is its integral (r − r₀)/(± h).
fn turns(t: f64, radius_m: f64, growth: f64) -> f64 {
    let r = (radius_m.powi(2) + growth * THICKNESS_M * CASSETTE_M_PER_S * t / PI).sqrt();
    growth * (r - radius_m) / THICKNESS_M
}

fn series(seconds: f64, radius_m: f64, growth: f64, seed: u64) -> MotionSeries {
    let mut chance = rand_pcg::Pcg64::seed_from_u64(seed);
    let values = (0..(seconds * RATE_HZ) as usize).map(|i| {
        let t = i as f64 / RATE_HZ;
        let angle = TAU * turns(t, radius_m, growth);
        let normal: f64 = StandardNormal.sample(&mut chance);
        0.06 * angle.sin() + 0.02 * (2.0 * angle + 1.0).sin() + 0.03 * normal
    });
    MotionSeries {
        rate_hz: RATE_HZ,
        flat_to_hz: 250.0,
        speed_percent: values.collect(),
        ..MotionSeries::default()
    }
}

#[test]
fn a_reel_is_followed_through_its_pack_and_told_from_the_other() {
    let mechanism = decks::mechanism(vec![reel(PartKind::TakeUpReel), reel(PartKind::SupplyReel)]);
    for (growth, radius_m, name) in [(1.0, 0.0125, "take-up reel"), (-1.0, 0.0135, "supply reel")] {
        let series = series(65.0, radius_m, growth, 3);
        let reading =
            Analyser::default().analyse(&series, Some(&mechanism), None, Options::default());
        let part = reading
            .parts
            .iter()
            .find(|part| part.part == name)
            .expect("the part is listed");
        let found = part
            .found_hz
            .unwrap_or_else(|| panic!("{name}: {:?}", reading.rows));
        let at =
            |t: f64| (turns(t + 0.01, radius_m, growth) - turns(t - 0.01, radius_m, growth)) / 0.02;
        assert!(
            (found.value / at(32.5) - 1.0).abs() < 1e-3,
            "{found:?} {}",
            at(32.5)
        );
        assert_eq!(part.orders, [1, 2], "{:?}", reading.rows);
        let trace = &part.traces[0];
        for (told, truth) in [
            (trace.rate_at_start_hz, at(0.0)),
            (trace.rate_at_end_hz, at(65.0)),
        ] {
            assert!((told / truth - 1.0).abs() < 0.005, "{told} {truth}");
        }
        for (order, size) in [(1, 0.06), (2, 0.02)] {
            let harmonic = trace.harmonics[order - 1];
            assert!(
                (harmonic.peak.value / size - 1.0).abs() < 0.06,
                "{harmonic:?}"
            );
        }
        let row = reading
            .rows
            .iter()
            .find(|row| row.order == Some(1))
            .unwrap();
        assert!(
            (row.peak_percent.unwrap().value / 0.06 - 1.0).abs() < 0.05,
            "{row:?}"
        );
    }
}

/// The stated uncertainty of a change of rate is the real one.
#[test]
fn the_change_of_rate_has_its_stated_uncertainty() {
    let mechanism = decks::mechanism(vec![reel(PartKind::TakeUpReel)]);
    let mut analyser = Analyser::default();
    let mut sum = 0.0;
    let takes = 24;
    for seed in 0..takes {
        let series = series(65.0, 0.0125, 1.0, 100 + seed);
        let reading = analyser.analyse(
            &series,
            Some(&mechanism),
            None,
            Options {
                without_traces: true,
                ..Options::default()
            },
        );
        let line = &reading.speed_lines[0];
        let change = line.rate_change_hz_per_s.expect("it was looked for");
        let f = |t: f64| (turns(t + 0.01, 0.0125, 1.0) - turns(t - 0.01, 0.0125, 1.0)) / 0.02;
        let truth = (f(42.5) - f(22.5)) / 20.0;
        sum += ((change.value - truth) / (0.5 * change.uncertainty)).powi(2);
    }
    // The square root of a mean of 24 squares scatters by 15 %.
    let spread = f64::sqrt(sum / takes as f64);
    assert!((0.55..1.5).contains(&spread), "{spread}");
}
