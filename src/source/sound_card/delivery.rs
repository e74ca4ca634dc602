//! Notices frames that went missing without a word.
//!
//! Some sound systems drop samples when they are pressed and tell nobody. The count of frames is therefore held
//! against the computer's own clock: delivery comes in lumps and late, so only its *most punctual* moment in each
//! window is looked at, and a loss is one that stays. This finds losses of a tenth of a second and more, a steady
//! trickle, and a device that runs at another rate than it claims; not a single missing block, which the meters see
//! as a jump of the tone.

use std::time::{Duration, Instant};

/// Long enough that at least one delivery in it is on time.
const WINDOW: Duration = Duration::from_secs(2);
/// Frames may be this late, in seconds, before they are thought lost: more than the buffers on the way can hold.
const PATIENCE_S: f64 = 0.1;
/// How far, as a fraction, the device's clock and the computer's may run apart.
const CLOCKS_APART: f64 = 1e-3;

/// Holds the number of frames delivered against the clock.
#[derive(Debug)]
pub(super) struct DeliveryClock {
    sample_rate_hz: f64,
    start: Option<(Instant, u64)>,
    window_end: Instant,
    /// The most punctual moment of this window: frames still owed, by the clock, since the start.
    least_owed: f64,
    /// What is owed by a stream in order: the delay on the way, and what the clocks have run apart.
    usual: Option<f64>,
    /// What was owed in the last window, if it was too much.
    suspect: Option<f64>,
}

impl DeliveryClock {
    pub fn new(sample_rate_hz: u32, now: Instant) -> Self {
        Self {
            sample_rate_hz: f64::from(sample_rate_hz),
            start: None,
            window_end: now,
            least_owed: f64::INFINITY,
            usual: None,
            suspect: None,
        }
    }

    /// Takes the number of frames captured so far, read *after* `now`. Returns how many are missing when a loss has
    /// become certain.
    pub fn observe(&mut self, now: Instant, captured_frames: u64) -> Option<u64> {
        let Some((start, frames_before)) = self.start else {
            if captured_frames > 0 {
                self.start = Some((now, captured_frames));
                self.window_end = now + WINDOW;
            }
            return None;
        };
        let due = now.duration_since(start).as_secs_f64() * self.sample_rate_hz;
        let owed = due - (captured_frames - frames_before) as f64;
        self.least_owed = self.least_owed.min(owed);
        if now < self.window_end {
            return None;
        }
        self.window_end = now + WINDOW;
        let owed = std::mem::replace(&mut self.least_owed, f64::INFINITY);
        self.judge(owed)
    }

    fn judge(&mut self, owed: f64) -> Option<u64> {
        let Some(usual) = self.usual else {
            self.usual = Some(owed);
            return None;
        };
        let drift = CLOCKS_APART * WINDOW.as_secs_f64() * self.sample_rate_hz;
        if owed - usual <= PATIENCE_S * self.sample_rate_hz {
            self.suspect = None;
            self.usual = Some(owed.min(usual + drift));
            return None;
        }
        let Some(owed_before) = self.suspect.take() else {
            self.suspect = Some(owed);
            return None;
        };
        let lost = owed.min(owed_before) - usual;
        self.usual = Some(usual + lost);
        Some(lost.round() as u64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;

    /// Watches `seconds` of a delivery given by the frames that have arrived at each moment, every 20 ms.
    fn losses(seconds: f64, arrived: impl Fn(f64) -> f64) -> Vec<(f64, u64)> {
        let start = Instant::now();
        let mut clock = DeliveryClock::new(RATE_HZ, start);
        let mut told = Vec::new();
        for tick in 0..(seconds / 0.02) as u32 {
            let time = f64::from(tick) * 0.02;
            let now = start + Duration::from_secs_f64(time);
            if let Some(lost) = clock.observe(now, arrived(time).max(0.0) as u64) {
                told.push((time, lost));
            }
        }
        told
    }

    fn in_blocks(frames: f64, block: f64) -> f64 {
        (frames / block).floor() * block
    }

    #[test]
    fn a_delivery_in_order_is_left_alone() {
        let rate = f64::from(RATE_HZ);
        // In blocks of 85 ms, after 1.5 s of nothing, with a clock half a per mille off, for ten minutes.
        for off in [-5e-4, 0.0, 5e-4] {
            let told = losses(600.0, |t| in_blocks((t - 1.5) * rate * (1.0 + off), 4096.0));
            assert_eq!(told, [], "clock {off}");
        }
    }

    #[test]
    fn a_stall_that_is_made_up_for_is_no_loss() {
        let rate = f64::from(RATE_HZ);
        let stalled = |t: f64| {
            if (10.0..11.9).contains(&t) {
                10.0 * rate
            } else {
                t * rate
            }
        };
        assert_eq!(losses(30.0, stalled), []);
    }

    #[test]
    fn a_loss_is_told_once_with_its_size() {
        let rate = f64::from(RATE_HZ);
        let lost = 0.2 * rate;
        let told = losses(60.0, |t| {
            in_blocks(if t < 20.0 { t * rate } else { t * rate - lost }, 1024.0)
        });
        let [(when, frames)] = told[..] else {
            panic!("{told:?}");
        };
        assert!((20.0..26.0).contains(&when), "{when} s");
        assert!(
            (frames as f64 - lost).abs() < 0.025 * rate,
            "{frames} frames"
        );
    }

    #[test]
    fn a_trickle_and_a_wrong_rate_are_counted_up() {
        let rate = f64::from(RATE_HZ);
        for kept in [0.98, 44_100.0 / 48_000.0, 0.72] {
            let seconds = 120.0;
            let told = losses(seconds, |t| t * rate * kept);
            let counted: u64 = told.iter().map(|&(_, frames)| frames).sum();
            let missing = seconds * rate * (1.0 - kept);
            // The last windows are not judged yet, and the drift of the clocks is forgiven.
            let forgiven =
                10.0 * rate * (1.0 - kept) + CLOCKS_APART * seconds * rate + PATIENCE_S * rate;
            assert!(
                (counted as f64) > missing - forgiven,
                "{kept}: {counted} of {missing}"
            );
            assert!(
                (counted as f64) < 1.01 * missing,
                "{kept}: {counted} of {missing}"
            );
        }
    }
}
