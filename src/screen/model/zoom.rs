//! How wide a scale is: a few fixed steps, and a quick slide from one to the next instead of a jump under the eye.

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

/// A new width is reached in this time, seconds of the stream: long enough for the eye to follow, and over before the
/// next look (common practice of animated axes, no source).
const SLIDE_S: f64 = 0.4;

/// Chooses the step.
#[derive(Clone, Debug)]
pub struct Zoom {
    steps: &'static [Step],
    index: usize,
    small_since_s: Option<f64>,
    slide: Option<Slide>,
    /// The width at this moment, which may be on its way.
    reach: f64,
}

/// From one width to another.
#[derive(Clone, Copy, Debug)]
struct Slide {
    from: f64,
    since_s: f64,
}

impl Zoom {
    /// Starts at the narrowest of `steps` (narrowest first, at least one) that shows a band of ±`accept`.
    pub fn new(steps: &'static [Step], accept: f64) -> Self {
        let index = narrowest(steps, accept);
        Self {
            steps,
            index,
            small_since_s: None,
            slide: None,
            reach: steps[index].reach,
        }
    }

    /// The width that is chosen.
    fn chosen(&self) -> Step {
        self.steps[self.index]
    }

    /// The present width, with the numbers of the narrowest step that covers it: never more of them than fit.
    pub fn step(&self) -> Step {
        let covers = |step: &&Step| step.reach >= self.reach * (1.0 - 1e-9);
        let marks = self.steps.iter().find(covers);
        Step {
            reach: self.reach,
            ..marks.copied().unwrap_or_else(|| self.chosen())
        }
    }

    /// Follows a value at stream time `now_s`; `None` (no valid value) leaves the width alone.
    pub fn follow(&mut self, now_s: f64, value: Option<f64>, accept: f64) {
        let before = self.index;
        self.choose(now_s, value, accept);
        if self.index != before {
            self.slide = Some(Slide {
                from: self.reach,
                since_s: now_s,
            });
        }
        self.reach = self.reach_at(now_s, value);
    }

    /// The width at `now_s`: on its way, but never so narrow that the needle would be beyond it.
    fn reach_at(&mut self, now_s: f64, value: Option<f64>) -> f64 {
        let wanted = self.chosen().reach;
        let Some(slide) = self.slide else {
            return wanted;
        };
        let part = (now_s - slide.since_s) / SLIDE_S;
        if !(0.0..1.0).contains(&part) {
            self.slide = None;
            return wanted;
        }
        // Softly off and softly in; by ratios, so that widening looks like narrowing backwards.
        let eased = part * part * (3.0 - 2.0 * part);
        let sliding = slide.from * (wanted / slide.from).powf(eased);
        let needed = value.map_or(0.0, |value| value.abs() / WIDEN_AT);
        sliding.max(needed.min(wanted))
    }

    fn choose(&mut self, now_s: f64, value: Option<f64>, accept: f64) {
        let lowest = narrowest(self.steps, accept);
        self.index = self.index.max(lowest);
        let Some(size) = value.filter(|value| value.is_finite()).map(f64::abs) else {
            self.small_since_s = None;
            return;
        };
        while size > WIDEN_AT * self.chosen().reach && self.index + 1 < self.steps.len() {
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
        assert_eq!(Zoom::new(STEPS, 0.2).chosen().reach, 0.3);
        assert_eq!(Zoom::new(STEPS, 0.5).chosen().reach, 1.0);
        assert_eq!(Zoom::new(STEPS, 50.0).chosen().reach, 10.0);
    }

    #[test]
    fn widens_at_once_and_narrows_late() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        zoom.follow(0.0, Some(-4.0), 0.5);
        assert_eq!(zoom.chosen().reach, 10.0);
        for tenth in 0..=39 {
            zoom.follow(f64::from(tenth) * 0.1, Some(0.4), 0.5);
        }
        assert_eq!(zoom.chosen().reach, 10.0, "not before four seconds");
        zoom.follow(4.1, Some(0.4), 0.5);
        assert_eq!(zoom.chosen().reach, 3.0, "one step at a time");
    }

    #[test]
    fn a_value_between_the_thresholds_changes_nothing() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        for tenth in 0..400 {
            let swing = if tenth % 2 == 0 { 0.95 } else { -0.7 };
            zoom.follow(f64::from(tenth) * 0.1, Some(swing), 0.5);
            assert_eq!(zoom.chosen().reach, 1.0);
        }
        zoom.follow(41.0, Some(1.0), 0.5);
        for tenth in 0..400 {
            let swing = if tenth % 2 == 0 { 0.65 } else { 0.3 };
            zoom.follow(41.0 + f64::from(tenth) * 0.1, Some(swing), 0.5);
            assert_eq!(zoom.chosen().reach, 3.0);
        }
    }

    #[test]
    fn beyond_the_widest_stays_at_the_widest() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        zoom.follow(0.0, Some(f64::NAN), 0.5);
        assert_eq!(zoom.chosen().reach, 1.0);
        zoom.follow(0.1, Some(1e9), 0.5);
        assert_eq!(zoom.chosen().reach, 10.0);
    }

    /// Follows a value given at each of 30 snapshots a second, from `from` to `to`; what the scale reaches at each.
    fn reaches(
        zoom: &mut Zoom,
        from: u32,
        to: u32,
        value: impl Fn(f64) -> f64,
    ) -> Vec<(f64, Step)> {
        (from..to)
            .map(|i| {
                let now_s = f64::from(i) / 30.0;
                zoom.follow(now_s, Some(value(now_s)), 0.5);
                (value(now_s), zoom.step())
            })
            .collect()
    }

    #[test]
    fn the_scale_slides_from_width_to_width_and_the_needle_stays_on_it() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        // A trimmer turned from +2.8 % to the mark in five seconds, and a while of rest.
        let turned = |t: f64| (2.8 - 0.56 * t).max(0.05);
        let seen = reaches(&mut zoom, 0, 600, turned);
        assert_eq!(zoom.step().reach, 1.0, "narrow at the end");
        for pair in seen[1..].windows(2) {
            let ((_, before), (value, now)) = (pair[0], pair[1]);
            let ratio = now.reach / before.reach;
            assert!((0.82..1.22).contains(&ratio), "{before:?} to {now:?}");
            assert!(value.abs() <= now.reach, "{value} on {now:?}");
            assert!(
                now.reach / now.label_every <= 10.0 + 1e-9,
                "too many numbers: {now:?}"
            );
        }
        let widths: Vec<f64> = seen[15..].iter().map(|(_, step)| step.reach).collect();
        assert!(
            widths.windows(2).all(|pair| pair[1] <= pair[0]),
            "it slides one way only"
        );
    }

    #[test]
    fn a_value_that_leaps_takes_the_scale_along() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        let leaps = |t: f64| if t < 1.0 { 0.1 } else { -8.0 };
        for (value, step) in reaches(&mut zoom, 0, 90, leaps) {
            assert!(value.abs() <= step.reach, "{value} on {step:?}");
        }
        assert_eq!(zoom.step(), step(10.0));
    }

    #[test]
    fn a_slide_ends_with_its_stream() {
        let mut zoom = Zoom::new(STEPS, 0.5);
        zoom.follow(100.0, Some(2.0), 0.5);
        zoom.follow(100.1, Some(2.0), 0.5);
        assert!(zoom.step().reach < 3.0, "on its way");
        zoom.follow(0.0, None, 0.5);
        assert_eq!(zoom.step().reach, 3.0);
    }
}
