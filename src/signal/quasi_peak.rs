//! The quasi-peak indicator for wow and flutter: half of the peak-to-peak deviation with the pulse response that
//! IEC 60386 / DIN 45507 ask for.
//!
//! The standard gives what the indicator reads of unidirectional pulses, one a second, against a 4 Hz sine of the
//! same peak-to-peak value. Our sources do not settle whether the pulses enter before or after the weighting; this
//! indicator meets the table both ways (tested both ways). A plain attack-and-release detector cannot: its 100 ms
//! reading is too high when its 10 ms reading is right.
//!
//! Three steps, all proportional to the input, all in seconds (`tests/reference/quasi_peak_study.py` found them):
//! 1. a memory for either polarity, which charges when the deviation exceeds it and leaks;
//! 2. half the sum of both: half of peak-to-peak;
//! 3. a pointer that follows it, rests a while at its peaks, then falls.

/// A memory's leak, seconds.
const FALL_S: f64 = 0.739;
/// A memory's charging, seconds.
const CHARGE_S: f64 = 0.138;
/// Extra charging of a memory that is partly full, seconds: what lets 10 ms read low and 30 ms nearly full. It never
/// acts on a steady sine, whose memories stand above the knee.
const SNAP_S: f64 = 0.008_35;
/// Up to this share of the input the extra charging acts.
const KNEE: f64 = 0.4284;
/// The pointer's rise, seconds.
const RISE_S: f64 = 0.148;
/// The pointer's creep while it rests, seconds.
const LEAK_S: f64 = 5.0;
/// How long it rests at a peak, seconds: on slow wow it stands still between two swings.
const HOLD_S: f64 = 0.5;
/// Its fall after that, seconds.
const RETURN_S: f64 = 0.030;
/// Makes the mean of the pointer on a steady 4 Hz sine read the sine's amplitude.
const GAIN: f64 = 1.8437;

/// The indicator.
#[derive(Clone, Debug)]
pub struct QuasiPeak {
    keep: f64,
    charge: f64,
    snap: f64,
    rise: f64,
    leak: f64,
    back: f64,
    hold_samples: u32,
    memories: [f64; 2],
    pointer: f64,
    resting_samples: u32,
}

impl QuasiPeak {
    /// An indicator for a deviation sampled at `rate_hz` (above 1 kHz).
    pub fn new(rate_hz: f64) -> Self {
        let share = |time_s: f64| 1.0 - (-1.0 / (time_s * rate_hz)).exp();
        Self {
            keep: 1.0 - share(FALL_S),
            charge: share(CHARGE_S),
            snap: 1.0 / (SNAP_S * rate_hz),
            rise: share(RISE_S),
            leak: share(LEAK_S),
            back: share(RETURN_S),
            hold_samples: (HOLD_S * rate_hz) as u32,
            memories: [0.0; 2],
            pointer: 0.0,
            resting_samples: 0,
        }
    }

    /// Back to zero.
    pub fn restart(&mut self) {
        self.memories = [0.0; 2];
        self.pointer = 0.0;
        self.resting_samples = 0;
    }

    /// Takes the next deviation in; returns where the pointer stands, in the deviation's unit (±, half of
    /// peak-to-peak).
    #[inline]
    pub fn push(&mut self, deviation: f64) -> f64 {
        for (memory, swing) in self.memories.iter_mut().zip([deviation, -deviation]) {
            *memory *= self.keep;
            if swing > *memory {
                let mut charge = self.charge * (swing - *memory);
                if *memory < KNEE * swing {
                    let fill = *memory / (KNEE * swing);
                    charge += self.snap * swing * fill * fill * (1.0 - fill);
                }
                *memory += charge;
            }
        }
        let half_peak_to_peak = 0.5 * (self.memories[0] + self.memories[1]);
        let ahead = half_peak_to_peak - self.pointer;
        if ahead > 0.0 {
            self.pointer += self.rise * ahead;
            self.resting_samples = 0;
        } else {
            self.pointer += self.leak * ahead;
            self.resting_samples = self.resting_samples.saturating_add(1);
            if self.resting_samples > self.hold_samples {
                self.pointer += self.back * (half_peak_to_peak - self.pointer);
            }
        }
        self.pointer()
    }

