//! The computer's clocks, and whether they are right.

use super::ClockObservation;
use crate::readings::Synchronisation;
use std::time::{Duration, Instant, SystemTime};

/// Both clocks are read within this, or not at all: between the readings the thread may have had to wait.
const TOGETHER: Duration = Duration::from_micros(200);
/// The system is asked this often whether its clock is right.
const ASK_EVERY: Duration = Duration::from_secs(10);

/// The clocks of this computer.
#[derive(Debug)]
pub struct ComputerClock {
    started: Instant,
    asked: Option<Instant>,
    synchronisation: Synchronisation,
}

impl Default for ComputerClock {
    fn default() -> Self {
        Self {
            started: Instant::now(),
            asked: None,
            synchronisation: Synchronisation::NotKnown,
        }
    }
}

impl ComputerClock {
    /// The time now, for so many frames received *before* this call. `None` when the thread was interrupted meanwhile.
    pub fn observe(&mut self, frames: u64) -> Option<ClockObservation> {
        let before = Instant::now();
        let wall = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
        let after = Instant::now();
        self.ask(after);
        (after - before <= TOGETHER).then_some(())?;
        Some(ClockObservation {
            frames,
            wall: wall.ok()?,
            steady: before - self.started,
        })
    }

    /// What the system says of its clock; once it was not synchronised, that stays said of this capture.
    pub fn synchronisation(&self) -> Synchronisation {
        self.synchronisation
    }

    fn ask(&mut self, now: Instant) {
        if self.asked.is_some_and(|asked| now - asked < ASK_EVERY) {
            return;
        }
        self.asked = Some(now);
        if self.synchronisation != Synchronisation::NotSynchronised {
            self.synchronisation = synchronisation();
        }
    }
}

/// Asks the kernel's clock discipline (adjtimex(2)): it is told by whatever keeps the time.
#[cfg(target_os = "linux")]
fn synchronisation() -> Synchronisation {
    // SAFETY: all fields are plain integers, for which zeros are values; `modes` 0 asks and changes nothing.
    let mut state: libc::timex = unsafe { std::mem::zeroed() };
    // SAFETY: the pointer is to a live `timex` that nobody else uses.
    let answer = unsafe { libc::adjtimex(&raw mut state) };
    match answer {
        -1 => Synchronisation::NotKnown,
        libc::TIME_ERROR => Synchronisation::NotSynchronised,
        _ if state.status & libc::STA_UNSYNC != 0 => Synchronisation::NotSynchronised,
        _ => Synchronisation::Synchronised,
    }
}

#[cfg(not(target_os = "linux"))]
fn synchronisation() -> Synchronisation {
    Synchronisation::NotKnown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_clocks_go_forward_together() {
        let mut clock = ComputerClock::default();
        let mut observe = || (0..100).find_map(|_| clock.observe(7));
        let first = observe().expect("the clocks can be read");
        std::thread::sleep(Duration::from_millis(20));
        let second = observe().expect("the clocks can be read");
        assert_eq!((first.frames, second.frames), (7, 7));
        assert!(second.steady - first.steady >= Duration::from_millis(20));
        assert!(second.wall > first.wall);
    }
}
