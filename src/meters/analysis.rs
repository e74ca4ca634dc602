//! The slow analysis: lines, parts and turns in the motion of the last minute. It takes milliseconds, so a live stream
//! has it done on a thread of its own; a take that is over waits for it.

use super::motion::Motion;
use crate::{
    mechanism::{Analyser, Options, component_names},
    readings::{Component, MechanismReading, MotionLine},
};
use std::{ops::Range, sync::Arc};

/// Lines smaller than this (percent) are not worth a row.
const LEAST_LINE_PERCENT: f64 = 0.0003;
/// The band of the unweighted reading, which the components belong to; from a little lower.
const COMPONENTS_HZ: Range<f64> = 0.1..200.0;
/// Components listed at most.
const MOST_COMPONENTS: usize = 12;
/// Rates of the azimuth's wander that are looked for.
const WANDER_HZ: Range<f64> = 0.1..25.0;

/// What was found.
#[derive(Clone, Debug, Default)]
pub struct Analysis {
    /// The collection of motion it was made of.
    pub(super) generation: u64,
    /// Strongest lines of the speed deviation, strongest first.
    pub(super) components: Vec<Component>,
    /// Rate of the strongest line of the phase, Hz.
    pub(super) wander_rate_hz: Option<f64>,
    /// Everything about the mechanism, where there was enough motion.
    pub(super) mechanism: Option<Arc<MechanismReading>>,
}

impl Analysis {
    /// Width of a line that can be told from its neighbour, Hz.
    pub(super) fn resolution_hz(&self) -> Option<f64> {
        self.mechanism.as_ref().map(|reading| reading.resolution_hz)
    }
}

/// Looks at motion, with its transforms.
#[derive(Default)]
pub struct Analyst {
    analyser: Analyser,
}

impl Analyst {
    /// Looks at the motion of a stretch. Allocates.
    pub fn analyse(&mut self, mut motion: Motion) -> Analysis {
        let generation = motion.generation;
        let mechanism = motion.mechanism.take();
        let as_found = motion.as_found.take();
        let options = Options {
            as_found: as_found.as_ref().map(|found| &*found.0),
            without_traces: !motion.in_full,
        };
        let in_full = motion.in_full;
        let mut series = motion.into_series();
        if !in_full {
            series.level_db = [None, None];
            series.wide = None;
        }
        let reading = self
            .analyser
            .analyse(&series, mechanism.as_deref(), None, options);
        if !reading.status.is_ok() {
            return Analysis {
                generation,
                ..Analysis::default()
            };
        }
        Analysis {
            generation,
            components: components(&reading),
            wander_rate_hz: reading.phase_lines.iter().find_map(rate_in(WANDER_HZ)),
            mechanism: Some(Arc::new(reading)),
        }
    }
}

fn components(reading: &MechanismReading) -> Vec<Component> {
    let of_line = |line: &MotionLine| Component {
        rate_hz: line.rate_hz.value,
        peak_percent: line.peak.value,
        part: None,
        order: None,
    };
    let mut components: Vec<Component> = reading
        .speed_lines
        .iter()
        .filter(|line| rate_in(COMPONENTS_HZ)(line).is_some())
        .map(of_line)
        .filter(|component| component.peak_percent >= LEAST_LINE_PERCENT)
        .take(MOST_COMPONENTS)
        .collect();
    component_names(&mut components, reading);
    components
}

fn rate_in(band_hz: Range<f64>) -> impl Fn(&MotionLine) -> Option<f64> {
    move |line| Some(line.rate_hz.value).filter(|rate_hz| band_hz.contains(rate_hz))
}
