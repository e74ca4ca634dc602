//! 'In' and 'out' that do not flicker: a state must have lasted a moment before it is said.

/// Continuously inside for this long before it is called in, seconds.
const IN_AFTER_S: f64 = 1.0;
/// Continuously outside for this long before it is called out, seconds: sooner, because it asks for action.
const OUT_AFTER_S: f64 = 0.25;

/// On which side of the acceptable limit a value is at this moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Within the limit.
    Inside,
    /// Beyond it.
    Outside,
}

/// What is said about it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lasting {
    /// Inside for long enough, and since when (stream time), seconds.
    In {
        /// Stream time at which it came in, seconds.
        since_s: f64,
    },
    /// Outside for long enough.
    Out,
    /// Not yet one or the other.
    Undecided,
}

/// The memory that this takes.
#[derive(Clone, Debug, Default)]
pub struct Dwell {
    side: Option<(Side, f64)>,
}

impl Dwell {
    /// Takes the side at stream time `now_s`; `None` while there is no valid value, which starts anew.
    pub fn follow(&mut self, now_s: f64, side: Option<Side>) -> Lasting {
        let Some(side) = side else {
            self.side = None;
            return Lasting::Undecided;
        };
        let since_s = match self.side {
            Some((before, since_s)) if before == side && since_s <= now_s => since_s,
            _ => now_s,
        };
        self.side = Some((side, since_s));
        let lasted_s = now_s - since_s;
        match side {
            Side::Inside if lasted_s >= IN_AFTER_S => Lasting::In { since_s },
            Side::Outside if lasted_s >= OUT_AFTER_S => Lasting::Out,
            _ => Lasting::Undecided,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_is_earned_and_out_is_quick() {
        let mut dwell = Dwell::default();
        assert_eq!(dwell.follow(10.0, Some(Side::Outside)), Lasting::Undecided);
        assert_eq!(dwell.follow(10.3, Some(Side::Outside)), Lasting::Out);
        assert_eq!(dwell.follow(10.4, Some(Side::Inside)), Lasting::Undecided);
        assert_eq!(dwell.follow(11.3, Some(Side::Inside)), Lasting::Undecided);
        assert_eq!(
            dwell.follow(11.5, Some(Side::Inside)),
            Lasting::In { since_s: 10.4 }
        );
    }

    #[test]
    fn a_value_that_swings_across_the_limit_is_never_called_in() {
        let mut dwell = Dwell::default();
        for step in 0..200 {
            let side = if step / 6 % 2 == 0 {
                Side::Inside
            } else {
                Side::Outside
            };
            let said = dwell.follow(f64::from(step) * 0.1, Some(side));
            assert!(!matches!(said, Lasting::In { .. }), "step {step}: {said:?}");
        }
    }

    #[test]
    fn no_valid_value_or_a_new_stream_starts_anew() {
        let mut dwell = Dwell::default();
        dwell.follow(0.0, Some(Side::Inside));
        dwell.follow(5.0, None);
        assert_eq!(dwell.follow(5.1, Some(Side::Inside)), Lasting::Undecided);
        dwell.follow(50.0, Some(Side::Inside));
        assert_eq!(dwell.follow(0.1, Some(Side::Inside)), Lasting::Undecided);
    }
}
