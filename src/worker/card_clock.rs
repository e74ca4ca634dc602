//! The sample clock of a live input, watched in the background of every capture.

use crate::{
    profile::clock::{ClockWatch, ComputerClock},
    readings::{ClockReading, SourceDescription, SourceKind},
};

/// The watch over a stream's clock.
pub(super) struct CardClock {
    watch: ClockWatch,
    computer: ComputerClock,
}

impl CardClock {
    /// For a live input. A simulated deck is played by the computer's own clock, which is what this should then find; a
    /// recording says nothing of its clock.
    pub(super) fn of(description: &SourceDescription) -> Option<Self> {
        (description.kind != SourceKind::Recording).then(|| Self {
            watch: ClockWatch::new(f64::from(description.sample_rate_hz)),
            computer: ComputerClock::default(),
        })
    }

    /// Takes the time for the frames received so far. They must have been taken before: see [`ClockWatch`].
    pub(super) fn observe(&mut self, received_frames: u64) {
        if let Some(observation) = self.computer.observe(received_frames) {
            self.watch.observe(observation);
        }
    }

    /// Frames are missing before the next.
    pub(super) fn mark_gap(&mut self) {
        self.watch.break_here();
    }

    /// What is known so far.
    pub(super) fn reading(&self) -> ClockReading {
        ClockReading {
            synchronisation: self.computer.synchronisation(),
            ..self.watch.reading()
        }
    }
}
