//! Second-order sections in a row, all worked on at once.
//!
//! In a cascade each section waits for the one before it, a dozen cycles of the processor a section and sample. Here
//! lane `k` holds section `k` and is `k` samples behind lane 0: what it needs was ready a step ago, and the time of one
//! section brings all of them on. The outputs are those of the cascades, some samples late.

#![allow(
    clippy::needless_range_loop,
    reason = "what is counted runs through several arrays of lanes at once"
)]

use super::{
    biquad::Cascade,
    lanes::{Kernel, LANES, Lanes, on_widest},
};

/// Up to [`LANES`] sections.
#[derive(Clone, Debug)]
pub struct Pipeline {
    coefficients: Coefficients,
    registers: Registers,
    /// Last lane of the first cascade.
    first: usize,
}

/// Lane by lane, as in [`super::biquad::Biquad`]: `b` of the numerator, `minus_a` of the denominator without its 1.
#[derive(Clone, Copy, Debug)]
struct Coefficients {
    b: [[f64; LANES]; 3],
    minus_a: [[f64; LANES]; 2],
}

#[derive(Clone, Copy, Debug, Default)]
struct Registers {
    state: [[f64; LANES]; 2],
    /// The last output of each section: the next input of its neighbour.
    out: [f64; LANES],
}

/// What a pipeline gave out for each sample of a block.
#[derive(Clone, Copy, Debug)]
pub struct Outputs<const N: usize> {
    /// After the sections of the first cascade, as many samples late as these are less one.
    pub after_first: [f64; N],
    /// After all sections, [`LATE`] samples late however many they are.
    pub after_all: [f64; N],
}

/// Samples by which the last outputs are late.
pub const LATE: usize = LANES - 1;

impl Pipeline {
    /// The sections of some cascades, one after the other: [`LANES`] of them at most.
    pub fn new(cascades: &[&Cascade]) -> Self {
        let mut coefficients = Coefficients {
            b: [[1.0; LANES], [0.0; LANES], [0.0; LANES]],
            minus_a: [[0.0; LANES]; 2],
        };
        let mut lane = 0;
        for cascade in cascades {
            for (i, section) in cascade.sections().iter().enumerate() {
                let gain = if i == 0 { cascade.gain() } else { 1.0 };
                let (b, a) = section.coefficients();
                for (lanes, b) in coefficients.b.iter_mut().zip(b) {
                    lanes[lane] = gain * b;
                }
                for (lanes, a) in coefficients.minus_a.iter_mut().zip(a) {
                    lanes[lane] = -a;
                }
                lane += 1;
            }
        }
        Self {
            coefficients,
            registers: Registers::default(),
            first: cascades
                .first()
                .map_or(0, |cascade| cascade.sections().len() - 1),
        }
    }

    /// Puts all sections where a constant input `x` for ever has brought them.
    pub fn settle(&mut self, x: f64) {
        let Coefficients { b, minus_a } = &self.coefficients;
        let Registers { state, out } = &mut self.registers;
        let mut x = x;
        for k in 0..LANES {
            let y = x * (b[0][k] + b[1][k] + b[2][k]) / (1.0 - minus_a[0][k] - minus_a[1][k]);
            state[1][k] = b[2][k] * x + minus_a[1][k] * y;
            state[0][k] = b[1][k] * x + minus_a[0][k] * y + state[1][k];
            out[k] = y;
            x = y;
        }
    }
}

/// Takes a block into each of some pipelines, side by side: the time that one waits, the others use.
pub fn process<const PIPELINES: usize, const N: usize>(
    pipelines: &mut [Pipeline; PIPELINES],
    inputs: &[[f64; N]; PIPELINES],
) -> [Outputs<N>; PIPELINES] {
    let (outputs, registers) = on_widest(Process {
        pipelines: pipelines.each_ref(),
        inputs,
    });
    for (pipeline, registers) in pipelines.iter_mut().zip(registers) {
        pipeline.registers = registers;
    }
    outputs
}

#[derive(Clone)]
struct Process<'a, const PIPELINES: usize, const N: usize> {
    pipelines: [&'a Pipeline; PIPELINES],
    inputs: &'a [[f64; N]; PIPELINES],
}