    /// Where the pointer stands.
    pub fn pointer(&self) -> f64 {
        GAIN * self.pointer
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::{biquad::Cascade, weighting::wow_flutter_weighting};
    use std::f64::consts::TAU;

    /// The pointer over the last second of `seconds` of a wave, behind `path`.
    fn last_second(
        rate_hz: f64,
        seconds: u32,
        mut path: Vec<Cascade>,
        wave: impl Fn(f64) -> f64,
    ) -> Vec<f64> {
        let mut indicator = QuasiPeak::new(rate_hz);
        let total = (f64::from(seconds) * rate_hz) as usize;
        let readings: Vec<f64> = (0..total)
            .map(|i| {
                let x = wave(i as f64 / rate_hz);
                indicator.push(path.iter_mut().fold(x, |x, filter| filter.process(x)))
            })
            .collect();
        readings[total - rate_hz as usize..].to_vec()
    }

    fn mean(values: &[f64]) -> f64 {
        values.iter().sum::<f64>() / values.len() as f64
    }

    fn paths(rate_hz: f64) -> [(&'static str, Vec<Cascade>); 2] {
        [
            (
                "unweighted",
                vec![
                    Cascade::butterworth_high_pass(3, 0.2, rate_hz),
                    Cascade::butterworth_low_pass(8, 200.0, rate_hz),
                ],
            ),
            ("weighted", vec![wow_flutter_weighting(rate_hz)]),
        ]
    }

    /// Pulse table of IEC 60386 / DIN 45507. 60 ms, 100 ms and the fall stand in an abstract of AES6-1982; 10 ms,
    /// 30 ms and the tolerances are from memory.
    #[test]
    fn meets_the_pulse_table_before_and_after_the_weighting() {
        for rate_hz in [3675.0, 4000.0, 4166.7] {
            for (name, path) in paths(rate_hz) {
                let sine = |t: f64| 0.5 * (TAU * 4.0 * t).sin();
                let reference = mean(&last_second(rate_hz, 12, path.clone(), sine));
                for (pulse_ms, percent, tolerance) in [
                    (10.0, 21.0, 3.0),
                    (30.0, 62.0, 6.0),
                    (60.0, 90.0, 6.0),
                    (100.0, 100.0, 4.0),
                ] {
                    // A hair early, so that rounding never adds a sample to a pulse.
                    let pulses = |t: f64| f64::from(u8::from((t + 1e-6).fract() < pulse_ms * 1e-3));
                    let second = last_second(rate_hz, 12, path.clone(), pulses);
                    let greatest = second.iter().copied().fold(0.0, f64::max);
                    let least = second.iter().copied().fold(f64::MAX, f64::min);
                    let reading = 100.0 * greatest / reference;
                    assert!(
                        (reading - percent).abs() <= tolerance,
                        "{name} {rate_hz} Hz, {pulse_ms} ms: {reading:.1} %"
                    );
                    if pulse_ms == 100.0 {
                        let fall = 100.0 * least / greatest;
                        assert!((fall - 40.0).abs() <= 4.0, "{name}: falls to {fall:.1} %");
                    }
                }
            }
        }
    }

    #[test]
    fn reads_steady_sines_true() {
        for (sine_hz, within) in [(0.8, 0.03), (4.0, 0.002), (10.0, 0.03), (100.0, 0.03)] {
            let sine = |t: f64| 0.1 * (TAU * sine_hz * t).sin();
            let reading = mean(&last_second(4000.0, 10, Vec::new(), sine));
            assert!(
                (reading / 0.1 - 1.0).abs() < within,
                "{sine_hz} Hz: {reading}"
            );
        }
    }
}
