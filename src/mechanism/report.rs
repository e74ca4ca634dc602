//! What was heard, as the plain data of a reading.

use super::{
    LEAST_VISIBLE_OVER_FLOOR,
    analyser::Read,
    attribution::Attribution,
    parts::PartModel,
    series::WideSeries,
    table::{SEPARATION_BINS, twice},
    transform::{EFFECTIVE_LENGTH, NOISE_BINS, Transform, Transformer},
    weighted::Weighting,
};
use crate::{
    readings::{
        AttributionRow, Component, Estimate, MechanismReading, PartReading, Quantity, RateMark,
        RowKind, Spectrum, WholeFigures,
    },
    signal::running::Running,
};

/// Orders that are marked for every part, seen or not.
const MARKED_ORDERS: u32 = 4;
/// Band of the unweighted reading (IEC 60386; from memory), Hz.
const UNWEIGHTED_HZ: (f64, f64) = (0.2, 200.0);
/// Window of the wide spectrum, s.
const WIDE_WINDOW_S: f64 = 1.0;
/// A rate that differs from the file's by more than this part of the tolerance is remarked.
const FAR: f64 = 0.6;

/// What was heard of the mechanism.
pub(super) struct Heard<'a> {
    pub(super) speed: &'a Read,
    pub(super) attribution: &'a Attribution,
    pub(super) parts: &'a [PartModel],
}

impl Heard<'_> {
    /// Where the parts' rates lie.
    pub(super) fn marks(&self, high_hz: f64) -> Vec<RateMark> {
        let mut marks = Vec::new();
        for (index, part) in self.parts.iter().enumerate() {
            let standing = self.attribution.standing[index].as_ref();
            let seen: Vec<u32> = standing
                .map(|standing| standing.ladder.iter().map(|(_, order)| *order).collect())
                .unwrap_or_default();
            let most = seen.iter().copied().max().unwrap_or(1).max(MARKED_ORDERS);
            for order in 1..=most {
                let n = f64::from(order);
                let (rate_hz, low_hz, high) = match standing {
                    Some(standing) => {
                        let reach = 2.0 * standing.uncertainty_hz;
                        let rate = standing.once_round_hz;
                        (rate, rate - reach, rate + reach)
                    }
                    None => (part.expected_hz, part.low_hz, part.high_hz),
                };
                if n * rate_hz <= high_hz {
                    marks.push(RateMark {
                        part: index,
                        order,
                        rate_hz: n * rate_hz,
                        low_hz: n * low_hz,
                        high_hz: n * high,
                        seen: seen.contains(&order),
                    });
                }
            }
        }
        marks
    }

    /// Each part's orders together.
    pub(super) fn parts(&self, rows: &[AttributionRow]) -> Vec<PartReading> {
        let parts = self.parts.iter().enumerate();
        parts
            .map(|(index, part)| {
                let standing = self.attribution.standing[index].as_ref();
                let own = |row: &&AttributionRow| {
                    row.kind == RowKind::Part && row.part.as_deref() == Some(part.name.as_str())
                };
                let share: f64 = rows.iter().filter(own).map(|row| row.share).sum();
                let found = standing.map(|s| twice(s.once_round_hz, s.uncertainty_hz));
                let floor = self.speed.found.floor.power(part.expected_hz).sqrt();
                let mut reading = PartReading {
                    part: part.name.clone(),
                    kind: part.kind.words().into(),
                    expected_hz: part.expected_hz,
                    expected_low_hz: part.low_hz,
                    expected_high_hz: part.high_hz,
                    found_hz: found,
                    orders: standing
                        .map(|s| s.ladder.iter().map(|(_, order)| *order).collect())
                        .unwrap_or_default(),
                    share,
                    least_visible_percent: (!part.is_range)
                        .then_some(LEAST_VISIBLE_OVER_FLOOR * floor),
                    words: String::new(),
                    traces: Vec::new(),
                };
                reading.words = self.words(&reading, part, rows);
                reading
            })
            .collect()
    }

    fn words(&self, reading: &PartReading, part: &PartModel, rows: &[AttributionRow]) -> String {
        if let Some(found) = reading.found_hz {
            let orders = match reading.orders.len() {
                1 => format!("order {}", reading.orders[0]),
                count => format!("{count} orders"),
            };
            return format!(
                "{orders} at {:.3} Hz once round: {:.1} % of the weighted reading.",
                found.value,
                100.0 * reading.share
            );
        }
        let offered = rows.iter().find(|row| {
            matches!(row.kind, RowKind::Open | RowKind::Group)
                && row.candidates.iter().any(|c| c.part == part.name)
        });
        match (offered, reading.least_visible_percent) {
            (Some(row), _) => format!(
                "Not told apart: {} at {:.2} Hz.",
                row.label,
                row.rate_hz.map_or(0.0, |rate| rate.value)
            ),
            (None, Some(least)) => {
                format!("Not seen; {least:.4} % peak once round would have been.")
            }
            (None, None) => format!(
                "Not seen between {:.2} and {:.2} Hz.",
                part.low_hz, part.high_hz
            ),
        }
    }

    /// What to know besides.
    pub(super) fn remarks(&self, reading: &MechanismReading) -> Vec<String> {
        let mut remarks: Vec<String> = self
            .parts
            .iter()
            .filter_map(|part| part.remark.clone())
            .collect();
        for (part, its) in self.parts.iter().zip(&reading.parts) {
            let Some(found) = its.found_hz.filter(|_| !part.is_range) else {
                continue;
            };
            let off = found.value / part.expected_hz - 1.0;
            if off.abs() > FAR * part.tolerance() {
                remarks.push(format!(
                    "'{}' turns {:.3} times a second, {:+.1} % off its file: check its figures.",
                    part.name,
                    found.value,
                    100.0 * off
                ));
            }
        }
        for (part, standing) in self.parts.iter().zip(&self.attribution.standing) {
            let line = standing.as_ref().and_then(|standing| {
                let first = standing.ladder.iter().find(|(_, order)| *order == 1)?;
                self.speed.found.lines.get(first.0)
            });
            let Some((change, deviation)) = line.and_then(|line| line.measured_change()) else {
                continue;
            };
            let expected = line.map_or(0.0, |line| part.rate_change_hz_per_s(line.rate_hz));
            if part.pack.is_some()
                && (change - expected).abs() > 4.0 * deviation.hypot(0.3 * expected)
            {
                remarks.push(format!(
                    "the line named '{}' changes its rate by {:+.5} Hz a second, a reel there would by {expected:+.5}.",
                    part.name, change
                ));
            }
        }
        remarks
    }
}