impl<const PIPELINES: usize, const N: usize> Kernel for Process<'_, PIPELINES, N> {
    type Output = ([Outputs<N>; PIPELINES], [Registers; PIPELINES]);

    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        let nothing = Outputs {
            after_first: [0.0; N],
            after_all: [0.0; N],
        };
        let mut outputs = [nothing; PIPELINES];
        let mut registers = [Registers::default(); PIPELINES];
        let zero = [L::splat(0.0); PIPELINES];
        let (mut b0, mut b1, mut b2, mut a1, mut a2) = (zero, zero, zero, zero, zero);
        let (mut s1, mut s2, mut y) = (zero, zero, zero);
        for p in 0..PIPELINES {
            let Pipeline {
                coefficients: Coefficients { b, minus_a },
                registers: Registers { state, out },
                first: _,
            } = self.pipelines[p];
            (b0[p], b1[p], b2[p]) = (L::load(&b[0]), L::load(&b[1]), L::load(&b[2]));
            (a1[p], a2[p]) = (L::load(&minus_a[0]), L::load(&minus_a[1]));
            (s1[p], s2[p], y[p]) = (L::load(&state[0]), L::load(&state[1]), L::load(out));
        }
        for n in 0..N {
            for p in 0..PIPELINES {
                let x = y[p].moved_up(self.inputs[p][n]);
                y[p] = s1[p].plus_product(b0[p], x);
                s1[p] = (s2[p].plus_product(b1[p], x)).plus_product(a1[p], y[p]);
                s2[p] = (b2[p].times(x)).plus_product(a2[p], y[p]);
                let lanes = y[p].array();
                outputs[p].after_first[n] = lanes[self.pipelines[p].first];
                outputs[p].after_all[n] = lanes[LATE];
            }
        }
        for p in 0..PIPELINES {
            s1[p].store(&mut registers[p].state[0]);
            s2[p].store(&mut registers[p].state[1]);
            y[p].store(&mut registers[p].out);
        }
        (outputs, registers)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::{lanes::in_all_ways, weighting::wow_flutter_weighting};

    const RATE_HZ: f64 = 4000.0;

    fn wave(n: usize) -> f64 {
        let t = n as f64;
        0.3 + (0.01 * t).sin() + 0.2 * (1.3 * t).cos()
    }

    #[test]
    fn gives_what_the_cascades_give_only_later() {
        let low = Cascade::butterworth_low_pass(8, 200.0, RATE_HZ);
        let high = Cascade::butterworth_high_pass(3, 0.2, RATE_HZ);
        let weighting = wow_flutter_weighting(RATE_HZ);
        let mut pipelines = [Pipeline::new(&[&low, &high]), Pipeline::new(&[&weighting])];
        let (mut low, mut high, mut weighting) = (low, high, weighting);
        let (mut after_low, mut after_high, mut weighted) = (Vec::new(), Vec::new(), Vec::new());
        for n in 0..3200 {
            after_low.push(low.process(wave(n)));
            after_high.push(high.process(after_low[n]));
            weighted.push(weighting.process(wave(n)));
        }
        for block in 0..200 {
            let input: [f64; 16] = std::array::from_fn(|i| wave(16 * block + i));
            let [limited, weighted_late] = process(&mut pipelines, &[input; 2]);
            for i in 0..16 {
                let near = |output: f64, plain: &[f64], late: usize| {
                    let n = 16 * block + i;
                    let expected = n.checked_sub(late).map_or(0.0, |n| plain[n]);
                    assert!((output - expected).abs() < 1e-9, "{n}: {output} {expected}");
                };
                near(limited.after_first[i], &after_low, 3);
                near(limited.after_all[i], &after_high, LATE);
                near(weighted_late.after_all[i], &weighted, LATE);
            }
        }
    }

    #[test]
    fn settled_means_no_transient() {
        let low = Cascade::butterworth_low_pass(8, 200.0, RATE_HZ);
        let high = Cascade::butterworth_high_pass(3, 0.2, RATE_HZ);
        let mut pipelines = [Pipeline::new(&[&low, &high])];
        pipelines[0].settle(1.7);
        for _ in 0..10 {
            let [outputs] = process(&mut pipelines, &[[1.7; 16]]);
            assert!(outputs.after_first.iter().all(|y| (y - 1.7).abs() < 1e-9));
            assert!(outputs.after_all.iter().all(|y| y.abs() < 1e-9));
        }
    }

    #[test]
    fn every_way_gives_the_same() {
        let weighting = wow_flutter_weighting(RATE_HZ);
        let pipeline = Pipeline::new(&[&weighting]);
        let input: [f64; 64] = std::array::from_fn(wave);
        let ways = in_all_ways(&Process {
            pipelines: [&pipeline],
            inputs: &[input],
        });
        // Poles close to 0 Hz make much of rounding.
        let [plain, others @ ..] = ways.as_slice() else {
            panic!("there is always one way");
        };
        for (outputs, registers) in others {
            for (a, b) in outputs[0].after_all.iter().zip(&plain.0[0].after_all) {
                assert!((a - b).abs() < 1e-9);
            }
            for (a, b) in registers[0].out.iter().zip(&plain.1[0].out) {
                assert!((a - b).abs() < 1e-9);
            }
        }
    }
}
