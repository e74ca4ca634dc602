//! One analysis from series to reading.

use super::{
    attribution, compare,
    drift::{by_travel, drift_of_lines, drift_per_s},
    lines::{self, Line, Lines},
    once_round::{Bare, Turning, trace},
    parts::{PartModel, expected_ranges, parts},
    reels,
    report::{self, Heard},
    series::MotionSeries,
    steadiness, table,
    transform::{Level, Transform, Transformer},
    weighted::Weighting,
};
use crate::{
    readings::{MechanismReading, MotionLine, OnceRoundTrace, Quantity, Validity},
    tables::Mechanism,
};

/// Rates are read from here on, Hz (and from three turns in the series).
pub const LOW_HZ: f64 = 0.05;
/// ... and up to here.
pub const HIGH_HZ: f64 = 250.0;
pub use crate::readings::LEAST_SECONDS;

/// What an analysis is asked for besides the series.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options<'r> {
    /// An earlier reading of the same deck to compare with.
    pub as_found: Option<&'r MechanismReading>,
    /// Leaves the once-round traces out, which are the dearest part.
    pub without_traces: bool,
}

/// Analyses series; keeps transforms and tables from one time to the next. Some megabytes, all in constant memory.
#[derive(Default)]
pub struct Analyser {
    transformer: Transformer,
    weighting: Weighting,
}

/// A quantity on the common time axis, its transform and its lines.
pub(super) struct Read {
    pub(super) quantity: Quantity,
    pub(super) series: Vec<f64>,
    pub(super) transform: Transform,
    pub(super) found: Lines,
}

impl Analyser {
    /// Analyses a series. `mechanism`: the deck's parts; without them lines are found and none is named.
    /// `speed_ratio`: measured over nominal speed; the mean of the series where it is not known.
    pub fn analyse(
        &mut self,
        series: &MotionSeries,
        mechanism: Option<&Mechanism>,
        speed_ratio: Option<f64>,
        options: Options<'_>,
    ) -> MechanismReading {
        if !series.is_sound() || series.seconds() < LEAST_SECONDS {
            return MechanismReading::unread(Validity::TooShort);
        }
        let speed_ratio = speed_ratio
            .filter(|ratio| ratio.is_finite() && *ratio > 0.1)
            .unwrap_or_else(|| 1.0 + mean(&series.speed_percent) / 100.0);
        let parts = mechanism.map_or_else(Vec::new, |mechanism| parts(mechanism, speed_ratio));
        let high_hz = HIGH_HZ.min(series.flat_to_hz);
        let (speed, drift) = self.read_speed(series, &parts, high_hz);
        let resolution_hz = table::SEPARATION_BINS * speed.transform.bin_hz();
        let attribution = attribution::attribute(&speed.found.lines, &parts, resolution_hz);
        let others = self.read_others(series, drift, high_hz, &expected_ranges(&parts, high_hz));
        self.weighting.prepare(&speed.transform);
        let mut reading = MechanismReading {
            status: Validity::Ok,
            mechanism: mechanism.map(|mechanism| mechanism.title.clone()),
            speed_ratio,
            seconds: series.seconds(),
            resolution_hz,
            rows: table::rows(&speed.found, &attribution, &parts, &self.weighting),
            speed_lines: self.motion_lines(&speed),
            wide_spectrum: series.wide.as_ref().and_then(|wide| {
                report::wide_spectrum(&mut self.transformer, wide, &self.weighting)
            }),
            ..MechanismReading::default()
        };
        let plain = self.transformer.plain(&speed.series, series.rate_hz);
        reading.whole = report::whole(&plain, &speed, &others, &self.weighting);
        let heard = Heard {
            speed: &speed,
            attribution: &attribution,
            parts: &parts,
        };
        reading.marks = heard.marks(high_hz);
        reading.parts = heard.parts(&reading.rows);
        reading.remarks = heard.remarks(&reading);
        if !options.without_traces {
            self.add_traces(&mut reading, series.rate_hz, &heard, &others);
        }
        reading
            .spectra
            .push(report::spectrum(&speed, &self.weighting));
        for other in &others {
            let hints = steadiness::hints(other.quantity, &other.found, &attribution, &parts);
            reading.steadiness.extend(hints);
            reading
                .spectra
                .push(report::spectrum(other, &self.weighting));
            let lines = self.motion_lines(other);
            match other.quantity {
                Quantity::Phase => reading.phase_lines = lines,
                Quantity::LevelRight => reading.level_lines[1] = lines,
                _ => reading.level_lines[0] = lines,
            }
        }
        if let Some(as_found) = options.as_found.filter(|found| found.status.is_ok()) {
            let comparison = compare::compare(as_found, &reading);
            for row in &mut reading.rows {
                row.change = compare::change_of(row, &comparison);
            }
            reading.comparison = Some(comparison);
        }
        reading
    }

