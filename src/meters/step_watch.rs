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
/// Before that only a step this many times larger than the least is certain.
const EARLY: f64 = 4.0;

/// Watches one value.
#[derive(Clone, Debug)]
pub struct StepWatch {
    least_step: f64,
    before: Vec<f64>,
    away: u32,
    /// The last second while the value is still moving.
    moving: Option<f64>,
}

impl StepWatch {
    /// Steps smaller than `least_step` are not looked for.
    pub fn new(least_step: f64) -> Self {
        Self {
            least_step,
            before: Vec::with_capacity(SECONDS + 1),
            away: 0,
            moving: None,
        }
    }

    /// Forgets the past.
    pub fn restart(&mut self) {
        self.before.clear();
        self.away = 0;
        self.moving = None;
    }

    /// Tells that the value moves now, from `second` on: it is away until it stands still again.
    pub fn start_moving(&mut self, second: f64) {
        self.restart();
        self.moving = Some(second);
    }

    /// Takes the mean of a second in. True when a step has become certain, and in every second after it until the
    /// value stands still again: what was averaged until now is of no use.
    pub fn push(&mut self, second: f64) -> bool {
        if let Some(last) = self.moving {
            let stands = (second - last).abs() < self.least_step;
            self.moving = (!stands).then_some(second);
            return true;
        }
        if self.is_away(second) {
            self.away += 1;
            if self.away >= 2 {
                self.restart();
                self.moving = Some(second);
                return true;
            }
            return false;
        }
        self.away = 0;
        self.before.push(second);
        if self.before.len() > SECONDS {
            self.before.remove(0);
        }
        false
    }

    fn is_away(&self, second: f64) -> bool {
        let mut before = Running::default();
        self.before.iter().for_each(|&x| before.push(x));
        let Some(mean) = before.mean() else {
            return false;
        };
        let bound = if self.before.len() < LEAST_SECONDS {
            EARLY * self.least_step
        } else {
            self.least_step
                .max(SIGMAS * before.deviation().unwrap_or(0.0))
        };
        (second - mean).abs() > bound
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

    #[test]
    fn while_it_moves_every_second_begins_anew_and_then_no_more() {
        let mut watch = StepWatch::new(5.0);
        assert!((0..8).all(|_| !watch.push(0.0)));
        assert!(!watch.push(30.0));
        assert!([60.0, 90.0, 120.0, 121.0].iter().all(|&x| watch.push(x)));
        assert!((0..50).all(|_| !watch.push(121.0)));
    }
}
