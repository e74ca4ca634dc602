//! Whether the mean still stands for the needle: wow swings the needle through it, a turned trimmer moves it away.

/// Wow brings the needle back to the mean sooner than this; one that stays away for longer has moved, seconds.
const MOVED_AFTER_S: f64 = 0.6;

/// Watches the needle against the mean.
#[derive(Clone, Debug, Default)]
pub struct Swing {
    /// Which side the needle is away on, and since when (stream time), seconds.
    away: Option<(bool, f64)>,
}

impl Swing {
    /// Takes the way from the mean to the needle at stream time `now_s`; ways up to `near` count as none. True while
    /// the needle has not moved away.
    pub fn follow(&mut self, now_s: f64, way: f64, near: f64) -> bool {
        if way.abs() <= near {
            self.away = None;
            return true;
        }
        let above = way > 0.0;
        let since_s = match self.away {
            Some((before, since_s)) if before == above && since_s <= now_s => since_s,
            _ => now_s,
        };
        self.away = Some((above, since_s));
        now_s - since_s < MOVED_AFTER_S
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn wow_of_a_pinch_roller_does_not_count_as_moving() {
        let mut swing = Swing::default();
        for i in 0..300 {
            let t = f64::from(i) / 30.0;
            let way = 0.3 * (TAU * 1.19 * t).sin();
            assert!(swing.follow(t, way, 0.05), "{t}");
        }
    }

    #[test]
    fn a_needle_that_stays_away_has_moved_until_the_mean_has_caught_up() {
        let mut swing = Swing::default();
        assert!(swing.follow(1.0, -0.3, 0.05));
        assert!(swing.follow(1.5, -0.2, 0.05));
        assert!(!swing.follow(1.7, -0.1, 0.05));
        assert!(swing.follow(1.8, -0.04, 0.05));
        assert!(swing.follow(1.9, -0.1, 0.05), "counted anew");
    }

    #[test]
    fn a_new_stream_counts_anew() {
        let mut swing = Swing::default();
        swing.follow(100.0, 0.3, 0.05);
        assert!(swing.follow(0.5, 0.3, 0.05));
    }
}