/// Part and order of the flutter components that the meter lists, from the rows of a reading: the nearest row within
/// the resolution names a component; groups with all their parts, open rows not at all.
pub fn component_names(components: &mut [Component], reading: &MechanismReading) {
    for component in components {
        let near = reading
            .rows
            .iter()
            .filter_map(|row| Some((row, (row.rate_hz?.value - component.rate_hz).abs())))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|(_, off_hz)| *off_hz < 0.4 * reading.resolution_hz);
        if let Some((row, _)) = near {
            match row.kind {
                RowKind::Part => {
                    component.part = row.part.clone();
                    component.order = row.order;
                }
                RowKind::Group => component.part = Some(row.label.clone()),
                _ => {}
            }
        }
    }
}

/// The amplitude spectrum of a quantity.
pub(super) fn spectrum(read: &Read, weighting: &Weighting) -> Spectrum {
    let transform = &read.transform;
    let last = transform.index_from(read.found.band_hz.1);
    let heights: Vec<f32> = transform.bins[..=last]
        .iter()
        .map(|z| z.norm_sqr().sqrt() as f32)
        .collect();
    let weighted = match read.quantity {
        Quantity::Speed => {
            let gains = weighting.gains().iter();
            heights
                .iter()
                .zip(gains)
                .map(|(h, g)| h * *g as f32)
                .collect()
        }
        _ => Vec::new(),
    };
    let floors = read.found.floor.powers(transform.step_hz, last + 1);
    Spectrum {
        quantity: read.quantity,
        step_hz: transform.step_hz,
        resolution_hz: SEPARATION_BINS * transform.bin_hz(),
        noise_bandwidth_hz: NOISE_BINS * transform.bin_hz(),
        low_hz: read.found.band_hz.0,
        high_hz: read.found.band_hz.1,
        peak: heights.into(),
        weighted_peak: weighted.into(),
        floor: floors.iter().map(|power| power.sqrt() as f32).collect(),
    }
}

