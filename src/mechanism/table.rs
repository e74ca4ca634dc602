//! The attribution table: each line's share of the weighted reading, the unexplained rest, the random floor.
//!
//! The power of the weighted speed is that of the lines (size²/2 each, through the weighting) and that of what is
//! left of the transform without them (Parseval). Both together are the whole, so the shares add up to 1.

use super::{
    attribution::{Attribution, NAMED},
    lines::{Line, Lines},
    parts::PartModel,
    transform::NOISE_BINS,
    weighted::Weighting,
};
use crate::readings::{AttributionRow, Candidate, Confidence, Estimate, RowKind};

/// Two lines stand as two when they are this many bins (of 1/length) apart: the Hann window's main lobes then leave a
/// dip between them whatever their phases.
pub const SEPARATION_BINS: f64 = 2.5;
/// Orders of two parts that may stand as a group.
const GROUP_ORDERS: u32 = 2;
/// The same of parts that are seen at more than one multiple.
const GROUP_ORDERS_SEEN: u32 = 8;
/// Smaller lines count as floor, percent peak: they are worth no row.
const LEAST_ROW_PERCENT: f64 = 0.0003;
/// A line that no part explains this well is unexplained.
const OPEN: f64 = 0.5;
/// Candidates that an open row is labelled with.
const LABELLED: f64 = 0.1;

/// What a line of the table was made of.
#[derive(Clone, Debug)]
enum Owner {
    Part(Candidate),
    Group(Vec<(usize, u32)>),
    Open,
    Unexplained,
}

/// Rows of the table, in its order.
pub fn rows(
    found: &Lines,
    attribution: &Attribution,
    parts: &[PartModel],
    weighting: &Weighting,
) -> Vec<AttributionRow> {
    let owners = owners(found, attribution, parts);
    let mut rows: Vec<AttributionRow> = Vec::new();
    let mut unexplained = Sum::default();
    let mut floor = floor_power(found, weighting);
    for (index, line) in found.lines.iter().enumerate() {
        let power = 0.5 * (line.peak() * weighting.gain(line.rate_hz)).powi(2);
        match &owners[index] {
            _ if line.peak() < LEAST_ROW_PERCENT => floor += power,
            Owner::Unexplained => unexplained.add(power),
            owner => {
                let row = row(line, power, owner, &attribution.candidates[index], parts);
                // Several lines of one unresolved group are one row.
                let same = rows
                    .iter_mut()
                    .find(|other| other.kind == RowKind::Group && other.label == row.label);
                match same {
                    Some(other) => join(other, &row),
                    None => rows.push(row),
                }
            }
        }
    }
    let lines: f64 = rows.iter().map(|row| row.share).sum();
    let all = (lines + unexplained.power + floor).max(f64::MIN_POSITIVE);
    rows.sort_by(|a, b| b.share.total_cmp(&a.share));
    if unexplained.count > 0 {
        rows.push(rest(RowKind::Unexplained, "unexplained lines", unexplained));
    }
    rows.push(rest(
        RowKind::Floor,
        "random floor",
        Sum {
            power: floor,
            count: 0,
        },
    ));
    for row in &mut rows {
        row.weighted_rms_percent = row.share.sqrt();
        row.share /= all;
    }
    rows
}

/// Power of the weighted floor: what is left of the transform, by Parseval.
pub fn floor_power(found: &Lines, weighting: &Weighting) -> f64 {
    let rest = &found.rest;
    let first = rest.index_from(found.band_hz.0);
    let bins = rest.bins.iter().zip(weighting.gains()).skip(first);
    let sum: f64 = bins.map(|(bin, gain)| bin.norm_sqr() * gain * gain).sum();
    0.5 * sum * rest.step_hz * rest.seconds / NOISE_BINS
}

#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    power: f64,
    count: usize,
}

impl Sum {
    fn add(&mut self, power: f64) {
        self.power += power;
        self.count += 1;
    }
}

fn owners(found: &Lines, attribution: &Attribution, parts: &[PartModel]) -> Vec<Owner> {
    (0..found.lines.len())
        .map(|index| {
            let group = group(index, found, attribution, parts);
            if group.len() >= 2 {
                return Owner::Group(group);
            }
            if let Some(named) = attribution.named(index) {
                return Owner::Part(named.clone());
            }
            let candidates = &attribution.candidates[index];
            let explained: f64 = candidates.iter().map(|c| c.probability).sum();
            if explained >= OPEN {
                Owner::Open
            } else {
                Owner::Unexplained
            }
        })
        .collect()
}

/// The parts and orders, closer to each other than the resolution, that a line may be of.
fn group(
    index: usize,
    found: &Lines,
    attribution: &Attribution,
    parts: &[PartModel],
) -> Vec<(usize, u32)> {
    let line = &found.lines[index];
    let resolution_hz = SEPARATION_BINS * found.rest.bin_hz();
    // A part of which more is seen elsewhere stands where it was found.
    let expected = |part: usize, order: u32| {
        let elsewhere = attribution.standing[part]
            .as_ref()
            .filter(|standing| standing.ladder.iter().any(|(other, _)| *other != index));
        let once_round_hz = elsewhere.map_or(parts[part].expected_hz, |s| s.once_round_hz);
        f64::from(order) * once_round_hz
    };
    // Of a part that is seen at several multiples all up to the highest may be there.
    let orders = |part: usize| {
        let seen = attribution.standing[part]
            .as_ref()
            .filter(|s| s.ladder.len() >= 2);
        let highest = seen.and_then(|standing| standing.ladder.last());
        highest.map_or(GROUP_ORDERS, |(_, order)| {
            (*order).clamp(GROUP_ORDERS, GROUP_ORDERS_SEEN)
        })
    };
    let mut members: Vec<(usize, u32)> = (0..parts.len())
        .filter(|&part| !parts[part].is_range)
        .flat_map(|part| (1..=orders(part)).map(move |order| (part, order)))
        .filter(|&(part, order)| {
            let reach_hz = 0.5 * resolution_hz + parts[part].tolerance() * expected(part, order);
            (line.rate_hz - expected(part, order)).abs() <= reach_hz
        })
        .collect();
    // Only those that have a neighbour within the resolution.
    let near = |a: &(usize, u32), b: &(usize, u32)| {
        a.0 != b.0 && (expected(a.0, a.1) - expected(b.0, b.1)).abs() < resolution_hz
    };
    let all = members.clone();
    members.retain(|a| all.iter().any(|b| near(a, b)));
    // Two lines there, each with its own part, are no group any more.
    let others = found
        .lines
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index);
    let apart = others.clone().any(|(other, near)| {
        let distance_hz = (near.rate_hz - line.rate_hz).abs();
        distance_hz < 2.0 * resolution_hz
            && distance_hz >= 0.9 * resolution_hz
            && names_of(members.as_slice(), attribution, parts, &[index, other])
    });
    if apart { Vec::new() } else { members }
}

