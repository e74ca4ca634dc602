//! Eccentric, oval, or a flat spot: what the harmonics of a turn say, in words with their figures.
//!
//! A part out of centre moves the tape once a turn as a sine; two bulges do so twice; a flat spot or a lump of dirt is
//! a short pulse, whose harmonics are many and all have their greatest (or least) value at the same angle.

use crate::readings::{Harmonic, Quantity, TraceShape};

/// A harmonic stands out when it is this many standard deviations large, and this part of the largest one.
const STANDS_OUT: f64 = 4.0;
const STANDS_BESIDE: f64 = 0.03;
/// Share of the power of the turn that makes one order its shape.
const MOSTLY: f64 = 0.70;
/// A pulse needs so many harmonics from the third on ...
const PULSE_HARMONICS: usize = 4;
/// ... with this share of the power, and none of them more than this part of that ...
const PULSE_SHARE: f64 = 0.12;
const PULSE_MOST_OF_ONE: f64 = 0.6;
/// ... agreeing on one angle this well (1 = exactly), and better where there are few: chance makes few agree.
const PULSE_AGREEMENT: f64 = 0.80;
const PULSE_AGREEMENT_OF_FEW: f64 = 0.6;

/// What was judged.
#[derive(Clone, Debug)]
pub struct Shape {
    /// The shape.
    pub shape: TraceShape,
    /// As a sentence.
    pub words: String,
    /// Its figures.
    pub evidence: String,
}

/// Judges the harmonics of a turn.
pub fn judge(quantity: Quantity, harmonics: &[Harmonic], turns: f64) -> Shape {
    let unit = quantity.unit();
    let largest = harmonics.iter().map(|h| h.peak.value).fold(0.0, f64::max);
    let stands = |h: &&Harmonic| {
        h.peak.value > 0.5 * STANDS_OUT * h.peak.uncertainty
            && h.peak.value > STANDS_BESIDE * largest
    };
    let standing: Vec<&Harmonic> = harmonics.iter().filter(stands).collect();
    let all: f64 = standing.iter().map(|h| h.peak.value.powi(2)).sum();
    if standing.is_empty() || all <= 0.0 {
        return Shape {
            shape: TraceShape::NotShown,
            words: "Nothing that repeats every turn stands out of the scatter.".into(),
            evidence: format!("largest harmonic {largest:.4} {unit} peak over {turns:.0} turns"),
        };
    }
    let share = |order: u32| {
        let of = standing.iter().find(|h| h.order == order);
        of.map_or(0.0, |h| h.peak.value.powi(2) / all)
    };
    if let Some(pulse) = Pulse::of(&standing, all) {
        return pulse.words(quantity, turns);
    }
    let evidence = evidence(&standing, all, unit, turns);
    let (shape, words) = if share(1) >= MOSTLY {
        (
            TraceShape::Eccentric,
            "Mostly once a turn, as of a part that runs out of centre (eccentric).".to_owned(),
        )
    } else if share(2) >= MOSTLY {
        (
            TraceShape::Oval,
            "Mostly twice a turn, as of a part that is not round (oval).".to_owned(),
        )
    } else {
        (
            TraceShape::Mixed,
            "Several orders without one narrow place: no single shape.".to_owned(),
        )
    };
    Shape {
        shape,
        words,
        evidence,
    }
}

fn evidence(standing: &[&Harmonic], all: f64, unit: &str, turns: f64) -> String {
    let mut largest: Vec<&&Harmonic> = standing.iter().collect();
    largest.sort_by(|a, b| b.peak.value.total_cmp(&a.peak.value));
    let orders: Vec<String> = largest
        .iter()
        .take(3)
        .map(|h| {
            format!(
                "order {}: {:.4} {unit} peak ({:.0} % of the turn's power)",
                h.order,
                h.peak.value,
                100.0 * h.peak.value.powi(2) / all
            )
        })
        .collect();
    format!("{}; over {turns:.0} turns", orders.join(", "))
}

/// A narrow pulse.
struct Pulse {
    at_degrees: f64,
    agreement: f64,
    harmonics: usize,
    /// Positive where it is a rise of the quantity.
    height: f64,
    width_degrees: f64,
}