/// The wide spectrum: root mean square of windows of a second, half overlapping (Welch).
pub(super) fn wide_spectrum(
    transformer: &mut Transformer,
    wide: &WideSeries,
    weighting: &Weighting,
) -> Option<Spectrum> {
    let window = (WIDE_WINDOW_S * wide.rate_hz) as usize;
    let finite = wide.speed_percent.iter().all(|x| x.is_finite());
    if window < 64 || wide.speed_percent.len() < window || !finite {
        return None;
    }
    let mut sums: Vec<f64> = Vec::new();
    let mut count = 0.0;
    let mut step_hz = 0.0;
    let mut start = 0;
    while start + window <= wide.speed_percent.len() {
        let transform =
            transformer.transform(&wide.speed_percent[start..start + window], wide.rate_hz);
        sums.resize(transform.bins.len(), 0.0);
        for (sum, bin) in sums.iter_mut().zip(&transform.bins) {
            *sum += bin.norm_sqr();
        }
        step_hz = transform.step_hz;
        count += 1.0;
        start += window / 2;
    }
    let last = ((wide.flat_to_hz / step_hz) as usize).min(sums.len() - 1);
    let heights: Vec<f32> = sums[..=last]
        .iter()
        .map(|sum| (sum / count).sqrt() as f32)
        .collect();
    let weighted = heights.iter().enumerate();
    let weighted: Vec<f32> = weighted
        .map(|(k, height)| height * weighting.gain(k as f64 * step_hz) as f32)
        .collect();
    let seconds = window as f64 / wide.rate_hz;
    Some(Spectrum {
        quantity: Quantity::Speed,
        step_hz,
        resolution_hz: SEPARATION_BINS / seconds,
        noise_bandwidth_hz: NOISE_BINS / seconds,
        low_hz: 3.0 / seconds,
        high_hz: last as f64 * step_hz,
        peak: heights.into(),
        weighted_peak: weighted.into(),
        floor: Vec::new().into(),
    })
}

/// Rms readings of the whole, with uncertainties. `plain`: the speed's transform without a window.
pub(super) fn whole(
    plain: &Transform,
    speed: &Read,
    others: &[Read],
    weighting: &Weighting,
) -> WholeFigures {
    let every = |_: f64| 1.0;
    let rms_of = |quantity: Quantity| {
        let read = others.iter().find(|read| read.quantity == quantity)?;
        let mut running = Running::default();
        for x in &read.series {
            running.push(*x);
        }
        let rms = running.deviation()?;
        let spread = power_deviation(read, (0.0, f64::INFINITY), every) / EFFECTIVE_LENGTH.sqrt();
        Some(of_rms(rms, spread))
    };
    let weigh = |rate_hz: f64| weighting.gain(rate_hz);
    let power = |band: (f64, f64), gain: &dyn Fn(usize) -> f64| {
        let first = plain.index_from(band.0);
        let last = plain.index_from(band.1);
        let bins = plain.bins[first..=last].iter().enumerate();
        let sum: f64 = bins
            .map(|(k, z)| z.norm_sqr() * gain(first + k).powi(2))
            .sum();
        0.5 * sum * plain.step_hz * plain.seconds
    };
    let high_hz = speed.found.band_hz.1;
    let weighted_band = (speed.found.band_hz.0, high_hz);
    let unweighted_band = (
        UNWEIGHTED_HZ.0.max(weighted_band.0),
        UNWEIGHTED_HZ.1.min(high_hz),
    );
    let gains = weighting.gains();
    let weighted = power(weighted_band, &|k| gains.get(k).copied().unwrap_or(0.0));
    let unweighted = power(unweighted_band, &|_| 1.0);
    WholeFigures {
        weighted_rms_percent: of_rms(
            weighted.sqrt(),
            power_deviation(speed, weighted_band, weigh),
        ),
        unweighted_rms_percent: of_rms(
            unweighted.sqrt(),
            power_deviation(speed, unweighted_band, every),
        ),
        phase_rms_degrees: rms_of(Quantity::Phase),
        level_rms_db: [rms_of(Quantity::LevelLeft), rms_of(Quantity::LevelRight)],
    }
}

/// An rms value, where its square has this standard deviation.
fn of_rms(rms: f64, power_deviation: f64) -> Estimate {
    twice(rms, 0.5 * power_deviation / rms.max(f64::MIN_POSITIVE))
}

/// Standard deviation of the mean square over the series: of noise of the one-sided density S over the time T it is
/// √(∫S²df / T) (Bendat & Piersol: 2·B·T independent values of a band B), and each line adds what its size is
/// uncertain by.
fn power_deviation(read: &Read, band: (f64, f64), gain: impl Fn(f64) -> f64) -> f64 {
    let found = &read.found;
    let seconds = found.rest.seconds;
    let (low_hz, high_hz) = (band.0.max(found.band_hz.0), band.1.min(found.band_hz.1));
    let mut variance = 0.0;
    let mut rate_hz = low_hz;
    while rate_hz < high_hz {
        let step_hz = (0.02 * rate_hz).max(found.rest.bin_hz());
        let middle_hz = rate_hz + 0.5 * step_hz;
        let density = found.floor.density(middle_hz) * gain(middle_hz).powi(2);
        variance += density * density * step_hz / seconds;
        rate_hz += step_hz;
    }
    for line in &found.lines {
        if (low_hz..=high_hz).contains(&line.rate_hz) {
            let weight = gain(line.rate_hz).powi(2);
            variance += (line.peak() * line.size_deviation * weight).powi(2);
        }
    }
    variance.sqrt()
}
