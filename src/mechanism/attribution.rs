//! Which part a line belongs to, and how sure that is.
//!
//! A part stands at one rate (its file gives it within a tolerance) and shows lines at whole multiples of it. Each
//! line that may be a part's first or second order is a hypothesis of where that part stands; the other lines that
//! fit its multiples support it. The parts' hypotheses exclude each other where they claim the same line (mean-field
//! iteration). A line then goes to each part in proportion to how probable its rate is under that part's hypothesis,
//! against a background of lines that belong to nothing in the file: Bayes' rule with the constants below.

use super::{
    lines::Line,
    parts::{PartModel, crowding_hz, gaussian},
};
use crate::readings::Candidate;

/// How usual it is that a part shows a line of order 1, 2, 3, 4 and more (common practice, no source).
const USUAL: [f64; 5] = [0.9, 0.5, 0.3, 0.2, 0.1];
/// Lines that belong to no part of the file, per natural logarithm of the rate (assumed), at least; ...
const BACKGROUND: f64 = 0.15;
/// ... and so many for each unexplained line within this distance (natural logarithm) that is at least this part as
/// large: in a forest of lines one that fits a part may well be a tree like the others.
const BACKGROUND_A_LINE: f64 = 0.7;
const FOREST_REACH: f64 = 0.5;
const FOREST_SIZE: f64 = 0.5;
/// A multiple that fits within the uncertainties is not believed more than this, per natural logarithm of the rate.
const MOST_SHARP: f64 = 60.0;
/// Rates are not believed to be more exact than this, as a fraction.
const RATE_EXACTNESS: f64 = 1.5e-4;
/// A multiple may be off by so many standard deviations.
const FIT: f64 = 3.5;
/// Highest multiple looked for.
const MOST_ORDER: u32 = 64;
/// Multiples from here on need one shortly below them to be believed.
const NEEDS_LADDER: u32 = 4;
/// Rounds of the mean-field iteration, and how much of the new value each takes.
const ROUNDS: usize = 20;
const DAMPING: f64 = 0.5;
/// Named from this probability on.
pub const NAMED: f64 = 0.75;
/// Candidates less probable than this are not worth offering, unless the rate itself fits.
const LEAST: f64 = 0.002;
/// Probability left to a second line of a part and order that already has one.
const SECOND_OF_ITS_NAME: f64 = 0.3;
/// How far the evidence of a changing rate may weigh, against and for.
const CHANGE_WEIGHT: (f64, f64) = (0.5, 8.0);

/// A hypothesis: where a part stands, and the lines that fit its multiples.
#[derive(Clone, Debug)]
struct Hypothesis {
    once_round_hz: f64,
    uncertainty_hz: f64,
    /// Line and order; the first entry is the one it was made from.
    ladder: Vec<(usize, u32)>,
    anchor_density: f64,
    /// Size of the line it was made from, over the largest that the part could have been seen by.
    prominence: f64,
    probability: f64,
}

/// Where a part was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Once-round rate, Hz.
    pub once_round_hz: f64,
    /// Its standard deviation, Hz.
    pub uncertainty_hz: f64,
    /// Line and order, in the order of the orders.
    pub ladder: Vec<(usize, u32)>,
}

/// What was found.
#[derive(Clone, Debug, Default)]
pub struct Attribution {
    /// For each line the parts it may belong to, most probable first; what is missing to 1 is 'none of them'.
    pub candidates: Vec<Vec<Candidate>>,
    /// For each part where it stands, if it is seen.
    pub standing: Vec<Option<Standing>>,
}

impl Attribution {
    /// The part and order a line is named after.
    pub fn named(&self, line: usize) -> Option<&Candidate> {
        self.candidates[line]
            .first()
            .filter(|candidate| candidate.probability >= NAMED)
    }
}

fn usual(order: u32) -> f64 {
    USUAL[(order as usize).clamp(1, USUAL.len()) - 1]
}

/// Attributes lines to parts. Rates closer than `resolution_hz` cannot be told apart.
pub fn attribute(lines: &[Line], parts: &[PartModel], resolution_hz: f64) -> Attribution {
    // A line that two parts may share lies somewhere between them.
    let crowded = lines.iter().map(|line| {
        let crowding_hz = crowding_hz(parts, line.rate_hz, resolution_hz);
        Line {
            rate_deviation_hz: line.rate_deviation_hz.hypot(0.5 * crowding_hz),
            ..*line
        }
    });
    let crowded = crowded.collect::<Vec<Line>>();
    let first = given(lines, &crowded, parts, &vec![BACKGROUND; lines.len()]);
    let background = background(lines, &first);
    if background.iter().all(|lines| *lines <= BACKGROUND) {
        return first;
    }
    given(lines, &crowded, parts, &background)
}

