//! Notices that somebody has moved what is measured, so that the averages can begin anew.
//!
//! Works on means of a second. A step is one that stays: two seconds running far from those before, against their
//! own scatter. Wow, wander and slow drift therefore do not count.

use crate::signal::running::Running;

/// Seconds remembered.
const SECONDS: usize = 10;
/// Seconds needed before a step can be told from scatter.
const LEAST_SECONDS: usize = 4;
const SIGMAS: f64 = 6.0;

/// Watches one value.
#[derive(Clone, Debug)]
pub struct StepWatch {
    least_step: f64,
    before: Vec<f64>,
    away: u32,
}

impl StepWatch {
    /// Steps smaller than `least_step` are not looked for.
    pub fn new(least_step: f64) -> Self {
        Self {
            least_step,
            before: Vec::with_capacity(SECONDS + 1),
            away: 0,
        }
    }

    /// Forgets the past.
    pub fn restart(&mut self) {
        self.before.clear();
        self.away = 0;
    }

    /// Takes the mean of a second in; true when the step is certain.
    pub fn push(&mut self, second: f64) -> bool {
        let mut before = Running::default();
        self.before.iter().for_each(|&x| before.push(x));
        if let (true, Some(mean), Some(sigma)) = (
            self.before.len() >= LEAST_SECONDS,
            before.mean(),
            before.deviation(),
        ) && (second - mean).abs() > self.least_step.max(SIGMAS * sigma)
        {
            self.away += 1;
            return self.away >= 2;
        }
        self.away = 0;
        self.before.push(second);
        if self.before.len() > SECONDS {
            self.before.remove(0);
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_seen_in_two_seconds_and_wow_or_drift_never() {
        let mut watch = StepWatch::new(0.3);
        let wow = |i: u32| 0.2 * (f64::from(i) * 2.1).sin() + 0.001 * f64::from(i);
        assert!((0..500).all(|i| !watch.push(wow(i))));
        assert!(!watch.push(wow(500) + 2.0));
        assert!(watch.push(wow(501) + 2.0));
    }
}