impl Pulse {
    fn of(standing: &[&Harmonic], all: f64) -> Option<Self> {
        let high: Vec<&&Harmonic> = standing.iter().filter(|h| h.order >= 3).collect();
        let power: f64 = high.iter().map(|h| h.peak.value.powi(2)).sum();
        let most = high
            .iter()
            .map(|h| h.peak.value.powi(2))
            .fold(0.0, f64::max);
        if high.len() < PULSE_HARMONICS
            || power < PULSE_SHARE * all
            || most > PULSE_MOST_OF_ONE * power
        {
            return None;
        }
        let sizes: f64 = high.iter().map(|h| h.peak.value).sum();
        let sum_at = |harmonics: &[&&Harmonic], degrees: f64| -> f64 {
            let terms = harmonics.iter();
            terms
                .map(|h| {
                    let off = (degrees - h.maximum_at_degrees).to_radians();
                    h.peak.value * (f64::from(h.order) * off).cos()
                })
                .sum()
        };
        let (at_degrees, sum) = (0..720)
            .map(|k| 0.5 * f64::from(k))
            .map(|degrees| (degrees, sum_at(&high, degrees)))
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        let agreement = sum.abs() / sizes;
        if agreement < PULSE_AGREEMENT + PULSE_AGREEMENT_OF_FEW / high.len() as f64 {
            return None;
        }
        // Height and width of the whole turn's course around that angle.
        let every: Vec<&&Harmonic> = standing.iter().collect();
        let course: Vec<f64> = (0..720)
            .map(|k| sum_at(&every, 0.5 * f64::from(k)))
            .collect();
        let mut sorted = course.clone();
        sorted.sort_by(f64::total_cmp);
        let base = sorted[sorted.len() / 2];
        let top = (2.0 * at_degrees) as usize % 720;
        let height = course[top] - base;
        let within = |k: usize| (course[k % 720] - base) / height > 0.5;
        let right = (0..360).take_while(|&k| within(top + k)).count();
        let left = (0..360).take_while(|&k| within(top + 720 - k)).count();
        Some(Self {
            at_degrees,
            agreement,
            harmonics: high.len(),
            height,
            width_degrees: 0.5 * (right + left) as f64,
        })
    }

    fn words(&self, quantity: Quantity, turns: f64) -> Shape {
        let unit = quantity.unit();
        let side = match (quantity, self.height > 0.0) {
            (Quantity::Speed, true) => "faster",
            (Quantity::Speed, false) => "slower",
            (_, true) => "higher",
            (_, false) => "lower",
        };
        Shape {
            shape: TraceShape::Pulse,
            words: format!(
                "One narrow place a turn, {:.4} {unit} {side}: suggests a flat spot or dirt.",
                self.height.abs()
            ),
            evidence: format!(
                "about {:.0} degrees wide at half height, at {:.0} degrees; {} harmonics from the third on agree \
                 on that angle to {:.0} %; over {turns:.0} turns",
                self.width_degrees,
                self.at_degrees,
                self.harmonics,
                100.0 * self.agreement
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::Estimate;

    fn harmonics(sizes: &[(f64, f64)]) -> Vec<Harmonic> {
        (1..)
            .zip(sizes)
            .map(|(order, (size, at))| Harmonic {
                order,
                peak: Estimate {
                    value: *size,
                    uncertainty: 0.001,
                },
                maximum_at_degrees: *at,
            })
            .collect()
    }

    fn shape(sizes: &[(f64, f64)]) -> Shape {
        judge(Quantity::Speed, &harmonics(sizes), 50.0)
    }

    #[test]
    fn each_shape_is_told_apart() {
        let eccentric = shape(&[(0.1, 0.0), (0.02, 30.0), (0.01, 50.0)]);
        assert_eq!(eccentric.shape, TraceShape::Eccentric);
        assert!(
            eccentric.evidence.contains("95 %"),
            "{}",
            eccentric.evidence
        );
        assert_eq!(shape(&[(0.02, 0.0), (0.1, 60.0)]).shape, TraceShape::Oval);
        assert_eq!(
            shape(&[(0.001, 0.0), (0.0015, 0.0)]).shape,
            TraceShape::NotShown
        );
        assert_eq!(
            shape(&[(0.05, 0.0), (0.05, 20.0), (0.05, 70.0)]).shape,
            TraceShape::Mixed
        );
    }

    /// A Gaussian pulse of 20 degrees at half height has harmonics exp(−(nσ)²/2), σ = 20°/2.355.
    #[test]
    fn a_pulse_is_known_by_its_width_and_side() {
        let sigma = (20.0_f64 / 2.354_82).to_radians();
        for (sign, side, at) in [(1.0, "faster", 130.0), (-1.0, "slower", 47.0)] {
            let sizes: Vec<(f64, f64)> = (1..=16)
                .map(|n| {
                    let n = f64::from(n);
                    let size = 0.02 * (-0.5 * (n * sigma).powi(2)).exp();
                    let at = if sign > 0.0 { at } else { at + 180.0 / n };
                    (size, at.rem_euclid(360.0 / n))
                })
                .collect();
            let pulse = shape(&sizes);
            assert_eq!(pulse.shape, TraceShape::Pulse, "{}", pulse.evidence);
            assert!(pulse.words.contains(side), "{}", pulse.words);
            let width: f64 = pulse
                .evidence
                .split_whitespace()
                .nth(1)
                .and_then(|word| word.parse().ok())
                .expect("the width");
            assert!((18.0..=26.0).contains(&width), "{}", pulse.evidence);
        }
    }

    /// Harmonics with phases by chance are no pulse.
    #[test]
    fn many_orders_alone_are_no_pulse() {
        use rand::{RngExt as _, SeedableRng as _};
        let mut chance = rand_pcg::Pcg64::seed_from_u64(4);
        let pulses = (0..200)
            .filter(|_| {
                let sizes: Vec<(f64, f64)> = (1..=8)
                    .map(|n| (0.05, chance.random::<f64>() * 360.0 / f64::from(n)))
                    .collect();
                shape(&sizes).shape == TraceShape::Pulse
            })
            .count();
        assert!(pulses <= 8, "{pulses} of 200");
    }
}