/// Lines that belong to nothing around each line, by those that stayed unnamed.
fn background(lines: &[Line], attribution: &Attribution) -> Vec<f64> {
    let unnamed: Vec<usize> = (0..lines.len())
        .filter(|&line| attribution.named(line).is_none())
        .collect();
    let around = |index: usize| {
        let line = &lines[index];
        let like = unnamed.iter().filter(|&&other| {
            other != index
                && (lines[other].rate_hz / line.rate_hz).ln().abs() < FOREST_REACH
                && lines[other].peak() > FOREST_SIZE * line.peak()
        });
        (BACKGROUND_A_LINE * like.count() as f64).max(BACKGROUND)
    };
    (0..lines.len()).map(around).collect()
}

/// The attribution against a given background of lines that belong to nothing.
fn given(lines: &[Line], crowded: &[Line], parts: &[PartModel], background: &[f64]) -> Attribution {
    let mut hypotheses: Vec<Vec<Hypothesis>> = parts
        .iter()
        .map(|part| hypotheses(lines, crowded, part))
        .collect();
    let lines = crowded;
    settle(lines, &mut hypotheses, background);
    let mut attribution = Attribution {
        candidates: (0..lines.len())
            .map(|line| candidates(line, lines, parts, &hypotheses, background[line]))
            .collect(),
        standing: Vec::new(),
    };
    name_once(lines, &mut attribution.candidates);
    attribution.standing = (0..parts.len())
        .map(|part| standing(part, lines, parts, &hypotheses, &attribution))
        .collect();
    attribution
}

/// Every line that may be the part's first or second order, with its ladder. `crowded`: the lines with the doubt that
/// neighbours bring to their rates.
fn hypotheses(lines: &[Line], crowded: &[Line], part: &PartModel) -> Vec<Hypothesis> {
    let mut all: Vec<Hypothesis> = Vec::new();
    // A part that may stand anywhere in a range would have every other part's lines among its even multiples.
    let orders = if part.is_range { 1..=1 } else { 1..=2 };
    for order in orders {
        for (index, line) in lines.iter().enumerate() {
            let once_round_hz = line.rate_hz / f64::from(order);
            let uncertainty_hz = line.rate_deviation_hz / f64::from(order);
            let density =
                part.density(once_round_hz, uncertainty_hz) * change_fit(part, line, order);
            let again = all
                .iter()
                .any(|other| other.ladder.contains(&(index, order)));
            if density > 0.0 && !again {
                let mut hypothesis = Hypothesis {
                    once_round_hz,
                    uncertainty_hz: crowded[index].rate_deviation_hz / f64::from(order),
                    ladder: vec![(index, order)],
                    anchor_density: density,
                    prominence: line.peak(),
                    probability: 0.5,
                };
                climb(&mut hypothesis, crowded);
                all.push(hypothesis);
            }
        }
    }
    // Of several lines where the part may stand the larger is the more probable one: beside a line that is not quite
    // steady stand small ones.
    let largest = all.iter().map(|h| h.prominence).fold(0.0, f64::max);
    for hypothesis in &mut all {
        hypothesis.prominence /= largest;
    }
    all
}

/// How well the line's change of rate fits the part, against that of anything: a reel's is known from its pack.
fn change_fit(part: &PartModel, line: &Line, order: u32) -> f64 {
    let Some((change, deviation)) = line.measured_change() else {
        return 1.0;
    };
    let order = f64::from(order);
    let expected = order * part.rate_change_hz_per_s(line.rate_hz / order);
    let spread = deviation.hypot(0.25 * expected);
    // 'Anything': somewhere within the fastest change that was looked for.
    let anything = 1.0 / (4.0 * line.change_range_hz_per_s).max(1e-12);
    (gaussian(change - expected, spread) / anything).clamp(CHANGE_WEIGHT.0, CHANGE_WEIGHT.1)
}