/// Whether both lines are named, after two different members.
fn names_of(
    members: &[(usize, u32)],
    attribution: &Attribution,
    parts: &[PartModel],
    lines: &[usize; 2],
) -> bool {
    let member = |line: usize| {
        let named = attribution.named(line)?;
        members
            .iter()
            .find(|(part, order)| parts[*part].name == named.part && *order == named.order)
    };
    matches!((member(lines[0]), member(lines[1])), (Some(a), Some(b)) if a != b)
}

fn row(
    line: &Line,
    power: f64,
    owner: &Owner,
    candidates: &[Candidate],
    parts: &[PartModel],
) -> AttributionRow {
    let mut row = AttributionRow {
        kind: RowKind::Open,
        label: open_label(candidates),
        part: None,
        order: None,
        rate_hz: Some(twice(line.rate_hz, line.rate_deviation_hz)),
        peak_percent: Some(twice(line.peak(), line.size_deviation)),
        weighted_rms_percent: 0.0,
        share: power,
        probability: None,
        confidence: None,
        candidates: candidates.to_vec(),
        seconds_to_separate: None,
        lines: 1,
        change: None,
    };
    match owner {
        Owner::Part(named) => {
            row.kind = RowKind::Part;
            row.label = part_words(&named.part, named.order);
            row.part = Some(named.part.clone());
            row.order = Some(named.order);
            row.probability = Some(named.probability);
            row.confidence = Some(Confidence::of(named.probability));
        }
        Owner::Group(members) => as_group(&mut row, members, parts),
        Owner::Open | Owner::Unexplained => {
            row.probability = candidates.first().map(|c| c.probability);
            row.confidence = row.probability.map(Confidence::of);
        }
    }
    row
}

fn as_group(row: &mut AttributionRow, members: &[(usize, u32)], parts: &[PartModel]) {
    row.kind = RowKind::Group;
    let words: Vec<String> = members
        .iter()
        .map(|&(part, order)| part_words(&parts[part].name, order))
        .collect();
    row.label = words.join(" + ");
    let rate = |(part, order): (usize, u32)| f64::from(order) * parts[part].expected_hz;
    let mut closest_hz = f64::INFINITY;
    for (i, &a) in members.iter().enumerate() {
        for &b in &members[..i] {
            closest_hz = closest_hz.min((rate(a) - rate(b)).abs());
        }
    }
    let seconds = SEPARATION_BINS / closest_hz;
    row.seconds_to_separate = (seconds.is_finite() && seconds < 3600.0).then_some(seconds);
    // What is sure is that it is one of them (or several), not which.
    let mut sure = 0.0;
    for &(part, order) in members {
        let name = &parts[part].name;
        let its = row
            .candidates
            .iter()
            .filter(|c| c.part == *name && c.order == order);
        let probability: f64 = its.map(|c| c.probability).sum();
        sure += probability;
        if probability == 0.0 {
            row.candidates.push(Candidate {
                part: name.clone(),
                order,
                expected_hz: rate((part, order)),
                probability,
            });
        }
    }
    let probability = sure.clamp(NAMED, 1.0);
    row.probability = Some(probability);
    row.confidence = Some(Confidence::of(probability));
}

fn join(row: &mut AttributionRow, other: &AttributionRow) {
    row.share += other.share;
    row.lines += 1;
}

fn rest(kind: RowKind, label: &str, sum: Sum) -> AttributionRow {
    AttributionRow {
        kind,
        label: label.into(),
        part: None,
        order: None,
        rate_hz: None,
        peak_percent: None,
        weighted_rms_percent: 0.0,
        share: sum.power,
        probability: None,
        confidence: None,
        candidates: Vec::new(),
        seconds_to_separate: None,
        lines: sum.count,
        change: None,
    }
}

/// A value with its expanded uncertainty (k = 2).
pub fn twice(value: f64, deviation: f64) -> Estimate {
    Estimate {
        value,
        uncertainty: 2.0 * deviation,
    }
}

/// A part and an order in words.
pub fn part_words(part: &str, order: u32) -> String {
    match order {
        1 => part.to_owned(),
        _ => format!("{part}, order {order}"),
    }
}

fn open_label(candidates: &[Candidate]) -> String {
    let words: Vec<String> = candidates
        .iter()
        .filter(|candidate| candidate.probability >= LABELLED)
        .map(|candidate| part_words(&candidate.part, candidate.order))
        .collect();
    match words.as_slice() {
        [] => "unexplained line".into(),
        [one] => format!("perhaps {one}"),
        several => several.join(" or "),
    }
}
