//! The parts as the analysis sees them: rates at the measured speed, and how probable a rate is for each.

use crate::tables::{Mechanism, PartKind, ReelPack};
use std::f64::consts::TAU;

/// The tolerance of a rate is taken for two standard deviations; beyond this many tolerances nothing is believed.
const TOLERANCES_ALLOWED: f64 = 1.25;
/// A rate that fits by the file alone is not believed more than this (per natural logarithm of the rate): files are
/// never as sure as their figures look.
const MOST_DENSITY: f64 = 12.0;

/// One part.
#[derive(Clone, Debug)]
pub struct PartModel {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// Once-round rate at the measured speed, Hz.
    pub expected_hz: f64,
    /// From here ...
    pub low_hz: f64,
    /// ... to here it may lie, Hz.
    pub high_hz: f64,
    /// A reel's pack.
    pub pack: Option<ReelPack>,
    /// Whether any rate in the range is as good as any other (a reel whose pack is not known).
    pub is_range: bool,
    /// Measured over nominal speed.
    pub speed_ratio: f64,
    /// What the file says twice and not alike.
    pub remark: Option<String>,
}

/// The parts of a mechanism at the measured speed; none where its rates cannot be found (a file is checked when it is
/// read).
pub fn parts(mechanism: &Mechanism, speed_ratio: f64) -> Vec<PartModel> {
    let Ok(rates) = mechanism.rates() else {
        return Vec::new();
    };
    let models = mechanism.part.iter().zip(rates);
    models
        .map(|(part, rate)| PartModel {
            name: part.name.clone(),
            kind: part.kind,
            expected_hz: rate.nominal_hz * speed_ratio,
            low_hz: rate.low_hz * speed_ratio,
            high_hz: rate.high_hz * speed_ratio,
            pack: rate.pack,
            is_range: rate.pack.is_some_and(|pack| pack.radius_m.is_none()),
            speed_ratio,
            remark: rate.remark,
        })
        .collect()
}

impl PartModel {
    /// Half of the range it may lie in, as a fraction of the rate.
    pub fn tolerance(&self) -> f64 {
        0.5 * (self.high_hz - self.low_hz) / self.expected_hz
    }

    /// Probability density (per natural logarithm of the rate) of its once-round rate, by the file alone; 0 where it
    /// cannot be. `uncertainty_hz`: standard deviation of the rate.
    pub fn density(&self, once_round_hz: f64, uncertainty_hz: f64) -> f64 {
        let own = uncertainty_hz / once_round_hz;
        if self.is_range {
            let reach = 1.0 + 2.0 * own;
            let within =
                once_round_hz * reach >= self.low_hz && once_round_hz <= self.high_hz * reach;
            return if within {
                1.0 / (self.high_hz / self.low_hz).ln()
            } else {
                0.0
            };
        }
        let off = once_round_hz / self.expected_hz - 1.0;
        let allowed = TOLERANCES_ALLOWED * self.tolerance() + 2.0 * own;
        if off.abs() > allowed {
            return 0.0;
        }
        gaussian(off, (0.5 * self.tolerance()).hypot(own)).min(MOST_DENSITY)
    }

    /// How fast its once-round rate should change, Hz a second.
    pub fn rate_change_hz_per_s(&self, once_round_hz: f64) -> f64 {
        self.pack.map_or(0.0, |pack| {
            pack.rate_change_hz_per_s(once_round_hz, self.speed_ratio)
        })
    }
}

/// Orders of two parts that may stand in one line.
const CROWDED_ORDERS: u32 = 2;
/// Rates closer than this part of the resolution make one line; farther apart two that only overlap.
const MERGED: f64 = 0.6;

/// The distance of two parts' rates that both lie near a rate and so close to each other that their lines merge, Hz: a
/// line there may be of both and lie anywhere between them. 0 where there is no such pair.
pub fn crowding_hz(parts: &[PartModel], rate_hz: f64, resolution_hz: f64) -> f64 {
    let mut near: Vec<(usize, f64)> = Vec::new();
    for (index, part) in parts.iter().enumerate().filter(|(_, part)| !part.is_range) {
        for order in 1..=CROWDED_ORDERS {
            let at_hz = f64::from(order) * part.expected_hz;
            let reach_hz = resolution_hz + part.tolerance() * at_hz;
            if (at_hz - rate_hz).abs() <= reach_hz {
                near.push((index, at_hz));
            }
        }
    }
    let mut crowding_hz: f64 = 0.0;
    for (i, a) in near.iter().enumerate() {
        for b in near[..i].iter().filter(|b| b.0 != a.0) {
            let apart_hz = (a.1 - b.1).abs();
            if apart_hz < MERGED * resolution_hz {
                crowding_hz = crowding_hz.max(apart_hz);
            }
        }
    }
    crowding_hz
}

/// Orders of a part that a line is expected at.
const EXPECTED_ORDERS: u32 = 4;

/// The ranges of rate that lines are expected in: of each part's first orders (of a reel whose pack is not known, the
/// first only).
pub fn expected_ranges(parts: &[PartModel], high_hz: f64) -> Vec<(f64, f64)> {
    let of_part = |part: &PartModel| {
        let orders = if part.is_range { 1 } else { EXPECTED_ORDERS };
        let (low, high) = (part.low_hz, part.high_hz);
        (1..=orders).map(move |order| (f64::from(order) * low, f64::from(order) * high))
    };
    let all = parts.iter().flat_map(of_part);
    all.filter(|(low, _)| *low < high_hz).collect()
}

/// The normal density.
pub fn gaussian(x: f64, deviation: f64) -> f64 {
    let z = x / deviation;
    (-0.5 * z * z).exp() / (deviation * TAU.sqrt())
}