/// Adds the lines at the other multiples, each found making the rate more exact.
fn climb(hypothesis: &mut Hypothesis, lines: &[Line]) {
    let fastest = lines.iter().map(|line| line.rate_hz).fold(0.0, f64::max);
    for order in 1..=MOST_ORDER {
        let rate_hz = f64::from(order) * hypothesis.once_round_hz;
        let known = hypothesis.ladder.iter().any(|(_, known)| *known == order);
        if known || rate_hz > 1.01 * fastest {
            continue;
        }
        let supported = order <= NEEDS_LADDER
            || hypothesis
                .ladder
                .iter()
                .any(|(_, below)| *below < order && *below + 2 >= order);
        // Where the multiple is too uncertain any line would fit.
        let exact = f64::from(order) * hypothesis.uncertainty_hz < 0.05 * hypothesis.once_round_hz;
        if !(supported && exact) {
            continue;
        }
        let nearest = (0..lines.len())
            .filter(|index| hypothesis.ladder.iter().all(|(taken, _)| taken != index))
            .min_by(|&a, &b| {
                let off = |i: usize| (lines[i].rate_hz - rate_hz).abs();
                off(a).total_cmp(&off(b))
            });
        if let Some(index) = nearest
            && misfit(
                &lines[index],
                order,
                hypothesis.once_round_hz,
                hypothesis.uncertainty_hz,
            )
            .abs()
                < FIT
        {
            hypothesis.ladder.push((index, order));
            (hypothesis.once_round_hz, hypothesis.uncertainty_hz) =
                rate_of(&hypothesis.ladder, lines, None);
        }
    }
}

fn spread_hz(line: &Line, order: u32, uncertainty_hz: f64) -> f64 {
    let order_hz = f64::from(order) * uncertainty_hz;
    line.rate_deviation_hz
        .hypot(order_hz)
        .hypot(RATE_EXACTNESS * line.rate_hz)
}

/// By how many standard deviations a line is off a multiple.
fn misfit(line: &Line, order: u32, once_round_hz: f64, uncertainty_hz: f64) -> f64 {
    (line.rate_hz - f64::from(order) * once_round_hz) / spread_hz(line, order, uncertainty_hz)
}

/// The once-round rate that a ladder gives, without one of its lines; and its standard deviation.
fn rate_of(ladder: &[(usize, u32)], lines: &[Line], without: Option<usize>) -> (f64, f64) {
    let (mut sum, mut weights) = (0.0, 0.0);
    for &(index, order) in ladder.iter().filter(|(index, _)| Some(*index) != without) {
        let order = f64::from(order);
        let line = &lines[index];
        let deviation_hz = line.rate_deviation_hz.max(1e-7 * line.rate_hz) / order;
        let weight = 1.0 / (deviation_hz * deviation_hz);
        sum += weight * line.rate_hz / order;
        weights += weight;
    }
    (sum / weights, weights.sqrt().recip())
}

/// How a line's rate speaks for a hypothesis: density per natural logarithm of the rate, times how usual the order is.
fn voice(hypothesis: &Hypothesis, entry: (usize, u32), lines: &[Line]) -> f64 {
    let (index, order) = entry;
    if hypothesis.ladder.len() == 1 {
        return usual(order) * hypothesis.anchor_density;
    }
    let (once_round_hz, uncertainty_hz) = rate_of(&hypothesis.ladder, lines, Some(index));
    let line = &lines[index];
    let spread = spread_hz(line, order, uncertainty_hz);
    let off_hz = line.rate_hz - f64::from(order) * once_round_hz;
    usual(order) * (line.rate_hz * gaussian(off_hz, spread)).min(MOST_SHARP)
}

/// Finds how probable the hypotheses are, where those of different parts claim the same lines.
fn settle(lines: &[Line], hypotheses: &mut [Vec<Hypothesis>], background: &[f64]) {
    for _ in 0..ROUNDS {
        for part in 0..hypotheses.len() {
            let mut odds: Vec<f64> = Vec::with_capacity(hypotheses[part].len());
            for hypothesis in &hypotheses[part] {
                let (anchor, order) = hypothesis.ladder[0];
                let free = |index: usize| 1.0 - 0.98 * claimed(hypotheses, part, index);
                let mut log = (usual(order) * hypothesis.anchor_density / background[anchor]).ln();
                log += hypothesis.prominence.max(1e-9).ln();
                log += free(anchor).ln();
                for &entry in &hypothesis.ladder[1..] {
                    let support = (voice(hypothesis, entry, lines) / background[entry.0]).ln();
                    log += support.max(0.0) * free(entry.0);
                }
                odds.push(log.min(300.0).exp());
            }
            // 'Not seen' has the odds 1.
            let all = 1.0 + odds.iter().sum::<f64>();
            for (hypothesis, odds) in hypotheses[part].iter_mut().zip(odds) {
                hypothesis.probability += DAMPING * (odds / all - hypothesis.probability);
            }
        }
    }
}

