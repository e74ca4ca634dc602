//! Dropouts: the envelope of a tone falls well below its steady level and comes back soon.

/// How far the envelope must fall to count, as a power ratio: 6 dB (common practice, no source).
const ENTER: f64 = 0.25;
/// How far it must come back: 4 dB below the steady level.
const LEAVE: f64 = 0.4;
/// Shorter falls are clicks.
const SHORTEST_S: f64 = 0.002;
/// Longer ones are not dropouts: the tone has stopped or its level was turned down.
const LONGEST_S: f64 = 1.0;
/// Envelope smoothing: short against the shortest dropout, long against the noise.
const SMOOTHING_S: f64 = 0.0012;
/// How fast the steady level follows.
const STEADY_S: f64 = 0.5;
/// A second fall this soon after the first belongs to it.
const JOIN_S: f64 = 0.010;

#[derive(Clone, Copy, Debug, Default)]
struct Envelope {
    smooth: f64,
    steady: f64,
    low: bool,
}

/// One dropout that is over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dropout {
    /// Depth below the steady level, dB (positive), of the deeper channel.
    pub depth_db: f64,
    /// Length below the threshold, seconds.
    pub length_s: f64,
}

/// Finds dropouts on one or two channels; what hits both at once is one dropout.
#[derive(Clone, Debug)]
pub struct DropoutWatch {
    rate_hz: f64,
    smoothing: f64,
    following: f64,
    join_samples: u64,
    envelopes: [Envelope; 2],
    open: Option<Dropout>,
    samples_low: u64,
    samples_since: u64,
}

impl DropoutWatch {
    /// For envelopes sampled at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            rate_hz,
            smoothing: 1.0 - (-1.0 / (SMOOTHING_S * rate_hz)).exp(),
            following: 1.0 - (-1.0 / (STEADY_S * rate_hz)).exp(),
            join_samples: (JOIN_S * rate_hz).ceil() as u64,
            envelopes: [Envelope::default(); 2],
            open: None,
            samples_low: 0,
            samples_since: 0,
        }
    }

    /// Forgets the steady level: a new tone begins.
    pub fn restart(&mut self) {
        self.envelopes = [Envelope::default(); 2];
        self.open = None;
        self.samples_low = 0;
    }

    /// Whether a dropout is going on.
    pub fn is_low(&self) -> bool {
        self.open.is_some()
    }

    /// Takes the powers of each channel in (twice the same where there is one); returns a dropout that has ended for
    /// good. The block is shorter than the least time between two of them.
    pub fn push(&mut self, powers: [&[f64]; 2]) -> Option<Dropout> {
        if self.stays_steady(powers) {
            for (envelope, powers) in self.envelopes.iter_mut().zip(powers) {
                for power in powers {
                    envelope.smooth += self.smoothing * (power - envelope.smooth);
                    envelope.steady += self.following * (envelope.smooth - envelope.steady);
                }
            }
            self.samples_since += powers[0].len() as u64;
            return None;
        }
        let pairs = powers[0].iter().zip(powers[1]);
        pairs.fold(None, |ended, (a, b)| self.push_one([*a, *b]).or(ended))
    }

    /// Whether no envelope can fall low, whatever the order of the powers: smoothing stays between the extremes of
    /// what it smooths.
    fn stays_steady(&self, powers: [&[f64]; 2]) -> bool {
        let steady = |(envelope, powers): (&Envelope, &[f64])| {
            let (mut least, mut most) = (envelope.smooth, envelope.smooth.max(envelope.steady));
            for &power in powers {
                least = if power < least { power } else { least };
                most = if power > most { power } else { most };
            }
            !envelope.low && envelope.steady > 0.0 && least > ENTER * most
        };
        self.open.is_none() && self.envelopes.iter().zip(powers).all(steady)
    }

    fn push_one(&mut self, powers: [f64; 2]) -> Option<Dropout> {
        let mut deepest: f64 = 1.0;
        for (envelope, power) in self.envelopes.iter_mut().zip(powers) {
            if envelope.steady <= 0.0 {
                envelope.smooth = power;
                envelope.steady = power;
            }
            envelope.smooth += self.smoothing * (power - envelope.smooth);
            let threshold = if envelope.low { LEAVE } else { ENTER };
            let steady = envelope.steady.max(f64::MIN_POSITIVE);
            envelope.low = envelope.smooth < threshold * steady;
            if envelope.low {
                deepest = deepest.min(envelope.smooth / steady);
            } else {
                envelope.steady += self.following * (envelope.smooth - envelope.steady);
            }
        }
        if self.envelopes[0].low || self.envelopes[1].low {
            self.go_on(deepest);
            return None;
        }
        self.samples_since += 1;
        if self.samples_since < self.join_samples {
            return None;
        }
        self.samples_low = 0;
        self.open
            .take()
            .filter(|dropout| dropout.length_s >= SHORTEST_S)
    }

    /// A sample inside a dropout, `deepest` of the steady power.
    fn go_on(&mut self, deepest: f64) {
        let open = self.open.get_or_insert(Dropout {
            depth_db: 0.0,
            length_s: 0.0,
        });
        open.depth_db = open.depth_db.max(-10.0 * deepest.max(1e-12).log10());
        self.samples_low += 1;
        self.samples_since = 0;
        open.length_s = self.samples_low as f64 / self.rate_hz;
        if open.length_s > LONGEST_S {
            self.restart();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone with noise on its power, a dropout of 20 ms on one channel and a slow fade.
    #[test]
    fn a_block_is_its_samples() {
        let rate_hz = 4000.0;
        let power = |channel: usize, i: usize| {
            let t = i as f64;
            let fade = 1.0 + 0.4 * (t * 0.001).sin();
            let dropped = channel == 1 && (3000..3080).contains(&i);
            fade * (1.0 + 0.1 * (t * 1.7).sin()) * if dropped { 0.01 } else { 1.0 }
        };
        let (mut by_block, mut by_sample) =
            (DropoutWatch::new(rate_hz), DropoutWatch::new(rate_hz));
        let (mut blocks, mut samples) = (Vec::new(), Vec::new());
        for block in 0..400 {
            let powers: [[f64; 16]; 2] =
                std::array::from_fn(|c| std::array::from_fn(|i| power(c, 16 * block + i)));
            blocks.extend(by_block.push(powers.each_ref().map(|row| row.as_slice())));
            for (left, right) in powers[0].iter().zip(&powers[1]) {
                samples.extend(by_sample.push_one([*left, *right]));
            }
            assert_eq!(by_block.is_low(), by_sample.is_low());
        }
        assert_eq!(blocks, samples);
        assert_eq!(blocks.len(), 1);
        assert!((blocks[0].length_s - 0.02).abs() < 0.003, "{blocks:?}");
        for (a, b) in by_block.envelopes.iter().zip(&by_sample.envelopes) {
            assert!((a.steady / b.steady - 1.0).abs() < 1e-12);
        }
    }
}
