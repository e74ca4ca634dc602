//! A value that moves to its target like a mechanism with inertia: exponentially.

/// A value on its way to a target.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slew {
    value: f64,
    target: f64,
    /// Part of the distance covered in one step.
    share: f64,
}

impl Slew {
    /// Starts at its target. After `time_constant_s` in steps of `step_s`, 1/e of a new distance is left.
    pub(super) fn at(value: f64, time_constant_s: f64, step_s: f64) -> Self {
        Self {
            value,
            target: value,
            share: -(-step_s / time_constant_s).exp_m1(),
        }
    }

    pub(super) const fn aim(&mut self, target: f64) {
        self.target = target;
    }

    pub(super) const fn value(&self) -> f64 {
        self.value
    }

    /// Moves one step and returns the new value. Reaches the target exactly in the end.
    pub(super) fn step(&mut self) -> f64 {
        const ARRIVED: f64 = 1e-12;
        if self.value != self.target {
            let distance = self.target - self.value;
            self.value = if distance.abs() < ARRIVED {
                self.target
            } else {
                self.value + self.share * distance
            };
        }
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::Slew;

    #[test]
    fn covers_the_distance_in_its_time_constant_and_arrives() {
        let mut slew = Slew::at(1.0, 0.030, 1.0 / 48_000.0);
        assert_eq!(slew.step(), 1.0);
        slew.aim(2.0);
        for _ in 0..1440 {
            slew.step();
        }
        assert!((slew.value() - (2.0 - (-1.0_f64).exp())).abs() < 1e-9);
        for _ in 0..48_000 {
            slew.step();
        }
        assert_eq!(slew.value(), 2.0);
    }
}
