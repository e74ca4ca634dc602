//! How wide a scale is: a few fixed steps, and no jump under the eye.

/// One width of a scale, in the unit of its adjustment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// From the middle (or from zero, on a one-sided scale) to the end.
    pub reach: f64,
    /// A number at every multiple of this.
    pub label_every: f64,
    /// A short mark at every multiple of this.
    pub tick_every: f64,
}

/// A wider step is taken at once when the value passes this part of the reach: the needle must be seen.
const WIDEN_AT: f64 = 0.97;
/// A narrower one only when the value has stayed within this part of the *narrower* reach …
const NARROW_AT: f64 = 0.6;
/// … for this long, seconds.
const NARROW_AFTER_S: f64 = 4.0;
/// The acceptable band takes at most this part of the narrowest scale, so that both its edges are seen.
const BAND_SHARE: f64 = 0.7;

/// Chooses the step.
#[derive(Clone, Debug)]
pub struct Zoom {
    steps: &'static [Step],
    index: usize,
    small_since_s: Option<f64>,
}

impl Zoom {
    /// Starts at the narrowest of `steps` (narrowest first, at least one) that shows a band of ±`accept`.
    pub fn new(steps: &'static [Step], accept: f64) -> Self {
        Self {
            steps,
            index: narrowest(steps, accept),
            small_since_s: None,
        }
    }

    /// The present width.
    pub fn step(&self) -> Step {
        self.steps[self.index]
    }

    /// Follows a value at stream time `now_s`; `None` (no valid value) leaves the width alone.
    pub fn follow(&mut self, now_s: f64, value: Option<f64>, accept: f64) {
        let lowest = narrowest(self.steps, accept);
        self.index = self.index.max(lowest);
        let Some(size) = value.filter(|value| value.is_finite()).map(f64::abs) else {
            self.small_since_s = None;
            return;
        };
        while size > WIDEN_AT * self.step().reach && self.index + 1 < self.steps.len() {
            self.index += 1;
            self.small_since_s = None;
        }
        if self.index == lowest || size > NARROW_AT * self.steps[self.index - 1].reach {
            self.small_since_s = None;
            return;
        }
        let since_s = *self.small_since_s.get_or_insert(now_s);
        if now_s - since_s >= NARROW_AFTER_S {
            self.index -= 1;
            self.small_since_s = None;
        } else if now_s < since_s {
            self.small_since_s = Some(now_s);
        }
    }
}

fn narrowest(steps: &[Step], accept: f64) -> usize {
    steps
        .iter()
        .position(|step| accept <= BAND_SHARE * step.reach)
        .unwrap_or(steps.len() - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEPS: &[Step] = &[step(0.3), step(1.0), step(3.0), step(10.0)];

    const fn step(reach: f64) -> Step {
        Step {
            reach,
            label_every: 1.0,
            tick_every: 1.0,
        }
    }

    #[test]
    fn the_band_is_always_seen_whole() {
        assert_eq!(Zoom::new(STEPS, 0.2).step().reach, 0.3);
        assert_eq!(Zoom::new(STEPS, 0.5).step().reach, 1.0);
        assert_eq!(Zoom::new(STEPS, 50.0).step().reach, 10.0);
    }

    #[test]
    fn widens_at_once_and_narrows_late() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        zoom.follow(0.0, Some(-4.0), 0.5);
        assert_eq!(zoom.step().reach, 10.0);
        for tenth in 0..=39 {
            zoom.follow(f64::from(tenth) * 0.1, Some(0.4), 0.5);
        }
        assert_eq!(zoom.step().reach, 10.0, "not before four seconds");
        zoom.follow(4.1, Some(0.4), 0.5);
        assert_eq!(zoom.step().reach, 3.0, "one step at a time");
    }

    #[test]
    fn a_value_between_the_thresholds_changes_nothing() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        for tenth in 0..400 {
            let swing = if tenth % 2 == 0 { 0.95 } else { -0.7 };
            zoom.follow(f64::from(tenth) * 0.1, Some(swing), 0.5);
            assert_eq!(zoom.step().reach, 1.0);
        }
        zoom.follow(41.0, Some(1.0), 0.5);
        for tenth in 0..400 {
            let swing = if tenth % 2 == 0 { 0.65 } else { 0.3 };
            zoom.follow(41.0 + f64::from(tenth) * 0.1, Some(swing), 0.5);
            assert_eq!(zoom.step().reach, 3.0);
        }
    }

    #[test]
    fn beyond_the_widest_stays_at_the_widest() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        zoom.follow(0.0, Some(f64::NAN), 0.5);
        assert_eq!(zoom.step().reach, 1.0);
        zoom.follow(0.1, Some(1e9), 0.5);
        assert_eq!(zoom.step().reach, 10.0);
    }
}