    /// The speed's lines, by travel where they follow a drift of the speed; with them that drift.
    fn read_speed(
        &mut self,
        series: &MotionSeries,
        parts: &[PartModel],
        high_hz: f64,
    ) -> (Read, Option<f64>) {
        let rate_hz = series.rate_hz;
        let expected = expected_ranges(parts, high_hz);
        let mut values = series.speed_percent.clone();
        let mut transform = self.transformer.transform(&values, rate_hz);
        let mut found = lines::find(&transform, LOW_HZ, high_hz, &expected);
        let shown = drift_per_s(&values, rate_hz);
        let drift = shown.and_then(|shown| drift_of_lines(&values, rate_hz, &found.lines, shown));
        if let Some(per_s) = drift {
            values = by_travel(&values, rate_hz, per_s);
            transform = self.transformer.transform(&values, rate_hz);
            found = lines::find(&transform, LOW_HZ, high_hz, &expected);
        }
        let changing = reels::changing_lines(&values, rate_hz, &mut found, parts);
        if !changing.is_empty() {
            let rest = reels::without(&values, rate_hz, &changing);
            let rest = self.transformer.transform(&rest, rate_hz);
            found = lines::find(&rest, LOW_HZ, high_hz, &expected);
            found.lines.extend(changing);
            found.lines.sort_by(|a, b| b.peak().total_cmp(&a.peak()));
        }
        let read = Read {
            quantity: Quantity::Speed,
            series: values,
            transform,
            found,
        };
        (read, drift)
    }

    /// Phase and levels on the speed's time axis.
    fn read_others(
        &mut self,
        series: &MotionSeries,
        drift: Option<f64>,
        high_hz: f64,
        expected: &[(f64, f64)],
    ) -> Vec<Read> {
        let [left, right] = &series.level_db;
        let all = [
            (Quantity::Phase, &series.phase_degrees),
            (Quantity::LevelLeft, left),
            (Quantity::LevelRight, right),
        ];
        let mut read = Vec::new();
        for (quantity, values) in all {
            let Some(values) = values else {
                continue;
            };
            let values = match drift {
                Some(per_s) => by_travel(values, series.rate_hz, per_s),
                None => values.clone(),
            };
            let transform = self.transformer.transform(&values, series.rate_hz);
            let found = lines::find(&transform, LOW_HZ, high_hz, expected);
            read.push(Read {
                quantity,
                series: values,
                transform,
                found,
            });
        }
        read
    }

    fn motion_lines(&self, read: &Read) -> Vec<MotionLine> {
        let weighted = read.quantity == Quantity::Speed;
        let lines = read.found.lines.iter();
        lines
            .map(|line| MotionLine {
                rate_hz: table::twice(line.rate_hz, line.rate_deviation_hz),
                peak: table::twice(line.peak(), line.size_deviation),
                weighted_peak: weighted.then(|| line.peak() * self.weighting.gain(line.rate_hz)),
                rate_change_hz_per_s: line
                    .measured_change()
                    .map(|(change, deviation)| table::twice(change, deviation)),
                above_floor_db: 10.0 * line.above_floor.max(1e-30).log10(),
            })
            .collect()
    }

    /// Folds every part that is seen: the speed, and phase and levels at the same turning.
    fn add_traces(
        &self,
        reading: &mut MechanismReading,
        rate_hz: f64,
        heard: &Heard<'_>,
        others: &[Read],
    ) {
        let bare = |read: &Read| Bare::new(&read.series, rate_hz, &read.found.lines);
        let speed_bare = bare(heard.speed);
        let other_bare: Vec<Bare> = others.iter().map(bare).collect();
        for (index, part) in reading.parts.iter_mut().enumerate() {
            let Some(standing) = &heard.attribution.standing[index] else {
                continue;
            };
            let turning = Turning {
                rate_hz: standing.once_round_hz,
                change_hz_per_s: change_of(&standing.ladder, &heard.speed.found.lines),
            };
            let speed = trace(
                Quantity::Speed,
                &speed_bare,
                &heard.speed.found,
                turning,
                &standing.ladder,
            );
            let rest = others.iter().zip(&other_bare).filter_map(|(read, bare)| {
                let own = ladder_in(&read.found.lines, turning.rate_hz, standing.uncertainty_hz);
                trace(read.quantity, bare, &read.found, turning, &own)
            });
            let traces: Vec<OnceRoundTrace> = speed.into_iter().chain(rest).collect();
            part.traces = traces;
        }
    }
}

fn mean(values: &[f64]) -> f64 {
    let count = values.len();
    Level::of(values).at(count / 2)
}

/// The change of a part's once-round rate, from the lines that it was measured at.
fn change_of(ladder: &[(usize, u32)], lines: &[Line]) -> f64 {
    ladder
        .iter()
        .find_map(|&(index, order)| {
            let line = &lines[index];
            let (change, deviation) = line.measured_change()?;
            (change.abs() > 2.0 * deviation).then(|| change / f64::from(order))
        })
        .unwrap_or(0.0)
}

/// Lines of another quantity at a part's rate and its multiples.
fn ladder_in(lines: &[Line], once_round_hz: f64, uncertainty_hz: f64) -> Vec<(usize, u32)> {
    let mut ladder: Vec<(usize, u32)> = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        let order = (line.rate_hz / once_round_hz).round();
        let spread = line.rate_deviation_hz.hypot(order * uncertainty_hz);
        let off = (line.rate_hz - order * once_round_hz).abs();
        let fits = order >= 1.0 && off < 3.5 * spread.hypot(1.5e-4 * line.rate_hz);
        if fits && ladder.iter().all(|(_, known)| *known != order as u32) {
            ladder.push((index, order as u32));
        }
    }
    ladder
}
