//! What `watch` does beside showing the readings: keeping a run-in log.

use super::{ConsoleError, settings::WatchSettings};
use crate::{
    readings::{InputState, Readings},
    run_in::RunInLog,
};
use std::time::Instant;

/// What follows the snapshots beside the face.
pub struct Beside {
    started: Instant,
    log: Option<RunInLog>,
    /// The time asked for.
    seconds: f64,
    /// Why it would end if it ended now.
    ending: &'static str,
}

impl Beside {
    /// Starts what is asked for; `name` is what the source is called.
    ///
    /// # Errors
    /// When the log cannot be kept.
    pub fn start(settings: &WatchSettings, name: &str) -> Result<Self, ConsoleError> {
        let log = settings.log.as_ref().map(|log| {
            let expected = &settings.expected.words;
            RunInLog::start(&log.path, log.every_s, name, expected)
        });
        Ok(Self {
            started: Instant::now(),
            log: log.transpose()?,
            seconds: settings.seconds.unwrap_or(f64::INFINITY),
            ending: "ended by the technician",
        })
    }

    /// Nothing but the face.
    #[cfg(test)]
    pub fn nothing() -> Self {
        Self {
            started: Instant::now(),
            log: None,
            seconds: f64::INFINITY,
            ending: "",
        }
    }

    /// Takes each snapshot that comes.
    pub fn take(&mut self, readings: &Readings) {
        if readings.source.state == InputState::Ended {
            self.ending = "the signal ended";
        } else if readings.source.seconds >= self.seconds {
            self.ending = "the time asked for was over";
        }
        if let Some(log) = &mut self.log {
            log.take(readings, self.started.elapsed().as_secs_f64());
        }
    }

    /// What the technician should know of it at this moment.
    pub fn remarks(&self) -> Vec<String> {
        self.log.iter().filter_map(RunInLog::trouble).collect()
    }

    /// Ends it in order.
    ///
    /// # Errors
    /// When lines of the log could not be written to the end.
    pub fn finish(self) -> Result<(), ConsoleError> {
        match self.log.and_then(|log| log.finish(self.ending)) {
            Some(trouble) => Err(ConsoleError::Refused(trouble)),
            None => Ok(()),
        }
    }
}