/// How far another part claims a line as one that its standing rests on.
fn claimed(hypotheses: &[Vec<Hypothesis>], part: usize, line: usize) -> f64 {
    let others = hypotheses
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != part);
    others
        .map(|(_, other)| {
            let its = other.iter().filter(|hypothesis| {
                let orders = hypothesis.ladder.iter();
                orders
                    .clone()
                    .any(|(index, order)| *index == line && *order <= 2)
            });
            its.map(|hypothesis| hypothesis.probability).sum::<f64>()
        })
        .fold(0.0, f64::max)
        .min(1.0)
}

fn candidates(
    line: usize,
    lines: &[Line],
    parts: &[PartModel],
    hypotheses: &[Vec<Hypothesis>],
    background: f64,
) -> Vec<Candidate> {
    let mut found: Vec<(f64, Candidate)> = Vec::new();
    for (part, its) in parts.iter().zip(hypotheses) {
        let seen: f64 = its.iter().map(|h| h.probability).sum::<f64>().max(1e-12);
        for hypothesis in its {
            let Some(&entry) = hypothesis.ladder.iter().find(|(index, _)| *index == line) else {
                continue;
            };
            // Where the line alone makes the hypothesis, only the part's other hypotheses speak against it.
            let alone = hypothesis.ladder.len() == 1;
            let chance = if alone {
                hypothesis.probability / seen
            } else {
                hypothesis.probability
            };
            let voice = chance * voice(hypothesis, entry, lines);
            let order = entry.1;
            let known = found
                .iter_mut()
                .find(|(_, c)| c.part == part.name && c.order == order);
            match known {
                Some((sum, _)) => *sum += voice,
                None => found.push((
                    voice,
                    Candidate {
                        part: part.name.clone(),
                        order,
                        expected_hz: f64::from(order) * part.expected_hz,
                        probability: 0.0,
                    },
                )),
            }
        }
    }
    let all = background + found.iter().map(|(voice, _)| voice).sum::<f64>();
    let mut candidates: Vec<Candidate> = found
        .into_iter()
        .map(|(voice, mut candidate)| {
            candidate.probability = voice / all;
            candidate
        })
        .filter(|candidate| candidate.probability >= LEAST)
        .collect();
    debug_assert!(line < lines.len());
    candidates.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    candidates
}

/// A part has one line of each order: the largest that is named keeps the name, the others only may have it.
fn name_once(lines: &[Line], candidates: &mut [Vec<Candidate>]) {
    let mut by_size: Vec<usize> = (0..lines.len()).collect();
    by_size.sort_by(|&a, &b| lines[b].peak().total_cmp(&lines[a].peak()));
    let mut taken: Vec<(String, u32)> = Vec::new();
    for line in by_size {
        let Some(first) = candidates[line]
            .first_mut()
            .filter(|c| c.probability >= NAMED)
        else {
            continue;
        };
        let name = (first.part.clone(), first.order);
        if taken.contains(&name) {
            first.probability = SECOND_OF_ITS_NAME;
        } else {
            taken.push(name);
        }
    }
}

/// Where a part stands: its most probable hypothesis, if a line is named after it.
fn standing(
    part: usize,
    lines: &[Line],
    parts: &[PartModel],
    hypotheses: &[Vec<Hypothesis>],
    attribution: &Attribution,
) -> Option<Standing> {
    let best = hypotheses[part]
        .iter()
        .max_by(|a, b| a.probability.total_cmp(&b.probability))?;
    let mut ladder: Vec<(usize, u32)> = best
        .ladder
        .iter()
        .copied()
        .filter(|(index, order)| {
            attribution
                .named(*index)
                .is_some_and(|named| named.part == parts[part].name && named.order == *order)
        })
        .collect();
    if ladder.is_empty() {
        return None;
    }
    ladder.sort_by_key(|(_, order)| *order);
    let (once_round_hz, uncertainty_hz) = rate_of(&ladder, lines, None);
    Some(Standing {
        once_round_hz,
        uncertainty_hz,
        ladder,
    })
}
