//! A reading of a deck's mechanism as the analysis would publish it: a worn belt, an oval roller with a flat spot, two
//! capstans too close to be told apart, one line that nothing explains.

use crate::fixtures;
use std::{
    f64::consts::TAU,
    sync::{Arc, OnceLock},
};
use trimwatch::readings::{
    AttributionRow, Candidate, Change, Comparison, ComparisonRow, Confidence, Estimate, Harmonic,
    MechanismReading, MotionLine, OnceRoundTrace, PartReading, Quantity, RateMark, Readings,
    RowKind, Spectrum, SteadinessHint, TraceShape, Validity, Verdict, WholeFigures,
};

/// Values of a turn.
const TURN: usize = 120;

/// The lines: rate in Hz, peak percent.
const LINES: [(f64, f64); 7] = [
    (1.34, 0.062),
    (2.68, 0.021),
    (6.05, 0.034),
    (1.16, 0.028),
    (0.45, 0.018),
    (31.7, 0.006),
    (23.87, 0.004),
];

fn near(value: f64, uncertainty: f64) -> Estimate {
    Estimate { value, uncertainty }
}

fn spectrum(quantity: Quantity, size: f64) -> Spectrum {
    let step_hz = 0.01;
    let width_hz = 0.03;
    let bins = (250.0 / step_hz) as usize;
    // A floor that falls with the rate, and a grain that is the same at every run.
    let grain = |bin: usize| {
        let mixed = (bin as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        0.3 + (mixed >> 40) as f64 / (1_u64 << 24) as f64 * 1.4
    };
    let floor = |rate_hz: f64| size * 0.0012 / (0.2 + rate_hz).sqrt();
    let peak: Vec<f32> = (0..bins)
        .map(|bin| {
            let rate_hz = bin as f64 * step_hz;
            let lines: f64 = LINES
                .iter()
                .map(|(line_hz, peak)| {
                    let off = (rate_hz - line_hz) / width_hz;
                    size * peak * (-off * off).exp()
                })
                .sum();
            (lines + floor(rate_hz) * grain(bin)) as f32
        })
        .collect();
    let weighted = |(bin, peak): (usize, &f32)| {
        let rate_hz = bin as f64 * step_hz;
        (f64::from(*peak) * rate_hz / (rate_hz + 1.5) * 1.4 / (1.0 + (rate_hz / 20.0).powi(2)))
            as f32
    };
    Spectrum {
        quantity,
        step_hz,
        resolution_hz: 0.05,
        noise_bandwidth_hz: 0.03,
        low_hz: 0.06,
        high_hz: 250.0,
        weighted_peak: if quantity == Quantity::Speed {
            peak.iter().enumerate().map(weighted).collect()
        } else {
            Arc::from([])
        },
        floor: (0..bins)
            .map(|bin| floor(bin as f64 * step_hz) as f32)
            .collect(),
        peak: peak.into(),
    }
}

fn row(
    kind: RowKind,
    label: &str,
    part: Option<(&str, u32)>,
    line: Option<(f64, f64)>,
    share: f64,
    probability: Option<f64>,
) -> AttributionRow {
    AttributionRow {
        kind,
        label: label.into(),
        part: part.map(|(part, _)| part.into()),
        order: part.map(|(_, order)| order),
        rate_hz: line.map(|(rate_hz, _)| near(rate_hz, 0.002)),
        peak_percent: line.map(|(_, peak)| near(peak, 0.001)),
        weighted_rms_percent: line.map_or(0.01, |(_, peak)| 0.6 * peak),
        share,
        probability,
        confidence: probability.map(Confidence::of),
        candidates: part
            .map(|(part, order)| Candidate {
                part: part.into(),
                order,
                expected_hz: line.map_or(0.0, |(rate_hz, _)| rate_hz),
                probability: probability.unwrap_or(0.0),
            })
            .into_iter()
            .collect(),
        seconds_to_separate: None,
        lines: 1,
        change: None,
    }
}

fn candidate(part: &str, order: u32, expected_hz: f64, probability: f64) -> Candidate {
    Candidate {
        part: part.into(),
        order,
        expected_hz,
        probability,
    }
}

fn rows() -> Vec<AttributionRow> {
    let mut group = row(
        RowKind::Group,
        "supply capstan and take-up capstan",
        None,
        Some(LINES[2]),
        0.17,
        Some(0.98),
    );
    group.candidates = vec![
        candidate("take-up capstan", 1, 6.06, 0.55),
        candidate("supply capstan", 1, 6.03, 0.43),
    ];
    group.seconds_to_separate = Some(83.0);
    let mut open = row(
        RowKind::Open,
        "take-up reel or belt",
        None,
        Some(LINES[4]),
        0.03,
        Some(0.55),
    );
    open.candidates = vec![
        candidate("take-up reel", 1, 0.45, 0.55),
        candidate("belt", 1, 0.44, 0.4),
    ];
    let mut floor = row(RowKind::Floor, "random floor", None, None, 0.15, None);
    floor.lines = 0;
    let mut belt = row(
        RowKind::Part,
        "belt",
        Some(("belt", 1)),
        Some(LINES[0]),
        0.42,
        Some(0.88),
    );
    belt.candidates
        .push(candidate("supply reel", 3, 1.36, 0.11));
    vec![
        belt,
        group,
        row(
            RowKind::Part,
            "take-up pinch roller",
            Some(("take-up pinch roller", 1)),
            Some(LINES[3]),
            0.11,
            Some(0.97),
        ),
        row(
            RowKind::Part,
            "belt, order 2",
            Some(("belt", 2)),
            Some(LINES[1]),
            0.08,
            Some(0.96),
        ),
        open,
        row(
            RowKind::Unexplained,
            "unexplained lines",
            None,
            None,
            0.04,
            None,
        ),
        floor,
    ]
}

/// A mean turn of these orders (order, peak, phase in degrees), with a pulse where one is asked for.
fn trace(shape: TraceShape, words: &str, orders: &[(u32, f64, f64)], pulse: f64) -> OnceRoundTrace {
    let value = |i: usize| {
        let angle = i as f64 / TURN as f64;
        let waves: f64 = orders
            .iter()
            .map(|(n, peak, at)| peak * (TAU * (f64::from(*n) * angle - at / 360.0)).cos())
            .sum();
        let off = (angle - 0.3) / 0.02;
        (waves + pulse * (-off * off).exp()) as f32
    };
    OnceRoundTrace {
        quantity: Quantity::Speed,
        turns: 64.0,
        rate_at_start_hz: 1.34,
        rate_at_end_hz: 1.34,
        step_degrees: 3.0,
        mean: (0..TURN).map(value).collect(),
        scatter: (0..TURN)
            .map(|i| 0.008 + 0.003 * (i as f32 / 9.0).sin().abs())
            .collect(),
        mean_uncertainty: (0..TURN).map(|_| 0.002).collect(),
        harmonics: orders
            .iter()
            .map(|(order, peak, at)| Harmonic {
                order: *order,
                peak: near(*peak, 0.0012),
                maximum_at_degrees: *at / f64::from(*order),
            })
            .collect(),
        shape,
        words: words.into(),
        evidence: "order 1: 0.0620 % peak (89 % of the turn's power); over 64 turns".into(),
    }
}

fn part(name: &str, kind: &str, expected_hz: f64, traces: Vec<OnceRoundTrace>) -> PartReading {
    let seen = !traces.is_empty();
    PartReading {
        part: name.into(),
        kind: kind.into(),
        expected_hz,
        expected_low_hz: 0.97 * expected_hz,
        expected_high_hz: 1.03 * expected_hz,
        found_hz: seen.then(|| near(expected_hz, 0.002)),
        orders: if seen { vec![1] } else { Vec::new() },
        share: if seen { 0.4 } else { 0.0 },
        least_visible_percent: Some(0.0021),
        words: if seen {
            format!("1 order at {expected_hz:.3} Hz once round.")
        } else {
            "Not seen; 0.0021 % peak once round would have been.".into()
        },
        traces,
    }
}

fn parts() -> Vec<PartReading> {
    let eccentric = trace(
        TraceShape::Eccentric,
        "It runs out of centre: suggests an eccentric part or a worn seat.",
        &[(1, 0.062, 0.0), (2, 0.021, 130.0)],
        0.0,
    );
    let flat = trace(
        TraceShape::Pulse,
        "One narrow place a turn, 0.0400 % slower: suggests a flat spot or dirt.",
        &[(1, 0.012, 0.0)],
        -0.04,
    );
    let mut reel = part("take-up reel", "take-up reel", 0.45, vec![]);
    (reel.expected_low_hz, reel.expected_high_hz) = (0.29, 0.7);
    let mut supply = part("supply reel", "supply reel", 0.45, vec![]);
    (supply.expected_low_hz, supply.expected_high_hz) = (0.29, 0.7);
    vec![
        part("motor pulley", "motor", 23.9, vec![]),
        part("belt", "belt", 1.34, vec![eccentric]),
        part("take-up capstan", "capstan", 6.06, vec![]),
        part("supply capstan", "capstan", 6.03, vec![]),
        part("take-up pinch roller", "pinch roller", 1.16, vec![flat]),
        part("supply pinch roller", "pinch roller", 1.38, vec![]),
        reel,
        supply,
    ]
}

fn marks(parts: &[PartReading]) -> Vec<RateMark> {
    let one = |(index, part): (usize, &PartReading)| {
        let seen = part.found_hz.is_some();
        let (rate, low, high) = (
            part.expected_hz,
            part.expected_low_hz,
            part.expected_high_hz,
        );
        (1..=4).map(move |order| {
            let n = f64::from(order);
            RateMark {
                part: index,
                order,
                rate_hz: n * rate,
                low_hz: n * low,
                high_hz: n * high,
                seen: seen && order == 1,
            }
        })
    };
    parts.iter().enumerate().flat_map(one).collect()
}

fn line((rate_hz, peak): (f64, f64)) -> MotionLine {
    MotionLine {
        rate_hz: near(rate_hz, 0.002),
        peak: near(peak, 0.001),
        weighted_peak: Some(0.8 * peak),
        rate_change_hz_per_s: None,
        above_floor_db: 24.0,
    }
}

/// The reading.
pub fn reading() -> MechanismReading {
    let parts = parts();
    MechanismReading {
        status: Validity::Ok,
        mechanism: Some("dual-capstan-cassette".into()),
        speed_ratio: 1.018,
        seconds: 48.0,
        resolution_hz: 0.052,
        whole: WholeFigures {
            weighted_rms_percent: near(0.058, 0.003),
            unweighted_rms_percent: near(0.083, 0.005),
            phase_rms_degrees: Some(near(0.9, 0.05)),
            level_rms_db: [Some(near(0.2, 0.01)); 2],
        },
        rows: rows(),
        marks: marks(&parts),
        parts,
        speed_lines: LINES.into_iter().map(line).collect(),
        phase_lines: vec![line((6.05, 1.2))],
        level_lines: [Vec::new(), Vec::new()],
        spectra: vec![
            spectrum(Quantity::Speed, 1.0),
            spectrum(Quantity::Phase, 20.0),
            spectrum(Quantity::LevelLeft, 4.0),
            spectrum(Quantity::LevelRight, 4.0),
        ],
        wide_spectrum: None,
        steadiness: vec![SteadinessHint {
            quantity: Quantity::Phase,
            part: Some("take-up capstan".into()),
            rate_hz: Some(6.05),
            size: near(1.2, 0.1),
            is_rms: false,
            share: 0.62,
            suggests: "The phase moves by 1.20 degrees peak at the rate of the take-up capstan (6.05 Hz): suggests \
                       axial play or a bent shaft."
                .into(),
            check: "Check the capstan's end play (commonly 0.1 to 0.3 mm; the deck's manual comes first).".into(),
        }],
        comparison: None,
        remarks: vec!["'supply pinch roller' and 'belt' share a rate.".into()],
    }
}

/// What became of it after a new belt.
pub fn compared() -> MechanismReading {
    let change = |found: f64, left: f64, verdict| Change {
        as_found: near(found, 0.002),
        as_left: near(left, 0.002),
        change_percent: Some(100.0 * (left / found - 1.0)),
        verdict,
    };
    let mut reading = reading();
    let better = change(0.062, 0.021, Verdict::Better);
    reading.rows[0].change = Some(better);
    reading.rows[1].change = Some(change(0.034, 0.0345, Verdict::NoDifferenceShown));
    reading.rows[2].change = Some(change(0.028, 0.039, Verdict::Worse));
    let compared = |label: &str, change| ComparisonRow {
        label: label.into(),
        part: None,
        order: None,
        quantity: Quantity::Speed,
        change,
        remark: String::new(),
    };
    reading.comparison = Some(Comparison {
        as_found_seconds: 61.0,
        as_left_seconds: 48.0,
        rows: vec![
            compared("weighted rms", change(0.058, 0.031, Verdict::Better)),
            compared("belt", better),
            compared("take-up pinch roller", change(0.028, 0.039, Verdict::Worse)),
            compared(
                "capstans",
                change(0.034, 0.0345, Verdict::NoDifferenceShown),
            ),
        ],
        words: "Better: weighted rms and belt. Worse: take-up pinch roller.".into(),
    });
    reading
}

/// A reading stands for half a second; here it is made once.
fn with(
    t: f64,
    made: &OnceLock<Arc<MechanismReading>>,
    make: fn() -> MechanismReading,
) -> Readings {
    let mut readings = fixtures::in_tolerance(t);
    readings.mechanism = Some(made.get_or_init(|| Arc::new(make())).clone());
    readings
}

/// As a fixture.
pub fn worn_belt(t: f64) -> Readings {
    static MADE: OnceLock<Arc<MechanismReading>> = OnceLock::new();
    with(t, &MADE, reading)
}

/// As a fixture, compared with as found.
pub fn new_belt(t: f64) -> Readings {
    static MADE: OnceLock<Arc<MechanismReading>> = OnceLock::new();
    with(t, &MADE, compared)
}

/// As a fixture without a mechanism file: lines without names.
pub fn nameless(t: f64) -> Readings {
    static MADE: OnceLock<Arc<MechanismReading>> = OnceLock::new();
    with(t, &MADE, unnamed)
}

fn unnamed() -> MechanismReading {
    let mut reading = reading();
    reading.mechanism = None;
    reading.parts.clear();
    reading.marks.clear();
    let mut lines = row(
        RowKind::Unexplained,
        "unexplained lines",
        None,
        None,
        0.85,
        None,
    );
    lines.lines = 7;
    let floor = row(RowKind::Floor, "random floor", None, None, 0.15, None);
    reading.rows = vec![lines, floor];
    reading
}
